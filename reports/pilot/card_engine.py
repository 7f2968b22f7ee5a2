"""One engine on the next-flight card: what is known of it, worked out once, and its column in a reader's units."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from breakin.calc import card
from breakin.calc.chart import Chart
from breakin.calc.errors import CalcError
from breakin.models import Assessment, Finding, FindingState, PlanStage, RunInPlan, Severity, StageKind
from breakin.services.cards import UNTIL_LANDING, NextStage, next_stage
from engines.models import EngineTypeRevision, Installation
from reports.detail import dig
from reports.oil.advice import advice
from reports.pilot import card_engine_words as say
from reports.pilot import card_heat, card_power, card_take_off, card_words, words
from reports.pilot.card_air import Told
from reports.pilot.card_content import EngineColumn, Line, MinuteRow
from reports.pilot.log_flight_page import EngineSection
from reports.quantities import quantity
from shop import written
from shop.errors import Refusal

# Lower edge of the band of 75 % where no plan says another [% of rated power].
LEAST_PCT = 72.0


@dataclass(frozen=True)
class EngineFacts:
    """What the card knows of one engine, before a unit or a word is chosen.

    following : plan, stage and minutes of the next flight; None where no card can be handed out.
    why : says why there are no settings, "" where there are.
    stops : findings that keep the aircraft on the ground.
    rpm : planned [rpm]. cap_ft : not above [ft]. columns : for each air. instead : where 75 % can't be had.
    """

    section: EngineSection
    assessment: Assessment | None
    following: NextStage | None
    stages: dict[str, PlanStage]
    told: Told | None
    chart: Chart | None = None
    why: Callable[[], str] = str
    rpm: float = 0.0
    cap_ft: float | None = None
    least_pct: float = LEAST_PCT
    columns: Sequence[card.Column] = ()
    instead: card.Instead | None = None
    instruments: card.Instruments = field(default_factory=card.Instruments)
    stops: Sequence[Finding] = ()

    @property
    def stage(self) -> PlanStage | None:
        return self.stages.get(self.following.stage) if self.following else None

    @property
    def stage_kind(self) -> str:
        return self.following.stage if self.following else ""

    @property
    def revision(self) -> EngineTypeRevision | None:
        return self.section.type_revision

    @property
    def installation(self) -> Installation:
        return self.section.installation


def engine_facts(section: EngineSection, told: Told | None) -> EngineFacts:
    """What the card needs of one engine. `told` : field and air; None while something typed is refused."""
    following = None
    if section.build is not None:
        try:
            following = next_stage(section.build)
        except Refusal:
            following = None
    plan = following.plan if following else None
    stages = {stage.kind: stage for stage in plan.stages.all()} if plan else {}
    bare = EngineFacts(
        section=section,
        assessment=Assessment.objects.filter(build=section.build).first() if section.build else None,
        following=following,
        stages=stages,
        told=told,
        instruments=card.Instruments(section.installation.rpm_error or 0.0, section.installation.map_error_inhg or 0.0),
        stops=_stops(section),
    )
    return _with_settings(bare, plan)


def _stops(section: EngineSection) -> list[Finding]:
    """What a technician has to clear first, oldest first: it is for whoever flies the aircraft."""
    standing = Finding.objects.filter(
        build__engine=section.engine,
        severity=Severity.STOP,
        for_customer=True,
        state__in=(FindingState.OPEN, FindingState.ACKNOWLEDGED),
        build__assessment__live=True,
    )
    return list(standing.order_by("opened_at", "pk"))


def _with_settings(bare: EngineFacts, plan: RunInPlan | None) -> EngineFacts:
    section, told, revision = bare.section, bare.told, bare.revision
    if section.build is None:
        return replace(bare, why=card_words.follows if section.side else card_words.no_break_in)
    if revision is None or revision.log_only:
        return replace(bare, why=card_words.log_only)
    if told is None:
        return replace(bare, why=card_words.mend_the_box)
    if not revision.chart:
        return replace(bare, why=card_words.no_chart)
    rpm, cap_ft = planned(plan, revision)
    least = float(plan.credit["75"][0]) if plan and "75" in plan.credit else LEAST_PCT
    try:
        chart = Chart.from_dict(revision.chart, rated_hp=revision.rated_hp)
        field_ft = told.pressure_altitude_ft
        today = card.day(field_ft, told.temperature_degf)
        airs = card.days(None if told.oat_degf is None else today)
        columns = [
            card.column(chart, air, rpm=rpm, field_ft=field_ft, cap_ft=cap_ft, instruments=bare.instruments)
            for air in airs
        ]
        found = card.instead(chart, today, field_ft=field_ft, rpm=rpm, pct=least, instruments=bare.instruments)
    except CalcError as refused:
        return replace(bare, why=partial(card_words.no_settings, str(refused)), rpm=rpm, cap_ft=cap_ft)
    return replace(bare, chart=chart, rpm=rpm, cap_ft=cap_ft, least_pct=least, columns=columns, instead=found)


def planned(plan: RunInPlan | None, revision: EngineTypeRevision) -> tuple[float, float | None]:
    """Engine speed [rpm] that the plan asks for, as the verdict takes it, and the lowest altitude cap [ft] or None."""
    stages = list(plan.stages.all()) if plan else []
    rpm = card.asked_rpm((stage.rpm for stage in stages), revision.rated_rpm)
    caps = [stage.altitude_max_ft for stage in stages if stage.altitude_max_ft]
    caps += [revision.altitude_cap_ft] if revision.altitude_cap_ft else []
    return rpm, min(caps) if caps else None


def engine_column(facts: EngineFacts, units: str) -> EngineColumn:
    """The column of one engine in a reader's units."""
    section, following = facts.section, facts.following
    name = str(section.engine)
    if section.build is None:
        return EngineColumn(None, None, section.side, name, why=facts.why(), follows=bool(section.side))
    hours = facts.assessment.hours if facts.assessment else 0.0
    flight = EngineColumn(
        build=section.build.pk if following else None,
        number=None,
        side=section.side,
        engine=name,
        hours=card_words.hours_run(written.number(hours, 1)),
        plan=_plan_words(following.plan) if following else card_words.no_plan(),
        stage=_stage_words(facts),
        owed=words.owed(dig(facts.assessment, "credit", "owed")),
        aboard=words.kept(facts.stage.aboard) if facts.stage else "",
        advice=words.kept(facts.stage.advice) if facts.stage else "",
        why=facts.why(),
        minutes=_minutes(facts),
        repeats=facts.stage_kind in UNTIL_LANDING,
    )
    return _with_engine(flight, facts, units)


def _with_engine(flight: EngineColumn, facts: EngineFacts, units: str) -> EngineColumn:
    oil = advice(
        None,
        installation=facts.installation,
        kind=facts.revision,
        plan=facts.following.plan if facts.following else None,
        assessment=facts.assessment,
        units=units,
    )
    flight = replace(
        flight,
        oil=tuple(Line(label, value, note) for label, value, note in oil.lines),
        oil_kind=oil.kind,
        cruise=_cruise(facts, units),
        cautions=card_heat.cautions(facts.revision, facts.told, units),
    )
    revision = facts.revision
    if revision is None or revision.log_only:
        return flight
    climb_stage = facts.stages.get(StageKind.CLIMB)
    hours = facts.assessment.hours if facts.assessment else 0.0
    return replace(
        flight,
        take_off=card_take_off.take_off(facts.installation, revision, facts.chart, facts.told, units),
        climb=card_take_off.climb(climb_stage, facts.told, facts.columns, units),
        settings=card_power.tables(facts.columns, revision, facts.chart, facts.rpm, facts.told, units),
        not_achievable=card_power.not_achievable(facts.instead, facts.told, facts.least_pct, units),
        instead=card_power.ways_out(facts.instead, facts.told, units),
        heat=card_heat.heat(facts.installation, revision, hours, units),
        oil_limits=card_heat.oil_limits(revision, units),
        ignore=card_heat.ignore(units),
    )


def _plan_words(plan: RunInPlan) -> str:
    return card_words.plan(plan.revision, words.kept(plan.source), words.kept(plan.source_revision))


def _stage_words(facts: EngineFacts) -> str:
    label = words.kept(dig(facts.assessment, "next", "label"))
    return label or (facts.stage.get_kind_display() if facts.stage else "")


def _minutes(facts: EngineFacts) -> tuple[MinuteRow, ...]:
    if facts.following is None:
        return ()
    rows = words.minute_rows(facts.following.minutes, facts.following.plan.credit)
    return tuple(MinuteRow(*row) for row in rows)


def _cruise(facts: EngineFacts, units: str) -> tuple[Line, ...]:
    """Mixture, cowl flaps and altitude limit of the power stage."""
    stage = facts.stage
    lines = [Line(say.mixture(), words.kept(stage.mixture if stage else "") or say.leaning())]
    if stage and stage.cowl_flaps:
        lines.append(Line(say.cowl_flaps(), words.kept(stage.cowl_flaps)))
    if facts.cap_ft is not None:
        lines.append(Line(say.not_above(), quantity(facts.cap_ft, "altitude", units), say.cap_note()))
    return tuple(lines)
