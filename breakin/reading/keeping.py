"""Write down what was read of a recording: its flights and engines, their match, and what that means for safety."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from breakin import assess
from breakin.bulk import update_rows
from breakin.counts import Steps
from breakin.locks import live_builds, lock_aircraft, lock_engines
from breakin.models import ReadState, RecordedEngine, RecordedFlight, RecordingRead
from breakin.reading.claiming import Overtaken
from breakin.reading.dating import Start
from breakin.reading.matching import settle
from engines.models import Build, Installation
from shop.services import audit

_FAR = 100_000  # numbers out of the way while rows are numbered anew
_BATCH = 100
_FILLED = (
    "number",
    "kind",
    "first_row",
    "end_row",
    "began_at",
    "ended_at",
    "dated_by",
    "clock_shift_s",
    "landings",
    "run_min",
    "airborne_min",
    "quality",
    "summary",
    "version",
)


@dataclass(frozen=True)
class Read:
    """One flight or ground run as it was read. t0, t1 : [s] from the first row of the file."""

    kind: str
    first_row: int
    end_row: int
    t0: float
    t1: float
    landings: int
    run_min: float
    airborne_min: float
    quality: int
    summary: dict[str, Any]
    engines: tuple[tuple[str, Installation, dict[str, Any]], ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What is written to the row of the reading."""

    columns: dict[str, Any] = field(default_factory=dict)
    start: Start | None = None
    flights: tuple[Read, ...] = ()


@transaction.atomic
def keep(reading: RecordingRead, outcome: Outcome, now: datetime) -> list[int]:
    """Put the outcome in the place of what was read before; the builds to judge.

    Safety is judged in here, so that a Stop shows as soon as the recording does.

    Raises
    ------
    Overtaken : somebody else reads it by now; nothing is written.
    """
    aircraft = lock_aircraft(reading.recording.aircraft)
    mine = RecordingRead.objects.select_for_update().filter(
        pk=reading.pk, state=ReadState.READING, started_at=reading.started_at
    )
    if not mine.exists():
        raise Overtaken
    rows = _rows(reading, outcome)
    before = RecordedEngine.objects.filter(recorded_flight__recording=reading.pk).values_list("engine", flat=True)
    engines = {*before, *(seat.engine_id for read in outcome.flights for _side, seat, _ in read.engines)}
    locked = lock_engines(engines)
    builds = live_builds(engine.pk for engine in locked)
    _keep_engines(rows, outcome.flights)
    settle(aircraft.pk, RecordedFlight.objects.filter(recording=reading.pk).select_related("recording"))
    mine.update(**outcome.columns)
    audit(
        by=None,
        act="read_recording",
        subject=reading.recording,
        now=now,
        detail={"flights": len(rows), "version": outcome.columns.get("version", 0)},
    )
    return judge_at_once(builds, now)


def judge_at_once(builds: Sequence[Build], now: datetime) -> list[int]:
    """Apply the rules of safety, and leave the mark by which the rest is judged after commit; the ids of the builds."""
    steps = Steps()
    for build in builds:
        assess.safety(build, now, steps)
    steps.write()
    ids = [build.pk for build in builds]
    if ids:
        assess.mark_dirty(ids, now)
    return ids


def _rows(reading: RecordingRead, outcome: Outcome) -> list[RecordedFlight]:
    """The rows of the flights, in place of the earlier ones that they share most of their lines with.

    A person's word hangs on the row and must stay with the flight, whatever its number is now. A row of which nothing
    is found any more goes, unless a person said something of it: then it stays, empty.
    """
    assert outcome.start is not None  # noqa: S101 - whoever has flights has a start
    old = list(RecordedFlight.objects.filter(recording=reading.pk).order_by("number"))
    RecordedFlight.objects.bulk_update([_numbered(row, _FAR + row.number) for row in old], ["number"])
    rows: list[RecordedFlight] = []
    for number, read in enumerate(outcome.flights, 1):
        row = next((each for each in old if _same_lines(each, read)), None)
        if row is not None:
            old.remove(row)
        else:
            row = RecordedFlight(recording=reading.recording)
        _fill(row, number, read, outcome)
        rows.append(row)
    RecordedFlight.objects.bulk_create([row for row in rows if row.pk is None], batch_size=_BATCH)
    update_rows([row for row in rows if row.pk is not None], _FILLED)
    RecordedFlight.objects.filter(pk__in=[row.pk for row in old], matches__isnull=True).delete()
    for number, row in enumerate((each for each in old if each.matches.exists()), len(rows) + 1):
        row.engines.all().delete()
        row.number, row.run_min, row.airborne_min, row.flight_root = number, 0.0, 0.0, None
        row.summary |= {"notes": ["The newest reading of the file does not find this one any more."]}
        row.save()
    return rows


def _numbered(row: RecordedFlight, number: int) -> RecordedFlight:
    row.number = number
    return row


def _same_lines(row: RecordedFlight, read: Read) -> bool:
    shared = min(row.end_row, read.end_row) - max(row.first_row, read.first_row)
    return shared > min(row.end_row - row.first_row, read.end_row - read.first_row) / 2


def _fill(row: RecordedFlight, number: int, read: Read, outcome: Outcome) -> None:
    start = outcome.start
    assert start is not None  # noqa: S101 - see _rows
    row.number, row.kind = number, read.kind
    row.first_row, row.end_row = read.first_row, read.end_row
    row.began_at = start.at + timedelta(seconds=read.t0)
    row.ended_at = start.at + timedelta(seconds=read.t1)
    row.dated_by, row.clock_shift_s = start.by, start.shift_s
    row.landings, row.run_min, row.airborne_min = read.landings, read.run_min, read.airborne_min
    row.quality, row.summary = read.quality, read.summary
    row.version = outcome.columns.get("version", 0)


def _keep_engines(rows: Sequence[RecordedFlight], flights: Sequence[Read]) -> None:
    """One row a side, updated in place."""
    before = {
        (each.recorded_flight_id, each.side): each for each in RecordedEngine.objects.filter(recorded_flight__in=rows)
    }
    new, kept = [], []
    for row, read in zip(rows, flights, strict=True):
        for side, seat, summary in read.engines:
            engine = before.pop((row.pk, side), None)
            if engine is None:
                engine = RecordedEngine(recorded_flight=row, side=side)
                new.append(engine)
            else:
                kept.append(engine)
            engine.engine_id, engine.installation, engine.summary = seat.engine_id, seat, summary
    RecordedEngine.objects.bulk_create(new, batch_size=_BATCH)
    update_rows(kept, ("engine", "installation", "summary"))
    RecordedEngine.objects.filter(pk__in=[each.pk for each in before.values()]).delete()
