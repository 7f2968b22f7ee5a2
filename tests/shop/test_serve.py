"""manage.py serve: what it starts, keeps and ends. The tests of one running program come in their order."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from shop.supervisor import Child, Supervisor
from tests.shop.commands import Place, place

pytestmark = pytest.mark.slow  # starts servers of its own, on SQLite
linux_only = pytest.mark.skipif(not Path("/proc/self/maps").exists(), reason="looks at /proc")


def wait_for(condition: Callable[[], Any], seconds: float = 60) -> Any:
    end = time.monotonic() + seconds
    while not (found := condition()):
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.1)
    return found


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def alive(pid: int) -> bool:
    """Whether a process runs; one that ended and waits for its parent to notice does not."""
    try:
        return "\nState:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return False


def descendants(pid: int) -> dict[int, str]:
    """Process id and command line of all children, grandchildren and so on."""
    parents: dict[int, list[int]] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((folder / "stat").read_text().rsplit(")", 1)[1].split()[1])
        except (FileNotFoundError, ProcessLookupError):
            continue
        parents.setdefault(parent, []).append(int(folder.name))
    found: dict[int, str] = {}
    waiting = [pid]
    while waiting:
        for child in parents.get(waiting.pop(), []):
            try:
                found[child] = Path(f"/proc/{child}/cmdline").read_bytes().replace(b"\0", b" ").decode()
            except FileNotFoundError:
                continue
            waiting.append(child)
    return found


def children_named(pid: int, word: str) -> list[int]:
    direct = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    commands = descendants(pid)
    return [int(child) for child in direct if word in commands.get(int(child), "")]


class Program:
    """A running `serve`."""

    def __init__(self, here: Place, port: int) -> None:
        self.here, self.port = here, port
        self.log = here.data_dir.parent / f"serve-{port}.log"
        with self.log.open("wb") as log:
            self.process = here.start("serve", "--migrate", stdout=log, stderr=log, start_new_session=True)

    def health(self) -> dict[str, Any] | None:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/healthz", timeout=5) as answer:
                found: dict[str, Any] = json.load(answer)
                return found
        except OSError:  # not listening yet, or slow to load
            return None

    def wait_until_complete(self) -> None:
        """Web answers, both workers have their children and the schedule runs."""
        wait_for(self.health, 120)  # nine processes start, on a machine that may be busy
        wait_for(lambda: len(descendants(self.process.pid)) >= 9, 120)


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None) -> Iterator[Program]:
    with place(tmp_path_factory.mktemp("serve") / "data") as here:
        port = free_port()
        here.environment |= {"PORT": str(port), "DEMO_MODE": "1"}
        logins = [{"role": "manager", "email": "manager@shop.example", "password": "plain to read"}]
        (here.data_dir / "demo-logins.json").write_text(json.dumps(logins))
        running = Program(here, port)
        try:
            running.wait_until_complete()
            yield running
        finally:
            for pid in [running.process.pid, *descendants(running.process.pid)]:
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            running.process.wait()


def test_importing_never_loads_polars() -> None:
    """It is loaded by the task that reads a recording, in a process that forks no more."""
    ours = ("breakin.calc.recording", "breakin.tasks", "breakin.services.recordings", "shop.urls", "shop.wsgi")
    checked = "; ".join(f"import {name}; assert 'polars' not in sys.modules, '{name}'" for name in ours)
    loads = f"import sys, django; django.setup(); {checked}"
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"}
    done = subprocess.run([sys.executable, "-c", loads], env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_each_function_of_a_recording_that_needs_polars_loads_it_itself() -> None:
    """The one module that names it does so inside functions."""
    top = Path(__file__).resolve().parents[2]
    named = [
        path.relative_to(top).as_posix()
        for folder in ("shop", "engines", "breakin", "reports")
        for path in sorted((top / folder).rglob("*.py"))
        if re.search(r"^\s*(import|from) polars", path.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    assert named == ["breakin/calc/recording/table.py"]
    assert not re.search(r"^(import|from) polars", (top / named[0]).read_text(encoding="utf-8"), re.MULTILINE)


@linux_only
class TestRunning:
    def test_the_health_page_says_that_the_program_is_starting(self, program: Program) -> None:
        answer = program.health()
        assert answer is not None
        assert (answer["status"], answer["database"]) == ("ok", "ok")
        assert answer["tick"] in {"starting", "ok"}

    def test_the_address_and_the_logins_of_the_demo_are_shown(self, program: Program) -> None:
        shown = wait_for(lambda: text if "Ctrl-C ends it" in (text := program.log.read_text()) else "")
        assert f"http://127.0.0.1:{program.port}/" in shown
        assert "manager  manager@shop.example  plain to read" in shown

    def test_no_process_that_forks_has_loaded_polars(self, program: Program) -> None:
        """A child that is forked from a process that has used polars hangs."""
        pid = program.process.pid
        parents = [pid, *children_named(pid, "gunicorn"), *children_named(pid, "celery")]
        assert len(parents) == 4
        for parent in parents:
            maps = Path(f"/proc/{parent}/maps").read_text()
            assert "/python" in maps, "the file of loaded libraries was read"
            assert "polars" not in maps

    def test_a_second_one_is_refused_by_the_data_and_by_the_port(self, program: Program, tmp_path: Path) -> None:
        done = program.here.attempt("serve")
        assert done.returncode != 0
        assert f"is in use by process {program.process.pid}" in done.stderr
        other = Place(tmp_path, {"PORT": str(program.port)})
        done = other.attempt("serve")
        assert done.returncode != 0
        assert "Set PORT to a free one" in done.stderr

    def test_a_worker_that_is_killed_is_started_again(self, program: Program) -> None:
        (killed,) = children_named(program.process.pid, "-Q work")
        os.kill(killed, signal.SIGKILL)
        wait_for(lambda: killed not in (now := children_named(program.process.pid, "-Q work")) and len(now) == 1)
        program.wait_until_complete()
        assert program.process.poll() is None

    def test_ctrl_c_ends_every_process(self, program: Program) -> None:
        family = descendants(program.process.pid)
        assert len(family) >= 9
        program.process.send_signal(signal.SIGINT)
        assert program.process.wait(timeout=30) == 0
        assert not [pid for pid in family if alive(pid)]
        assert "Ended." in program.log.read_text()


@linux_only
def test_nothing_outlives_a_serve_that_was_killed_and_the_next_one_starts(program: Program) -> None:
    again = Program(program.here, program.port)
    again.wait_until_complete()
    family = descendants(again.process.pid)
    again.process.kill()
    again.process.wait()
    wait_for(lambda: not [pid for pid in family if alive(pid)], seconds=15)


def test_a_database_that_is_not_up_to_date_is_refused(tmp_path: Path) -> None:
    done = Place(tmp_path, {"PORT": str(free_port())}).attempt("serve")
    assert done.returncode != 0
    assert "serve --migrate" in done.stderr


# --- The supervisor alone ---------------------------------------------------------------------------------------------


def test_a_child_that_ends_at_once_is_tried_again_at_growing_pauses(caplog: pytest.LogCaptureFixture) -> None:
    child = Child("short", [sys.executable, "-c", "raise SystemExit(3)"], {})
    pauses = []
    for _ in range(3):
        child.start_at = 0
        child.tend()
        wait_for(lambda: child.process is None or child.process.poll() is not None)
        child.tend()
        pauses.append(child.pause)
    assert pauses == [1.0, 2.0, 4.0]
    assert "short ended with code 3" in caplog.text


def test_a_child_that_ignores_the_request_to_end_is_ended_after_the_grace() -> None:
    deaf = (
        "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(60)"
    )
    code = (
        "import sys; from shop.supervisor import Child, Supervisor\n"
        f"Supervisor([Child('deaf', [sys.executable, '-c', {deaf!r}], {{}})], grace_seconds=1).run(lambda: True)"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stdout.readline() == b"deaf\n"
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=15) == 0
    assert process.stdout.read() == b"", "the child, which held the other end, is gone"
    process.stdout.close()


def test_the_supervisor_restores_the_signal_handlers_it_found() -> None:
    before = signal.getsignal(signal.SIGTERM)

    def ask_to_end() -> bool:
        os.kill(os.getpid(), signal.SIGTERM)
        return True

    Supervisor([]).run(ask_to_end)
    assert signal.getsignal(signal.SIGTERM) is before
