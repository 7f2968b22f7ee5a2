"""Load the demo: every row goes through the services, at the moment it happened, as its person would have sent it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from breakin import assess
from breakin.closeout.document import drafted
from breakin.entries import parse_flight, parse_inspection, parse_oil
from breakin.models import Finding, FindingState, PlanTemplate, Severity
from breakin.plan_templates import ensure_templates
from breakin.services import builds, cards, closing, findings, flights, holding, inspections, installing, oil
from breakin.services.shop_notes import write_to_holder
from engines.models import (
    Aircraft,
    Build,
    Engine,
    EngineTypeRevision,
    Holding,
    Installation,
    PilotAssignment,
    PropControl,
)
from reports.closeout.printing import print_out
from reports.demo import story
from reports.demo.accessories import carry
from reports.demo.blocks import block_as_typed
from reports.demo.delivering import plan_delivery
from reports.demo.handing_in import hand_in, send
from reports.demo.people import CUSTOMERS, SHOP_ZONE, Login, load_people, load_shop
from reports.demo.stories import AIRCRAFT, UNINSTALLED
from reports.demo.types import load_types
from shop.models import Customer, Person, Place

NAMESPACE = uuid.UUID("6a0d3f0e-52a1-4c44-9a0b-1f5d6f0c7b11")  # makes the demo's client ids; any fixed value will do
SIDES = {"": "single", "left": "left", "right": "right", "single": "single"}


def key(*parts: object) -> uuid.UUID:
    return uuid.uuid5(NAMESPACE, "/".join(str(part) for part in parts))


@dataclass
class Loader:
    """One loading of the demo. `now` is today; every row is written at its own moment."""

    now: datetime
    people: dict[str, Person]
    types: dict[str, EngineTypeRevision]

    def at(self, day: int, clock: str, zone: str = SHOP_ZONE) -> datetime:
        local = self.now.astimezone(ZoneInfo(zone)).date() - timedelta(days=day)
        return datetime.combine(local, time.fromisoformat(clock), ZoneInfo(zone))

    def uninstalled(self, row: story.Uninstalled) -> Build:
        if (found := Build.objects.filter(number=row.build).first()) is not None:
            return found
        opened = self.at(row.opened_day, "08:00")
        build = self._build(
            row.type_name, row.serial, row.build, row.kind, row.finish, row.template, opened, row.ring_lot
        )
        today = self.now.astimezone(ZoneInfo(SHOP_ZONE)).date()
        if row.cell:
            day, minutes, used = row.cell
            builds.record_cell_run(
                by=self.people["Bram"], build=build, run_on=today - timedelta(days=day), minutes=minutes,
                oil_used_qt=used, oil_kind="mineral", now=self.at(day, "16:00"),
            )  # fmt: skip
        if row.preserved:
            day, expires_in = row.preserved
            builds.preserve(
                by=self.people["Oda"], build=build, preserved_on=today - timedelta(days=day),
                expires_on=today + timedelta(days=expires_in), preservative="preservative oil, plugs and desiccant",
                now=self.at(day, "16:00"),
            )  # fmt: skip
        assess.assess_build(build.pk, self.now)
        return build

    @transaction.atomic
    def aircraft(self, row: story.Aircraft) -> None:
        """Load one aircraft, whole or not at all."""
        if Aircraft.objects.filter(registration=row.registration).exists():
            return
        fitted_at = self.at(row.fitted_day, "08:00")
        aircraft = Aircraft.objects.create(registration=row.registration, home=Place.objects.get(name=row.home))
        Holding.objects.create(
            aircraft=aircraft,
            customer=Customer.objects.get(name=CUSTOMERS[row.customer]),
            since=fitted_at - timedelta(days=200),
        )
        for name in row.assigned:
            PilotAssignment.objects.create(aircraft=aircraft, person=self.people[name], since=fitted_at)
        for fitted in row.engines:
            self._fit(aircraft, fitted, fitted_at)
        for number, event in enumerate(row.rows):
            self._act(aircraft, number, event)

    def _build(
        self, type_name: str, serial: str, number: str, kind: str, finish: str, template: str, opened: datetime,
        ring_lot: str = "", new_cylinder: int | None = None, **clocks: float | None,
    ) -> Build:  # fmt: skip
        revision = self.types[type_name]
        engine, _ = Engine.objects.get_or_create(serial=serial, engine_type=revision.engine_type)
        positions = [
            builds.PositionEntry(number=n, finish=finish, ring_lot=ring_lot)
            if new_cylinder in (None, n)
            else builds.PositionEntry(number=n, disturbed=False)
            for n in range(1, revision.cylinders + 1)
        ]
        return builds.open_build(
            by=self.people["Bram"], engine=engine, number=number, kind=kind, positions=positions, opened_at=opened,
            total_time_h=clocks.get("total"), time_since_overhaul_h=clocks.get("overhaul"), builder=self.people["Bram"],
            owner=self.people["Pell"], plan_template=_template(template), now=opened,
        )  # fmt: skip

    def _open(self, row: story.Fitted, at: datetime) -> None:
        self._build(row.type_name, row.serial, row.build, row.kind, row.finish, row.template, at, row.ring_lot,
                    row.new_cylinder, total=row.total_time, overhaul=row.since_overhaul)  # fmt: skip

    def _fit(self, aircraft: Aircraft, row: story.Fitted, at: datetime) -> None:
        revision = self.types[row.type_name]
        if row.build:
            self._open(row, at - timedelta(days=10))
        engine, _ = Engine.objects.get_or_create(serial=row.serial, engine_type=revision.engine_type)
        meters = [installing.MeterEntry(kind="tach", reading_h=row.meter)]
        if row.hobbs is not None:
            meters.append(installing.MeterEntry(kind="hobbs", reading_h=row.hobbs))
        installing.install(
            by=self.people["Juno"], engine=engine, aircraft=aircraft, position=row.side, since=at, basis_clock="tach",
            min_oil_qt=row.min_oil, meters=meters,
            prop_control=PropControl(revision.prop_control), now=at,
        )  # fmt: skip
        if row.fill is not None:
            self._first_fill(engine, aircraft, row.fill, row.oil_kind, at + timedelta(hours=2))

    def _first_fill(self, engine: Engine, aircraft: Aircraft, filled: float, kind: str, at: datetime) -> None:
        raw = {
            "client_id": str(key(aircraft.registration, engine.serial, "fill")), "kind": "drain_fill",
            "engine_id": engine.pk, "happened_at": at.isoformat(), "drained": {"absent": "not_applicable"},
            "filled": {"value": filled, "unit": "qt"}, "oil_kind": kind,
        }  # fmt: skip
        entry = parse_oil(raw, units="us", zone=aircraft.home.zone, now=at)
        oil.add_oil(by=self.people["Juno"], engine=engine, entry=entry, now=at, source="shop")

    def _act(self, aircraft: Aircraft, number: int, event: story.Row) -> None:
        acts: dict[type, Callable[[Aircraft, int, Any, datetime], None]] = {
            story.Delivery: self._delivery,
            story.Flown: self._flown,
            story.Sent: self._sent,
            story.Check: self._check,
            story.Swap: self._swap,
            story.NewMeter: self._new_meter,
            story.Opened: self._opened,
            story.Acknowledge: self._acknowledge,
            story.CloseOut: self._close_out,
            story.Reopen: self._reopen,
            story.Sale: self._sold,
            story.Note: self._note,
        }
        clock = event.end if isinstance(event, story.Flown) else event.at
        at = self.at(event.day, clock, aircraft.home.zone)
        acts[type(event)](aircraft, number, event, at)
        if isinstance(event, story.Flown) and event.written:
            at = self.at(*event.written, aircraft.home.zone)
        mine = Build.objects.filter(engine__installations__aircraft=aircraft).distinct()
        assess.assess_many(mine.values_list("pk", flat=True), at + timedelta(minutes=30))

    def _delivery(self, aircraft: Aircraft, number: int, row: story.Delivery, at: datetime) -> None:
        plan_delivery(self.people, aircraft, row, at)

    def _flown(self, aircraft: Aircraft, number: int, row: story.Flown, at: datetime) -> None:
        by = self.people[row.by]
        place = Place.objects.get(name=row.place) if row.place else aircraft.home
        received = self.at(*row.written, aircraft.home.zone) if row.written else at + timedelta(minutes=20)
        raw: dict[str, Any] = {
            "client_id": str(key(aircraft.registration, number)),
            "ended_at": at.isoformat(),
            "written_at": received.isoformat(),
            "kind": row.flight,
            "pilot_id": by.pk,
            "place_id": place.pk,
            "field_elevation": {"value": place.elevation_ft, "unit": "ft"},
            "altimeter": {"value": row.qnh, "unit": "inHg"},
            "airborne": row.airborne,
            "ground_before": row.ground[0],
            "ground_after": row.ground[1],
            "persons_aboard": row.aboard,
            "landings": row.landings,
            "chips": list(row.chips),
            "note": row.note,
            "engines": [self._engine(aircraft, SIDES[side], engine, by, at) for side, engine in row.engines.items()],
        }
        if row.oat is not None:
            raw["oat_ground"] = {"value": row.oat, "unit": "degF"}
        entry = parse_flight(raw, units=by.units, zone=aircraft.home.zone, now=received)
        logged = flights.log_flight(by=by, aircraft=aircraft, entry=entry, now=received, source="portal")
        if row.tape is not None:
            hand_in(self.people, aircraft, logged.flight, row.tape, by=by, name=f"flight-{number + 1:02d}.csv")

    def _engine(self, aircraft: Aircraft, side: str, row: story.Eng, by: Person, at: datetime) -> dict[str, Any]:
        engine = _installed(aircraft, side, at).engine
        raw: dict[str, Any] = {
            "engine_id": engine.pk,
            "meter_kind": "tach",
            "meter_end": row.meter,
            "cht_over_watch": row.over,
            "cht_falling": row.falling,
            "oil": [],
        } | {k: v for k, v in row.more.items()}
        if row.ff is not None:
            raw["takeoff_ff"] = {"value": row.ff, "unit": "gal/h"}
        if row.cht is not None:
            raw["cht_max"] = {"value": row.cht, "unit": "degF"}
        if row.blocks is None:
            build = Build.objects.filter(engine=engine, state="open").get()
            card = cards.current_card(by=by, build=build, now=at - timedelta(hours=3))
            raw |= {"as_on_card": True, "card_id": card.pk}
        else:
            raw["blocks"] = [block_as_typed(block) for block in row.blocks]
        if row.added and row.oil_unit != "qt":
            amount = {"value": row.added, "unit": row.oil_unit}
            raw["oil"].append({"kind": "addition", "when": "before", "amount": amount, "oil_kind": row.kind})
        elif row.added:
            raw["oil"].append({"kind": "addition", "when": "before", "count": row.added, "container": row.container,
                               "oil_kind": row.kind})  # fmt: skip
        else:
            raw["oil"].append({"kind": "none_added", "when": "before"})
        if row.level is not None:
            raw["oil"].append({
                "kind": "reading", "when": "after", "level": {"value": row.level, "unit": row.oil_unit},
                "minutes_since_shutdown": row.since, "level_ground": True, "wiped_twice": True, "belly_oil": row.belly,
            })  # fmt: skip
        return raw

    def _sent(self, aircraft: Aircraft, number: int, row: story.Sent, at: datetime) -> None:
        ended = self.at(*row.of, aircraft.home.zone)
        send(aircraft, row.tape, ended, by=self.people[row.by], name=row.name, now=at)

    def _check(self, aircraft: Aircraft, number: int, row: story.Check, at: datetime) -> None:
        self._inspect(aircraft, SIDES[row.side], row.kind, at, row.by, row.values, key(aircraft.registration, number))

    def _inspect(
        self,
        aircraft: Aircraft,
        side: str,
        kind: str,
        at: datetime,
        by: str,
        values: dict[str, Any],
        client_id: uuid.UUID,
    ) -> None:
        engine = _installed(aircraft, side, at).engine
        received = at + timedelta(minutes=10)
        raw = {"client_id": str(client_id), "kind": kind, "happened_at": at.isoformat(),
               "written_at": received.isoformat(), "result": "normal", **values}  # fmt: skip
        entry = parse_inspection(raw, units="us", zone=aircraft.home.zone, now=received)
        inspections.complete_check(by=self.people[by], engine=engine, entry=entry, now=received)

    def _swap(self, aircraft: Aircraft, number: int, row: story.Swap, at: datetime) -> None:
        installing.swap(by=self.people[row.by], aircraft=aircraft, at=at, reason=row.reason, now=at)

    def _new_meter(self, aircraft: Aircraft, number: int, row: story.NewMeter, at: datetime) -> None:
        installing.change_meter(
            by=self.people["Juno"], aircraft=aircraft, position=SIDES[row.side], kind="tach", at=at,
            old_reading_h=row.old, new_reading_h=row.new, now=at,
        )  # fmt: skip

    def _opened(self, aircraft: Aircraft, number: int, row: story.Opened, at: datetime) -> None:
        self._open(row.engine, at)

    def _acknowledge(self, aircraft: Aircraft, number: int, row: story.Acknowledge, at: datetime) -> None:
        open_calls = Finding.objects.filter(
            build__engine__installations__aircraft=aircraft, state=FindingState.OPEN, severity=Severity.CALL
        ).distinct()
        for finding in open_calls:
            findings.acknowledge(by=self.people[row.by], finding=finding, now=at)

    def _close_out(self, aircraft: Aircraft, number: int, row: story.CloseOut, at: datetime) -> None:
        build = Build.objects.get(engine=_installed(aircraft, SIDES[row.side], at).engine, state="open")
        asked = at - timedelta(hours=2)
        for lacking in drafted(build, None, asked).review.lacking if row.waiver else ():
            closing.waive(by=self.people[row.by], build=build, criterion=lacking.key, reason=row.waiver, now=asked)
        proposal = closing.propose(by=self.people[row.proposed_by], build=build, notes=row.reason, now=asked)
        seen = drafted(build, proposal, at).seen
        closing.sign(by=self.people[row.by], proposal=proposal, seen=seen, print_out=print_out, now=at)

    def _sold(self, aircraft: Aircraft, number: int, row: story.Sale, at: datetime) -> None:
        customer = Customer.objects.get(name=CUSTOMERS[row.to])
        holding.transfer(by=self.people[row.by], aircraft=aircraft, customer=customer, at=at, reason=row.reason, now=at)

    def _note(self, aircraft: Aircraft, number: int, row: story.Note, at: datetime) -> None:
        write_to_holder(by=self.people[row.by], aircraft=aircraft, text=row.text, now=at)

    def _reopen(self, aircraft: Aircraft, number: int, row: story.Reopen, at: datetime) -> None:
        build = Build.objects.get(engine=_installed(aircraft, SIDES[row.side], at).engine)
        closing.reopen(by=self.people[row.by], build=build, reason=row.reason, now=at)


def load(now: datetime, only: Collection[str] = ()) -> list[Login]:
    """Load the demo fleet as of `now`, or only the aircraft of these registrations. What is there already stays as it
    is. Returns the logins that were made.
    """
    load_shop()
    ensure_templates()
    people, logins = load_people(now)
    loader = Loader(now, people, load_types(now))
    for aircraft in AIRCRAFT:
        if not only or aircraft.registration in only:
            loader.aircraft(aircraft)
    for row in () if only else UNINSTALLED:
        loader.uninstalled(row)
    carry(people)
    assess.assess_many(list(Build.objects.values_list("pk", flat=True)), now)
    return logins


def _installed(aircraft: Aircraft, side: str, at: datetime) -> Installation:
    rows = aircraft.installations.filter(position=side, since__lte=at).exclude(until__lte=at)
    return rows.select_related("engine").get()


def _template(short: str) -> PlanTemplate | None:
    if not short:
        return None
    names = {
        "through_hardened": "Through-hardened steel",
        "nitrided": "Nitrided steel",
        "turbo": "Turbocharged",
        "fixed": "Fixed pitch",
        "chrome": "Channel chrome",
        "partial": "Partial: cylinder replaced",
    }
    return PlanTemplate.objects.get(name=names[short])
