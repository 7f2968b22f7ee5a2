"""What the form for logging a flight knows of an aircraft: its engines, their last readings, the card in force."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

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


@dataclass(frozen=True)
class EngineSection:
    """One engine of the aircraft as the form needs it.

    key : prefix of its fields, "e0", "e1" in the order of the positions.
    side : "LEFT", "RIGHT" or "" for a single engine.
    build, plan, card : of the open break-in; None where there is none.
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

    @property
    def has_meter(self) -> bool:
        return self.installation.basis_clock != BasisClock.AIRBORNE


def sections_of(aircraft: Aircraft, now: datetime) -> list[EngineSection]:
    """The engines that sit in the aircraft at this moment, left before right."""
    installed = list(
        Installation.objects.filter(aircraft=aircraft, since__lte=now)
        .filter(Q(until__isnull=True) | Q(until__gt=now))
        .select_related("engine__engine_type", "aircraft")
    )
    installed.sort(key=lambda row: (list(Position.values).index(row.position), row.pk))
    return [_section(f"e{number}", row, now, twin=len(installed) > 1) for number, row in enumerate(installed)]


def _section(key: str, installation: Installation, now: datetime, *, twin: bool) -> EngineSection:
    engine = installation.engine
    build = Build.objects.filter(engine=engine, state=BuildState.OPEN).select_related("type_revision").first()
    plan = RunInPlan.objects.filter(build=build).order_by("-revision").first() if build else None
    card = IssuedCard.objects.filter(build=build).order_by("-number").first() if build else None
    revision = build.type_revision if build else engine.engine_type.revisions.order_by("-number").first()
    level = (
        OilEvent.objects.current()
        .filter(engine=engine, kind=OilEventKind.READING, happened_at__lte=now)
        .order_by("-happened_at", "-order", "-id")
        .values_list("level_qt", flat=True)
        .first()
    )
    return EngineSection(
        key=key,
        engine=engine,
        installation=installation,
        side=installation.get_position_display() if twin else "",
        type_revision=revision,
        build=build,
        plan=plan,
        card=card,
        last_meter_h=last_meter(installation, now),
        last_level_qt=level,
    )


def last_meter(installation: Installation, now: datetime) -> float | None:
    """The newest reading of the basis clock that counts for this engine: of a flight, else of the meter's start."""
    kind = installation.basis_clock
    meter = (
        Meter.objects.filter(aircraft=installation.aircraft, position=installation.position, kind=kind, since__lte=now)
        .filter(Q(until__isnull=True) | Q(until__gt=now))
        .first()
    )
    since = meter.since if meter else installation.since
    read = (
        FlightEngine.objects.filter(
            flight__in=Flight.objects.current().filter(aircraft=installation.aircraft),
            installation__position=installation.position,
            meter_kind=kind,
            meter_end_h__isnull=False,
            flight__happened_at__gte=since,
            flight__happened_at__lte=now,
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
