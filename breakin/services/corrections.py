"""Correct or withdraw a fact. Nothing is edited: the newer version points to the older one, and both stay readable."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction

from breakin.calc.said import said
from breakin.entries import FlightEntry, OilEntry
from breakin.models import Flight, FlightEngine, OilEvent, PowerBlock
from breakin.reading.matching import settle_around
from breakin.services.common import audit, is_staff, judge, live_builds, lock_aircraft, lock_engines
from breakin.services.flights import (
    EngineRow,
    LoggedFlight,
    keep_flight,
    looks_double,
    oil_of,
    pilots_of,
    placed_in,
    prepare,
    resent,
    span_of,
)
from breakin.services.oil import LoggedOil, advice_for, keep_event, place
from breakin.services.oil import resent as oil_resent
from breakin.services.versions import forked, grade_after, known_reason, lock_newest, new_version
from engines.models import Build, Engine
from shop.errors import Refusal
from shop.facts import Fact, Source
from shop.models import Person

SENT_ALREADY = said("This form was sent already. Open the entry anew to correct it.")
OWN_ENTRIES_FOR = timedelta(days=7)


def correct_flight(
    *, by: Person, flight: Flight, entry: FlightEntry, reason: str, now: datetime, source: str = Source.PORTAL
) -> LoggedFlight:
    """A newer version of a flight, with everything that belongs to it taken from the new entry.

    Oil events: where the entry gives oil for an engine, each takes the place of the one of its kind, and those left
    over are withdrawn; where it gives none, they stay. When the engine was wrong, they move to the right one.

    Raises
    ------
    Refusal : "conflict" when somebody corrected it meanwhile, "forbidden" when it is too late for this person, else
        what is wrong with the entry.
    ConflictingResend : the client_id came before with other content.
    """
    known_reason(reason)
    try:
        with transaction.atomic():
            return _correct_flight(by, flight, entry, reason, now, source)
    except IntegrityError:
        raise forked(flight) from None


def _correct_flight(
    by: Person, flight: Flight, entry: FlightEntry, reason: str, now: datetime, source: str
) -> LoggedFlight:
    aircraft = lock_aircraft(flight.aircraft)
    kept = resent(aircraft, entry)
    if kept is not None:
        if kept.flight.corrects_id != flight.pk:
            raise Refusal.of("client_id", SENT_ALREADY, "conflict")
        return kept
    old_engines = list(flight.engines.values_list("engine_id", flat=True))
    new_engines = [each.engine_id for each in entry.engines if each.engine_id is not None]
    lock_engines({*old_engines, *new_engines})
    builds = live_builds({*old_engines, *new_engines})
    _check_may(by, flight, old_engines, now)
    old_oil = oil_of(flight)
    rows = prepare(aircraft, entry, span_of(entry, flight.root))
    newer = keep_flight(
        by=by,
        aircraft=aircraft,
        entry=entry,
        rows=rows,
        now=now,
        source=source,
        on_behalf_of=flight.on_behalf_of,
        root=flight.root,
        corrects=flight,
        correction_reason=reason,
        grade=grade_after(flight.grade, reason, entry.ended_at, now),
    )
    _correct_oil_of(by, newer, entry, rows, old_oil, reason, now, source)
    audit(by=by, act="correct_flight", subject=newer, now=now, detail={"corrects": flight.pk, "reason": reason})
    settle_around(aircraft.pk, [flight, newer])
    stops, calls = judge(builds, now)
    return LoggedFlight(newer, True, stops, calls, looks_double(newer))


def _correct_oil_of(
    by: Person,
    flight: Flight,
    entry: FlightEntry,
    rows: list[EngineRow],
    old: list[OilEvent],
    reason: str,
    now: datetime,
    source: str,
) -> None:
    flown = {row.engine.pk for row in rows}
    gone = sorted({event.engine_id for event in old} - flown)
    added = [row.engine for row in rows if row.engine.pk not in {event.engine_id for event in old}]
    left = list(old)
    for row in rows:
        for event in row.entry.oil:
            match = _match(event, row.engine, left, gone)
            if match is not None:
                left.remove(match)
            version = {"root": match.root, "corrects": match, "correction_reason": reason} if match else {}
            grade = grade_after(match.grade, reason, entry.ended_at, now) if match else None
            keep_event(
                by=by,
                engine=row.engine,
                entry=placed_in(entry, event),
                sent=event,
                now=now,
                source=source,
                on_behalf_of=flight.on_behalf_of,
                flight_root=flight.root,
                grade=grade,
                **version,
            )
    told = {row.engine.pk for row in rows if row.entry.oil}
    for untold in left:
        if untold.engine_id in told:
            new_version(untold, by=by, reason=reason, now=now, withdrawn=True)
        elif untold.engine_id in gone:
            # The one engine was meant to be the other: what was told of its oil goes along.
            if len(gone) == 1 and len(added) == 1 and added[0].pk not in told:
                new_version(untold, by=by, reason=reason, now=now, engine=added[0])
            else:
                new_version(untold, by=by, reason=reason, now=now, withdrawn=True)


def _match(event: OilEntry, engine: Engine, left: Iterable[OilEvent], gone: list[int]) -> OilEvent | None:
    """The older event whose place this one takes: same engine, kind and side of the flight; else of a wrong engine."""
    when = event.when or "after"
    same = [old for old in left if old.kind == event.kind and old.when == when]
    for old in same:
        if old.engine_id == engine.pk:
            return old
    return next((old for old in same if old.engine_id in gone), None)


def withdraw_flight(*, by: Person, flight: Flight, reason: str, now: datetime) -> Flight:
    """The flight never happened: a last version says so. What was told of its oil is withdrawn with it.

    Raises
    ------
    Refusal : as for `correct_flight`.
    """
    known_reason(reason)
    try:
        with transaction.atomic():
            lock_aircraft(flight.aircraft)
            engines = list(flight.engines.values_list("engine_id", flat=True))
            lock_engines(engines)
            builds = live_builds(engines)
            _check_may(by, flight, engines, now)
            children = list(flight.engines.all())
            newer = new_version(flight, by=by, reason=reason, now=now, withdrawn=True)
            for child in children:
                _copy_engine(child, newer)
            for event in oil_of(flight):
                new_version(event, by=by, reason=reason, now=now, withdrawn=True)
            audit(
                by=by, act="withdraw_flight", subject=newer, now=now, detail={"corrects": flight.pk, "reason": reason}
            )
            settle_around(flight.aircraft_id, [newer])
            judge(builds, now)
            return newer
    except IntegrityError:
        raise forked(flight) from None


def correct_oil(
    *, by: Person, event: OilEvent, entry: OilEntry, reason: str, now: datetime, source: str = Source.PORTAL
) -> LoggedOil:
    """A newer version of an oil event; the engine may be another one.

    Raises
    ------
    Refusal, ConflictingResend : as for `correct_flight`.
    """
    known_reason(reason)
    try:
        with transaction.atomic():
            return _correct_oil(by, event, entry, reason, now, source)
    except IntegrityError:
        raise forked(event) from None


def _correct_oil(by: Person, event: OilEvent, entry: OilEntry, reason: str, now: datetime, source: str) -> LoggedOil:
    engine_ids = {event.engine_id, *([entry.engine_id] if entry.engine_id else [])}
    engines = {engine.pk: engine for engine in lock_engines(engine_ids)}
    engine = engines.get(entry.engine_id or event.engine_id)
    if engine is None:
        raise Refusal.of("engine_id", said("This engine is not in the book. Choose one from the list."))
    kept = oil_resent(engine, entry)
    if kept is not None:
        if kept.corrects_id != event.pk:
            raise Refusal.of("client_id", SENT_ALREADY, "conflict")
        return LoggedOil(kept, False, advice=advice_for(kept))
    builds = live_builds(engine_ids)
    _check_may(by, event, [event.engine_id], now)
    if not is_staff(by, now) and not _flies(by, engine, entry.happened_at or event.happened_at):
        raise Refusal.of(
            "engine_id", said("This engine is not one of yours. Ask the shop to move the entry."), "forbidden"
        )
    sent = entry
    if entry.flight_root is None and event.flight_root is not None and engine.pk == event.engine_id:
        # A form that corrects the number doesn't ask again to which flight it belongs.
        entry = replace(entry, flight_root=event.flight_root, when=entry.when or event.when)
    if entry.happened_at is None and entry.flight_root is None:
        entry = replace(entry, happened_at=event.happened_at)
    placed = replace(place(engine, entry, now), order=event.order)
    newer = keep_event(
        by=by,
        engine=engine,
        entry=placed,
        sent=sent,
        now=now,
        source=source,
        on_behalf_of=event.on_behalf_of,
        root=event.root,
        corrects=event,
        correction_reason=reason,
        grade=grade_after(event.grade, reason, event.happened_at, now),
    )
    audit(by=by, act="correct_oil", subject=newer, now=now, detail={"corrects": event.pk, "reason": reason})
    stops, calls = judge(builds, now)
    return LoggedOil(newer, True, stops, calls, advice_for(newer))


def withdraw_oil(*, by: Person, event: OilEvent, reason: str, now: datetime) -> OilEvent:
    """The oil event never happened: a last version says so.

    Raises
    ------
    Refusal : as for `correct_flight`.
    """
    known_reason(reason)
    try:
        with transaction.atomic():
            lock_engines([event.engine_id])
            builds = live_builds([event.engine_id])
            _check_may(by, event, [event.engine_id], now)
            newer = new_version(event, by=by, reason=reason, now=now, withdrawn=True)
            audit(by=by, act="withdraw_oil", subject=newer, now=now, detail={"corrects": event.pk, "reason": reason})
            judge(builds, now)
            return newer
    except IntegrityError:
        raise forked(event) from None


def may_correct(by: Person, fact: Flight | OilEvent, now: datetime) -> str:
    """Empty when this person may correct this version; else the sentence that says why not and whom to ask."""
    engines = list(fact.engines.values_list("engine_id", flat=True)) if isinstance(fact, Flight) else [fact.engine_id]
    return _why_not(by, fact, engines, now)


def _why_not(by: Person, fact: Fact, engine_ids: list[int], now: datetime) -> str:
    if is_staff(by, now):
        return ""
    model: Any = type(fact)
    first = model.objects.get(client_id=fact.root)
    own = {first.entered_by_id, first.on_behalf_of_id, getattr(first, "pilot_id", None)}
    if by.pk not in own:
        return said("Somebody else wrote this entry. Ask the shop to correct it.")
    if now - first.received_at > OWN_ENTRIES_FOR:
        return said(
            "This entry is older than 7 days, so only the shop corrects it now. Ask the shop and say what was meant."
        )
    closed = Build.objects.filter(
        engine_id__in=engine_ids, state="closed", opened_at__lte=fact.happened_at, closed_at__gte=fact.happened_at
    )
    if closed.exists():
        return said("The break-in was closed out with this entry, so only the shop corrects it now. Ask the shop.")
    return ""


def _check_may(by: Person, fact: Fact, engine_ids: list[int], now: datetime) -> None:
    """Refuse a fork, a withdrawn fact, and a person whose time is over."""
    lock_newest(fact)
    why = _why_not(by, fact, engine_ids, now)
    if why:
        raise Refusal.of("", why, "forbidden")


def _copy_engine(run: FlightEngine, flight: Flight) -> None:
    blocks = list(run.blocks.all())
    run.pk, run.flight = None, flight
    run._state.adding = True
    run.save(force_insert=True)
    for block in blocks:
        block.pk, block.flight_engine = None, run
        block._state.adding = True
    PowerBlock.objects.bulk_create(blocks)


def _flies(person: Person, engine: Engine, at: datetime) -> bool:
    """Does the person fly an aircraft that this engine sat in at that moment?"""
    seats = engine.installations.filter(since__lte=at).order_by("-since")[:1]
    return any(pilots_of(seat.aircraft, at).filter(pk=person.pk).exists() for seat in seats)
