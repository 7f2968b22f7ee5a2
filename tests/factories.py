"""The standing cast and the smallest valid things around it.

Ada owns build 1, Ben owns build 2, Cora is the manager, Tom a technician. Facts go through the services, so that a test
cannot make a state that people can't. A history reads like a log::

    shop = cast()
    flown(shop.build_1, 1.2, level_qt=8.5, added_qt=1)
"""

from __future__ import annotations

import itertools
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from breakin.closeout.document import drafted
from breakin.entries import parse_flight, parse_oil
from breakin.models import Assessment, CloseOutFile
from breakin.plan_templates import ensure_templates
from breakin.services import closing
from breakin.services.builds import PositionEntry, open_build
from breakin.services.flights import LoggedFlight, log_flight
from breakin.services.installing import MeterEntry, install
from breakin.services.oil import LoggedOil, add_oil
from engines.models import Aircraft, Build, Engine, EngineType, EngineTypeRevision, Holding, Installation
from shop.models import Customer, CustomerMember, MemberRole, Person, Place, Role, Shop, ShopRole, User
from tests.again import made_again

NOW = datetime(2026, 6, 15, 12, 0, tzinfo=UTC)
LONG_AGO = NOW - timedelta(days=200)
FIELD_ELEVATION_FT = 620.0
FIRST_METER_H = 100.0

_serials = itertools.count(1)


@dataclass(frozen=True)
class Cast:
    """Everybody and everything a test usually needs."""

    place: Place
    ada: Person
    ben: Person
    cora: Person
    tom: Person
    ada_customer: Customer
    ben_customer: Customer
    aircraft_1: Aircraft
    aircraft_2: Aircraft
    build_1: Build
    build_2: Build


def place(name: str = "Tellamoor Field", **more: Any) -> Place:
    defaults = {"elevation_ft": FIELD_ELEVATION_FT, "zone": "Etc/GMT+6", **more}
    return Place.objects.get_or_create(name=name, defaults=defaults)[0]


def person(name: str, *, role: str = "", with_user: bool = True, since: datetime = LONG_AGO, **more: Any) -> Person:
    """Somebody with a user; with a role in the shop where one is named."""
    email = f"{name.lower()}@example.org"
    user = User.objects.create_user(email, "a good long password") if with_user else None
    made = Person.objects.create(name=name, user=user, email=email, **{"zone": "Etc/GMT+6", **more})
    if role:
        ShopRole.objects.create(person=made, role=role, since=since)
    return made


def customer(name: str, *people: Person, since: datetime = LONG_AGO) -> Customer:
    made = Customer.objects.create(name=name, phone="555-0100")
    for index, member in enumerate(people):
        CustomerMember.objects.create(
            customer=made, person=member, role=MemberRole.OWNER, first_contact=index == 0, since=since
        )
    return made


def aircraft(registration: str, holder: Customer | None = None, *, home: Place | None = None) -> Aircraft:
    made = Aircraft.objects.create(registration=registration, home=home or place())
    if holder is not None:
        Holding.objects.create(aircraft=made, customer=holder, since=LONG_AGO)
    return made


def type_revision(designation: str = "TAV-4E", **more: Any) -> EngineTypeRevision:
    """Teaching numbers of an invented four-cylinder engine of 180 hp."""
    engine_type, _made = EngineType.objects.get_or_create(
        designation=designation, defaults={"maker": "Tavish (invented)"}
    )
    values: dict[str, Any] = {
        "source": "teaching numbers, not for flight",
        "cylinders": 4,
        "displacement_cuin": 354,
        "compression_ratio": 8.5,
        "rated_hp": 180,
        "rated_rpm": 2700,
        "fuel_system": "injected",
        "fuel_flow_compensates": True,
        "sump_full_qt": 8,
        "takeoff_ff_low_gph": 15.2,
        "takeoff_ff_high_gph": 16.8,
        "cht_watch_degf": 420,
        "cht_limit_degf": 500,
        "oil_temp_max_degf": 245,
        "oil_press_min_psi": 25,
        "oil_press_idle_min_psi": 10,
        "oil_press_max_psi": 115,
        "revised_at": LONG_AGO,
        **more,
    }
    number = engine_type.revisions.count() + 1
    known = engine_type.revisions.filter(**{k: v for k, v in values.items() if k != "chart"}).first()
    return known or EngineTypeRevision.objects.create(engine_type=engine_type, number=number, **values)


def engine(revision: EngineTypeRevision | None = None, serial: str = "") -> Engine:
    revision = revision or type_revision()
    return Engine.objects.create(engine_type=revision.engine_type, serial=serial or f"E-{next(_serials):04d}")


def positions(count: int = 4, finish: str = "through_hardened", **more: Any) -> list[PositionEntry]:
    return [PositionEntry(number=number, finish=finish, **more) for number in range(1, count + 1)]


def build(
    of: Engine,
    *,
    by: Person,
    number: str = "",
    kind: str = "overhaul",
    opened_at: datetime = NOW - timedelta(days=60),
    finish: str = "through_hardened",
    template: str | None = "Through-hardened steel",
    now: datetime = NOW - timedelta(days=60),
    **more: Any,
) -> Build:
    """An open build with its plan; `template` None leaves the plan out."""
    cylinders = of.engine_type.revisions.order_by("-number")[0].cylinders
    more.setdefault("positions", positions(cylinders, finish))
    return open_build(
        by=by,
        engine=of,
        number=number or f"B-{next(_serials):04d}",
        kind=kind,
        opened_at=opened_at,
        plan_template=ensure_templates()[template] if template else None,
        now=now,
        **more,
    )


def seat(
    of: Engine,
    into: Aircraft,
    *,
    by: Person,
    position: str = "single",
    since: datetime = NOW - timedelta(days=50),
    basis_clock: str = "tach",
    min_oil_qt: float = 4.0,
    first_meter_h: float = FIRST_METER_H,
    **more: Any,
) -> Installation:
    meters = [] if basis_clock == "airborne" else [MeterEntry(basis_clock, first_meter_h)]
    return install(
        by=by,
        engine=of,
        aircraft=into,
        position=position,
        since=since,
        basis_clock=basis_clock,
        min_oil_qt=min_oil_qt,
        meters=meters,
        now=NOW,
        **more,
    )


def cast() -> Cast:
    """Ada with build 1 in QX-901, Ben with build 2 in QX-902, Cora the manager, Tom the technician."""
    return made_again(_cast)


def _cast() -> Cast:
    home = place()
    Shop.objects.get_or_create(defaults={"name": "Test shop", "place": home, "phone": "555-0199"})
    cora, tom = person("Cora", role=Role.MANAGER), person("Tom", role=Role.LINE_TECHNICIAN)
    ada, ben = person("Ada"), person("Ben")
    of_ada, of_ben = customer("Ada's flying", ada), customer("Ben's flying", ben)
    first, second = aircraft("QX-901", of_ada), aircraft("QX-902", of_ben)
    builds = []
    for into in (first, second):
        one = engine()
        builds.append(build(one, by=cora, number=f"B-{into.registration}"))
        seat(one, into, by=tom)
    return Cast(home, ada, ben, cora, tom, of_ada, of_ben, first, second, *builds)


def raw_flight(of: Engine, ended_at: datetime, hours: float = 1.2, **more: Any) -> dict[str, Any]:
    """What a form would send; keys of the engine may be given beside those of the flight."""
    on_flight = {
        "kind",
        "chips",
        "note",
        "ground_before",
        "ground_after",
        "landings",
        "persons_aboard",
        "airborne",
        "client_id",
        "pilot_id",
    }
    mine = {name: value for name, value in more.items() if name in on_flight}
    its = {name: value for name, value in more.items() if name not in on_flight}
    return {
        "client_id": str(uuid.uuid4()),
        "ended_at": ended_at.isoformat(),
        "airborne": round(hours * 60),
        "engines": [{"engine_id": of.pk, **its}],
        **mine,
    }


def flown(
    build: Build,
    hours: float,
    *,
    at: datetime | None = None,
    level_qt: float | None = None,
    added_qt: float | None = None,
    by: Person | None = None,
    zone: str = "UTC",
    **more: Any,
) -> LoggedFlight:
    """One flight of the engine of a build: so many hours airborne and on the basis clock, then the oil.

    `at` is its end; without it, a day after the last one. `level_qt` is read after the flight, `added_qt` added then.
    Further keys are those of `raw_flight`.
    """
    seat = Installation.objects.get(engine=build.engine, until__isnull=True)
    last = build.engine.flights.order_by("-flight__happened_at").first()
    ended = at or ((last.flight.happened_at if last else NOW - timedelta(days=40)) + timedelta(days=1))
    if seat.basis_clock != "airborne" and "meter_end" not in more:
        more["meter_end"] = round((last.meter_end_h if last and last.meter_end_h else FIRST_METER_H) + hours, 2)
    oil: list[dict[str, Any]] = []
    if level_qt is not None:
        reading = {"kind": "reading", "when": "after", "level": level_qt, "minutes_since_shutdown": 20}
        oil.append({**reading, "level_ground": True, "wiped_twice": True, "belly_oil": 0})
    if added_qt:
        oil.append({"kind": "addition", "when": "after", "amount": added_qt, "oil_kind": "mineral"})
    elif added_qt == 0:
        oil.append({"kind": "none_added", "when": "after"})
    more.setdefault("oil", oil)
    now = ended + timedelta(minutes=30)
    entry = parse_flight(raw_flight(build.engine, ended, hours, **more), units="us", zone=zone, now=now)
    return log_flight(by=by or _owner(build), aircraft=seat.aircraft, entry=entry, now=now)


def oil_event(build: Build, kind: str, *, at: datetime, by: Person | None = None, **more: Any) -> LoggedOil:
    """An oil event that stands by itself."""
    raw = {
        "client_id": str(uuid.uuid4()),
        "engine_id": build.engine_id,
        "kind": kind,
        "happened_at": at.isoformat(),
        **more,
    }
    now = at + timedelta(minutes=5)
    entry = parse_oil(raw, units="us", zone="UTC", now=now)
    return add_oil(by=by or _owner(build), engine=build.engine, entry=entry, now=now)


def assessment(of: Build) -> Assessment:
    return Assessment.objects.get(build=of)


def _owner(build: Build) -> Person:
    """Whoever flies the aircraft: the first contact of its holder."""
    seat = Installation.objects.select_related("aircraft").get(engine=build.engine, until__isnull=True)
    holding = seat.aircraft.holdings.get(until__isnull=True)
    return CustomerMember.objects.get(customer=holding.customer, first_contact=True).person


def closed_out(
    build: Build, *, now: datetime, proposer: Person, signer: Person, notes: str = "all met", reservation: str = ""
) -> CloseOutFile:
    """Close a build out as two people do: what lacks is waived by the signer, who looks at the file and seals it."""
    for row in drafted(build, None, now - timedelta(minutes=2)).review.lacking:
        closing.waive(
            by=signer, build=build, criterion=row.key, reason="judged by hand", now=now - timedelta(minutes=2)
        )
    proposal = closing.propose(
        by=proposer, build=build, notes=notes, reservations=[reservation], now=now - timedelta(minutes=1)
    )
    seen = drafted(build, proposal, now).seen
    return closing.sign(by=signer, proposal=proposal, seen=seen, print_out=plain_print, now=now)


def plain_print(document: dict[str, Any], sha256: str) -> bytes:
    """A print that is no more than its document's sum, for tests that aren't about the print."""
    return f"%PDF {document['file']['build']} {document['file']['number']} {sha256}".encode()
