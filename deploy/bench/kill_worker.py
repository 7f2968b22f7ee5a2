"""Kill the worker again and again while it works, with kill -9: is every one of 200 assessments made, and made right?

    nice .venv/bin/python deploy/bench/kill_worker.py [--builds 200] [--work FOLDER]

SQLite and the broker made of files. The worker has two processes. It is killed as a whole group, then its parent alone,
then one of its children alone (which it replaces itself), and so on by turns; each time another one is started. The
book that comes out is compared with that of the same fleet judged in one quiet process.
"""

import argparse
import os
import signal
import subprocess
import time
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from common import (
    Place,
    be_quiet,
    begin_django,
    children_of,
    end_worker,
    here,
    on_sqlite,
    row,
    said,
    start_worker,
    work_folder,
)

WAYS = ("group", "parent", "child", "group", "parent", "child", "group")
LONGEST_S = 240.0


def queue_all(now: datetime) -> list[int]:
    """Mark every build and queue a task for each, as a service does after its commit."""
    from breakin import assess, jobs, tasks
    from breakin.models import Assessment

    ids = list(Assessment.objects.order_by("build_id").values_list("build_id", flat=True))
    assess.mark_dirty(ids, now)
    assert all(jobs.queue(tasks.assess_build, build_id) for build_id in ids)
    return ids


def waiting(folder: Path) -> int:
    """Messages nobody has claimed."""
    return sum(name.endswith(".msg") and name[:1] != "." for name in os.listdir(folder / "work"))


def claimed(folder: Path) -> list[str]:
    path = folder / "inflight" / "work"
    return sorted(os.listdir(path)) if path.exists() else []


def disturbed(processes: int) -> dict[str, Any]:
    """Work through the queue with workers that are killed; what happened on the way."""
    from django.conf import settings
    from django.utils import timezone

    from breakin.models import Assessment

    marked = timezone.now()
    ids = queue_all(marked)
    folder = settings.QUEUE_DIR
    levels = [len(ids) - (number + 1) * len(ids) // (len(WAYS) + 1) for number in range(len(WAYS))]
    kills: list[dict[str, Any]] = []
    log = (settings.DATA_DIR / "worker.log").open("ab")
    worker = start_worker(here(), processes, stderr=log)
    start = time.monotonic()
    try:
        while waiting(folder) or claimed(folder):
            assert time.monotonic() - start < LONGEST_S, f"{waiting(folder)} wait, {claimed(folder)} are claimed"
            if len(kills) < len(WAYS) and waiting(folder) <= levels[len(kills)] and claimed(folder):
                worker = _kill(worker, WAYS[len(kills)], kills, folder, processes, log)
            assert worker.poll() is None, "a worker ended by itself"
            time.sleep(0.005)
        time.sleep(1)
    finally:
        end_worker(worker)
        log.close()
    late = Assessment.objects.filter(build_id__in=ids).exclude(dirty_at=None, computed_at__gte=marked)
    return {
        "builds": len(ids),
        "kills": kills,
        "seconds": time.monotonic() - start,
        "lost": late.count(),
        "waiting": waiting(folder),
        "claimed": claimed(folder),
        "broken": [str(path) for path in (folder / "broken").rglob("*.msg")],
        "again": sum(kill.get("left", 0) for kill in kills),
    }


def _kill(
    worker: "subprocess.Popen[bytes]", way: str, kills: list[dict[str, Any]], folder: Path, processes: int, log: Any
) -> "subprocess.Popen[bytes]":
    """kill -9 in one of three ways; the worker that goes on: another one, unless only a child was killed."""
    kills.append({"way": way, "waiting": waiting(folder), "claimed": len(claimed(folder))})
    if way == "child":
        os.kill(children_of(worker.pid, 1)[0], signal.SIGKILL)
        return worker
    if way == "group":
        os.killpg(worker.pid, signal.SIGKILL)
    else:
        os.kill(worker.pid, signal.SIGKILL)
    worker.wait()
    kills[-1]["left"] = len(claimed(folder))
    return start_worker(here(), processes, stderr=log)


def undisturbed() -> int:
    """The same by the same tasks, in this process and nothing killed."""
    from django.utils import timezone

    from breakin import tasks
    from breakin.models import Assessment

    ids = list(Assessment.objects.order_by("build_id").values_list("build_id", flat=True))
    Assessment.objects.update(dirty_at=timezone.now())
    for build_id in ids:
        tasks.assess_build(build_id)
    return len(ids)


def book() -> dict[str, list[Any]]:
    """What is written about each build, moments of writing apart."""
    from breakin.models import Assessment, AssessmentDay, DueItem, Finding, LaneCount, Notice

    def rows(found: Iterable[tuple[Any, ...]]) -> list[Any]:
        return sorted([str(value) for value in row] for row in found)

    return {
        "assessments": rows(
            Assessment.objects.values_list(
                "build_id", "inputs_digest", "lane", "phase", "stops", "calls", "watches", "notes", "oil_rate_qt_h",
                "lane_reasons", "sort_key", "dirty_at",
            )
        ),
        "findings": rows(Finding.objects.values_list("build_id", "rule", "occurrence", "severity", "state", "text")),
        "due items": rows(DueItem.objects.values_list("build_id", "rule", "occurrence", "state", "escalation")),
        "notices": rows(Notice.objects.values_list("key", "state")),
        "days": rows(AssessmentDay.objects.values_list("build_id", "lane", "inputs_digest")),
        "lane counts": rows(LaneCount.objects.filter(builds__gt=0).values_list("lane", "builds")),
    }  # fmt: skip


def report(found: dict[str, Any], killed: dict[str, list[Any]], quiet: dict[str, list[Any]]) -> None:
    kills = found["kills"]
    ways = ", ".join(
        f"{sum(kill['way'] == way for kill in kills)} times the {way}" for way in ("group", "parent", "child")
    )
    left = found["waiting"] + len(found["claimed"]) + len(found["broken"])
    row(
        f"kill -9 of the worker during {found['builds']} queued assessments, SQLite and the queue of files",
        f"killed {len(kills)} times ({ways}) with {kills[0]['waiting']} to {kills[-1]['waiting']} waiting; "
        f"{found['again']} messages had been claimed by the dead and were tried again; "
        f"{found['lost']} assessments lost, {left} messages left; "
        f"{found['seconds']:.0f} s with all restarts",
        "none lost, no message left",
        len(kills) == len(WAYS) and not found["lost"] and not left and found["again"] > 0,
    )
    differing = [name for name in quiet if killed[name] != quiet[name]]
    same = ", ".join(f"{len(rows):,} {name}" for name, rows in quiet.items())
    row(
        "the book after that, beside the same fleet judged in one quiet process",
        f"differs in {', '.join(differing)}" if differing else f"the same: {same}",
        "the same, row by row",
        not differing,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=200)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--work", type=Path)
    parser.add_argument("--measure", choices=("killed", "quiet", "book"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    be_quiet()
    if given.measure:
        begin_django()
        acts = {"killed": lambda: disturbed(given.processes), "quiet": lambda: {"builds": undisturbed()}, "book": book}
        said(acts[given.measure]())
        return
    with work_folder(given.work) as work:
        fleet = on_sqlite(work, f"unjudged-{given.builds}").fleet(given.builds)
        places: dict[str, Place] = {name: fleet.copied(name) for name in ("killed", "quiet")}
        found = places["killed"].run("kill_worker.py", "--measure", "killed", "--processes", given.processes)
        places["quiet"].run("kill_worker.py", "--measure", "quiet")
        report(found, *(place.run("kill_worker.py", "--measure", "book") for place in places.values()))


if __name__ == "__main__":
    main()
