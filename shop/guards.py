"""Triggers that refuse UPDATE and DELETE on fact tables.

SQLite drops a table's triggers when a later migration rebuilds it, so they are put in anew after every migrate, from
one list.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

APPEND_ONLY = (
    "shop.AuditEvent",
    "engines.AccessoryEvent",
    "engines.BuildEvent",
    "engines.CellRun",
    "engines.EngineTypeRevision",
    "engines.Inspection",
    "engines.Photo",
    "engines.PhotoWithdrawal",
    "breakin.RunInPlan",
    "breakin.PlanStage",
    "breakin.IssuedCard",
    "breakin.DeliveryPlan",
    "breakin.DeliveryHour",
    "breakin.Flight",
    "breakin.FlightEngine",
    "breakin.PowerBlock",
    "breakin.MergeDecision",
    "breakin.OilEvent",
    "breakin.PhoneCall",
    "breakin.ShopNote",
    "breakin.Recording",
    "breakin.ChannelMap",
    "breakin.FlightMatch",
    "breakin.FindingVerdict",
    "breakin.Waiver",
    "breakin.CloseOutProposal",
    "breakin.ProposalReturn",
    "breakin.CloseOutFile",
    "breakin.PriorProposal",
    "breakin.PriorAdoption",
)

_POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '% is append-only: write a correction instead', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$
"""


def guarded_tables() -> list[str]:
    return [apps.get_model(label)._meta.db_table for label in APPEND_ONLY]


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the guards on every fact table that exists. Harmless when they are there already."""
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        for table in guarded_tables():
            if table in present:
                for statement in _install_statements(connection.vendor, table):
                    cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the guards off: for emptying a test database, never for mending data."""
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in guarded_tables():
            if table in present:
                for statement in _remove_statements(connection.vendor, table):
                    cursor.execute(statement)


def installed(connection: BaseDatabaseWrapper) -> set[str]:
    """The tables that carry both guards."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
                "WHERE t.tgname LIKE 'append_only%'"
            )
            return {row[0] for row in cursor.fetchall()}
        cursor.execute("SELECT tbl_name, count(*) FROM sqlite_master WHERE type = 'trigger' GROUP BY tbl_name")
        return {table for table, guards in cursor.fetchall() if guards >= 2}


def _install_statements(vendor: str, table: str) -> list[str]:
    if vendor == "postgresql":
        return [
            f'CREATE OR REPLACE TRIGGER append_only BEFORE UPDATE OR DELETE ON "{table}" '
            "FOR EACH ROW EXECUTE FUNCTION append_only()",
        ]
    return [
        f'CREATE TRIGGER IF NOT EXISTS "append_only_{table}_{verb.lower()}" BEFORE {verb} ON "{table}" '
        f"BEGIN SELECT RAISE(ABORT, '{table} is append-only: write a correction instead'); END"
        for verb in ("UPDATE", "DELETE")
    ]


def _remove_statements(vendor: str, table: str) -> list[str]:
    if vendor == "postgresql":
        return [f'DROP TRIGGER IF EXISTS append_only ON "{table}"']
    return [f'DROP TRIGGER IF EXISTS "append_only_{table}_{verb}"' for verb in ("update", "delete")]


def install_after_migrate(*, using: str, **_: Any) -> None:
    """Receiver of post_migrate."""
    install(connections[using])
