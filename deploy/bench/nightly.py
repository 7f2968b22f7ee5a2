"""The nightly run over a whole fleet: range by range in one process, then through a real Celery worker.

    nice .venv/bin/python deploy/bench/nightly.py [--builds 10000] [--work FOLDER] [--postgresql]

Every build is judged for the first time, which is the most that a night can ask for; then once more with nothing moved.
Worker: two processes, the broker made of files. With --postgresql all is repeated on PostgreSQL.
"""

import argparse
import os
import time
from datetime import datetime
from pathlib import Path
from typing import Any

from common import (
    Statements,
    be_quiet,
    begin_django,
    children_of,
    end_worker,
    here,
    on_postgresql,
    on_sqlite,
    postgresql,
    resident_mb,
    row,
    said,
    start_worker,
    work_folder,
)

MOST_GROWTH_MB = 30.0
LONGEST_S = 1800.0


def one_night(now: datetime) -> dict[str, Any]:
    """All ranges of one night in this process: pace, statements, memory after each range."""
    from django.db import connection

    from breakin import jobs
    from shop.models import JobRun

    JobRun.objects.all().delete()  # the same night may be measured again
    statements, memory, paces = Statements(), [], []
    clock, own = time.perf_counter(), time.process_time()
    with connection.execute_wrapper(statements):
        for chunk in jobs.open_night(now):
            start = time.process_time()
            done = jobs.judge_chunk(chunk, now)
            assert done is not None
            paces.append((time.process_time() - start) / max(done.expected, 1))
            memory.append(resident_mb())
    night = JobRun.objects.get(name=jobs.NIGHTLY)
    quarter = max(1, len(paces) // 4)
    return {
        "builds": night.expected,
        "done": night.done,
        "failed": night.failed,
        "state": night.state,
        "clock": time.perf_counter() - clock,
        "own": time.process_time() - own,
        "statements": statements.count,
        "memory": memory,
        "first_quarter_ms": 1000 * sum(paces[:quarter]) / quarter,
        "last_quarter_ms": 1000 * sum(paces[-quarter:]) / quarter,
    }


def in_process() -> list[dict[str, Any]]:
    from django.utils import timezone

    now = timezone.now()
    return [one_night(now), one_night(now)]


def through_workers(processes: int) -> dict[str, Any]:
    """Queue the night as beat does, and wait until real workers have done it."""
    from django.conf import settings
    from django.db.models import Count

    from breakin import jobs, tasks
    from breakin.models import Assessment, LaneCount
    from shop.models import JobRun

    JobRun.objects.all().delete()
    Assessment.objects.update(inputs_digest="")  # what was judged here before has to be judged again
    worker = start_worker(here(), processes)
    most: dict[int, list[float]] = {}
    try:
        children = children_of(worker.pid, processes)
        clock = time.perf_counter()
        tasks.nightly()
        while (night := JobRun.objects.get(name=jobs.NIGHTLY)).state == "running":
            assert time.perf_counter() - clock < LONGEST_S, "the night does not end"
            assert worker.poll() is None, "the worker ended"
            for child in children:
                most.setdefault(child, []).append(resident_mb(child))
            time.sleep(0.5)
        spent = time.perf_counter() - clock
        used = sum(_cpu_seconds(child) for child in children)
        time.sleep(1)
        left = [str(path) for path in settings.QUEUE_DIR.rglob("*.msg")]
    finally:
        end_worker(worker)
    counted = dict(LaneCount.objects.filter(builds__gt=0).values_list("lane", "builds"))
    there = dict(Assessment.objects.filter(live=True).values_list("lane").annotate(n=Count("id")))
    return {
        "builds": night.expected,
        "done": night.done,
        "failed": night.failed,
        "clock": spent,
        "own": used,
        "memory": list(most.values()),
        "left": left,
        "lanes_right": counted == there,
    }


def _cpu_seconds(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _grown(memory: list[float]) -> tuple[float, float]:
    """Memory when a tenth of the night was over, and the most after that."""
    tenth = len(memory) // 10
    return memory[tenth], max(memory[tenth:])


def report_process(kind: str, nights: list[dict[str, Any]]) -> None:
    for night, what in zip(nights, ("every build judged for the first time", "again, nothing moved"), strict=True):
        at, most = _grown(night["memory"])
        whole = night["done"] == night["builds"] and night["failed"] == 0 and night["state"] == "finished"
        row(
            f"nightly run, {kind}, one process, {night['builds']:,} builds, {what}",
            f"{night['builds'] / night['clock']:.0f} builds/s on the clock ({night['clock']:.0f} s), "
            f"{night['builds'] / night['own']:.0f} a second of one core; {night['statements'] / night['builds']:.2f} "
            f"queries a build; {night['done']:,} judged, {night['failed']} failed; first quarter "
            f"{night['first_quarter_ms']:.1f} and last {night['last_quarter_ms']:.1f} ms a build",
            "all judged, none failed",
            whole,
        )
        row(
            f"memory of that process ({what})",
            f"{at:.0f} MB after a tenth, at most {most:.0f} MB after that",
            f"flat: + ≤ {MOST_GROWTH_MB:.0f} MB",
            most - at <= MOST_GROWTH_MB,
        )


def report_workers(kind: str, processes: int, night: dict[str, Any]) -> None:
    row(
        f"nightly run, {kind}, Celery worker with {processes} processes and the queue of files, {night['builds']:,} "
        "builds, every build judged",
        f"{night['builds'] / night['clock']:.0f} builds/s on the clock ({night['clock']:.0f} s), "
        f"{night['builds'] / night['own']:.0f} a second of one core; {night['done']:,} judged, {night['failed']} "
        f"failed; {len(night['left'])} messages left",
        "all judged, none failed, queue empty, lane counts right",
        night["done"] == night["builds"] and not night["failed"] and not night["left"] and night["lanes_right"],
    )
    grown = [_grown(memory) for memory in night["memory"]]
    row(
        "memory of its processes",
        "; ".join(f"{at:.0f} MB after a tenth, at most {most:.0f} MB after that" for at, most in grown),
        f"flat: + ≤ {MOST_GROWTH_MB:.0f} MB each",
        all(most - at <= MOST_GROWTH_MB for at, most in grown),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=10_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--work", type=Path)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--measure", choices=("process", "workers"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    be_quiet()
    if given.measure:
        begin_django()
        said(in_process() if given.measure == "process" else through_workers(given.processes))
        return
    with work_folder(given.work) as work:
        place = on_sqlite(work, f"unjudged-{given.builds}").fleet(given.builds)
        judged = place.copied(f"sqlite-{given.builds}")
        report_process("SQLite", judged.run("nightly.py", "--measure", "process"))
        (judged.data_dir / "judged").touch()
        arguments = ("--measure", "workers", "--processes", given.processes)
        report_workers("SQLite", given.processes, place.copied("nightly-workers").run("nightly.py", *arguments))
        if not given.postgresql:
            return
        with postgresql() as server:
            if not server:
                row("nightly run, PostgreSQL", "SKIPPED: no server", "", None)
                return
            place = on_postgresql(server, work, f"postgresql-{given.builds}", anew=True).fleet(given.builds)
            report_process("PostgreSQL", place.run("nightly.py", "--measure", "process"))
            (place.data_dir / "judged").touch()
            report_workers("PostgreSQL", given.processes, place.run("nightly.py", *arguments))


if __name__ == "__main__":
    main()
