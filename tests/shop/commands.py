"""The project's commands in processes of their own, with a DATA_DIR and a database of their own."""

import fcntl
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.db import connection

REPO = Path(__file__).resolve().parents[2]
DATABASE = "run-in-book.sqlite3"


@dataclass
class Place:
    """Where an installation of the program lives."""

    data_dir: Path
    environment: dict[str, str] = field(default_factory=dict)

    def env(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
        return kept | {"DATA_DIR": str(self.data_dir), "DJANGO_SETTINGS_MODULE": "shop.settings"} | self.environment

    def start(self, *arguments: str, **options: Any) -> "subprocess.Popen[bytes]":
        return subprocess.Popen([sys.executable, "manage.py", *arguments], cwd=REPO, env=self.env(), **options)

    def run(self, *arguments: str) -> str:
        """Standard output; fails the test with both outputs when the command fails."""
        done = self.attempt(*arguments)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def attempt(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        command = [sys.executable, "manage.py", *arguments]
        return subprocess.run(command, cwd=REPO, env=self.env(), capture_output=True, text=True, timeout=120)

    def migrate(self) -> None:
        """Make the tables; from the second place on SQLite on, from a copy of the first one's."""
        if self.environment.get("DATABASE_URL"):
            self.run("migrate", "--verbosity=0")
            return
        shared = Path(os.environ["TEST_DATA_ROOT"])  # of all processes of a run; tests/settings.py
        with (shared / "lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not (shared / DATABASE).exists():
                self.run("migrate", "--verbosity=0")
                shutil.copy(self.data_dir / DATABASE, shared / "half")
                (shared / "half").rename(shared / DATABASE)
            else:
                shutil.copy(shared / DATABASE, self.data_dir / DATABASE)

    def python(self, code: str) -> str:
        return self.run("shell", "--no-imports", "-c", code).strip()


@contextmanager
def place(data_dir: Path) -> Iterator[Place]:
    """A new place on the kind of database that the tests run on."""
    data_dir.mkdir(parents=True, exist_ok=True)
    if connection.vendor == "sqlite":
        yield Place(data_dir)
        return
    import psycopg
    from psycopg.conninfo import make_conninfo

    parts = connection.settings_dict
    keys = {"host": "HOST", "port": "PORT", "user": "USER", "password": "PASSWORD"}
    server = {name: str(parts[key]) for name, key in keys.items() if parts.get(key)}
    name = f"test_place_{os.getpid()}_{abs(hash(data_dir)) % 10**8}"
    with psycopg.connect(make_conninfo(dbname="postgres", **server), autocommit=True) as admin:
        admin.execute(f'CREATE DATABASE "{name}"')
        try:
            query = "&".join(f"{key}={server[key]}" for key in ("host", "port") if key in server)
            login = ":".join(server[key] for key in ("user", "password") if key in server)
            yield Place(data_dir, {"DATABASE_URL": f"postgresql://{login}{'@' if login else ''}/{name}?{query}"})
        finally:
            admin.execute(f'DROP DATABASE "{name}" WITH (FORCE)')
