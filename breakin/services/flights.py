"""Log a flight: one or two engines, their power blocks and oil, in one act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q

from breakin.calc.said import Day, said
from breakin.entries import EngineEntry, FlightEntry, OilEntry, content_hash
from breakin.models import Finding, Flight, FlightEngine, IssuedCard, OilEvent, PowerBlock, When
from breakin.reading.matching import settle_around
from breakin.services.cards import StatedBlock, card_flown, stated_blocks
from breakin.services.clocks import Clock, Span, current_runs, read_clock, same_end, same_flight
from breakin.services.common import audit, covering, grade_of, is_staff, judge, live_builds, lock_aircraft, lock_engines
from breakin.services.oil import check_amounts, keep_event, not_at_that_time
from engines.models import Aircraft, Engine, Installation
from shop.errors import ConflictingResend, Problem, Refusal
from shop.facts import Source
from shop.models import Person, Place

SENT_OTHERWISE = said(
    "This flight was received before, with other content. The first one stands. To change it, use “Fix this entry”; to "
    "send another one, start a new form."
)


@dataclass(frozen=True)
class LoggedFlight:
    """created is False for a resend. possible_duplicate: another entry looks like the same flight; both are kept."""

    flight: Flight
    created: bool
    stops: list[Finding] = field(default_factory=list)
    calls: list[Finding] = field(default_factory=list)
    possible_duplicate: bool = False


@dataclass(frozen=True)
class EngineRow:
    """One engine of a flight, ready to be written."""

    engine: Engine
    installation: Installation
    entry: EngineEntry
    clock: Clock
    card: IssuedCard | None = None
    stated: list[StatedBlock] = field(default_factory=list)


def log_flight(
    *,
    by: Person,
    aircraft: Aircraft,
    entry: FlightEntry,
    now: datetime,
    source: str = Source.PORTAL,
    on_behalf_of: Person | None = None,
) -> LoggedFlight:
    """Keep one flight with all that its engines did. The same client_id with the same content is the same flight.

    Raises
    ------
    Refusal : what was typed does not fit the aircraft, its engines or its meters; nothing is kept.
    ConflictingResend : the client_id came before with other content.
    """
    try:
        with transaction.atomic():
            return _log(by, aircraft, entry, now, source, on_behalf_of)
    except IntegrityError:
        # Two senders of the same form on two aircraft rows: the database kept one of them.
        kept = resent(aircraft, entry)
        if kept is None:
            raise
        return kept


def resent(aircraft: Aircraft, entry: FlightEntry) -> LoggedFlight | None:
    """The flight that this entry was kept as before.

    Raises
    ------
    ConflictingResend : it came before with other content.
    """
    kept = Flight.objects.filter(client_id=entry.client_id).first()
    if kept is None:
        return None
    if kept.content_hash != content_hash(entry, about=f"aircraft {aircraft.pk}"):
        raise ConflictingResend(SENT_OTHERWISE)
    return LoggedFlight(kept, False, possible_duplicate=looks_double(kept))


def _log(
    by: Person, aircraft: Aircraft, entry: FlightEntry, now: datetime, source: str, on_behalf_of: Person | None
) -> LoggedFlight:
    aircraft = lock_aircraft(aircraft)
    kept = resent(aircraft, entry)
    if kept is not None:
        return kept
    engines = lock_engines(each.engine_id for each in entry.engines if each.engine_id is not None)
    builds = live_builds(engine.pk for engine in engines)
    rows = prepare(aircraft, entry, span_of(entry))
    flight = keep_flight(
        by=by, aircraft=aircraft, entry=entry, rows=rows, now=now, source=source, on_behalf_of=on_behalf_of
    )
    for row in rows:
        for event in row.entry.oil:
            keep_event(
                by=by,
                engine=row.engine,
                entry=placed_in(entry, event),
                sent=event,
                now=now,
                source=source,
                on_behalf_of=on_behalf_of,
                flight_root=flight.root,
            )
    audit(by=by, act="log_flight", subject=flight, now=now, detail={"engines": [row.engine.pk for row in rows]})
    settle_around(aircraft.pk, [flight])
    stops, calls = judge(builds, now)
    return LoggedFlight(flight, True, stops, calls, looks_double(flight))


def span_of(entry: FlightEntry, root: UUID | None = None) -> Span:
    ground = (entry.ground_before_min or 0.0) + (entry.ground_after_min or 0.0)
    return Span(entry.began_at, entry.ended_at, entry.airborne_min, ground, entry.kind, root)


def prepare(aircraft: Aircraft, entry: FlightEntry, span: Span) -> list[EngineRow]:
    """Fit the entry into the book: seats, meters, cards, amounts of oil.

    Raises
    ------
    Refusal : with every problem found.
    """
    problems: list[Problem] = []
    rows: list[EngineRow] = []
    seats = {seat.engine_id: seat for seat in _seats(aircraft, entry.ended_at)}
    for index, each in enumerate(entry.engines):
        prefix = f"engines.{index}"
        seat = seats.get(each.engine_id or 0)
        if seat is None:
            problems.append(Problem(f"{prefix}.engine_id", _not_installed(aircraft, entry, list(seats.values()))))
            continue
        clock = read_clock(seat, each, span)
        problems += [problem.under(prefix) for problem in clock.problems]
        card, stated = None, []
        if each.as_on_card:
            try:
                card = card_flown(seat.engine, each, entry.ended_at)
                stated = stated_blocks(card, entry.airborne_min)
            except Refusal as refusal:
                problems += [problem.under(prefix) for problem in refusal.problems]
        for place, event in enumerate(each.oil):
            problems += [problem.under(f"{prefix}.oil.{place}") for problem in _check_oil(seat.engine, entry, event)]
        rows.append(EngineRow(seat.engine, seat, each, clock, card, stated))
    problems += _check_people_and_place(aircraft, entry)
    if problems:
        raise Refusal(problems)
    return rows


def keep_flight(
    *,
    by: Person,
    aircraft: Aircraft,
    entry: FlightEntry,
    rows: Sequence[EngineRow],
    now: datetime,
    source: str,
    on_behalf_of: Person | None = None,
    **version: Any,
) -> Flight:
    """Write a flight with its engines and blocks. `version`: root, corrects, correction_reason, withdrawn, grade."""
    grade = version.pop("grade", None) or grade_of(
        happened_at=entry.ended_at,
        written_at=entry.written_at,
        now=now,
        source=source,
        recalled=entry.recalled,
        sent_at=entry.sent_at,
    )
    place = Place.objects.filter(pk=entry.place_id).first() if entry.place_id else None
    elevation = entry.field_elevation_ft
    if elevation is None and place is not None:
        elevation = place.elevation_ft
    flight = Flight.objects.create(
        aircraft=aircraft,
        client_id=entry.client_id,
        root=version.pop("root", entry.client_id),
        content_hash=content_hash(entry, about=f"aircraft {aircraft.pk}"),
        happened_at=entry.ended_at,
        local_date=entry.local_date,
        zone=entry.zone,
        written_at=entry.written_at,
        received_at=now,
        entered_by=by,
        on_behalf_of=on_behalf_of,
        source=source,
        grade=grade,
        typed=entry.typed,
        absent=entry.absent,
        note=entry.note,
        pilot_id=entry.pilot_id or _pilot_of(by, on_behalf_of, now),
        kind=entry.kind,
        field=place,
        field_elevation_ft=elevation,
        altimeter_inhg=entry.altimeter_inhg,
        oat_ground_degf=entry.oat_ground_degf,
        off_block_at=entry.off_block_at,
        on_block_at=entry.on_block_at,
        airborne_min=entry.airborne_min,
        ground_before_min=entry.ground_before_min,
        ground_after_min=entry.ground_after_min,
        landings=entry.landings,
        persons_aboard=entry.persons_aboard,
        chips=list(entry.chips),
        **version,
    )
    for row in rows:
        _keep_engine(flight, row)
    return flight


def _keep_engine(flight: Flight, row: EngineRow) -> None:
    entry, clock = row.entry, row.clock
    kept = FlightEngine.objects.create(
        flight=flight,
        engine=row.engine,
        installation=row.installation,
        meter_kind=clock.meter_kind,
        meter_start_h=clock.meter_start_h,
        meter_end_h=clock.meter_end_h,
        other_meters={kind: list(readings) for kind, readings in entry.meters.items()},
        hours=clock.hours,
        hours_estimated=clock.estimated,
        as_on_card=row.card,
        takeoff_rpm=entry.takeoff_rpm,
        takeoff_map_inhg=entry.takeoff_map_inhg,
        takeoff_ff_gph=entry.takeoff_ff_gph,
        climb_cht_degf=entry.climb_cht_degf,
        cht_max_degf=entry.cht_max_degf,
        cht_over_watch=entry.cht_over_watch,
        cht_falling_by_3000=entry.cht_falling_by_3000,
        cht_cruise_mean_degf=entry.cht_cruise_mean_degf,
        oil_temp_max_degf=entry.oil_temp_max_degf,
        oil_press_min_psi=entry.oil_press_min_psi,
        oil_press_idle_psi=entry.oil_press_idle_psi,
        tit_max_degf=entry.tit_max_degf,
    )
    blocks = [
        PowerBlock(flight_engine=kept, order=order, duration_min=block.duration_min, stated_band=block.band)
        for order, block in enumerate(row.stated, 1)
    ]
    blocks += [
        PowerBlock(flight_engine=kept, order=order, **vars(block)) for order, block in enumerate(entry.blocks, 1)
    ]
    PowerBlock.objects.bulk_create(blocks)


def placed_in(flight: FlightEntry, event: OilEntry) -> OilEntry:
    """An oil event of a flight, at the moment that "before" or "after" gives it."""
    when = event.when or When.AFTER.value
    at = event.happened_at or (flight.began_at if when == When.BEFORE else flight.ended_at)
    written, sent = event.written_at or flight.written_at, event.sent_at or flight.sent_at
    return replace(event, when=when, happened_at=at, written_at=written, sent_at=sent)


def looks_double(flight: Flight) -> bool:
    """Does another entry of the aircraft look like the same flight: overlapping it, or with the same meter end?"""
    near = timedelta(minutes=840)
    others = current_runs(flight.aircraft_id).exclude(flight__root=flight.root)
    mine = {run.engine_id: run for run in flight.engines.all()}
    window = (flight.happened_at - near, flight.happened_at + near)
    for run in others.filter(flight__happened_at__range=window, engine_id__in=mine):
        own = mine[run.engine_id]
        if same_flight(flight.happened_at, flight.airborne_min, run.flight.happened_at, run.flight.airborne_min):
            return True
        if own.meter_kind == run.meter_kind and same_end(flight.kind, own.meter_end_h, run):
            return True
    return False


def _seats(aircraft: Aircraft, at: datetime) -> list[Installation]:
    seats = Installation.objects.filter(covering(at), aircraft=aircraft)
    return list(seats.select_related("engine", "engine__engine_type").order_by("position"))


def _not_installed(aircraft: Aircraft, entry: FlightEntry, seats: list[Installation]) -> str:
    there = ", ".join(f"{seat.engine} ({seat.get_position_display()})" for seat in seats) or said("none")
    return said(
        "This engine was not in {aircraft} on {day}. Engines in it then: {engines}. Choose one of these, or check the "
        "date.",
        aircraft=aircraft.registration,
        day=Day(entry.local_date),
        engines=there,
    )


def _check_oil(engine: Engine, flight: FlightEntry, event: OilEntry) -> list[Problem]:
    problems = check_amounts(engine, event)
    at, when = event.happened_at, event.when or When.AFTER
    if at is not None and (
        (when == When.BEFORE and at > flight.ended_at) or (when == When.AFTER and at < flight.began_at)
    ):
        problems.append(Problem("when", not_at_that_time(when)))
    return problems


def _check_people_and_place(aircraft: Aircraft, entry: FlightEntry) -> list[Problem]:
    problems = []
    if entry.place_id and not Place.objects.filter(pk=entry.place_id).exists():
        problems.append(
            Problem("place_id", said("This airfield is not in the book. Choose one from the list, or leave it empty."))
        )
    if entry.pilot_id and not pilots_of(aircraft, entry.ended_at).filter(pk=entry.pilot_id).exists():
        problems.append(
            Problem(
                "pilot_id",
                said(
                    "This person does not fly {aircraft}. Choose a pilot from the list.", aircraft=aircraft.registration
                ),
            )
        )
    return problems


def pilots_of(aircraft: Aircraft, at: datetime) -> Any:
    """The people who may be the pilot of a flight at that moment: of the holder, assigned, or of the shop."""

    def during(prefix: str) -> Q:
        end = f"{prefix}until"
        return Q(**{f"{prefix}since__lte": at}) & (Q(**{f"{end}__isnull": True}) | Q(**{f"{end}__gt": at}))

    held = "memberships__customer__holdings__"
    return Person.objects.filter(
        (Q(**{f"{held}aircraft": aircraft}) & during(held) & during("memberships__"))
        | (Q(assignments__aircraft=aircraft) & during("assignments__"))
        | (Q(shop_roles__isnull=False) & during("shop_roles__"))
    ).distinct()


def _pilot_of(by: Person, on_behalf_of: Person | None, now: datetime) -> int | None:
    """Who flew, when it was not said: the pilot who logs. Whoever logs from the shop's desk did not say."""
    if on_behalf_of is not None:
        return on_behalf_of.pk
    return None if is_staff(by, now) else by.pk


def oil_of(flight: Flight) -> list[OilEvent]:
    """The oil events that were told with a flight, current versions."""
    return list(
        OilEvent.objects.current().filter(flight_root=flight.root).select_related("engine").order_by("order", "pk")
    )
