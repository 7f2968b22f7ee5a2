"""Rows as the database gives them, turned into the plain facts of a build's record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import QuerySet

from breakin.calc.errors import CalcError
from breakin.calc.power import Chart
from breakin.models import FindingState, FlightEngine, PlanStage, RunInPlan
from breakin.record import (
    BlockFacts,
    Contact,
    DecisionFacts,
    InspectionFacts,
    InstallationFacts,
    MeterFacts,
    OilFacts,
    PlanFacts,
    RecordedRun,
    RunFacts,
    StageFacts,
    TypeFacts,
)
from engines.models import EngineTypeRevision, Installation

K = TypeVar("K")
Rows = list[dict[str, Any]]


def _names(facts: type, *apart: str) -> tuple[str, ...]:
    """The fields that a kind of facts and its table have in common."""
    return tuple(field.name for field in fields(facts) if field.name not in apart)


METER = _names(MeterFacts)
BLOCK = _names(BlockFacts)
OIL = _names(OilFacts, "at")
INSPECTION = _names(InspectionFacts, "at")
_TYPE = _names(TypeFacts, "designation", "revision", "source", "chart", "chart_fault")
_PLAN = _names(PlanFacts, "follow_up_h", "follow_up_days", "idle_days", "stages", "credit")
_INSTALLATION = _names(InstallationFacts, "registration", "place_name", "place_elevation_ft", "zone")
_ON_FLIGHT = (
    "root",
    "local_date",
    "kind",
    "grade",
    "received_at",
    "aircraft_id",
    "airborne_min",
    "ground_before_min",
    "ground_after_min",
    "off_block_at",
    "on_block_at",
    "landings",
    "persons_aboard",
    "field_elevation_ft",
    "altimeter_inhg",
    "oat_ground_degf",
)
_MADE = ("at", "chips", "card_id", "climb_cht_degf", "blocks", "other_blocks", "other_side", "recorded")
_ON_ENGINE = _names(RunFacts, *_ON_FLIGHT, *_MADE)


def without(row: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != key}


def each(make: Callable[..., K], rows: Rows) -> tuple[K, ...]:
    return tuple(make(**without(row, "build_id")) for row in rows)


def type_facts(revision: EngineTypeRevision) -> TypeFacts:
    chart, fault = None, "No power chart is on record for this type."
    if revision.chart:
        try:
            chart, fault = Chart.from_dict(revision.chart, rated_hp=revision.rated_hp), ""
        except CalcError as error:
            fault = str(error)
    return TypeFacts(
        designation=revision.engine_type.designation,
        revision=revision.number,
        source=revision.source,
        chart=chart,
        chart_fault=fault,
        **{name: getattr(revision, name) for name in _TYPE},
    )


def plan_facts(plan: RunInPlan, stages: list[PlanStage]) -> PlanFacts:
    return PlanFacts(
        **{name: getattr(plan, name) for name in _PLAN},
        credit=plan.credit,
        follow_up_h=tuple(float(hours) for hours in plan.follow_up_h),
        follow_up_days=tuple(float(days) for days in plan.follow_up_days),
        idle_days=tuple(float(days) for days in plan.idle_days),
        stages=tuple(
            StageFacts(
                kind=stage.kind,
                minutes=tuple((float(minutes), str(band)) for minutes, band in stage.minutes),
                cap_h=stage.cap_h,
                rpm=stage.rpm,
                altitude_max_ft=stage.altitude_max_ft,
            )
            for stage in stages
        ),
    )


def installation_facts(row: Installation) -> InstallationFacts:
    home = row.aircraft.home
    return InstallationFacts(
        **{name: getattr(row, name) for name in _INSTALLATION},
        registration=row.aircraft.registration,
        place_name=home.name,
        place_elevation_ft=home.elevation_ft,
        zone=home.zone,
    )


def current_runs() -> QuerySet[Any, Any]:
    rows: QuerySet[Any, Any] = FlightEngine.objects.filter(flight__corrected_by__isnull=True, flight__withdrawn=False)
    return rows.values(
        "id",
        "engine_id",
        "flight_id",
        "as_on_card_id",
        "climb_cht_degf",
        "installation__position",
        "flight__happened_at",
        "flight__chips",
        "flight__field__elevation_ft",
        *_ON_ENGINE,
        *(f"flight__{name}" for name in _ON_FLIGHT),
    )


def _blocks(rows: Rows) -> tuple[BlockFacts, ...]:
    return tuple(BlockFacts(**{name: row[name] for name in BLOCK}) for row in rows)


def run_facts(
    row: dict[str, Any], other: dict[str, Any] | None, blocks: dict[Any, Rows], recorded: RecordedRun | None = None
) -> RunFacts:
    values = {name: row[name] for name in _ON_ENGINE} | {name: row[f"flight__{name}"] for name in _ON_FLIGHT}
    if values["field_elevation_ft"] is None:
        values["field_elevation_ft"] = row["flight__field__elevation_ft"]
    return RunFacts(
        **values,
        at=row["flight__happened_at"],
        chips=tuple(row["flight__chips"] or ()),
        card_id=row["as_on_card_id"],
        climb_cht_degf=tuple(sorted((float(ft), float(cht)) for ft, cht in (row["climb_cht_degf"] or {}).items())),
        blocks=_blocks(blocks[row["id"]]),
        other_blocks=_blocks(blocks[other["id"]]) if other else (),
        other_side=other["installation__position"] if other else "",
        recorded=recorded,
    )


def oil_facts(row: dict[str, Any], instead: Mapping[UUID, UUID]) -> OilFacts:
    values = without(row, "engine_id")
    values["flight_root"] = instead.get(row["flight_root"], row["flight_root"])
    return OilFacts(**values)


def _decided_at(row: Mapping[str, Any]) -> datetime | None:
    at: datetime | None = row["closed_at"] or row["acknowledged_at"]
    return at


def decisions(findings: Rows, waived: Rows) -> tuple[DecisionFacts, ...]:
    decided = [
        DecisionFacts(row["rule"], row["occurrence"], row["state"], _decided_at(row), row["severity"])
        for row in findings
        if row["state"] != FindingState.OPEN
    ]
    return (*decided, *(DecisionFacts(row["rule"], row["occurrence"], "waived", row["closed_at"]) for row in waived))


def contact_of(holder: tuple[Any, ...] | None, contacts: Mapping[int, Contact]) -> Contact | None:
    if holder is None:
        return None
    found = contacts.get(holder[0])
    return Contact(found.name, found.phone or holder[2]) if found else Contact(holder[1], holder[2])
