"""The tour before flight one: five short cards with the aircraft's own numbers where they are known.

What the cards say is common practice in the trade, with no published source; each line of the dipstick, each minute and
each temperature is that of the plan or of the engine type.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from breakin.models import Assessment, Phase, StageKind
from engines.models import Aircraft
from reports.oil.advice import OilAdvice, advice
from reports.pilot import words
from reports.pilot.early_heat import EarlyHeat, early_heat
from reports.pilot.log_flight_page import EngineSection, sections_of
from reports.quantities import quantity
from reports.reader import Reader
from shop import access, written
from shop.models import Shop

MOST_AIRCRAFT = 20


@dataclass(frozen=True)
class TourEngine:
    """One engine in break-in.

    usual : hours that engines of its kind usually take, ("8", "12"). first, second : the minute tables of the first two
    hours. climb : to which height the first climb goes, and by which reference.
    """

    side: str
    kind: str
    usual: tuple[str, str] | None
    aboard: str
    climb: tuple[str, str] | None
    first: Sequence[tuple[str, str, str]]
    second: Sequence[tuple[str, str, str]]
    early: EarlyHeat | None
    oil: OilAdvice


@dataclass(frozen=True)
class Tour:
    """The tour of one aircraft, or without numbers where none is held. others : aircraft to look at instead."""

    aircraft: Aircraft | None
    engines: Sequence[TourEngine]
    others: Sequence[Aircraft]
    field: str
    elevation: str
    shop_name: str
    phone: str


def tour(reader: Reader, now: datetime, aircraft: Aircraft | None = None) -> Tour:
    """The tour of this aircraft; without one, of that of the reader's that awaits its first flight, or the first."""
    held = list(access.held_now(reader.user, Aircraft.objects.all()).select_related("home").order_by("registration"))
    chosen = aircraft or _next_to_fly(held[:MOST_AIRCRAFT])
    shop = Shop.objects.first()
    sections = [section for section in sections_of(chosen, now) if section.build] if chosen else []
    return Tour(
        aircraft=chosen,
        engines=[_engine(section, reader.units) for section in sections],
        others=[row for row in held[:MOST_AIRCRAFT] if chosen is None or row.pk != chosen.pk],
        field=chosen.home.name if chosen else "",
        elevation=quantity(chosen.home.elevation_ft, "altitude", reader.units) if chosen else "",
        shop_name=shop.name if shop else "",
        phone=shop.phone if shop else "",
    )


def _next_to_fly(held: Sequence[Aircraft]) -> Aircraft | None:
    rows = Assessment.objects.filter(aircraft__in=held, live=True).order_by("hours", "aircraft")
    waiting = rows.filter(phase=Phase.AWAITING).values_list("aircraft", flat=True).first()
    running = waiting or rows.exclude(phase=Phase.LOG_ONLY).values_list("aircraft", flat=True).first()
    return next((row for row in held if row.pk == running), held[0] if held else None)


def _engine(section: EngineSection, units: str) -> TourEngine:
    build, plan = section.build, section.plan
    assessment = Assessment.objects.filter(build=build).first()
    stages = {stage.kind: stage for stage in plan.stages.all()} if plan else {}
    first, second = stages.get(StageKind.HOUR_1), stages.get(StageKind.HOUR_2)
    credit = plan.credit if plan else {}
    low, high = (assessment.expected_low_h, assessment.expected_high_h) if assessment else (None, None)
    return TourEngine(
        side=section.side,
        kind=build.get_kind_display() if build else "",
        usual=(written.short(low), written.short(high)) if low is not None and high is not None else None,
        aboard=words.kept(first.aboard) if first else "",
        climb=(quantity(first.climb_to_ft, "altitude", units), str(first.get_climb_reference_display()))
        if first and first.climb_to_ft
        else None,
        first=words.minute_rows(first.minutes if first else None, credit),
        second=words.minute_rows(second.minutes if second else None, credit),
        early=early_heat(assessment, section.type_revision, section.installation, units),
        oil=advice(
            None,
            installation=section.installation,
            kind=section.type_revision,
            plan=plan,
            assessment=assessment,
            units=units,
        ),
    )
