"""What every bench has in common: a place with a database of its own, a process on it, and rows of the result table."""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

HERE = Path(__file__).resolve().parent
TOP = HERE.parents[1]
for _folder in (TOP, TOP / "deploy"):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))

HEAD = ("| what | measured | bar | |", "|---|---|---|---|")


@dataclass(frozen=True)
class Place:
    """A folder and a database for one fleet. `database` is empty for SQLite, which lives in the folder."""

    name: str
    data_dir: Path
    database: str = ""
    more: dict[str, str] = field(default_factory=dict)

    @property
    def database_name(self) -> str:
        """As Django's settings have it."""
        return urlsplit(self.database).path.strip("/") or str(self.data_dir / "run-in-book.sqlite3")

    def environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
        mine = {"DATA_DIR": str(self.data_dir), "DJANGO_SETTINGS_MODULE": "shop.settings", "LOG_LEVEL": "ERROR"}
        # The demo's mode asks for no second factor, which is not what is measured here.
        mine |= {"DEMO_MODE": "1", "PYTHONPATH": f"{TOP}:{HERE}"}
        return kept | mine | ({"DATABASE_URL": self.database} if self.database else {}) | self.more

    def run(self, script: str, *arguments: object) -> Any:
        """Run a script of this folder here; what it printed as JSON on its last line, or None."""
        command = [sys.executable, str(HERE / script), *map(str, arguments)]
        done = subprocess.run(command, cwd=TOP, env=self.environment(), stdout=subprocess.PIPE, text=True, check=True)
        lines = done.stdout.strip().splitlines()
        return json.loads(lines[-1]) if lines and lines[-1][:1] in "[{" else None

    def start(self, *command: str, **options: Any) -> "subprocess.Popen[bytes]":
        return subprocess.Popen([sys.executable, *command], cwd=TOP, env=self.environment(), **options)

    def fleet(self, builds: int, *, judged: bool = False) -> "Place":
        """Make the fleet unless it is here, and judge it when asked to."""
        if not (self.data_dir / "made").exists():
            self.run("fleet.py", "--builds", builds)
            (self.data_dir / "made").write_text(f"{builds}\n")
        if judged and not (self.data_dir / "judged").exists():
            self.run("fleet.py", "--judge")
            (self.data_dir / "judged").touch()
        return self

    def copied(self, name: str) -> "Place":
        """The same fleet in another folder and database, whatever stood there before."""
        other = self.data_dir.with_name(name)
        shutil.rmtree(other, ignore_errors=True)
        shutil.copytree(self.data_dir, other)
        return Place(name, other, _copy_of(self.database, name) if self.database else "")


def _copy_of(database: str, name: str) -> str:
    """Address of a copy of a PostgreSQL database, on the same server."""
    import psycopg

    parts = urlsplit(database)
    made = f"bench_{name.replace('-', '_')}"
    with psycopg.connect(urlunsplit((parts.scheme, parts.netloc, "/postgres", parts.query, "")), autocommit=True) as to:
        to.execute(f'DROP DATABASE IF EXISTS "{made}" WITH (FORCE)'.encode())
        to.execute(f'CREATE DATABASE "{made}" TEMPLATE "{parts.path.strip("/")}"'.encode())
    return urlunsplit((parts.scheme, parts.netloc, f"/{made}", parts.query, ""))


@contextmanager
def work_folder(given: Path | None) -> Iterator[Path]:
    """The folder given, which is kept with its fleets for the next bench; else one that is thrown away."""
    if given is not None:
        given.mkdir(parents=True, exist_ok=True)
        yield given.resolve()
        return
    with tempfile.TemporaryDirectory(prefix="run-in-book-bench-") as folder:
        yield Path(folder)


@contextmanager
def postgresql() -> Iterator[str]:
    """Address of a server: DATABASE_URL, or one started for this; empty where there is none."""
    from with_services import start_postgresql

    if os.environ.get("DATABASE_URL"):
        yield os.environ["DATABASE_URL"]
        return
    with ExitStack() as stack:
        yield start_postgresql(stack) or ""


def on_postgresql(server: str, work: Path, name: str, *, anew: bool = False) -> Place:
    """A place with a database of its own on that server, made when it is missing. `anew`: what stood there goes."""
    import psycopg

    database = f"bench_{name.replace('-', '_')}"
    parts = urlsplit(server)
    url = urlunsplit((parts.scheme, parts.netloc, f"/{database}", parts.query, ""))
    with psycopg.connect(server, autocommit=True) as admin:
        if anew:
            admin.execute(f'DROP DATABASE IF EXISTS "{database}" WITH (FORCE)'.encode())
        if not admin.execute("SELECT 1 FROM pg_database WHERE datname = %s", [database]).fetchone():
            admin.execute(f'CREATE DATABASE "{database}"'.encode())
            shutil.rmtree(work / name, ignore_errors=True)
    (work / name).mkdir(exist_ok=True)
    return Place(name, work / name, url)


def on_sqlite(work: Path, name: str) -> Place:
    (work / name).mkdir(parents=True, exist_ok=True)
    return Place(name, work / name)


def here() -> Place:
    """The place that this process itself works on."""
    return Place("here", Path(os.environ["DATA_DIR"]), os.environ.get("DATABASE_URL", ""))


def start_worker(place: Place, processes: int, **options: Any) -> "subprocess.Popen[bytes]":
    """A Celery worker of the queue "work", as `manage.py serve` starts it, in a session of its own."""
    command = ["-m", "celery", "--quiet", "-A", "shop", "worker", "--loglevel", "WARNING", "-n", "bench@%h"]
    command += ["-Q", "work", "-c", str(processes), "--without-gossip", "--without-mingle", "--without-heartbeat"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    return place.start("-W", "ignore", *command, start_new_session=True, **(quiet | options))


def children_of(pid: int, count: int) -> list[int]:
    """The processes of a worker's pool, once all have started."""
    path = Path(f"/proc/{pid}/task/{pid}/children")
    end = time.monotonic() + 90
    while len(found := path.read_text().split()) < count:
        assert time.monotonic() < end, "the worker did not start"
        time.sleep(0.05)
    return [int(child) for child in found]


def end_worker(worker: "subprocess.Popen[bytes]") -> None:
    """Ask it to end; after half a minute end it with its children."""
    worker.terminate()
    try:
        worker.wait(timeout=30)
    except subprocess.TimeoutExpired:
        os.killpg(worker.pid, signal.SIGKILL)
        worker.wait()


def begin_django(collect_static: bool = False) -> None:
    """Start Django on the place that the environment names."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    django.setup()
    if collect_static:
        from django.core.management import call_command

        call_command("collectstatic", interactive=False, verbosity=0)


class Statements:
    """Counts what is sent to the database. A statement with many sets of values counts once."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        self.count += 1
        return execute(sql, params, many, context)


def resident_mb(pid: int | str = "self") -> float:
    """Memory of a process that is in use and is nobody else's, from /proc [MB]."""
    text = Path(f"/proc/{pid}/status").read_text()
    return sum(int(line.split()[1]) for line in text.splitlines() if line.startswith("RssAnon:")) / 1024


def row(what: str, measured: str, bar: str = "", met: bool | None = None) -> str:
    """One row of the table, printed at once."""
    word = "" if met is None else "met" if met else "MISSED"
    line = f"| {what} | {measured} | {bar} | {word} |"
    print(line, flush=True)
    return line


def said(value: Any) -> None:
    """The answer of a process to the bench that started it."""
    print(json.dumps(value), flush=True)


def quantile(values: Sequence[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def be_quiet() -> None:
    """Give way to others on the machine."""
    if os.nice(0) < 10:
        os.nice(10)
