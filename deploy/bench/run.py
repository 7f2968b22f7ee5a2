"""Run every bench of speed and write the table of results, RESULTS.md in this folder.

    nice .venv/bin/python deploy/bench/run.py [--builds 10000] [--work FOLDER] [--only board,assess]

With --only the table is printed and not written. Ends with 1 when a bar is missed.
"""

import argparse
import os
import platform
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from common import HEAD, HERE, TOP, be_quiet, on_sqlite, postgresql, work_folder

RESULTS = HERE / "RESULTS.md"
NOTES = """
- Every figure comes from an invented fleet (`fleet.py`): 4 to 12 flights an engine with power blocks and oil readings,
  one aircraft in eight a twin. Rows are written in bulk; judging, notices and pages are those of the program.
- Time "of one core" is what the measuring process used; on SQLite the database works within it. Time "on the clock"
  holds what other programs took meanwhile.
- The board's two fleets answer by turns in one process, a whole request each: sign-in, queries, rendered page.
- The private PostgreSQL server runs on the same cores with fsync off.
- A hundred builds are judged within one transaction, which on SQLite holds the one write lock: two worker processes
  together use one core there, and a log sent meanwhile may wait as long as a hundred assessments take.
- SQLite has no statistics of its tables here, as in the program. With ANALYZE it reads all flights by date instead of
  those of the engines asked for: a night over 10,000 builds took 1.6 times the processor time, and four times where
  nothing had moved.
- lists.py: every list is one page of an index. The today list reads its order from one and counts its airfields in it;
  the rules page reads counts that are kept (`breakin/counts.py`).
- weights.py: bytes of every answer on the line between Chromium and the program, without TLS and without a proxy.
- notices.py: what the whole fleet has to be told, planned and sent in one process to a mail server that is none.
- kill_worker.py: the processes of the worker are killed with signal 9 in the middle of tasks; each time the next worker
  takes over what the dead one had claimed.
"""


def rows_of(script: str, *arguments: str, environment: dict[str, str] | None = None) -> list[str]:
    """Run one bench; its rows, shown as they come."""
    print(f"--- {script} {' '.join(arguments)}", file=sys.stderr, flush=True)
    command = [sys.executable, str(HERE / script), *arguments]
    rows = []
    with subprocess.Popen(
        command, cwd=TOP, env=os.environ | (environment or {}), stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            print(line, end="", flush=True)
            if line.startswith("| "):
                rows.append(line.rstrip("\n"))
    if process.returncode:
        rows.append(f"| {script} | ended with code {process.returncode} | | MISSED |")
    return rows


def all_rows(builds: int, work: Path, only: set[str]) -> list[str]:
    where = ("--work", str(work))
    fleet = on_sqlite(work, f"unjudged-{builds}")
    rows: list[str] = []
    if not (fleet.data_dir / "made").exists() and (not only or only & {"fleet", "nightly"}):
        rows += rows_of("fleet.py", "--builds", str(builds), environment=fleet.environment())
        (fleet.data_dir / "made").touch()
    with postgresql() as server:
        if server:
            os.environ["DATABASE_URL"] = server
        benches = {
            "nightly": ("--builds", str(builds), "--postgresql", *where),
            "board": ("--large", str(builds), *where),
            "lists": ("--large", str(builds), *where),
            "notices": ("--builds", str(builds), *where),
            "assess": ("--builds", str(builds), *where),
            "kill_worker": where,
            "weights": where,
        }
        for name, arguments in benches.items():
            if not only or name in only:
                rows += rows_of(f"{name}.py", *arguments)
    return rows


def version_of_postgresql() -> str:
    program = shutil.which("postgres")
    if not program:
        return "no PostgreSQL"
    said = subprocess.run([program, "--version"], capture_output=True, text=True).stdout
    return f"PostgreSQL {next((word for word in said.split() if word[0].isdigit()), 'unknown')}"


def page(rows: list[str]) -> str:
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=TOP, capture_output=True, text=True).stdout
    head = [
        "# Speed",
        "",
        f"{datetime.now(UTC):%Y-%m-%d}, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, "
        f"{version_of_postgresql()}, {os.cpu_count()} cores{', commit ' + commit.strip() if commit.strip() else ''}. "
        "Shared machine, ratios matter.",
        "Written by `deploy/bench/run.py`; how good the oil estimate is stands in `deploy/bench/oil_bars.py`.",
        "",
    ]
    return "\n".join([*head, *HEAD, *rows, NOTES])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=10_000)
    parser.add_argument("--work", type=Path)
    parser.add_argument(
        "--only", default="", help="fleet, nightly, board, lists, notices, assess, kill_worker, weights"
    )
    given = parser.parse_args()
    be_quiet()
    with work_folder(given.work) as work:
        only = {name for name in given.only.split(",") if name}
        rows = all_rows(given.builds, work, only)
    print("\n" + page(rows))
    if not only:
        RESULTS.write_text(page(rows))
    if any(row.endswith("| MISSED |") for row in rows):
        sys.exit(1)


if __name__ == "__main__":
    main()
