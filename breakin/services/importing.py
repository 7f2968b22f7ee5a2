"""Bring a shop's existing engines into the book from one table: all of it, or nothing.

A preview does exactly what the import does, and then takes it back: what it says is what will happen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import TypeVar
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils.functional import Promise

from breakin.entries.fleet_sheet import LABELS, SheetRow
from breakin.models import PlanTemplate
from breakin.services.aircraft import enter_aircraft
from breakin.services.builds import PositionEntry, open_build
from breakin.services.common import audit
from breakin.services.engines import enter_engine
from breakin.services.installing import MeterEntry, install
from engines.models import Aircraft, BasisClock, Build, BuildKind, EngineType, Finish, Installation, Position
from shop.errors import Problem, Refusal
from shop.models import Customer, MemberRole, Person, Place
from shop.services import add_member, create_customer

T = TypeVar("T")

# Field of a service's problem -> column of the table.
_COLUMN_OF = {
    "name": "customer", "number": "build_number", "kind": "build_kind", "opened_at": "build_opened",
    "total_time_h": "total_time", "time_since_overhaul_h": "since_overhaul", "min_oil_qt": "minimum_oil",
    "basis_clock": "clock", "since": "installed", "meters": "meter", "engine": "serial", "credit": "plan",
}  # fmt: skip
_WHOLE = (BuildKind.NEW, BuildKind.FACTORY_REBUILT, BuildKind.OVERHAUL, BuildKind.TOP_OVERHAUL)


@dataclass(frozen=True)
class RowOutcome:
    """What one line brings: sentences on what is new and what was known, or its problems (field = column label)."""

    number: int
    what: str
    said: tuple[str, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class Imported:
    rows: tuple[RowOutcome, ...]
    kept: bool

    @property
    def faulty(self) -> int:
        return sum(bool(row.problems) for row in self.rows)


class _TakeBack(Exception):
    """Ends the transaction of a preview, or of a table with a faulty line."""


def import_fleet(*, by: Person, rows: Sequence[SheetRow], now: datetime, keep: bool) -> Imported:
    """Enter every line: customer, contact, aircraft, engine, open build with its plan, installation.

    Parameters
    ----------
    keep : False previews. With a faulty line nothing is kept in any case.

    Returns
    -------
    Imported, with `kept` True when everything is in the book now.
    """
    outcomes: list[RowOutcome] = []
    try:
        with transaction.atomic():
            for row in rows:
                outcomes.append(_one(by, row, now))
            if not keep or any(outcome.problems for outcome in outcomes):
                raise _TakeBack
            audit(by=by, act="import_fleet", subject=by, now=now, detail={"lines": len(rows)})
    except _TakeBack:
        return Imported(tuple(outcomes), False)
    return Imported(tuple(outcomes), True)


def _one(by: Person, row: SheetRow, now: datetime) -> RowOutcome:
    what = " ".join(part for part in (row.values.get("registration", ""), row.values.get("serial", "")) if part)
    line = _Line(row)
    try:
        with transaction.atomic():
            said = _enter(by, line, now)
    except Refusal as refusal:
        problems = [
            Problem(LABELS.get(_column(each.field), ""), each.message) for each in (*line.problems, *refusal.problems)
        ]
        return RowOutcome(row.number, what, (), tuple(problems))
    return RowOutcome(row.number, what, tuple(said), ())


def _column(field: str) -> str:
    head = field.split(".")[0]
    return head if head in LABELS else _COLUMN_OF.get(head, "finish" if head == "positions" else "")


class _Line:
    """One line, read column by column; every problem is kept and refused together."""

    def __init__(self, row: SheetRow) -> None:
        self.values = row.values
        self.problems: list[Problem] = []

    def text(self, name: str, *, needed: bool = True) -> str:
        value = self.values.get(name, "").strip()
        if needed and not value:
            self.problems.append(Problem(name, "is empty. It is needed."))
        return value

    def number(self, name: str, *, needed: bool) -> float | None:
        value = self.text(name, needed=needed)
        if not value:
            return None
        try:
            found = float(value.replace(",", "."))
        except ValueError:
            found = float("nan")
        if not 0 <= found < 1e6:
            self.problems.append(Problem(name, f"“{value[:40]}” is not a number. Write it like 1234.5."))
            return None
        return found

    def day(self, name: str) -> date | None:
        value = self.text(name)
        if not value:
            return None
        try:
            return date.fromisoformat(value[:10])
        except ValueError:
            self.problems.append(Problem(name, f"“{value[:40]}” is not a date. Write it like 2026-05-31."))
            return None

    def choice(self, name: str, choices: Sequence[tuple[str, str | Promise]], default: str = "") -> str:
        value = self.text(name, needed=not default) or default
        wanted = value.casefold()
        for key, label in choices:
            if value and wanted in (key.casefold(), str(label).casefold(), key.replace("_", " ").casefold()):
                return key
        if value:
            offered = ", ".join(str(label) for _, label in choices)
            self.problems.append(Problem(name, f"“{value[:40]}” is not one of: {offered}."))
        return ""

    def known(self, name: str, find: Callable[[str], T | None], where: str, *, needed: bool = True) -> T | None:
        value = self.text(name, needed=needed)
        found = find(value) if value else None
        if value and found is None:
            self.problems.append(Problem(name, f"“{value[:60]}” is not among the {where}. Enter it first, or mend it."))
        return found

    def refuse_if_wrong(self) -> None:
        if self.problems:
            problems, self.problems = self.problems, []
            raise Refusal(problems)


def _enter(by: Person, line: _Line, now: datetime) -> list[str]:
    place = line.known("home", lambda name: Place.objects.filter(name__iexact=name).first(), "places")
    kind_of = line.known(
        "engine_type", lambda name: EngineType.objects.filter(designation__iexact=name).first(), "engine types"
    )
    template = line.known(
        "plan", lambda name: PlanTemplate.objects.filter(name__iexact=name).first(), "plan templates", needed=False
    )
    registration, serial, customer = line.text("registration"), line.text("serial"), line.text("customer")
    number, opened, installed = line.text("build_number"), line.day("build_opened"), line.day("installed")
    kind = line.choice("build_kind", [(value.value, str(value.label)) for value in _WHOLE])
    finish = line.choice("finish", Finish.choices)
    position = line.choice("position", Position.choices, default=Position.SINGLE)
    clock = line.choice("clock", BasisClock.choices)
    total, since_overhaul = line.number("total_time", needed=False), line.number("since_overhaul", needed=False)
    meter = line.number("meter", needed=bool(clock) and clock != BasisClock.AIRBORNE)
    minimum = line.number("minimum_oil", needed=True)
    line.refuse_if_wrong()
    if not (place and kind_of and opened and installed and minimum is not None):
        raise AssertionError("what is missing was refused above")
    zone = ZoneInfo(place.zone)
    since = datetime.combine(installed, time(), zone)
    aircraft, said = _aircraft(by, line, registration, place, customer, since, now)
    revision = kind_of.revisions.order_by("-number").first()
    engine = kind_of.engines.filter(serial__iexact=serial).first()
    if engine is None:
        engine = enter_engine(by=by, engine_type=kind_of, serial=serial, now=now)
        said.append(f"new engine {engine}")
    else:
        said.append(f"engine {engine} is known")
    build: Build = open_build(
        by=by,
        engine=engine,
        number=number,
        kind=kind,
        positions=[
            PositionEntry(each, finish=finish) for each in range(1, (revision.cylinders if revision else 0) + 1)
        ],
        opened_at=datetime.combine(opened, time(), zone),
        total_time_h=total,
        time_since_overhaul_h=since_overhaul,
        plan_template=template,
        note="Imported from a table.",
        now=now,
    )
    said.append(f"build {build.number} opened" + (f" with the plan “{template.name}”" if template else ", no plan yet"))
    seat: Installation = install(
        by=by,
        engine=engine,
        aircraft=aircraft,
        position=position,
        since=since,
        basis_clock=clock,
        min_oil_qt=minimum,
        meters=[MeterEntry(clock, meter)] if meter is not None and clock != BasisClock.AIRBORNE else [],
        now=now,
    )
    at = f" at {meter:g} h on the {seat.get_basis_clock_display()}" if meter is not None else ""
    said.append(f"installed on {installed.isoformat()}{at}")
    return said


def _aircraft(
    by: Person, line: _Line, registration: str, place: Place, name: str, since: datetime, now: datetime
) -> tuple[Aircraft, list[str]]:
    """The aircraft with its holder. One that is known must be held by this very customer."""
    said: list[str] = []
    customer = Customer.objects.filter(name__iexact=name).first()
    if customer is None:
        customer = create_customer(by=by, name=name, phone=line.text("customer_phone", needed=False), now=now)
        said.append(f"new customer {customer.name}")
    _contact(by, line, customer, now, said)
    aircraft = Aircraft.objects.filter(registration__iexact=registration).first()
    if aircraft is None:
        aircraft = enter_aircraft(by=by, registration=registration, home=place, customer=customer, since=since, now=now)
        said.append(f"new aircraft {aircraft.registration}, held since {since.date().isoformat()}")
        return aircraft, said
    held = aircraft.holdings.filter(until__isnull=True).select_related("customer").first()
    if held is None or held.customer_id != customer.pk:
        holder = held.customer.name if held else "nobody"
        raise Refusal.of(
            "customer", f"{aircraft.registration} is held by {holder} in the book, not by {customer.name}."
        )
    said.append(f"aircraft {aircraft.registration} is known")
    return aircraft, said


def _contact(by: Person, line: _Line, customer: Customer, now: datetime, said: list[str]) -> None:
    name, email = line.text("contact", needed=False), line.text("contact_email", needed=False)
    if not name:
        if email:
            raise Refusal.of("contact", "There is an e-mail address and no name. Type who that is.")
        return
    if email:
        try:
            validate_email(email)
        except ValidationError as error:
            raise Refusal.of("contact_email", f"“{email[:80]}” is not an e-mail address. Check it.") from error
    if customer.members.filter(until__isnull=True, person__name__iexact=name).exists():
        return
    known = Person.objects.filter(email__iexact=email).first() if email else None
    person = known or Person.objects.create(
        name=name, email=email, phone=line.text("contact_phone", needed=False), zone=by.zone
    )
    first = not customer.members.filter(until__isnull=True, first_contact=True).exists()
    add_member(by=by, customer=customer, person=person, role=MemberRole.OWNER, first_contact=first, now=now)
    said.append(f"contact {person.name}" + ("" if known else ", new") + ("; use the phone" if not email else ""))
