"""Run a command with DATABASE_URL and REDIS_URL of servers that are there, or are started privately for it.

    python deploy/with_services.py -- python -m pytest
    python deploy/with_services.py --chromium      # exit code 0 when the browser tests can run

What is missing is said in one line that starts with SKIPPED; with REQUIRE_SERVICES=1 in the environment that fails.
Without PostgreSQL the command is not run. A private server lives in a short folder (the path of a socket has a limit),
listens on a socket only, and is thrown away.
"""

import glob
import os
import pwd
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

PROBED_POSTGRESQL = (
    "postgresql:///postgres?host=/var/run/postgresql&connect_timeout=2",
    "postgresql://postgres@127.0.0.1:5432/postgres?connect_timeout=2",
)
PROBED_REDIS = "redis://127.0.0.1:6379/0"
NO_TESTS_COLLECTED = 5


def postgresql_answers(url: str) -> bool:
    """Whether a database can be made there."""
    import psycopg

    try:
        with psycopg.connect(url) as connection:
            row = connection.execute(
                "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
            ).fetchone()
    except psycopg.Error:
        return False
    return bool(row and row[0])


def redis_answers(url: str) -> bool:
    import redis

    try:
        return bool(redis.Redis.from_url(url, socket_connect_timeout=2).ping())
    except redis.RedisError:
        return False


def program(name: str, *folders: str) -> str | None:
    """Path of a program: the newest of the folders (patterns allowed), else the one on the PATH."""
    found = sorted((path for folder in folders for path in glob.glob(f"{folder}/{name}")), key=_version)
    return found[-1] if found else shutil.which(name)


def _version(path: str) -> list[int]:
    return [int(part) for part in path.split("/") if part.isdigit()]


def unprivileged() -> dict[str, int]:
    """Arguments of Popen that run a server as somebody else than root, which PostgreSQL refuses; empty otherwise."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            user = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": user.pw_uid, "group": user.pw_gid}
    return {}


def wait_until(answers: Callable[[], bool], process: subprocess.Popen[bytes], seconds: float = 20) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end and process.poll() is None:
        if answers():
            return True
        time.sleep(0.1)
    return False


@contextmanager
def private_folder(prefix: str) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix=prefix, dir="/tmp"))  # the path of a socket has a limit
    owner = unprivileged()
    if owner:
        os.chown(folder, owner["user"], owner["group"])
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def ended(process: subprocess.Popen[bytes]) -> Iterator[None]:
    try:
        yield
    finally:
        process.terminate()
        try:
            process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def start_postgresql(stack: ExitStack) -> str | None:
    """Address of a private server, or None with the reason printed."""
    folders = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql@*/bin")
    initdb, postgres = program("initdb", *folders), program("postgres", *folders)
    if not initdb or not postgres:
        print("PostgreSQL: no server answers on this machine, and the programs initdb and postgres were not found")
        return None
    folder = stack.enter_context(private_folder("rb-pg-"))
    environment = {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8", "HOME": str(folder)}
    made = subprocess.run(
        [initdb, "-D", f"{folder}/data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync"],
        capture_output=True,
        text=True,
        env=environment,
        cwd=folder,
        **unprivileged(),  # type: ignore[call-overload]
    )
    if made.returncode:
        print(f"PostgreSQL: initdb failed: {made.stderr.strip() or made.stdout.strip()}")
        return None
    options = {"listen_addresses": "", "unix_socket_directories": str(folder), "fsync": "off", "max_connections": "60"}
    log = stack.enter_context((folder / "log").open("wb"))
    process = subprocess.Popen(
        [postgres, "-D", f"{folder}/data", *(f"--{name}={value}" for name, value in options.items())],
        stdout=log,
        stderr=log,
        env=environment,
        cwd=folder,
        start_new_session=True,  # a Ctrl-C is for the tests; the server is ended after them
        **unprivileged(),  # type: ignore[call-overload]
    )
    stack.enter_context(ended(process))
    url = f"postgresql://postgres@/postgres?host={folder}"
    if not wait_until(lambda: postgresql_answers(url), process):
        print(f"PostgreSQL: the private server did not start: {(folder / 'log').read_text()[-500:]}")
        return None
    return url


def start_redis(stack: ExitStack) -> str | None:
    """Address of a private server, or None with the reason printed."""
    server = program("redis-server") or program("valkey-server")
    if not server:
        print("Redis: no server answers on this machine, and the program redis-server was not found")
        return None
    folder = stack.enter_context(private_folder("rb-redis-"))
    process = subprocess.Popen(
        [server, "--port", "0", "--unixsocket", f"{folder}/s", "--save", "", "--dir", str(folder)],
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    stack.enter_context(ended(process))
    url = f"unix://{folder}/s"
    if not wait_until(lambda: redis_answers(url), process):
        print("Redis: the private server did not start")
        return None
    return url


def find(name: str, given: str, probed: tuple[str, ...], answers: Callable[[str], bool]) -> str | None:
    """The address in the variable, which then must answer, else the first of the probed ones that does."""
    if given:
        if not answers(given):
            sys.exit(f"{name} is set, but nothing usable answers at {given}")
        return given
    return next((url for url in probed if answers(url)), None)


def chromium() -> str | None:
    names = ("chromium", "chromium-browser", "google-chrome")
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, names)), None)


def main(arguments: list[str]) -> int:
    if arguments == ["--chromium"]:
        return 0 if chromium() else 1
    if arguments[:1] != ["--"] or len(arguments) < 2:
        sys.exit(__doc__)
    required = os.environ.get("REQUIRE_SERVICES") == "1"
    with ExitStack() as stack:
        database = find("DATABASE_URL", os.environ.get("DATABASE_URL", ""), PROBED_POSTGRESQL, postgresql_answers)
        database = database or start_postgresql(stack)
        broker = find("REDIS_URL", os.environ.get("REDIS_URL", ""), (PROBED_REDIS,), redis_answers)
        broker = broker or start_redis(stack)
        missing = [name for name, url in (("PostgreSQL", database), ("Redis", broker)) if not url]
        if missing:
            print(f"SKIPPED: tests on {' and '.join(missing)}", flush=True)
            if required:
                print("REQUIRE_SERVICES=1 makes that a failure")
                return 1
        if not database:
            return 0
        environment = os.environ | {"DATABASE_URL": database} | ({"REDIS_URL": broker} if broker else {})
        code = subprocess.run(arguments[1:], env=environment).returncode
        return 0 if code == NO_TESTS_COLLECTED else code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
