"""The database into one file and back, for SQLite and PostgreSQL."""

import glob
import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from django.apps import apps
from django.db import DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

# Filled by migrations, or of no worth after a restore.
NOT_DATA = {"contenttypes.ContentType", "auth.Permission", "sessions.Session"}


class DumpError(Exception):
    """A dump or its restore failed; the text says what to do."""


def dump_name() -> str:
    """Name of the dump in a backup; it tells which database made it."""
    return "database.sqlite3" if connection.vendor == "sqlite" else "database.pgdump"


def dump(target: Path) -> None:
    """Write the database as it is at one moment to a new file, while others go on reading and writing."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(target)])
    else:
        _run("pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--file={target}")


def applied_migrations() -> list[str]:
    """What the database has, as app.name."""
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def unknown_migrations(names: list[str]) -> list[str]:
    """Those that this version of the program does not have: it is older than the backup."""
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    ours = {config.label for config in apps.get_app_configs()}
    return [name for name in names if name.split(".")[0] in ours and name not in known]


def is_empty() -> bool:
    """Whether the database holds no data: no table, or none with a row that somebody entered."""
    present = set(connection.introspection.table_names())
    for model in apps.get_models():
        if model._meta.label in NOT_DATA or model._meta.db_table not in present:
            continue
        try:
            if model._base_manager.exists():
                return False
        except DatabaseError:
            return False  # a table of another version: something is there
    return True


def load(source: Path) -> None:
    """Replace the whole database by a dump. Raises DumpError; the database may then be incomplete."""
    if connection.vendor == "sqlite":
        _load_sqlite(source)
    else:
        _load_postgresql(source)


def check(source: Path) -> None:
    """Raise DumpError when a dump is damaged inside, before anything is replaced by it."""
    if connection.vendor == "sqlite":
        try:
            with closing(sqlite3.connect(source)) as opened:
                answer = opened.execute("PRAGMA integrity_check").fetchone()[0]
        except sqlite3.DatabaseError as error:
            answer = str(error)
        if answer != "ok":
            raise DumpError(f"The database in the backup is damaged: {answer}")
    else:
        _run("pg_restore", "--list", str(source), connect=False)


def others_connected() -> int:
    """Number of other connections to a PostgreSQL database; 0 on SQLite, where the lock of DATA_DIR tells."""
    if connection.vendor == "sqlite":
        return 0
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        return int(cursor.fetchone()[0])


def _load_sqlite(source: Path) -> None:
    connections.close_all()
    target = Path(connection.settings_dict["NAME"])
    target.parent.mkdir(parents=True, exist_ok=True)
    for suffix in ("-wal", "-shm"):
        # The log of the old database, replayed into the new one, would destroy it.
        target.with_name(target.name + suffix).unlink(missing_ok=True)
    source.replace(target)


def _load_postgresql(source: Path) -> None:
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f"DROP TABLE IF EXISTS {connection.ops.quote_name(table)} CASCADE")
    connections.close_all()
    database = str(connection.settings_dict["NAME"])
    options = ["--clean", "--if-exists", "--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction"]
    _run("pg_restore", *options, f"--dbname={database}", str(source))


def _run(program: str, *arguments: str, connect: bool = True) -> None:
    """Run a program of PostgreSQL on our database. The password goes by the environment: arguments can be seen."""
    settings = connection.settings_dict
    environment = dict(os.environ)
    if connect:
        values = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
        environment |= {name: str(settings[key]) for name, key in values.items() if settings.get(key)}
    done = subprocess.run(  # noqa: S603 - a program of PostgreSQL, no shell
        [_program(program), *arguments], env=environment, capture_output=True, text=True
    )
    if done.returncode:
        raise DumpError(f"{program} failed: {done.stderr.strip()}")


def _program(name: str) -> str:
    """Path of the newest PostgreSQL program: an older pg_dump refuses a newer server."""
    found = sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"), key=lambda path: int(path.split("/")[4]))
    path = found[-1] if found else shutil.which(name)
    if not path:
        raise DumpError(f"The program {name} was not found. Install the PostgreSQL client programs.")
    return path
