"""The pilot's page of one aircraft: what holds today, what to do next, what was logged last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from breakin.models import (
    Assessment,
    CloseOutFile,
    Finding,
    FindingState,
    Flight,
    IssuedCard,
    Phase,
    PlanStage,
    RunInPlan,
    Severity,
)
from breakin.saying import text_for, title_for
from breakin.services.corrections import may_correct
from engines.models import Aircraft, Build, BuildState, EngineTypeRevision, Installation
from reports.closeout.files import files_of
from reports.detail import dig, number, rows
from reports.oil.advice import OilAdvice, advice
from reports.oil.marks import readings_in
from reports.oil.still_page import still_address
from reports.pilot import to_do, words
from reports.pilot.card_issue import hand_out
from reports.pilot.early_heat import EarlyHeat, early_heat
from reports.pilot.from_the_shop import Told, from_the_shop, news_of
from reports.pilot.log_flight_page import EngineSection, sections_of
from reports.quantities import minutes_text, quantity
from reports.reader import Reader
from reports.recordings.links import recorded_at
from shop import access
from shop.access import words_are_for
from shop.models import Shop

FLIGHTS_SHOWN = 5
OPEN = (FindingState.OPEN, FindingState.ACKNOWLEDGED)


@dataclass(frozen=True)
class Warned:
    """A finding as the pilot reads it."""

    title: str
    text: str
    when: datetime
    severity: str


@dataclass(frozen=True)
class NextFlight:
    """What to fly next: the stage, its minutes, its targets and its cautions, each as text."""

    label: str
    sentence: str
    minutes: Sequence[tuple[str, str, str]]
    targets: Sequence[tuple[str, str, str]]
    aboard: str
    advice: str
    owed: str
    card: str = ""


@dataclass(frozen=True)
class EnginePanel:
    """One engine of the aircraft."""

    installation: Installation
    side: str
    build: Build | None
    assessment: Assessment | None
    state: str | Promise
    sentence: str
    how_long: str
    stops: Sequence[Warned]
    calls: Sequence[Warned]
    oil: OilAdvice
    oil_reading: str
    next: NextFlight | None
    to_do: Sequence[to_do.Step]
    early: EarlyHeat | None
    lacking: Sequence[tuple[str, str]]  # criteria not met yet, each with what helps
    picture: str  # address of the oil picture, "" while no level was read
    picture_narrow: str  # the same for a phone
    missed: Sequence[str]
    being_judged: bool
    files: Sequence[CloseOutFile]

    @property
    def name(self) -> str:
        return _("%(side)s engine") % {"side": self.side} if self.side else _("Engine")


@dataclass(frozen=True)
class FlightLine:
    """One flight that was logged. `recorded` is where it can be seen as it was recorded."""

    flight: Flight
    said: str
    may_fix: bool
    recorded: str = ""


@dataclass(frozen=True)
class AircraftPage:
    """Everything about one aircraft. `held` is false for somebody who held or flew it before and sees facts only."""

    aircraft: Aircraft
    held: bool
    engines: Sequence[EnginePanel]
    flights: Sequence[FlightLine]
    told: Sequence[Told]  # by the shop
    news: Told | None
    shop_name: str
    phone: str

    @property
    def stopped(self) -> bool:
        return any(panel.stops for panel in self.engines)


def aircraft_page(aircraft: Aircraft, reader: Reader, now: datetime) -> AircraftPage:
    """The page of an aircraft that the reader may see."""
    held = reader.staff or access.holds_now(reader.user, aircraft)
    shop = Shop.objects.first()
    shop_name = shop.name if shop else _("the shop")
    panels = [_panel(section, reader, now, shop_name) for section in sections_of(aircraft, now)] if held else []
    told = from_the_shop(aircraft, reader, now)
    return AircraftPage(
        aircraft=aircraft,
        held=held,
        engines=panels,
        flights=_flights(aircraft, reader, now),
        told=told,
        news=news_of(told, now),
        shop_name=shop_name,
        phone=shop.phone if shop else "",
    )


def _panel(section: EngineSection, reader: Reader, now: datetime, shop_name: str) -> EnginePanel:
    build = section.build or _latest_followed(section.installation)
    assessment = Assessment.objects.filter(build=build).first() if build else None
    plan = section.plan or (build.plans.order_by("-revision").first() if build else None)
    found = _findings(build, reader) if build else []
    level = section.last_level_qt
    # A level is drawn once it was judged.
    drawn = bool(assessment and readings_in(assessment.detail.get("oil") or {}))
    oil = advice(
        level,
        installation=section.installation,
        kind=section.type_revision,
        plan=plan if build and build.state == BuildState.OPEN else None,
        assessment=assessment,
        units=reader.units,
    )
    stops = [warned(row, reader) for row in found if row.severity == Severity.STOP]
    # One that the shop has taken up needs no call from the pilot any more.
    calls = [warned(row, reader) for row in found if row.severity == Severity.CALL and row.state == FindingState.OPEN]
    card = hand_out(section, reader, now)
    upcoming = next_flight(assessment, plan, section.type_revision, reader.units, card) if section.build else None
    return EnginePanel(
        installation=section.installation,
        side=section.side,
        build=build,
        assessment=assessment,
        state=words.state_word(assessment),
        sentence=words.state_sentence(assessment, section.engine),
        how_long=words.how_long(assessment, reader.units),
        stops=stops,
        calls=calls,
        oil=oil,
        oil_reading=_("Last reading %(level)s.") % {"level": quantity(level, "volume", reader.units)}
        if level is not None and oil.code in ("log_only", "not_known")
        else "",
        next=upcoming,
        to_do=to_do.in_order(
            stopped=bool(stops),
            calls=len(calls),
            owed=to_do.owed_by_the_pilot(build, section.installation, reader) if build else (),
            next_flight=words.fly_next(assessment) if section.build else "",
            visit=words.next_visit(assessment),
            shop_name=shop_name,
            before_flight_one=reverse("aircraft_tour", args=[section.installation.aircraft_id])
            if assessment and assessment.phase == Phase.AWAITING
            else "",
        ),
        early=early_heat(assessment, section.type_revision, section.installation, reader.units)
        if section.build
        else None,
        lacking=_lacking(assessment, plan) if section.build else (),
        picture=still_address(section.engine, build, newest=False) if build and drawn else "",
        picture_narrow=still_address(section.engine, build, newest=False, narrow=True) if build and drawn else "",
        missed=_missed(found, assessment, section.installation, reader.units) if build else (),
        being_judged=bool(assessment and assessment.dirty_at),
        files=list(files_of(reader).filter(build__engine=section.installation.engine_id)),
    )


def _latest_followed(installation: Installation) -> Build | None:
    """The build that was closed last: its follow-up is still the pilot's matter."""
    return (
        Build.objects.filter(engine=installation.engine, state=BuildState.CLOSED)
        .select_related("type_revision")
        .order_by("-opened_at")
        .first()
    )


def _lacking(assessment: Assessment | None, plan: RunInPlan | None) -> list[tuple[str, str]]:
    if assessment is None or assessment.phase in (Phase.AWAITING, Phase.PRESERVED, Phase.LOG_ONLY):
        return []
    return [words.lacking(row, plan) for row in rows(assessment, "review", "lacking")]


def _findings(build: Build, reader: Reader) -> list[Finding]:
    return list(access.visible_to(reader.user, Finding.objects.filter(build=build, state__in=OPEN)))


def warned(row: Finding, reader: Reader) -> Warned:
    title, text = title_for(row, reader.units), text_for(row, reader.units)
    return Warned(title, text, row.happened_at, Severity(row.severity).name.lower())


def with_cards(sections: Sequence[EngineSection], reader: Reader, now: datetime) -> list[EngineSection]:
    """The same engines; one that was never given a card gets its first one, so that it can be answered for."""
    return [section if section.card else replace(section, card=hand_out(section, reader, now)) for section in sections]


def stage_and_table(
    assessment: Assessment | None, plan: RunInPlan | None, card: IssuedCard | None
) -> tuple[PlanStage | None, Any]:
    """The stage to fly next and its minute table [[min, band], ...]: by the card, the assessment, the frozen plan."""
    name = card.stage if card else str(dig(assessment, "next", "stage") or "")
    stages = {stage.kind: stage for stage in plan.stages.all()} if plan else {}
    stage = stages.get(name)
    return stage, card.minutes if card else dig(assessment, "next", "minutes") or (stage.minutes if stage else [])


def next_flight(
    assessment: Assessment | None,
    plan: RunInPlan | None,
    kind: EngineTypeRevision | None,
    units: str,
    card: IssuedCard | None = None,
) -> NextFlight | None:
    """The next flight by its card, the assessment and the frozen plan; None while none of them says anything."""
    stage, table = stage_and_table(assessment, plan, card)
    label, sentence = words.kept(dig(assessment, "next", "label")), words.kept(dig(assessment, "next", "sentence"))
    if stage is None and not sentence:
        return None
    credit = plan.credit if plan else {}
    return NextFlight(
        label=label or (stage.get_kind_display() if stage else ""),
        sentence="" if table else sentence,  # the table says it
        minutes=words.minute_rows(table, credit),
        targets=words.targets(stage, kind, units),
        aboard=words.kept(stage.aboard) if stage else "",
        advice=words.kept(stage.advice) if stage else "",
        card=words.card_words(card) if card else "",
        owed=words.owed(dig(assessment, "credit", "owed")),
    )


def _missed(
    found: Sequence[Finding], assessment: Assessment | None, installation: Installation, units: str
) -> Sequence[str]:
    """What the last flight lacked: findings that point to it, and its minutes below the bands."""
    last = (
        Flight.objects.current()
        .filter(engines__engine=installation.engine)
        .order_by("-happened_at", "-id")
        .values_list("root", flat=True)
        .first()
    )
    if last is None:
        return ()
    said = [
        text_for(row, units)
        for row in found
        if any(isinstance(each, dict) and str(each.get("root")) == str(last) for each in row.evidence or [])
        and row.severity < Severity.STOP
    ]
    light = number(assessment, "credit", "light_min")
    if light:
        said.append(_("Light running so far: %(minutes)s.") % {"minutes": minutes_text(light)})
    return tuple(said)


def _flights(aircraft: Aircraft, reader: Reader, now: datetime) -> list[FlightLine]:
    flown = list(
        access.visible_to(reader.user, Flight.objects.current().filter(aircraft=aircraft))
        .select_related("entered_by", "on_behalf_of", "pilot")
        .prefetch_related("engines")
        .order_by("-happened_at", "-id")[:FLIGHTS_SHOWN]
    )
    may = reader.person is not None and access.may_now(reader.user, "correct", aircraft)
    recorded = recorded_at(reader, [row.root for row in flown])
    lines = []
    for row in flown:
        fixable = may and reader.person is not None and not may_correct(reader.person, row, now)
        said = words.flight_said(row, own=words_are_for(reader.user, row))
        lines.append(FlightLine(row, said, fixable, recorded.get(row.root, "")))
    return lines
