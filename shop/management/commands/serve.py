"""Run the whole program on this machine: web, two Celery workers and the schedule."""

import fcntl
import json
import os
import socket
import sys
from argparse import ArgumentParser
from typing import Any, TextIO

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, connections
from django.db.migrations.executor import MigrationExecutor

from shop.supervisor import Child, Supervisor


class Command(BaseCommand):
    help = (
        "Run web, worker and schedule on this machine until Ctrl-C. With REDIS_URL unset the queue is kept in files "
        "below DATA_DIR. In production each of these processes has a unit of its own: see deploy/."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--migrate", action="store_true", help="bring the database up to date first")
        parser.add_argument("--web-processes", type=int, default=2, help="default: 2, with 4 threads each")
        parser.add_argument("--work-processes", type=int, default=2, help="for assessments and files; default: 2")

    def handle(self, *args: Any, **options: Any) -> None:
        os.umask(0o077)  # what is kept is nobody else's to read
        if os.geteuid() == 0:
            self.stderr.write("Running as root. With real data use a user of its own.")
        with hold_data_dir():
            refuse_busy_port()
            prepare(migrate=options["migrate"])
            Supervisor(children(options["web_processes"], options["work_processes"])).run(self.announce)
        self.stdout.write("Ended.")

    def announce(self) -> bool:
        if not answers():
            return False
        self.stdout.write(welcome())
        self.stdout.flush()
        return True


def hold_data_dir() -> TextIO:
    """Lock DATA_DIR for this process; closing the file, or the end of the process, gives it back."""
    settings.DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    lock = (settings.DATA_DIR / "serve.lock").open("a+")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        lock.seek(0)
        holder = lock.read().strip() or "unknown"
        lock.close()
        raise CommandError(
            f"DATA_DIR {settings.DATA_DIR} is in use by process {holder}. End it first, or set another DATA_DIR."
        ) from None
    lock.truncate(0)
    lock.write(str(os.getpid()))
    lock.flush()
    return lock


def refuse_busy_port() -> None:
    if settings.BIND.startswith("unix:"):
        return
    family = socket.AF_INET6 if ":" in settings.BIND else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.BIND, settings.PORT))
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {settings.BIND} port {settings.PORT}: {error.strerror}. Set PORT to a free one."
            ) from None


def answers() -> bool:
    """Whether the web server accepts connections."""
    if settings.BIND.startswith("unix:"):
        return True
    try:
        socket.create_connection((settings.BIND, settings.PORT), timeout=1).close()
    except OSError:
        return False
    return True


def welcome() -> str:
    """The address, and in demo mode one login a role."""
    everywhere = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}  # noqa: S104 - shown, not bound
    lines = [f"Run-in Book is at http://{everywhere.get(settings.BIND, settings.BIND)}:{settings.PORT}/"]
    logins = settings.DATA_DIR / "demo-logins.json"
    if settings.DEMO_MODE and logins.exists():
        rows = json.loads(logins.read_text(encoding="utf-8"))
        width = max((len(row["role"]) for row in rows), default=0)
        lines += ["", "Sign in with an e-mail address and its password:"]
        lines += [f"  {row['role']:<{width}}  {row['email']}  {row['password']}" for row in rows]
        lines += ["", f"Mails that were sent: {settings.MAIL_DIR}"]
    return "\n".join([*lines, "Ctrl-C ends it."])


def prepare(migrate: bool) -> None:
    """Database, cache table and static files. No connection is left open for the children to inherit."""
    if migrate:
        call_command("migrate", interactive=False, verbosity=0)
    executor = MigrationExecutor(connection)
    missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if missing:
        names = ", ".join(f"{migration.app_label}.{migration.name}" for migration, _ in missing[:3])
        raise CommandError(
            f"The database lacks {len(missing)} migration(s): {names} ... Make a backup, then run serve --migrate."
        )
    call_command("createcachetable", verbosity=0)
    if not settings.DEBUG:
        call_command("collectstatic", interactive=False, verbosity=0)
    connections.close_all()


def children(web_processes: int, work_processes: int) -> list[Child]:
    """The tick queue has a worker of its own: thousands of waiting assessments must not delay a reminder."""
    environment = {"SERVE_PID": str(os.getpid()), "DJANGO_SETTINGS_MODULE": "shop.settings"}
    celery = [sys.executable, "-m", "celery", "--quiet", "-A", "shop", "worker", "--loglevel", "WARNING"]
    quiet = ["--without-gossip", "--without-mingle", "--without-heartbeat"]
    web = [sys.executable, "-m", "gunicorn", "-c", "python:shop.gunicorn_conf", "-w", str(web_processes), "shop.wsgi"]
    schedule = ["-B", "-s", str(settings.DATA_DIR / "beat-schedule")]
    return [
        Child("web", web, environment),
        Child("tick worker", [*celery, *quiet, "-n", "tick@%h", "-Q", "tick", "-c", "1", *schedule], environment),
        Child("work worker", [*celery, *quiet, "-n", "work@%h", "-Q", "work", "-c", str(work_processes)], environment),
    ]
