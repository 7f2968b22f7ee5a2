"""The break-in clock: where each flight and each oil event stands on it (rules H1, H3 and H4).

The clock starts at 0 h with the first flight after the build, runs on the basis clock of the installation, and stands
still between flights. Ground runs and the test cell have budgets of their own and do not move it.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from uuid import UUID

from breakin.picture.recorded import sessions_min
from breakin.record import BuildRecord, MeterFacts, OilFacts, RunFacts

# A meter that moved by more than this share of what was logged, and by more than an hour, ran unlogged.
JUMP_SHARE = 1.5
JUMP_H = 1.0
# Two readings of the same meter by two people differ by a tenth; less than this is no backward step.
READING_STEP_H = 0.05


@dataclass(frozen=True)
class PlacedRun:
    """A run with its place on the clock [h]. A ground run starts and ends at the same hour."""

    run: RunFacts
    start_h: float
    end_h: float


@dataclass(frozen=True)
class Unlogged:
    """Running that a meter shows and nobody logged: from and to [h on the break-in clock], found by this flight."""

    from_h: float
    to_h: float
    root: UUID

    @property
    def hours(self) -> float:
        return self.to_h - self.from_h


@dataclass(frozen=True)
class Backward:
    """A meter that went back: the flight, what it read before [h] and then [h]."""

    root: UUID
    before_h: float
    now_h: float


@dataclass(frozen=True)
class PlacedOil:
    """An oil event on the clock. `seat` orders events: after run i is 2i+1, before run i is 2i."""

    event: OilFacts
    hours: float
    estimated: bool
    seat: int


@dataclass(frozen=True)
class Clock:
    """hours : break-in hours now, unlogged running included. estimated_h : hours told by another clock."""

    runs: tuple[PlacedRun, ...]
    hours: float
    estimated_h: float
    unlogged: tuple[Unlogged, ...]
    backward: tuple[Backward, ...]
    ground_min: float
    cell_min: float

    @property
    def flights(self) -> tuple[PlacedRun, ...]:
        return tuple(placed for placed in self.runs if placed.run.is_flight)

    @property
    def estimated_share(self) -> float:
        """Share of the hours that rests on another clock, or on nobody's log."""
        unknown = self.estimated_h + sum(span.hours for span in self.unlogged)
        return unknown / self.hours if self.hours else 0.0

    def hours_at(self, moment: datetime) -> float:
        """Break-in hours at a moment [h]: those of the last flight that had ended."""
        index = bisect_right([placed.run.at for placed in self.runs], moment)
        return self.runs[index - 1].end_h if index else 0.0


def clock_of(record: BuildRecord) -> Clock:
    """Put every run of a build on its clock."""
    placed: list[PlacedRun] = []
    unlogged: list[Unlogged] = []
    backward: list[Backward] = []
    hours = 0.0
    last: dict[tuple[int, str, str], tuple[float, float, datetime]] = {}  # meter -> reading, clock hours, when
    for run in record.runs:
        seat = record.installation_at(run.at)
        meter = (run.aircraft_id, seat.position if seat else "", run.meter_kind)
        flown = run.hours if run.is_flight else 0.0
        known = last.get(meter)
        if known is not None and run.meter_kind:
            reading, at_h, since = known
            moved, logged = _moved(record, meter, run, reading, since), hours - at_h
            if run.meter_start_h is None:
                logged += flown
            if moved is not None and moved < -READING_STEP_H:
                first = run.meter_start_h if run.meter_start_h is not None else run.meter_end_h
                backward.append(Backward(run.root, reading, first or 0.0))
            elif moved is not None and moved - logged > JUMP_H and moved > JUMP_SHARE * logged:
                unlogged.append(Unlogged(hours, hours + moved - logged, run.root))
                hours += moved - logged
        placed.append(PlacedRun(run, hours, round(hours + flown, 6)))
        hours = round(hours + flown, 6)  # meters are read to a tenth; sums shall not drift
        if run.meter_kind and run.meter_end_h is not None:
            last[meter] = (run.meter_end_h, hours, run.at)
    return Clock(
        runs=tuple(placed),
        hours=hours,
        estimated_h=sum(row.run.hours for row in placed if row.run.hours_estimated and row.run.is_flight),
        unlogged=tuple(unlogged),
        backward=tuple(backward),
        ground_min=sum(sum(sessions_min(row.run)) for row in placed),
        cell_min=sum(cell.minutes for cell in record.cell_runs),
    )


def _moved(
    record: BuildRecord, meter: tuple[int, str, str], run: RunFacts, reading: float, since: datetime
) -> float | None:
    """By how much the meter moved since its last reading until this run [h]; None when it cannot be said."""
    reads = run.meter_start_h if run.meter_start_h is not None else run.meter_end_h
    if reads is None:
        return None
    change = _meter_change(record, meter, since, run.at)
    if change is None:
        return reads - reading
    old, new = change
    if old.reading_at_end_h is None:
        return None
    return old.reading_at_end_h - reading + reads - new.reading_at_start_h


def _meter_change(
    record: BuildRecord, meter: tuple[int, str, str], since: datetime, until: datetime
) -> tuple[MeterFacts, MeterFacts] | None:
    """The meter taken out and the one put in between two moments, or None when it was the same all along."""
    rows = [row for row in record.meters if (row.aircraft_id, row.position, row.kind) == meter]
    for old, new in pairwise(rows):
        if since < new.since <= until:
            return old, new
    return None


def place_oil(record: BuildRecord, clock: Clock) -> tuple[PlacedOil, ...]:
    """Every oil event on the clock, in order of happening.

    Its hours are the start or the end of its flight; else its own meter reading; else where the clock stood at its
    moment.
    """
    index = {placed.run.root: number for number, placed in enumerate(clock.runs)}
    moments = [placed.run.at for placed in clock.runs]
    rows = []
    for event in record.oil:
        number = index.get(event.flight_root) if event.flight_root is not None else None
        if number is not None:
            run = clock.runs[number]
            before = event.when == "before"
            row = PlacedOil(event, run.start_h if before else run.end_h, False, 2 * number + (0 if before else 1))
        else:
            row = _by_meter_or_moment(event, clock, bisect_right(moments, event.at) - 1)
        rows.append(row)
    rows.sort(key=lambda row: (row.seat, row.event.at, row.event.order, str(row.event.root)))
    return tuple(rows)


def _by_meter_or_moment(event: OilFacts, clock: Clock, number: int) -> PlacedOil:
    """An event between flights: after the last run that had ended. There the clock stands still, so its hours are
    estimated only when it fell into a run, or into running that nobody logged.
    """
    seat = 2 * number + 1
    following = clock.runs[number + 1] if number + 1 < len(clock.runs) else None
    stands = clock.runs[number].end_h if number >= 0 else 0.0
    gap = following.start_h - stands if following is not None else 0.0
    in_a_run = following is not None and event.at > following.run.started_at
    last = clock.runs[number].run.meter_end_h if number >= 0 else None
    if event.meter_reading_h is not None and last is not None and gap > 0:
        hours = stands + event.meter_reading_h - last
        if stands - READING_STEP_H <= hours <= stands + gap + READING_STEP_H:
            return PlacedOil(event, min(max(hours, stands), stands + gap), False, seat)
    return PlacedOil(event, stands, in_a_run or gap > 0, seat)
