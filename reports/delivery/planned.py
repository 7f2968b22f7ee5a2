"""A delivery plan and the engines it is for, as the calculation takes them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from breakin.calc.chart import Chart
from breakin.calc.credit import CAP_HOUR_1_H, CAP_HOUR_2_H
from breakin.calc.delivery import Delivery, deliver
from breakin.calc.delivery_flown import (
    HOUR_1_MINUTES,
    HOUR_2_MINUTES,
    Minutes,
    PlannedEngine,
    PlannedFerry,
    PlannedHour,
)
from breakin.calc.errors import CalcError
from breakin.calc.plan import Bands
from breakin.entries.delivery import DeliveryEntry, FerryEntry, HourEntry
from breakin.models import Assessment, DeliveryPlan, Phase, RunInPlan
from engines.models import Aircraft, Build, BuildState, Installation, Position
from reports.pilot.card_engine import planned
from shop import access
from shop.models import Shop, User


@dataclass(frozen=True)
class Seat:
    """One engine of the aircraft: side is "LEFT", "RIGHT" or ""; build is None where it is in no break-in."""

    installation: Installation
    side: str
    build: Build | None

    @property
    def name(self) -> str:
        return {"LEFT": _("LEFT engine"), "RIGHT": _("RIGHT engine")}.get(self.side, _("The engine"))


@dataclass(frozen=True)
class Answered:
    """What the calculation says of one engine; why it says nothing where `found` is None."""

    seat: Seat
    engine: PlannedEngine | None
    found: Delivery | None
    why: str = ""


def seats_of(aircraft: Aircraft) -> list[Seat]:
    """The engines that sit in the aircraft now, each with its open build."""
    rows = list(
        Installation.objects.filter(aircraft=aircraft, until__isnull=True)
        .select_related("engine__engine_type")
        .order_by("position")
    )
    builds = {
        build.engine_id: build
        for build in Build.objects.filter(
            engine__in=[row.engine_id for row in rows], state=BuildState.OPEN
        ).select_related("type_revision", "engine__engine_type")
    }
    sides = {Position.LEFT: "LEFT", Position.RIGHT: "RIGHT"}
    return [Seat(row, sides.get(Position(row.position), ""), builds.get(row.engine_id)) for row in rows]


def newest_plan(user: User, aircraft: Aircraft, seats: list[Seat]) -> DeliveryPlan | None:
    """The delivery plan that holds, if this user may see it: the newest one made for a build that is open now."""
    opened = [seat.build.opened_at for seat in seats if seat.build]
    if not opened:
        return None
    made = DeliveryPlan.objects.filter(aircraft=aircraft, made_at__gte=min(opened))
    rows = access.visible_to(user, made)
    return rows.select_related("made_by", "ferry_pilot").prefetch_related("hours__pilot").order_by("-revision").first()


def unplanned(rows: QuerySet[Assessment]) -> QuerySet[Assessment]:
    """Of these, the engines in an aircraft that await their first flight and have no delivery plan."""
    waiting = rows.filter(phase=Phase.AWAITING, aircraft__isnull=False)
    return waiting.filter(~Exists(_made()))


def with_planned(rows: QuerySet[Assessment]) -> QuerySet[Assessment]:
    """The same rows with `delivery_planned`: is there a delivery plan that was made for the build?"""
    return rows.annotate(delivery_planned=Exists(_made()))


def _made() -> QuerySet[DeliveryPlan]:
    return DeliveryPlan.objects.filter(aircraft=OuterRef("aircraft"), made_at__gte=OuterRef("build__opened_at"))


def entry_of(plan: DeliveryPlan) -> DeliveryEntry:
    """A plan that was kept, as an entry."""
    first, second = (
        HourEntry(hour.field, hour.elevation_ft, hour.altitude_ft, hour.oat_degf)
        for hour in sorted(plan.hours.all(), key=lambda hour: hour.number)
    )
    ferry = None
    if plan.ferry_min is not None and plan.ferry_altitude_ft is not None and plan.ferry_after_h is not None:
        ferry = FerryEntry(plan.ferry_min, plan.ferry_altitude_ft, plan.ferry_after_h, plan.ferry_nm, plan.ferry_kt)
    return DeliveryEntry(plan.home, (first, second), ferry, plan.note, plan.typed)


def answers(seats: list[Seat], entry: DeliveryEntry, shop: Shop | None) -> list[Answered]:
    """What the calculation says of each engine that is in break-in."""
    shop_ft = shop.place.elevation_ft if shop else entry.hours[0].elevation_ft
    hours = [
        PlannedHour(number, hour.elevation_ft, hour.altitude_ft, hour.oat_degf)
        for number, hour in enumerate(entry.hours, 1)
    ]
    ferry = PlannedFerry(entry.ferry.minutes, entry.ferry.altitude_ft, entry.ferry.after_h) if entry.ferry else None
    found = []
    for seat in seats:
        if seat.build is None:
            continue
        try:
            engine = _engine(seat.build)
            if isinstance(engine, str):
                found.append(Answered(seat, None, None, engine))
            else:
                found.append(Answered(seat, engine, deliver(engine, hours, ferry, shop_field_ft=shop_ft)))
        except CalcError as refused:
            found.append(Answered(seat, None, None, _("It can't be worked out: %(why)s") % {"why": refused}))
    return found


def _engine(build: Build) -> PlannedEngine | str:
    """What the chart, the plan and the type say; in words, why they say nothing."""
    revision = build.type_revision
    if revision.log_only:
        return _("Log only: this type has no built-in judgement. The maker's plan says how the first hours are flown.")
    if not revision.chart:
        return _("No power chart of this type is on file: take the settings and the highest altitude from the POH/AFM.")
    plan = build.plans.prefetch_related("stages").order_by("-revision").first()
    rpm, cap = planned(plan, revision)
    hour_1, hour_2 = _stage(plan, "hour_1"), _stage(plan, "hour_2")
    return PlannedEngine(
        Chart.from_dict(revision.chart, rated_hp=revision.rated_hp),
        rpm,
        Bands.from_plan({"credit": plan.credit, "low": plan.low}) if plan else Bands(),
        cap,
        (hour_1[0] or CAP_HOUR_1_H),
        (hour_2[0] or CAP_HOUR_2_H),
        hour_1[1] or HOUR_1_MINUTES,
        hour_2[1] or HOUR_2_MINUTES,
    )


def _stage(plan: RunInPlan | None, kind: str) -> tuple[float | None, Minutes]:
    """Cap [h] and minute table of a stage of the plan."""
    stage = next((each for each in plan.stages.all() if each.kind == kind), None) if plan else None
    if stage is None:
        return None, ()
    return stage.cap_h, tuple((float(minutes), str(band)) for minutes, band in stage.minutes)
