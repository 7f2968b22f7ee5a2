"""Which logged flight a recorded flight is: by a person's word, by the flight it was handed in with, or by its time.

The decision is worked out from the facts whenever one of them moves, so that a flight logged after its recording came
is found as well as one before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q

from breakin.bulk import update_rows
from breakin.calc.said import Said, fixed, msgid, number, said
from breakin.doubles import GRADES
from breakin.models import Flight, FlightKind, FlightMatch, MergeDecision, RecordedFlight, RecordedKind

AROUND = timedelta(hours=16)  # no flight is longer
MOST_CANDIDATES = 12
HOURS = range(-14, 15)  # between any two zones
HOUR_S, DAY_S = 3600.0, 86_400.0
_LONG_AGO = timedelta(days=400)
_SLACK_MIN, _SLACK_SHARE = 15.0, 0.3  # recorded and logged minutes of one flight may differ by so much


class Interval(NamedTuple):
    """When an engine ran."""

    start: datetime
    end: datetime

    @property
    def minutes(self) -> float:
        return (self.end - self.start).total_seconds() / 60

    def shifted(self, seconds: float) -> Interval:
        step = timedelta(seconds=seconds)
        return Interval(self.start + step, self.end + step)

    def overlap_min(self, other: Interval) -> float:
        return max((min(self.end, other.end) - max(self.start, other.start)).total_seconds() / 60, 0.0)

    def is_mostly(self, other: Interval) -> bool:
        """Does more than half of the shorter one lie within the other?"""
        return self.overlap_min(other) > min(self.minutes, other.minutes) / 2


@dataclass(frozen=True)
class Logged:
    """A flight that counts, as far as matching needs it."""

    flight: Flight
    ran: Interval

    @property
    def root(self) -> UUID:
        root: UUID = self.flight.root
        return root

    def may_be(self, kind: str) -> bool:
        """Could a recorded run of this kind be it?"""
        if kind == RecordedKind.ABORTED:
            return True
        return (self.flight.kind == FlightKind.GROUND_RUN) == (kind == RecordedKind.GROUND_RUN)


class Candidate(NamedTuple):
    """A logged flight that a recorded one may be.

    overlap_min : minutes in common once the recorder's clock is moved by shift_s (beyond what it is moved already).
    """

    flight: Flight
    overlap_min: float
    shift_s: float
    why: str


class Decision(NamedTuple):
    root: UUID | None
    confirmed: bool


def logged(flight: Flight) -> Logged:
    ground = (flight.ground_before_min or 0.0) + (flight.ground_after_min or 0.0)
    start = flight.off_block_at or flight.happened_at - timedelta(minutes=flight.airborne_min + ground)
    return Logged(flight, Interval(min(start, flight.happened_at), flight.happened_at))


def recorded_interval(row: RecordedFlight) -> Interval:
    return Interval(row.began_at, row.ended_at)


def flights_that_count(aircraft_id: int, within: Q) -> list[Logged]:
    """Current versions, neither withdrawn nor merged into another one."""
    dropped = MergeDecision.objects.filter(aircraft=aircraft_id).values("dropped_root")
    rows = Flight.objects.current().filter(within, aircraft=aircraft_id).exclude(root__in=dropped)
    return [logged(flight) for flight in rows.order_by("happened_at", "pk")]


def _between(since: datetime, until: datetime) -> Q:
    return Q(happened_at__gte=since - AROUND, happened_at__lte=until + AROUND)


def settle(aircraft_id: int, recorded: Iterable[RecordedFlight]) -> set[int]:
    """Work out which flights these recorded flights are, and write what moved.

    The caller holds the lock on the aircraft.

    Returns
    -------
    ids of the engines of which a recording came to a flight or left one.
    """
    rows = list(recorded)
    if not rows:
        return set()
    merged = dict(MergeDecision.objects.filter(aircraft=aircraft_id).values_list("dropped_root", "kept_root"))
    told = _said(rows)
    roots = {merged.get(root, root) for root in (*told.values(), *(row.recording.flight_root for row in rows)) if root}
    since, until = min(row.began_at for row in rows), max(row.ended_at for row in rows)
    known = flights_that_count(aircraft_id, _between(since, until) | Q(root__in=roots))
    decided = decide(rows, known, told, merged)
    moved = [row for row in rows if (row.flight_root, row.confirmed) != decided[row.pk]]
    for row in moved:
        row.flight_root, row.confirmed = decided[row.pk]
    update_rows(moved, ["flight_root", "confirmed"])
    engines = RecordedFlight.objects.filter(pk__in=[row.pk for row in moved]).values_list("engines__engine", flat=True)
    return {pk for pk in engines if pk is not None}


def settle_around(aircraft_id: int, flights: Iterable[Flight]) -> set[int]:
    """Work out anew the recorded flights that one of these flights is, was or may be; as `settle`."""
    flights = list(flights)
    near = Q(flight_root__in=[flight.root for flight in flights])
    near |= Q(matches__flight_root__in=[flight.root for flight in flights])
    near |= Q(recording__flight_root__in=[flight.root for flight in flights])
    for flight in flights:
        ran = logged(flight).ran
        near |= Q(ended_at__gte=ran.start - AROUND, began_at__lte=ran.end + AROUND)
    found = RecordedFlight.objects.filter(near, recording__aircraft=aircraft_id).select_related("recording")
    return settle(aircraft_id, found.distinct())


def _said(rows: Sequence[RecordedFlight]) -> dict[int, UUID | None]:
    """What a person said last, by recorded flight."""
    matches = FlightMatch.objects.filter(recorded_flight__in=rows).order_by("at", "pk")
    return dict(matches.values_list("recorded_flight", "flight_root"))


def decide(
    rows: Sequence[RecordedFlight],
    flights: Sequence[Logged],
    said: Mapping[int, UUID | None],
    merged: Mapping[UUID, UUID],
) -> dict[int, Decision]:
    """The flight of each recorded flight.

    A person's word holds as long as that flight counts. Without one, the flight that the file was handed in with is
    taken by that recorded flight of the file which fits it best, and the others by time: where exactly one logged
    flight has more than half of the shorter one in common. Of one file no two recorded flights are the same flight by
    time.
    """
    known = {each.root: each for each in flights}
    decided: dict[int, Decision] = {}
    for row in rows:
        if row.pk in said:
            root = said[row.pk]
            root = merged.get(root, root) if root is not None else None
            decided[row.pk] = Decision(root if root in known else None, root is None or root in known)
    by_file: dict[int, list[RecordedFlight]] = {}
    for row in rows:
        if row.pk not in decided:
            by_file.setdefault(row.recording_id, []).append(row)
    for own in by_file.values():
        handed = own[0].recording.flight_root
        target = known.get(merged.get(handed, handed)) if handed is not None else None
        taken = {decision.root for pk, decision in decided.items() if decision.root and _same_file(rows, pk, own[0])}
        decided |= _by_time(own, flights, target, taken)
    return decided


def _same_file(rows: Sequence[RecordedFlight], pk: int, other: RecordedFlight) -> bool:
    return any(row.pk == pk and row.recording_id == other.recording_id for row in rows)


def _by_time(
    rows: Sequence[RecordedFlight], flights: Sequence[Logged], handed: Logged | None, taken: set[UUID]
) -> dict[int, Decision]:
    """Of one file: each recorded flight gets the one that fits, the longest overlap first."""
    wishes: list[tuple[bool, float, RecordedFlight, Logged]] = []
    for row in rows:
        ran = recorded_interval(row)
        fits = [each for each in flights if each.may_be(row.kind) and ran.is_mostly(each.ran)]
        if handed is not None and handed in fits:
            fits = [handed]
        best = _only(fits)
        if best is not None:
            wishes.append((best is handed, ran.overlap_min(best.ran), row, best))
    decided = {row.pk: Decision(None, False) for row in rows}
    for by_hand, _overlap, row, best in sorted(wishes, key=lambda wish: (-wish[0], -wish[1], wish[2].pk)):
        if best.root not in taken:
            taken.add(best.root)
            decided[row.pk] = Decision(best.root, by_hand)
    return decided


def _only(fits: Sequence[Logged]) -> Logged | None:
    """The one flight that fits; of several entries of one flight, the one that counts."""
    if not fits or any(not one.ran.is_mostly(other.ran) for one, other in combinations(fits, 2)):
        return None
    return min(fits, key=lambda each: (GRADES.index(each.flight.grade), each.flight.received_at, str(each.root)))


# --- What it may be -----------------------------------------------------------------------------------------------


def candidates(row: RecordedFlight) -> list[Candidate]:
    """The logged flights that this may be, the likeliest first: as the clock says, then with the clock off by whole
    hours, by whole days, and last by its length alone.
    """
    ran = recorded_interval(row)
    uploaded = row.recording.uploaded_at
    within = _between(ran.start - AROUND, ran.end + AROUND)
    within |= Q(happened_at__gte=uploaded - _LONG_AGO, happened_at__lte=uploaded + AROUND)
    found = [
        (each, fit)
        for each in flights_that_count(row.recording.aircraft_id, within)
        if each.may_be(row.kind)
        for fit in explained(ran, each.ran)
    ]
    found.sort(key=lambda pair: (pair[1].rank, -pair[1].overlap_min, abs(pair[1].shift_s), pair[0].flight.pk))
    return [Candidate(each.flight, fit.overlap_min, fit.shift_s, fit.why) for each, fit in found[:MOST_CANDIDATES]]


class Fit(NamedTuple):
    """How a recorded run could be a logged one: the lower the rank the simpler."""

    rank: int
    overlap_min: float
    shift_s: float
    why: str


def explained(ran: Interval, other: Interval) -> list[Fit]:
    """The simplest explanation by which the one could be the other, or none."""
    overlap = ran.overlap_min(other)
    as_it_is = said("{minutes} minutes in common by the recorder's clock.", minutes=fixed(overlap, 0))
    if ran.is_mostly(other):
        return [Fit(0, overlap, 0.0, as_it_is)]
    if not alike(ran.minutes, other.minutes):
        return [Fit(3, overlap, 0.0, as_it_is)] if overlap else []
    hours = best_shift(ran, other, [hour * HOUR_S for hour in HOURS])
    if hours is not None:
        moved = ran.shifted(hours).overlap_min(other)
        return [Fit(1, moved, hours, _if_clock(moved, hours))]
    days = best_shift(ran, other, whole_days(ran, other))
    if days is not None:
        moved = ran.shifted(days).overlap_min(other)
        why = said(
            "{minutes} minutes in common if the recorder's date is {off}.", minutes=fixed(moved, 0), off=_off(days)
        )
        return [Fit(2, moved, days, why)]
    shift = float(round((other.end - ran.end).total_seconds()))
    moved = ran.shifted(shift).overlap_min(other)
    why = said(
        "About as long, {minutes} min; then the recorder's clock is {off}.",
        minutes=fixed(ran.minutes, 0),
        off=_off(shift),
    )
    return [Fit(4, moved, shift, why)]


def _if_clock(moved: float, shift: float) -> Said:
    return said(
        "{minutes} minutes in common if the recorder's clock is {off}.", minutes=fixed(moved, 0), off=_off(shift)
    )


def whole_days(ran: Interval, other: Interval) -> list[float]:
    """Shifts by whole days that bring the end of the one near the end of the other [s]."""
    days = round((other.end - ran.end).total_seconds() / DAY_S)
    return [DAY_S * day for day in (days - 1, days, days + 1)]


def alike(recorded_min: float, logged_min: float) -> bool:
    """Could the two be the length of one flight? Logs often leave the taxiing out."""
    return abs(recorded_min - logged_min) <= max(_SLACK_MIN, _SLACK_SHARE * max(recorded_min, logged_min))


def best_shift(ran: Interval, other: Interval, shifts: Iterable[float]) -> float | None:
    """Of these shifts [s] the one with the longest overlap that makes them mostly the same, the smallest of equals."""
    fits = [shift for shift in shifts if ran.shifted(shift).is_mostly(other)]
    return max(fits, key=lambda shift: (round(ran.shifted(shift).overlap_min(other), 3), -abs(shift)), default=None)


# One and many of each unit, behind and ahead.
_OFF = (
    (DAY_S, (said("1 day behind"), msgid("{count} days behind")), (said("1 day ahead"), msgid("{count} days ahead"))),
    (HOUR_S, (said("1 hour behind"), msgid("{count} hours behind")),
     (said("1 hour ahead"), msgid("{count} hours ahead"))),
    (60.0, (said("1 minute behind"), msgid("{count} minutes behind")),
     (said("1 minute ahead"), msgid("{count} minutes ahead"))),
    (0.0, (said("1 second behind"), msgid("{count} seconds behind")),
     (said("1 second ahead"), msgid("{count} seconds ahead"))),
)  # fmt: skip


def _off(seconds: float) -> Said:
    """How wrong a clock is that must be moved by so much."""
    size = abs(seconds)
    length, behind, ahead = next(row for row in _OFF if size >= row[0])
    one, many = behind if seconds > 0 else ahead
    count = size / length if length else float(round(size))
    return one if count == 1 else Said(many, {"count": number(count, ",.4g")})
