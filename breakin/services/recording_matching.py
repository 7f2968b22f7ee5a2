"""Say which logged flight a recorded flight is, or that it is none of them; and put the recorder's clock right."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from breakin import reading
from breakin.calc.said import said
from breakin.models import DatedBy, Flight, FlightMatch, MergeDecision, RecordedEngine, RecordedFlight
from breakin.reading.matching import Candidate, candidates, explained, logged, recorded_interval, settle
from breakin.reading.spec import seats_at
from breakin.services.common import audit, judge, live_builds, lock_aircraft, lock_engines
from breakin.services.recordings import queue_reading
from shop.errors import Refusal
from shop.models import Person

__all__ = ["Candidate", "candidates", "match_flight"]

_MOST_SHIFT = timedelta(days=40 * 365)  # clocks start again at some year long gone


def match_flight(
    *,
    by: Person,
    recorded_flight: RecordedFlight,
    flight_root: UUID | None,
    now: datetime,
    reason: str = "",
    clock_shift_s: float | None = None,
) -> FlightMatch:
    """Write down that this recorded flight is that logged one, or with None that it is none of them.

    One file has one clock: a new shift moves the file's other flights too, and where that brings one onto a logged
    flight, it is matched by time.

    Parameters
    ----------
    flight_root : of a flight of the same aircraft that counts.
    clock_shift_s : what must be added to the recorder's own time [s]. None leaves it as it is, or, where the named
        flight is at another time, moves it by the simplest shift that explains it.

    Raises
    ------
    Refusal : no such flight; a shift beyond all reason; "conflict" where another flight of the file is this one.
    """
    with transaction.atomic():
        aircraft = lock_aircraft(recorded_flight.recording.aircraft)
        row = RecordedFlight.objects.select_related("recording").get(pk=recorded_flight.pk)
        flight = _check(row, flight_root)
        shift = _shift(row, flight) if clock_shift_s is None else float(clock_shift_s)
        if not abs(shift) <= _MOST_SHIFT.total_seconds():  # also what is no number
            raise Refusal.of("clock_shift_s", said("A clock is not off by more than 40 years. Check the shift."))
        match = FlightMatch.objects.create(
            recorded_flight=row,
            flight_root=flight.root if flight else None,
            clock_shift_s=shift,
            by=by,
            at=now,
            reason=reason.strip(),
        )
        rows = list(
            RecordedFlight.objects.filter(recording=row.recording_id).select_related("recording").order_by("number")
        )
        engines = set(row.engines.values_list("engine", flat=True))
        if shift != row.clock_shift_s:
            _move(rows, shift, DatedBy.FLIGHT if flight else DatedBy.PERSON)
            ran = RecordedEngine.objects.filter(recorded_flight__recording=row.recording_id)
            engines |= set(ran.values_list("engine", flat=True))
        engines |= settle(aircraft.pk, rows)
        if _seats_moved(rows):
            # Another engine sat there then, and its numbers are others: it is read anew for that one.
            reading.ask(row.recording_id, now)
            queue_reading(row.recording_id)
        audit(
            by=by,
            act="match_recording",
            subject=match,
            now=now,
            detail={"recorded_flight": row.pk, "flight": str(match.flight_root), "clock_shift_s": shift},
        )
        lock_engines(engines)
        judge(live_builds(engines), now)
    return match


def _shift(row: RecordedFlight, flight: Flight | None) -> float:
    """The clock as it is, or with the simplest shift that brings the recorded flight onto the one it is said to be."""
    fits = explained(recorded_interval(row), logged(flight).ran) if flight is not None else []
    return row.clock_shift_s + (fits[0].shift_s if fits else 0.0)


def _check(row: RecordedFlight, flight_root: UUID | None) -> Flight | None:
    if flight_root is None:
        return None
    aircraft_id = row.recording.aircraft_id
    merged = MergeDecision.objects.filter(aircraft=aircraft_id, dropped_root=flight_root).first()
    root = merged.kept_root if merged is not None else flight_root
    flight = Flight.objects.current().filter(root=root, aircraft=aircraft_id).first()
    if flight is None:
        raise Refusal.of(
            "flight_root",
            said("There is no such flight of this aircraft. Choose it from the list, or say that it is none."),
        )
    others = RecordedFlight.objects.filter(recording=row.recording_id, flight_root=root, confirmed=True)
    other = others.exclude(pk=row.pk).first()
    if other is not None:
        raise Refusal.of(
            "flight_root",
            said(
                "Flight {number} of this file was matched with it already. Say first that that one is another.",
                number=str(other.number),
            ),
            "conflict",
        )
    return flight


def _move(rows: Iterable[RecordedFlight], shift: float, dated_by: str) -> None:
    for each in rows:
        step = timedelta(seconds=shift - each.clock_shift_s)
        each.began_at, each.ended_at = each.began_at + step, each.ended_at + step
        each.clock_shift_s, each.dated_by = shift, dated_by
        each.save(update_fields=["began_at", "ended_at", "clock_shift_s", "dated_by"])


def _seats_moved(rows: Iterable[RecordedFlight]) -> bool:
    """Sits another engine in these seats at the time that is right now?"""
    for row in rows:
        seats = {side: seat.pk for side, seat in seats_at(row.recording.aircraft_id, row.began_at).items()}
        read_for = dict(row.engines.values_list("side", "installation"))
        if any(seats.get(side) != seat for side, seat in read_for.items()) or (seats and not read_for):
            return True
    return False
