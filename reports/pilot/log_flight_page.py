"""What the form for logging a flight knows of an aircraft: its engines, their last readings, the card in force."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q

from breakin.models import Flight, FlightEngine, IssuedCard, OilEvent, OilEventKind, RunInPlan
from engines.models import (
    Aircraft,
    BasisClock,
    Build,
    BuildState,
    Engine,
    EngineTypeRevision,
    Installation,
    Meter,
    Position,
)
from shop.models import Person

# How long after a flight it may still be logged by a card that no longer holds, and how many are offered. Own choice.
LOGGED_LATE = timedelta(days=7)
MOST_CARDS = 6


@dataclass(frozen=True)
class EngineSection:
    """One engine of the aircraft as the form needs it.

    key : prefix of its fields, "e0", "e1" in the order of the positions.
    side : "LEFT", "RIGHT" or "" for a single engine.
    build, plan, card : of the open break-in; None where there is none.
    cards : those that a flight may have been flown by, newest first; `card` is the first of them.
    last_meter_h : newest reading of the basis clock [h].
    last_level_qt : newest dipstick reading [qt].
    """

    key: str
    engine: Engine
    installation: Installation
    side: str
    type_revision: EngineTypeRevision | None
    build: Build | None = None
    plan: RunInPlan | None = None
    card: IssuedCard | None = None
    cards: tuple[IssuedCard, ...] = ()
    last_meter_h: float | None = None
    last_level_qt: float | None = None

    @property
    def name(self) -> str:
        """How a pilot tells this engine from the other one."""
        return self.side or self.engine.engine_type.designation

    @property
    def clock(self) -> str:
        """The basis clock by its name: "tach", "Hobbs"."""
        return self.installation.get_basis_clock_display()

    def card_held(self, take_off: datetime) -> IssuedCard | None:
        """The newest card that held at take-off; where none did, the one that was handed out next, else the newest."""
        held = [card for card in self.cards if card.issued_at <= take_off <= card.valid_until]
        later = [card for card in self.cards if card.issued_at > take_off]
        return held[0] if held else later[-1] if later else self.card

    @property
    def has_meter(self) -> bool:
        return self.installation.basis_clock != BasisClock.AIRBORNE


def sections_of(aircraft: Aircraft, at: datetime, *, before: Flight | None = None) -> list[EngineSection]:
    """The engines that sat in the aircraft at that moment, left before right.

    `before` : a flight that is being corrected; the last readings are then those before it, and its card counts.
    """
    installed = list(
        Installation.objects.filter(_covers(at), aircraft=aircraft).select_related("engine__engine_type", "aircraft")
    )
    installed.sort(key=lambda row: (list(Position.values).index(row.position), row.pk))
    twin = len(installed) > 1
    return [_section(f"e{number}", row, at, twin=twin, before=before) for number, row in enumerate(installed)]


def keyed_as(sections: Sequence[EngineSection], posted: Mapping[str, str]) -> tuple[list[EngineSection], bool]:
    """The same engines under the keys that a form was filled in with; False when it was filled in for other engines.

    posted : "e0-engine" and so on, what a form was made for. A form without script or from before may say nothing.
    """
    meant = {posted.get(f"{section.key}-engine", ""): section.key for section in sections}
    if not any(meant):
        return list(sections), True
    if set(meant) != {str(section.engine.pk) for section in sections}:
        return list(sections), False
    keyed = [replace(section, key=meant[str(section.engine.pk)]) for section in sections]
    return keyed, f"e{len(sections)}-engine" not in posted


def section_at(engine: Engine, at: datetime) -> EngineSection | None:
    """The engine in the aircraft it sat in at that moment; None when it sat in none."""
    installation = Installation.objects.filter(_covers(at), engine=engine).select_related("aircraft").first()
    if installation is None:
        return None
    return next((part for part in sections_of(installation.aircraft, at) if part.engine.pk == engine.pk), None)


def _covers(at: datetime) -> Q:
    return Q(since__lte=at) & (Q(until__isnull=True) | Q(until__gt=at))


def _section(key: str, installation: Installation, at: datetime, *, twin: bool, before: Flight | None) -> EngineSection:
    engine = installation.engine
    build = Build.objects.filter(engine=engine, state=BuildState.OPEN).select_related("type_revision").first()
    plan = RunInPlan.objects.filter(build=build).order_by("-revision").first() if build else None
    revision = build.type_revision if build else engine.engine_type.revisions.order_by("-number").first()
    cards = _cards(engine, build, at, before)
    return EngineSection(
        key=key,
        engine=engine,
        installation=installation,
        side=installation.get_position_display() if twin else "",
        type_revision=revision,
        build=build,
        plan=plan,
        card=cards[0] if cards else None,
        cards=cards,
        last_meter_h=last_meter(installation, at, before=before),
        last_level_qt=_last_level(engine, at, before),
    )


def _cards(engine: Engine, build: Build | None, at: datetime, before: Flight | None) -> tuple[IssuedCard, ...]:
    """The card in force, or the one that the flight was flown by; then the others that may have been flown."""
    flown = None
    if before is not None:
        part = before.engines.filter(engine=engine).select_related("as_on_card").first()
        flown = part.as_on_card if part else None
    given = list(IssuedCard.objects.filter(build=build).order_by("-number")[:MOST_CARDS]) if build else []
    by_then = [card for card in given if card.issued_at <= at]
    fresh = [card for card in by_then if card.valid_until >= at - LOGGED_LATE]
    first = flown or next(iter(by_then or given), None)
    return (first, *(card for card in fresh if card.pk != first.pk)) if first else ()


def _last_level(engine: Engine, at: datetime, before: Flight | None) -> float | None:
    rows = OilEvent.objects.current().filter(engine=engine, kind=OilEventKind.READING, happened_at__lte=at)
    if before is not None:
        rows = rows.exclude(flight_root=before.root)
    return rows.order_by("-happened_at", "-order", "-id").values_list("level_qt", flat=True).first()


def last_meter(installation: Installation, at: datetime, *, before: Flight | None = None) -> float | None:
    """The newest reading of the basis clock that counts for this engine: of a flight, else of the meter's start."""
    kind = installation.basis_clock
    meter = (
        Meter.objects.filter(aircraft=installation.aircraft, position=installation.position, kind=kind, since__lte=at)
        .filter(Q(until__isnull=True) | Q(until__gt=at))
        .first()
    )
    since = meter.since if meter else installation.since
    flights = Flight.objects.current().filter(aircraft=installation.aircraft)
    if before is not None:
        flights = flights.filter(happened_at__lt=before.happened_at).exclude(root=before.root)
    read = (
        FlightEngine.objects.filter(
            flight__in=flights,
            installation__position=installation.position,
            meter_kind=kind,
            meter_end_h__isnull=False,
            flight__happened_at__gte=since,
            flight__happened_at__lte=at,
        )
        .order_by("-flight__happened_at", "-flight_id")
        .values_list("meter_end_h", flat=True)
        .first()
    )
    if read is not None:
        return read
    return meter.reading_at_start_h if meter else None


def pilots_of(aircraft: Aircraft, now: datetime) -> Sequence[Person]:
    """Who flies this aircraft today: the people of its holder, and the pilots assigned to it."""
    open_now = Q(until__isnull=True) | Q(until__gt=now)
    holders = aircraft.holdings.filter(open_now, since__lte=now).values("customer")
    assigned = aircraft.assignments.filter(open_now, since__lte=now).values("person")
    members = Person.objects.filter(
        Q(memberships__until__isnull=True) | Q(memberships__until__gt=now),
        memberships__customer__in=holders,
        memberships__since__lte=now,
    )
    found = {person.pk: person for person in [*members, *Person.objects.filter(pk__in=assigned)]}
    return sorted(found.values(), key=lambda person: (person.name, person.pk))


def is_assigned(person: Person | None, aircraft: Aircraft, now: datetime) -> bool:
    """Is this person a break-in pilot or instructor of the aircraft today?"""
    if person is None:
        return False
    open_now = Q(until__isnull=True) | Q(until__gt=now)
    return bool(aircraft.assignments.filter(open_now, person=person, since__lte=now).exists())
