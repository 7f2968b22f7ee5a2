"""A small shop with one aircraft in break-in, as rows, for the tests of notices and jobs.

Tilde manages, Pell is the line technician, Corin the break-in pilot; Ines owns QX-501, a twin.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any
from uuid import uuid4

from breakin.models import Assessment, DueItem, DueState, Finding, Lane, Phase, Severity
from engines.models import (
    Aircraft,
    Build,
    Engine,
    EngineType,
    EngineTypeRevision,
    Holding,
    Installation,
    PilotAssignment,
)
from shop.models import Customer, CustomerMember, Person, Place, Role, Shop, ShopRole

NOON = datetime(2026, 6, 10, 18, 0, tzinfo=UTC)  # a Wednesday; 12:00 at UTC-6
LONG_AGO = datetime(2026, 1, 1, tzinfo=UTC)
_number = count(1)


@dataclass
class Cast:
    manager: Person
    technician: Person
    instructor: Person
    owner: Person
    customer: Customer
    aircraft: Aircraft
    left: Build
    right: Build


def person(name: str, *, email: str | None = None, **fields: Any) -> Person:
    address = f"{name.lower()}@example.test" if email is None else email
    return Person.objects.create(name=name, email=address, zone=fields.pop("zone", "Etc/GMT+6"), **fields)


def cast() -> Cast:
    place = Place.objects.create(name="Tellamoor Field", elevation_ft=620, zone="Etc/GMT+6")
    Shop.objects.create(name="Wexhollow Engine Works", place=place, phone="555 0100")
    tilde, pell, corin, ines = (person(name) for name in ("Tilde", "Pell", "Corin", "Ines"))
    for who, role in ((tilde, Role.MANAGER), (pell, Role.LINE_TECHNICIAN), (corin, Role.BREAK_IN_PILOT)):
        ShopRole.objects.create(person=who, role=role, since=LONG_AGO)
    owner = Customer.objects.create(name="Ines")
    CustomerMember.objects.create(customer=owner, person=ines, role="owner", first_contact=True, since=LONG_AGO)
    aircraft = Aircraft.objects.create(registration="QX-501", home=place)
    Holding.objects.create(aircraft=aircraft, customer=owner, since=LONG_AGO)
    return Cast(tilde, pell, corin, ines, owner, aircraft, build(aircraft, "left"), build(aircraft, "right"))


def engine_type() -> EngineTypeRevision:
    kind, _ = EngineType.objects.get_or_create(designation="TST-6", defaults={"maker": "Invented"})
    revision = EngineTypeRevision.objects.filter(engine_type=kind).first()
    return revision or EngineTypeRevision.objects.create(
        engine_type=kind,
        number=1,
        source="test",
        cylinders=6,
        displacement_cuin=526,
        compression_ratio=8.5,
        rated_hp=285,
        rated_rpm=2700,
        fuel_system="injected",
        sump_full_qt=12,
    )


def build(aircraft: Aircraft | None = None, position: str = "single", **assessed: Any) -> Build:
    revision, number = engine_type(), next(_number)
    engine = Engine.objects.create(serial=f"S-{number}", engine_type=revision.engine_type)
    made = Build.objects.create(
        engine=engine, number=f"B-{number}", kind="overhaul", type_revision=revision, opened_at=LONG_AGO
    )
    if aircraft is not None:
        Installation.objects.create(engine=engine, aircraft=aircraft, position=position, since=LONG_AGO, min_oil_qt=8.0)
    fields = {"lane": Lane.RUNNING, "phase": Phase.SETTLING, "hours": 9.2, "oil_level_qt": 10.0} | assessed
    Assessment.objects.create(build=made, engine=engine, aircraft=aircraft, live=True, **fields)
    return made


def assign(who: Person, aircraft: Aircraft, since: datetime = LONG_AGO) -> None:
    PilotAssignment.objects.create(aircraft=aircraft, person=who, since=since)


def sell(aircraft: Aircraft, at: datetime, name: str = "Sunniva") -> Person:
    """A new holder from this moment on; his first contact."""
    Holding.objects.filter(aircraft=aircraft, until__isnull=True).update(until=at)
    buyer = person(name)
    customer = Customer.objects.create(name=name)
    CustomerMember.objects.create(customer=customer, person=buyer, role="owner", first_contact=True, since=at)
    Holding.objects.create(aircraft=aircraft, customer=customer, since=at)
    return buyer


def due(about: Build, escalation: str = "nudge", **fields: Any) -> DueItem:
    values = {
        "rule": "N1",
        "occurrence": str(uuid4()),
        "rule_version": 1,
        "kind": "oil_reading",
        "title": "Oil reading missing",
        "text": "The flight of 9 June has no oil level after it.",
        "state": DueState.LATE,
        "escalation": escalation,
        "opened_at": NOON - timedelta(days=1),
    } | fields
    return DueItem.objects.create(build=about, **values)


def finding(about: Build, severity: Severity = Severity.STOP, **fields: Any) -> Finding:
    values = {
        "rule": "E1",
        "occurrence": str(uuid4()),
        "rule_version": 1,
        "severity": severity,
        "title": "Full-throttle fuel flow below the band",
        "text": "Fuel flow 22.0 gal/h, the band starts at 24.0 gal/h.",
        "why": "Less than 98 % of the low edge of the band.",
        "source": "engine type TST-6 rev. 1",
        "happened_at": NOON - timedelta(hours=1),
        "opened_at": NOON,
    } | fields
    lane = Lane.STOPPED if severity == Severity.STOP else Lane.CALL
    Assessment.objects.filter(build=about).update(lane=lane, stopped=severity == Severity.STOP)
    return Finding.objects.create(build=about, **values)


def answer(item: DueItem, at: datetime) -> None:
    DueItem.objects.filter(pk=item.pk).update(state=DueState.DONE, closed_at=at, closed_by_kind="oil")
