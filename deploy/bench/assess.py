"""Time of one assessment, alone and among a hundred, beside what its parts take in the same run.

    nice .venv/bin/python deploy/bench/assess.py [--builds 400] [--work FOLDER]

The baseline is reading the build's facts alone, which no assessment can do without.
"""

import argparse
import random
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from common import Statements, be_quiet, begin_django, on_sqlite, quantile, row, said, work_folder

SAMPLE = 300
MOST_MS = 50.0


def timed(act: Callable[[], Any]) -> tuple[float, float]:
    """(ms on the clock, ms of this process); SQLite works within this process."""
    clock, own = time.perf_counter(), time.process_time()
    act()
    return 1000 * (time.perf_counter() - clock), 1000 * (time.process_time() - own)


def summed(taken: Sequence[tuple[float, float]], each: int = 1) -> dict[str, float]:
    clocks, own = [one[0] / each for one in taken], [one[1] / each for one in taken]
    return {
        "own": sum(own) / len(own),
        "own_p95": quantile(own, 0.95),
        "clock": sum(clocks) / len(clocks),
        "clock_p95": quantile(clocks, 0.95),
    }


def measure() -> dict[str, Any]:
    from django.db import connection
    from django.utils import timezone

    from breakin import assess
    from breakin.judgement import judge
    from breakin.load import load
    from breakin.models import Assessment
    from engines.models import Build

    now = timezone.now()
    ids = list(Assessment.objects.order_by("build_id").values_list("build_id", flat=True))
    random.Random(3).shuffle(ids)
    chunks = [ids[start : start + assess.CHUNK] for start in range(0, min(len(ids), SAMPLE), assess.CHUNK)]
    assess.assess_many(chunks[0], now)  # what is read once in a process is read
    taken: dict[str, list[tuple[float, float]]] = defaultdict(list)
    asked: dict[str, int] = defaultdict(int)

    def note(key: str, act: Callable[[], Any]) -> None:
        statements = Statements()
        with connection.execute_wrapper(statements):
            taken[key].append(timed(act))
        asked[key] += statements.count

    # By turns, so that other work on the machine falls on all alike.
    for part in chunks:
        note("load together", lambda part=part: load(part, now))
        records = load(part, now)
        _forget(part)
        note("together", lambda part=part: assess.assess_many(part, now))
        _forget(part)
        for build in Build.objects.filter(pk__in=part):
            pk, record = build.pk, records[build.pk]
            note("load", lambda pk=pk: load([pk], now))
            note("judge", lambda record=record: judge(record, now))
            note("single", lambda pk=pk: assess.assess_build(pk, now))
            note("nothing moved", lambda pk=pk: assess.assess_build(pk, now))
            note("safety", lambda build=build: assess.safety(build, now))
    builds = sum(map(len, chunks))
    size = {key: assess.CHUNK if key.endswith("together") else 1 for key in taken}
    return {key: summed(taken[key], size[key]) | {"queries": asked[key] / builds, "builds": builds} for key in taken}


def _forget(ids: Sequence[int]) -> None:
    """These builds have to be judged and written again."""
    from breakin.models import Assessment

    Assessment.objects.filter(build_id__in=ids).update(inputs_digest="")


def report(found: dict[str, Any], builds: int) -> None:
    def say(key: str, what: str, bar: str = "", met: bool | None = None, more: str = "") -> None:
        one = found[key]
        row(
            f"{what}, SQLite, {one['builds']} of {builds:,} builds",
            f"{one['own']:.1f} ms of one core (p95 {one['own_p95']:.1f}); {one['clock']:.1f} ms on the clock "
            f"(p95 {one['clock_p95']:.1f}){more}",
            bar,
            met,
        )

    baseline = found["load"]["own"]
    say("load", "baseline: reading the facts of one build")
    say("load together", "baseline: reading the facts of a hundred builds, for each")
    say("judge", "judging alone, without the database")
    for key, what, base in (
        ("single", "assess one build that has to be judged", baseline),
        ("together", "assess a hundred such builds, for each", found["load together"]["own"]),
    ):
        ratio = f"; {found[key]['own'] / base:.1f} times its baseline; {found[key]['queries']:.1f} queries a build"
        say(key, what, f"p95 ≤ {MOST_MS:.0f} ms of one core", found[key]["own_p95"] <= MOST_MS, ratio)
    say("nothing moved", "assess one build of which nothing moved")
    say("safety", "the safety rules within a request")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=400)
    parser.add_argument("--work", type=Path)
    parser.add_argument("--measure", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    be_quiet()
    if given.measure:
        begin_django()
        said(measure())
        return
    with work_folder(given.work) as work:
        place = on_sqlite(work, f"sqlite-{given.builds}").fleet(given.builds, judged=True)
        report(place.run("assess.py", "--measure"), given.builds)


if __name__ == "__main__":
    main()
