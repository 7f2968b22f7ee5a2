"""The rows of a bench fleet, collected and written in bulk."""

import random
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import models, transaction
from fleet import FINISHES, SINGLES, TWINS
from flying import DRAIN_AT_H, HABITS, Facts, Seat, common, fill, fly, moments

from breakin.calc.power import Chart
from breakin.models import Assessment, PlanStage, PlanTemplate, RunInPlan
from breakin.plan_templates import ensure_templates, template_name_for
from breakin.services.builds import PositionEntry, open_build
from breakin.services.plans import issue_plan
from engines.models import (
    Aircraft,
    Build,
    BuildEvent,
    CylinderPosition,
    Engine,
    EngineTypeRevision,
    Holding,
    Inspection,
    Installation,
    Meter,
)
from reports.demo.types import load_types
from shop.models import Customer, CustomerMember, Person, Place, Role, Shop, ShopRole, User

PLACES = (("Bench North", 620.0), ("Bench Lake", 1450.0), ("Bench Shore", 90.0))
WRITE_AT_ONCE = 2000


@dataclass(frozen=True)
class Pattern:
    """What the services make of a type with one finish: copied to every build of the kind."""

    template: PlanTemplate
    plan: dict[str, Any]
    stages: list[dict[str, Any]]
    positions: list[dict[str, Any]]


def _values(row: models.Model, *apart: str) -> dict[str, Any]:
    names = (field.attname for field in row._meta.concrete_fields if field.attname not in {"id", *apart})
    return {name: getattr(row, name) for name in names}


class Fleet:
    """Collects aircraft by aircraft; `write` empties into the database."""

    def __init__(self, rng: random.Random, now: datetime, customers: int) -> None:
        self.rng, self.now = rng, now
        self.types = load_types(now)
        self.charts = {
            row.pk: Chart.from_dict(row.chart, rated_hp=row.rated_hp) for row in self.types.values() if row.chart
        }
        self._people(customers)
        self.patterns = {
            (name, finish): self._pattern(self.types[name], finish)
            for name in {*SINGLES, *TWINS}
            for finish in FINISHES
        }
        self._empty()

    def _empty(self) -> None:
        self.rows: dict[type[models.Model], list[Any]] = {}
        self.facts = Facts()

    def _people(self, customers: int) -> None:
        long_ago = self.now - timedelta(days=400)
        self.places = [Place.objects.create(name=name, elevation_ft=ft, zone="UTC") for name, ft in PLACES]
        Shop.objects.create(name="Bench Engine Works", place=self.places[0], phone="555 0100")
        manager = User.objects.create_user("manager@bench.example")
        self.manager = Person.objects.create(user=manager, name="Bench manager", email=manager.email)
        self.technician = Person.objects.create(name="Bench technician", email="technician@bench.example")
        for person, role in ((self.manager, Role.MANAGER), (self.technician, Role.BUILD_TECHNICIAN)):
            ShopRole.objects.create(person=person, role=role, since=long_ago)
        numbers = range(1, customers + 1)
        self.customers = Customer.objects.bulk_create(
            [Customer(name=f"Customer {n:05d}", phone=f"555 {n:05d}") for n in numbers], WRITE_AT_ONCE
        )
        self.pilots = Person.objects.bulk_create(
            [Person(name=f"Pilot {n:05d}", email=f"pilot{n}@bench.example") for n in numbers], WRITE_AT_ONCE
        )
        CustomerMember.objects.bulk_create(
            [
                CustomerMember(customer=customer, person=pilot, role="owner", first_contact=True, since=long_ago)
                for customer, pilot in zip(self.customers, self.pilots, strict=True)
            ],
            WRITE_AT_ONCE,
        )

    def _pattern(self, revision: EngineTypeRevision, finish: str) -> Pattern:
        """Open one build of the kind through the services, note what they made, and undo it."""
        templates = ensure_templates()
        with transaction.atomic():
            engine = Engine.objects.create(engine_type=revision.engine_type, serial="pattern")
            positions = [PositionEntry(number=n, finish=finish) for n in range(1, revision.cylinders + 1)]
            build = open_build(
                by=self.technician,
                engine=engine,
                number="pattern",
                kind="overhaul",
                positions=positions,
                opened_at=self.now,
                now=self.now,
            )
            template = templates[template_name_for(build)]
            plan = issue_plan(by=self.technician, build=build, template=template, now=self.now)
            found = Pattern(
                template,
                _values(plan, "build_id", "issued_at"),
                [_values(stage, "plan_id") for stage in plan.stages.all()],
                [_values(position, "build_id") for position in build.positions.all()],
            )
            transaction.set_rollback(True)
        return found

    def _keep(self, *rows: models.Model) -> None:
        for row in rows:
            self.rows.setdefault(type(row), []).append(row)

    def add(self, number: int, engines: int) -> int:
        """One aircraft with its engines, their builds and all they flew; how many builds."""
        rng = self.rng
        customer = rng.randrange(len(self.customers))
        pilot = self.pilots[customer]
        ends = moments(rng, self.now)
        fitted = ends[0] - timedelta(days=2)
        aircraft = Aircraft(registration=f"QX-{number:05d}", home=rng.choice(self.places))
        held = Holding(aircraft=aircraft, customer=self.customers[customer], since=fitted - timedelta(days=30))
        self._keep(aircraft, held)
        name = rng.choice(TWINS if engines == 2 else SINGLES)
        finish = rng.choices(list(FINISHES), list(FINISHES.values()))[0]
        sides = ("left", "right") if engines == 2 else ("single",)
        seats = [self._seat(aircraft, f"{number:05d}{side[0].upper()}", side, name, finish, fitted) for side in sides]
        for at in ends:
            fly(self.facts, rng, aircraft, seats, at, pilot)
            for seat in seats:
                self._look(seat, at + timedelta(hours=2))
        return engines

    def _seat(self, aircraft: Aircraft, serial: str, side: str, name: str, finish: str, fitted: datetime) -> Seat:
        rng, revision, pattern = self.rng, self.types[name], self.patterns[name, finish]
        opened = fitted - timedelta(days=6)
        engine = Engine(engine_type=revision.engine_type, serial=f"B-{serial}")
        installation = Installation(
            engine=engine,
            aircraft=aircraft,
            position=side,
            since=fitted,
            min_oil_qt=revision.sump_full_qt / 2,
            prop_control=revision.prop_control,
            has_map=revision.prop_control != "fixed",
        )
        meter = round(rng.uniform(200, 4000), 1)
        build = Build(
            engine=engine, number=f"R-{serial}", kind="overhaul", type_revision=revision, opened_at=opened,
            total_time_h=meter, builder=self.technician, owner=self.technician,
        )  # fmt: skip
        plan = RunInPlan(build=build, issued_at=opened, **pattern.plan)
        self._keep(
            engine,
            installation,
            Meter(aircraft=aircraft, position=side, kind="tach", since=fitted, reading_at_start_h=meter),
            build,
            *(CylinderPosition(build=build, **values) for values in pattern.positions),
            BuildEvent(build=build, kind="opened", at=opened, by=self.technician, recorded_at=opened),
            plan,
            *(PlanStage(plan=plan, **values) for values in pattern.stages),
            Assessment(build=build, engine=engine, dirty_at=self.now),
        )
        habit = rng.choices(list(HABITS), list(HABITS.values()))[0]
        plateau = pattern.plan["accept_qt_h"] * rng.uniform(0.3, 0.9)
        if habit == "thirsty":
            plateau = pattern.plan["alarm_qt_h"] * rng.uniform(0.7, 1.3)
        seat = Seat(
            engine=engine, installation=installation, revision=revision, chart=self.charts[revision.pk], habit=habit,
            meter=meter, level=0.0, plateau=plateau, above=rng.uniform(0.2, 0.6), tau=rng.uniform(2, 6),
        )  # fmt: skip
        fill(self.facts, rng, seat, fitted + timedelta(hours=3), self.technician, revision.sump_full_qt - 1)
        return seat

    def _look(self, seat: Seat, at: datetime) -> None:
        """Leaks after the first flight; oil and filter after some ten hours, with which one engine in five is late."""
        if seat.flown == 1:
            self._inspect(seat, "leak", at)
        elif not seat.drained and seat.hours >= DRAIN_AT_H and self.rng.random() < 0.8:
            seat.drained = True
            fill(self.facts, self.rng, seat, at, self.technician, seat.revision.sump_full_qt - 1)
            self._inspect(seat, "oil_filter", at)

    def _inspect(self, seat: Seat, kind: str, at: datetime) -> None:
        fact = common(self.rng, at, self.technician)
        hours = round(seat.hours, 1)
        self._keep(
            Inspection(
                **fact, engine=seat.engine, kind=kind, hours=hours, performed_by=self.technician, result="normal"
            )
        )

    def write(self) -> None:
        """Parents before children: that is the order in which they were collected."""
        facts = self.facts
        for rows in (*self.rows.values(), facts.flights, facts.runs, facts.blocks, facts.oil):
            if rows:
                type(rows[0])._default_manager.bulk_create(rows, batch_size=WRITE_AT_ONCE)
        self._empty()
