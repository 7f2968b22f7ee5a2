"""When a recording was made. The file says so, or a person, or the flight that it was handed in with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q

from breakin.models import DatedBy, Flight, FlightMatch, RecordedKind, RecordingRead
from breakin.reading.matching import (
    AROUND,
    DAY_S,
    HOUR_S,
    HOURS,
    Interval,
    Logged,
    alike,
    best_shift,
    flights_that_count,
    whole_days,
)
from engines.models import Installation

# A recorder's clock may be a zone ahead of the server's; more than that in the future is wrong.
AHEAD = timedelta(hours=15)


class Ran(NamedTuple):
    """A time that the engine ran: what it was, and seconds from the first row of the file."""

    kind: str
    t0: float
    t1: float


@dataclass(frozen=True)
class Start:
    """The moment of the first row by the recorder's own clock, in UTC, and what must be added to it to be right."""

    clock: datetime
    by: str
    shift_s: float = 0.0
    note: str = ""

    @property
    def at(self) -> datetime:
        return self.clock + timedelta(seconds=self.shift_s)


def date_is_missing(reading: RecordingRead, has_date: bool) -> bool:
    """Must a person say on which day it was?"""
    return not has_date and reading.flight_date is None and _handed_in(reading) is None


def start_of(
    reading: RecordingRead,
    started: datetime | None,
    has_date: bool,
    zones: Sequence[str],
    ran: Sequence[Ran],
    *,
    suspicious: bool = False,
) -> Start:
    """When the recording began.

    Parameters
    ----------
    started : naive; the recorder's clock at the first row, None when it shows no time of day.
    has_date : without it only the time of day of `started` means anything.
    zones : that the recorder's clock may be set to, the likeliest first.
    ran : the flights and ground runs that were found.
    suspicious : the date in the file cannot be right.
    """
    clock = _clock(reading, started, has_date, zones[0])
    by = DatedBy.FILE if has_date and started is not None else DatedBy.UNKNOWN
    said = _said(reading)
    if said is not None and (said.clock_shift_s or by == DatedBy.FILE):
        return _as_said(reading, clock, by, said, ran)
    handed = _handed_in(reading) or (_only_one_of_the_day(reading, ran) if started is None else None)
    fitted = _fitted(clock, by, handed, ran) if handed is not None else None
    if fitted is not None:
        return fitted
    if by == DatedBy.UNKNOWN and started is not None and reading.flight_date is not None:
        days = (reading.flight_date - clock.astimezone(ZoneInfo(zones[0])).date()).days
        return Start(clock, DatedBy.PERSON, days * DAY_S)
    if by == DatedBy.FILE and not suspicious and _is_likely(reading, clock):
        return _in_likeliest_zone(reading, started, zones, ran, Start(clock, by))
    return Start(clock, DatedBy.UNKNOWN, note=_why_unknown(reading, clock, has_date))


def _handed_in(reading: RecordingRead) -> Logged | None:
    return _flight(reading, reading.recording.flight_root)


def _only_one_of_the_day(reading: RecordingRead, ran: Sequence[Ran]) -> Logged | None:
    """Of a clock that only counts seconds: the one flight of the day that a person named that is as long."""
    if reading.flight_date is None:
        return None
    flights = flights_that_count(reading.recording.aircraft_id, Q(local_date=reading.flight_date))
    fits = [
        each
        for each in flights
        if any(each.may_be(own.kind) and alike((own.t1 - own.t0) / 60, each.ran.minutes) for own in ran)
    ]
    return fits[0] if len(fits) == 1 else None


def _flight(reading: RecordingRead, root: UUID | None) -> Logged | None:
    if root is None:
        return None
    return next(iter(flights_that_count(reading.recording.aircraft_id, Q(root=root))), None)


def _said(reading: RecordingRead) -> FlightMatch | None:
    """What a person said last of any flight of this file: one file has one clock."""
    matches = FlightMatch.objects.filter(recorded_flight__recording=reading.recording_id)
    return matches.order_by("-at", "-pk").first()


def _as_said(reading: RecordingRead, clock: datetime, by: str, said: FlightMatch, ran: Sequence[Ran]) -> Start:
    """The clock as a person put it right. Was its zone put right since, the flight they named says what is left."""
    flight = _flight(reading, said.flight_root)
    shift = said.clock_shift_s
    if flight is not None and shift:
        near = {each: _overlap(clock, each, flight, ran) for each in (shift, 0.0)}
        if not any(near.values()):
            fitted = _fitted(clock, by, flight, ran)
            return fitted or Start(clock, DatedBy.FLIGHT, shift)
        shift = max(near, key=lambda each: (near[each], each != 0.0))
    if not shift:
        return Start(clock, by)
    return Start(clock, DatedBy.FLIGHT if said.flight_root else DatedBy.PERSON, shift)


def _overlap(clock: datetime, shift: float, flight: Logged, ran: Sequence[Ran]) -> float:
    """Most minutes that a recorded flight shares with this one, where they are mostly the same; else 0."""
    own = [_interval(clock, each).shifted(shift) for each in ran]
    return max((each.overlap_min(flight.ran) for each in own if each.is_mostly(flight.ran)), default=0.0)


def _interval(clock: datetime, ran: Ran) -> Interval:
    return Interval(clock + timedelta(seconds=ran.t0), clock + timedelta(seconds=ran.t1))


def _clock(reading: RecordingRead, started: datetime | None, has_date: bool, zone: str) -> datetime:
    """The first row by the recorder's clock. Where that lacks its day, the day of the upload stands in: it never moves,
    so that what must be added stays right.
    """
    uploaded = reading.recording.uploaded_at
    if started is None:
        return uploaded
    if has_date:
        return _utc(started, zone)
    return _utc(datetime.combine(uploaded.astimezone(ZoneInfo(zone)).date(), started.time()), zone)


def _utc(naive: datetime, zone: str) -> datetime:
    return naive.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _fitted(clock: datetime, by: str, handed: Logged, ran: Sequence[Ran]) -> Start | None:
    """The clock moved so that one of the recorded flights lies on the flight it was handed in with; None if none can.

    Tried in order of how recorders go wrong: not at all, by whole hours, by whole days, by any amount.
    """
    fits: list[tuple[int, float, float]] = []
    for each in ran:
        if not handed.may_be(each.kind) or each.kind == RecordedKind.ABORTED:
            continue
        own = _interval(clock, each)
        if own.is_mostly(handed.ran):
            fits.append((0, 0.0, own.overlap_min(handed.ran)))
            continue
        if not alike(own.minutes, handed.ran.minutes):
            continue
        days = whole_days(own, handed.ran)
        tries = (
            [hour * HOUR_S for hour in HOURS],
            days,
            [day + hour * HOUR_S for day in days for hour in HOURS],
            [float(round((handed.ran.end - own.end).total_seconds()))],
        )
        for rank, shifts in enumerate(tries, 1):
            shift = best_shift(own, handed.ran, shifts)
            if shift is not None:
                fits.append((rank, shift, own.shifted(shift).overlap_min(handed.ran)))
                break
    if not fits:
        return None
    _rank, shift, _overlap = min(fits, key=lambda fit: (fit[0], -fit[2]))
    if shift == 0.0 and by == DatedBy.FILE:
        return Start(clock, by)
    return Start(clock, DatedBy.FLIGHT, shift)


def _is_likely(reading: RecordingRead, clock: datetime) -> bool:
    """Not in the future, and not before the aircraft had an engine in this book."""
    first = Installation.objects.filter(aircraft=reading.recording.aircraft_id).order_by("since").first()
    if clock > reading.recording.uploaded_at + AHEAD:
        return False
    return first is None or clock >= first.since - timedelta(days=1)


def _in_likeliest_zone(
    reading: RecordingRead, started: datetime | None, zones: Sequence[str], ran: Sequence[Ran], first: Start
) -> Start:
    """Where nobody said what zone the clock is in: the first zone in which a logged flight is met."""
    if len(zones) == 1 or started is None or not ran:
        return first
    within = Q(happened_at__gte=first.clock - 2 * AROUND, happened_at__lte=first.clock + 4 * AROUND)
    flights = flights_that_count(reading.recording.aircraft_id, within)
    for zone in zones:
        clock = _clock(reading, started, True, zone)
        for each in ran:
            own = _interval(clock, each)
            if any(other.may_be(each.kind) and own.is_mostly(other.ran) for other in flights):
                return Start(clock, first.by, note=f"The recorder's clock is taken to be in {zone}: a flight fits so.")
    return Start(first.clock, first.by, note=f"The recorder's clock is taken to be in {zones[0]}.")


def _why_unknown(reading: RecordingRead, clock: datetime, has_date: bool) -> str:
    handed = reading.recording.flight_root
    if handed is not None and Flight.objects.current().filter(root=handed).exists():
        return "It was handed in with a flight that none of what is recorded fits. Say which flight it is."
    if has_date and clock != reading.recording.uploaded_at:
        return (
            f"The recorder's clock says {clock:%Y-%m-%d}, when this aircraft had no engine in the book or which is yet "
            "to come. Say which flight it is, and the clock is put right."
        )
    return "The file does not say when it was made. Say which flight it is."
