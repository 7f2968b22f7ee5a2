"""What a flight meant, right after it was received."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from breakin.models import Assessment, Finding, Flight, FlightEngine, IssuedCard, OilEvent, OilEventKind, Severity
from breakin.services.corrections import may_correct
from engines.models import Build, BuildState
from reports.detail import dig, rows
from reports.oil.advice import OilAdvice, advice
from reports.outbox import clock_words
from reports.pilot.aircraft_page import OPEN, NextFlight, Warned, next_flight, warned
from reports.pilot.words import kept
from reports.quantities import minutes_text
from reports.reader import Reader
from shop import access
from shop.models import Shop
from shop.templatetags.words import say


@dataclass(frozen=True)
class EngineMeaning:
    """What the flight means for one engine."""

    engine: str
    engine_id: int
    side: str
    hours: float
    card: IssuedCard | None
    stops: Sequence[Warned]
    calls: Sequence[Warned]
    others: Sequence[Warned]
    credit: Sequence[str]
    oil: OilAdvice | None
    has_reading: bool
    next: NextFlight | None
    being_judged: bool


@dataclass(frozen=True)
class ReceivedPage:
    """The page after "Send to the shop". Whoever no longer holds the aircraft reads that it was received, no more."""

    engines: Sequence[EngineMeaning]
    phone: str
    shop_name: str
    clock: str
    is_current: bool
    held: bool
    may_fix: bool

    @property
    def stopped(self) -> bool:
        return any(engine.stops for engine in self.engines)

    @property
    def being_judged(self) -> bool:
        return any(engine.being_judged for engine in self.engines)


def received_page(flight: Flight, reader: Reader, now: datetime) -> ReceivedPage:
    shop = Shop.objects.first()
    held = reader.staff or access.holds_now(reader.user, flight.aircraft)
    may = reader.person is not None and access.may_now(reader.user, "correct", flight.aircraft)
    parts = flight.engines.select_related("engine__engine_type", "installation", "as_on_card").order_by("id")
    return ReceivedPage(
        engines=[_meaning(part, flight, reader) for part in parts] if held else [],
        phone=shop.phone if shop else "",
        shop_name=shop.name if shop else _("the shop"),
        clock=clock_words(flight.typed, flight.received_at),
        is_current=not flight.withdrawn and not hasattr(flight, "corrected_by"),
        held=held,
        may_fix=may and reader.person is not None and not may_correct(reader.person, flight, now),
    )


def _meaning(part: FlightEngine, flight: Flight, reader: Reader) -> EngineMeaning:
    build = Build.objects.filter(engine=part.engine, state=BuildState.OPEN).select_related("type_revision").first()
    # Who flew it then and holds it no more reads his flight, not how the engine stands today.
    assessment = access.visible_to(reader.user, Assessment.objects.filter(build=build)).first() if build else None
    plan = build.plans.order_by("-revision").first() if build else None
    kind = build.type_revision if build else part.engine.engine_type.revisions.order_by("-number").first()
    found = list(access.visible_to(reader.user, Finding.objects.filter(build=build, state__in=OPEN))) if build else []
    stops = [row for row in found if row.severity == Severity.STOP]
    new = [row for row in found if _points_to(row, flight)]
    readings = OilEvent.objects.current().filter(engine=part.engine, kind=OilEventKind.READING)
    last = (
        access.visible_to(reader.user, readings)
        .order_by("-happened_at", "-order", "-id")
        .values_list("level_qt", flat=True)
        .first()
    )
    read = (
        OilEvent.objects.current()
        .filter(engine=part.engine, kind=OilEventKind.READING, flight_root=flight.root)
        .exists()
    )
    twin = part.installation.position in ("left", "right")
    return EngineMeaning(
        engine=str(part.engine),
        engine_id=part.engine_id,
        side=part.installation.get_position_display() if twin else "",
        hours=part.hours,
        card=part.as_on_card,
        stops=[warned(row, reader) for row in stops],
        calls=[warned(row, reader) for row in new if row.severity == Severity.CALL],
        others=[warned(row, reader) for row in new if row.severity < Severity.CALL],
        credit=_credit(assessment, flight),
        oil=advice(
            last, installation=part.installation, kind=kind, plan=plan, assessment=assessment, units=reader.units
        )
        if last is not None
        else None,
        has_reading=read,
        next=next_flight(assessment, plan, kind, reader.units),
        being_judged=bool(assessment and assessment.dirty_at),
    )


def _points_to(row: Finding, flight: Flight) -> bool:
    return any(isinstance(each, dict) and str(each.get("root")) == str(flight.root) for each in row.evidence or [])


def _credit(assessment: Assessment | None, flight: Flight) -> list[str]:
    """What the minutes of this flight, and all so far, count for."""
    said = []
    for stage in rows(assessment, "credit", "stages"):
        if stage.get("sentence"):
            said.append(f"{kept(stage.get('label'))}: {say(stage.get('met') or '')}: {_minutes(stage)}")
    light = dig(assessment, "credit", "light_min")
    if isinstance(light, int | float) and light > 0:
        so_far = _("Light running so far: %(minutes)s. It is the one thing fresh rings do not forgive.")
        said.append(so_far % {"minutes": minutes_text(float(light))})
    return said


def _minutes(stage: Mapping[str, Any]) -> str:
    """The minutes of a stage, in a sentence."""
    minutes = stage.get("minutes") or {}
    values = {band: round((minutes.get(band) or {}).get("central") or 0.0) for band in ("75", "65")}
    values |= {"changes": stage.get("changes") or 0, "light": round(stage.get("light_min") or 0.0)}
    too_high = stage.get("too_high_min") or 0.0
    said = _("%(75)d min at 75 %%, %(65)d min at 65 %%, %(changes)d changes, %(light)d min light.")
    if too_high >= 0.5:
        said = _(
            "%(75)d min at 75 %%, %(65)d min at 65 %%, %(changes)d changes, %(light)d min light, "
            "%(high)d min too high for credit."
        )
    return said % (values | {"high": round(too_high)})
