"""Two entries of one flight: until a person merges them, the better-graded one counts."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from breakin.record import BuildRecord, RunFacts

GRADES = "ABCDX"  # best first
FROM_FILE, DISPUTED = "A", "X"


def _follows(one: RunFacts, other: RunFacts) -> bool:
    return (
        one.meter_start_h is not None
        and other.meter_end_h is not None
        and one.meter_start_h >= other.meter_end_h - 0.05
    )


def same_flight(one: RunFacts, other: RunFacts) -> bool:
    """Do two entries of one engine look like the same flight, written down twice?

    They do when more than half of the shorter one lies within the other, unless both give readings of the same meter
    that follow one another.
    """
    if one.aircraft_id != other.aircraft_id or one.root == other.root:
        return False
    same_meter = bool(one.meter_kind) and one.meter_kind == other.meter_kind
    if same_meter and (_follows(one, other) or _follows(other, one)):
        return False
    start, end = max(one.started_at, other.started_at), min(one.at, other.at)
    shorter = min(one.at - one.started_at, other.at - other.started_at)
    return end > start and (end - start) > shorter / 2


def _better_first(run: RunFacts) -> tuple[int, datetime, str]:
    return GRADES.index(run.grade), run.received_at, str(run.root)


def without_doubles(runs: tuple[RunFacts, ...]) -> tuple[tuple[RunFacts, ...], tuple[tuple[UUID, UUID], ...]]:
    """Until a person merges two entries of one flight, the better-graded one counts.

    One that was logged from an instrument's file and one that a person typed are the exception: the typed one counts,
    since it has the meter, and what was recorded goes along with it.

    Parameters
    ----------
    runs : one engine's runs.

    Returns
    -------
    the runs that count, oldest first, and (left out, counts instead) for each double.
    """
    kept: list[RunFacts] = []
    doubles: list[tuple[UUID, UUID]] = []
    for run in sorted(runs, key=_better_first):
        place = next(
            (
                index
                for index, other in enumerate(kept)
                if abs(other.at - run.at) < timedelta(hours=16) and same_flight(run, other)
            ),
            None,
        )
        if place is None:
            kept.append(run)
            continue
        other = kept[place]
        counts, left = (run, other) if _typed_over_file(run, other) else (other, run)
        kept[place] = replace(counts, recorded=counts.recorded or left.recorded)
        doubles = [(root, counts.root if instead == left.root else instead) for root, instead in doubles]
        doubles.append((left.root, counts.root))
    return tuple(sorted(kept, key=lambda run: (run.at, str(run.root)))), tuple(doubles)


def _typed_over_file(run: RunFacts, other: RunFacts) -> bool:
    """Does the typed `run` know the hours, which `other`, logged from a file, only estimates?"""
    return (
        other.grade == FROM_FILE
        and run.grade not in (FROM_FILE, DISPUTED)
        and (other.hours_estimated and not run.hours_estimated)
    )


def with_runs(record: BuildRecord, runs: tuple[RunFacts, ...]) -> BuildRecord:
    """The record with these runs instead, doubles left out."""
    kept, doubles = without_doubles(runs)
    return replace(record, runs=kept, left_out=doubles)
