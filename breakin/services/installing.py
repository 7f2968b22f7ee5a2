"""Which engine sits where: install, remove, swap left and right, change a meter, revise what is known of a seat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from breakin.models import FlightEngine
from breakin.services.clocks import current_runs
from breakin.services.common import audit, judge, live_builds, lock_aircraft, lock_engines, need_reason, overlapping
from engines.models import Aircraft, BasisClock, Engine, Installation, Meter, MeterKind, Position, PropControl
from shop.errors import Problem, Refusal
from shop.models import Person

# What may be said of a seat beside engine, aircraft, position and period.
ATTRIBUTES = frozenset(
    {
        "basis_clock",
        "tach_per_hobbs",
        "prop_control",
        "dipstick_offset_qt",
        "min_oil_qt",
        "min_oil_source",
        "has_map",
        "has_fuel_flow",
        "has_cht_per_cylinder",
        "has_tit",
        "separator",
        "winter_kit",
        "rpm_error",
        "map_error_inhg",
    }
)
_STEP_H = 0.05
_NUMBERS: dict[str, tuple[str, float, float]] = {
    "tach_per_hobbs": ("Tach hours to a Hobbs hour", 0.5, 1.2),
    "dipstick_offset_qt": ("Offset of the dipstick [qt]", -3.0, 3.0),
    "min_oil_qt": ("Minimum oil for flight [qt]", 0.5, 60.0),
    "rpm_error": ("Error of the tachometer [rpm]", -500.0, 500.0),
    "map_error_inhg": ("Error of the manifold gauge [inHg]", -10.0, 10.0),
}


@dataclass(frozen=True)
class MeterEntry:
    """An hour meter as it stood when the engine was installed."""

    kind: str
    reading_h: float
    serial: str = ""


def install(
    *,
    by: Person,
    engine: Engine,
    aircraft: Aircraft,
    position: str,
    since: datetime,
    basis_clock: str,
    min_oil_qt: float,
    now: datetime,
    meters: Sequence[MeterEntry] = (),
    **attributes: Any,
) -> Installation:
    """Put an engine into a position of an aircraft.

    Parameters
    ----------
    meters : the hour meters of this position; one of a kind that runs there already is left as it is.
    attributes : see `ATTRIBUTES`.

    Raises
    ------
    Refusal : with every problem found; "conflict" where the engine or the position is taken at that time.
    """
    attributes |= {"basis_clock": basis_clock, "min_oil_qt": min_oil_qt}
    try:
        with transaction.atomic():
            aircraft = lock_aircraft(aircraft)
            lock_engines([engine.pk])
            problems = check_attributes(attributes) + _check_meters(meters)
            if position not in Position.values:
                problems.append(
                    Problem("position", f"“{position}” is not a position. Choose one of {', '.join(Position.values)}.")
                )
            if since > now:
                problems.append(Problem("since", f"{since:%Y-%m-%d %H:%M} UTC lies in the future. Check the date."))
            if problems:
                raise Refusal(problems)
            _need_free(engine, aircraft, position, since)
            seat = Installation.objects.create(
                engine=engine, aircraft=aircraft, position=position, since=since, **attributes
            )
            for meter in meters:
                _start_meter(aircraft, position, meter, since)
            audit(by=by, act="install", subject=seat, now=now, detail={"engine": engine.pk, "aircraft": aircraft.pk})
            judge(live_builds([engine.pk]), now)
            return seat
    except IntegrityError as error:
        raise Refusal.of(
            "engine", "Somebody else changed this seat at the same moment. Look again.", "conflict"
        ) from error


@transaction.atomic
def remove(*, by: Person, installation: Installation, at: datetime, reason: str, now: datetime) -> Installation:
    """Take an engine out of its aircraft.

    Raises
    ------
    Refusal : it is out already, flights after that moment are in the book, or no reason is given.
    """
    lock_aircraft(installation.aircraft)
    seat = Installation.objects.select_for_update().get(pk=installation.pk)
    reason = need_reason(reason, "Removing an engine")
    _end(seat, at, now)
    audit(by=by, act="remove", subject=seat, now=now, detail={"reason": reason})
    judge(live_builds([seat.engine_id]), now)
    return seat


@transaction.atomic
def swap(
    *, by: Person, aircraft: Aircraft, at: datetime, reason: str, now: datetime
) -> tuple[Installation, Installation]:
    """Change the left and the right engine of a twin, in one act. Readings follow the serial, not the seat.

    What belongs to the seat stays there: meters, instruments, minimum oil, dipstick offset.

    Returns
    -------
    the new LEFT and the new RIGHT installation.

    Raises
    ------
    Refusal : not both seats are taken, flights after that moment are in the book, or no reason is given.
    """
    aircraft = lock_aircraft(aircraft)
    reason = need_reason(reason, "A swap")
    seats = {
        seat.position: seat
        for seat in Installation.objects.select_for_update()
        .filter(aircraft=aircraft, until__isnull=True)
        .order_by("pk")
    }
    if not {Position.LEFT, Position.RIGHT} <= seats.keys():
        raise Refusal.of(
            "aircraft", f"{aircraft.registration} has no engine on the left and on the right. Nothing to swap."
        )
    left, right = seats[Position.LEFT], seats[Position.RIGHT]
    lock_engines([left.engine_id, right.engine_id])
    for seat in (left, right):
        _end(seat, at, now)
    new_left = _successor(left, at, engine_id=right.engine_id)
    new_right = _successor(right, at, engine_id=left.engine_id)
    detail = {"reason": reason, "left": new_left.engine_id, "right": new_right.engine_id}
    audit(by=by, act="swap", subject=aircraft, now=now, detail=detail)
    judge(live_builds([left.engine_id, right.engine_id]), now)
    return new_left, new_right


@transaction.atomic
def revise(
    *, by: Person, installation: Installation, at: datetime, reason: str, now: datetime, **attributes: Any
) -> Installation:
    """Something about a seat is different from a moment on: another basis clock, a separator fitted, a new offset.

    Raises
    ------
    Refusal : an impossible value, a seat that has ended, flights after that moment in the book, or no reason.
    """
    lock_aircraft(installation.aircraft)
    seat = Installation.objects.select_for_update().get(pk=installation.pk)
    reason = need_reason(reason, "A change of the installation")
    problems = check_attributes(attributes)
    if problems:
        raise Refusal(problems)
    _end(seat, at, now)
    successor = _successor(seat, at, engine_id=seat.engine_id, continues=seat, **attributes)
    detail = {"reason": reason, "changed": sorted(attributes)}
    audit(by=by, act="revise_installation", subject=successor, now=now, detail=detail)
    judge(live_builds([seat.engine_id]), now)
    return successor


@transaction.atomic
def change_meter(
    *,
    by: Person,
    aircraft: Aircraft,
    position: str,
    kind: str,
    at: datetime,
    old_reading_h: float,
    new_reading_h: float,
    serial: str = "",
    now: datetime,
) -> Meter:
    """A meter was replaced or rolled over: what the old one showed last and the new one first.

    Raises
    ------
    Refusal : an unknown kind, impossible readings, or a moment in the future.
    """
    aircraft = lock_aircraft(aircraft)
    problems = _check_meters([MeterEntry(kind, new_reading_h, serial), MeterEntry(kind, old_reading_h)])
    if at > now:
        problems.append(Problem("at", f"{at:%Y-%m-%d %H:%M} UTC lies in the future. Check the date."))
    if problems:
        raise Refusal(problems)
    old = (
        Meter.objects.select_for_update()
        .filter(aircraft=aircraft, position=position, kind=kind, until__isnull=True)
        .first()
    )
    if old is not None:
        if at <= old.since:
            raise Refusal.of(
                "at", f"The present meter was only fitted on {old.since:%Y-%m-%d %H:%M} UTC. Check the date."
            )
        if old_reading_h < old.reading_at_start_h:
            raise Refusal.of(
                "old_reading_h",
                f"The old meter started at {old.reading_at_start_h:g} h and can't end at {old_reading_h:g} h.",
            )
        _need_past_the_flights(old, old_reading_h, at)
        old.until, old.reading_at_end_h = at, old_reading_h
        old.save(update_fields=["until", "reading_at_end_h"])
    meter = Meter.objects.create(
        aircraft=aircraft, position=position, kind=kind, serial=serial, reading_at_start_h=new_reading_h, since=at
    )
    audit(by=by, act="change_meter", subject=meter, now=now, detail={"old": old_reading_h, "new": new_reading_h})
    here = Installation.objects.filter(aircraft=aircraft, position=position, until__isnull=True)
    judge(live_builds(here.values_list("engine_id", flat=True)), now)
    return meter


def _need_past_the_flights(old: Meter, reading_h: float, at: datetime) -> None:
    """The old meter can't have stopped before the end of a flight that is in the book."""
    last = (
        current_runs(old.aircraft_id)
        .filter(installation__position=old.position, meter_kind=old.kind, flight__happened_at__lte=at)
        .filter(flight__happened_at__gte=old.since, meter_end_h__gt=reading_h + _STEP_H)
        .order_by("-meter_end_h")
        .first()
    )
    if last is not None:
        raise Refusal.of(
            "old_reading_h",
            f"The flight of {last.flight.local_date:%Y-%m-%d} ended at {last.meter_end_h:.1f} h, so the old meter "
            f"can't end at {reading_h:g} h. Read it again, or correct that flight first.",
        )


def check_attributes(attributes: dict[str, Any]) -> list[Problem]:
    """What is wrong with the attributes of an installation."""
    problems = [
        Problem(name, f"“{name}” is not an attribute of an installation. Check its spelling.")
        for name in sorted(set(attributes) - ATTRIBUTES)
    ]
    for name, (label, low, high) in _NUMBERS.items():
        value = attributes.get(name)
        if value is None:
            if name == "min_oil_qt" and name in attributes:
                problems.append(Problem(name, "The minimum oil for flight is missing. It stands in the POH/AFM."))
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            problems.append(Problem(name, f"{label}: “{value}” is not a number from {low:g} to {high:g}. Check it."))
    choices = {"basis_clock": BasisClock.values, "prop_control": PropControl.values}
    for name, known in choices.items():
        if name in attributes and attributes[name] not in known:
            problems.append(
                Problem(name, f"“{attributes[name]}” is not one of {', '.join(known)}. Choose one of these.")
            )
    return problems


def _check_meters(meters: Sequence[MeterEntry]) -> list[Problem]:
    problems = []
    for index, meter in enumerate(meters):
        if meter.kind not in MeterKind.values:
            kinds = ", ".join(MeterKind.values)
            problems.append(Problem(f"meters.{index}.kind", f"“{meter.kind}” is not a meter. Choose one of {kinds}."))
        if not 0 <= meter.reading_h <= 99_999.9:
            problems.append(
                Problem(f"meters.{index}.reading_h", f"{meter.reading_h:g} h is outside 0 to 99999.9 h. Read it again.")
            )
    return problems


def _need_free(engine: Engine, aircraft: Aircraft, position: str, since: datetime) -> None:
    taken = overlapping(since, None)
    elsewhere = Installation.objects.filter(taken, engine=engine).select_related("aircraft").order_by("-since").first()
    if elsewhere is not None:
        raise Refusal.of(
            "engine",
            f"{engine} is in {elsewhere.aircraft.registration} ({elsewhere.get_position_display()}) since "
            f"{elsewhere.since:%Y-%m-%d}. Remove it there first, or choose a later date.",
            "conflict",
        )
    there = Installation.objects.filter(taken, aircraft=aircraft, position=position).select_related("engine").first()
    if there is not None:
        raise Refusal.of(
            "position",
            f"{there.engine} sits in {aircraft.registration} ({there.get_position_display()}) then. Remove it first.",
            "conflict",
        )


def _end(seat: Installation, at: datetime, now: datetime) -> None:
    if seat.until is not None:
        raise Refusal.of("installation", "This installation has ended already. Look again who sits there.", "conflict")
    if at > now:
        raise Refusal.of("at", f"{at:%Y-%m-%d %H:%M} UTC lies in the future. Check the date.")
    if at <= seat.since:
        raise Refusal.of(
            "at", f"{seat.engine} only came into this seat on {seat.since:%Y-%m-%d %H:%M} UTC. Check the date."
        )
    later = FlightEngine.objects.filter(
        installation=seat, flight__happened_at__gte=at, flight__corrected_by__isnull=True, flight__withdrawn=False
    ).count()
    if later:
        raise Refusal.of(
            "at",
            f"{later} flight(s) after {at:%Y-%m-%d %H:%M} UTC are in the book for this seat. Choose a later moment, or "
            "correct those flights first.",
        )
    seat.until = at
    seat.save(update_fields=["until"])


def _successor(seat: Installation, at: datetime, *, engine_id: int, **changed: Any) -> Installation:
    """A new row for the same seat from `at` on."""
    kept = {name: getattr(seat, name) for name in ATTRIBUTES}
    return Installation.objects.create(
        aircraft_id=seat.aircraft_id, position=seat.position, engine_id=engine_id, since=at, **{**kept, **changed}
    )


def _start_meter(aircraft: Aircraft, position: str, meter: MeterEntry, since: datetime) -> None:
    running = Meter.objects.filter(aircraft=aircraft, position=position, kind=meter.kind, until__isnull=True)
    if not running.exists():
        Meter.objects.create(
            aircraft=aircraft,
            position=position,
            kind=meter.kind,
            serial=meter.serial,
            reading_at_start_h=meter.reading_h,
            since=since,
        )
