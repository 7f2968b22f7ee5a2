"""The next-flight card: handed out, kept with what it said, and what "as on the card" means."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol

from django.db import transaction

from breakin.calc.said import fixed, number, said
from breakin.entries import EngineEntry
from breakin.models import Assessment, FlightEngine, IssuedCard, Phase, RunInPlan, StageKind
from breakin.services.common import audit, lock_build
from engines.models import Build, BuildState, Engine
from shop.errors import Problem, Refusal
from shop.models import Person

CARD_VALID = timedelta(days=7)
# Climb, descent and circuit are not flown at the card's power. Experience of the trade, no source.
CLIMB_AND_LANDING_MIN = 10.0
SHORTEST_BLOCK_MIN = 5.0
# These stages alternate until landing; the others ask for their whole minute table.
UNTIL_LANDING = frozenset({StageKind.ALTERNATING, StageKind.SETTLE})

STAGE_OF_PHASE: dict[str, StageKind] = {
    Phase.PRESERVED: StageKind.HOUR_1,
    Phase.AWAITING: StageKind.HOUR_1,
    Phase.HOUR_1: StageKind.HOUR_1,
    Phase.HOUR_2: StageKind.HOUR_2,
    Phase.ALTERNATING: StageKind.ALTERNATING,
}


class Said(Protocol):
    """What a card says. digest : two that say the same share it, whatever their numbers, times, units and language."""

    @property
    def digest(self) -> str: ...

    def kept(self, numbers: Mapping[int, int], made_at: datetime, valid_until: datetime) -> dict[str, Any]:
        """What an issued card keeps of it, as JSON; with the card number of each build (by its key)."""


@dataclass(frozen=True)
class NextStage:
    """What a build flies next: its newest plan, the stage, its minutes [[min, band], ...]."""

    plan: RunInPlan
    stage: str
    minutes: list[Any]


def next_stage(build: Build) -> NextStage:
    """The stage to fly next, by the assessment and the frozen plan.

    Raises
    ------
    Refusal : the build is not open, or has no plan.
    """
    if build.state != BuildState.OPEN:
        raise Refusal.of("build", f"Build {build.number} is {build.get_state_display()}. It has no next flight card.")
    plan = build.plans.order_by("-revision").first()
    if plan is None:
        raise Refusal.of("plan", f"Build {build.number} has no run-in plan yet. A build technician issues it first.")
    assessment = Assessment.objects.filter(build=build).first()
    following = (assessment.detail or {}).get("next") or {} if assessment else {}
    phase = assessment.phase if assessment else Phase.AWAITING
    stage = following.get("stage") or STAGE_OF_PHASE.get(phase, StageKind.SETTLE)
    if stage not in StageKind.values:
        stage = STAGE_OF_PHASE.get(phase, StageKind.SETTLE)
    planned = plan.stages.filter(kind=stage).first()
    minutes = following.get("minutes") or (planned.minutes if planned else [])
    return NextStage(plan, str(stage), [[float(length), str(band)] for length, band in minutes])


def card_in_force(build: Build, now: datetime) -> IssuedCard | None:
    """The newest card, as long as it holds: plan, stage and minutes stand, nothing was logged since, seven days.

    Raises
    ------
    Refusal : the build is not open, or has no plan.
    """
    card = build.cards.select_related("plan").order_by("-number").first()
    if card is None or not card.issued_at <= now <= card.valid_until:
        return None
    following = next_stage(build)
    if (card.plan_id, card.stage, card.minutes) != (following.plan.pk, following.stage, following.minutes):
        return None
    flown = FlightEngine.objects.filter(
        engine=build.engine_id, flight__received_at__gt=card.issued_at, flight__received_at__lte=now
    )
    return None if flown.exists() else card


def current_card(*, by: Person, build: Build, now: datetime) -> IssuedCard:
    """The card in force; where there is none, a new one that says its minutes and no more.

    Raises
    ------
    Refusal : the build is not open, or has no plan.
    """
    held = card_in_force(build, now)
    if held is not None:
        return held
    with transaction.atomic():
        build = lock_build(build)
        held = card_in_force(build, now)  # somebody else may have made it meanwhile
        return held or _issue(by, build, now, lambda *_: {})


def hand_out(
    *,
    by: Person,
    builds: Sequence[Build],
    write: Callable[[], Said],
    air: Mapping[str, str],
    now: datetime,
) -> dict[int, IssuedCard]:
    """Hand out one sheet for all engines of an aircraft, and keep what it says with the card of each build.

    Who holds a sheet that says the same already keeps it, with its numbers. Where anything differs for one engine, each
    build gets its next number, as it is one sheet that is held in hand.

    Parameters
    ----------
    builds : the open builds with a plan that the sheet speaks of.
    write : makes what the sheet says; called again once the builds are locked, when it is to be kept.
    air : what was typed about field and air, so that the page can show the boxes as they were.

    Returns
    -------
    the card by the key of its build.

    Raises
    ------
    Refusal : a build is not open, or has no plan.
    """
    held = _held(builds, write(), now)
    if held:
        return held
    with transaction.atomic():
        locked = [lock_build(build) for build in sorted(builds, key=lambda row: row.pk)]
        said = write()
        held = _held(locked, said, now)
        if held:
            return held
        numbers = {build.pk: _next_number(build) for build in locked}

        def detail(made_at: datetime, valid_until: datetime) -> dict[str, Any]:
            return {"digest": said.digest, "air": dict(air), **said.kept(numbers, made_at, valid_until)}

        return {build.pk: _issue(by, build, now, detail) for build in locked}


def _held(builds: Sequence[Build], said: Said, now: datetime) -> dict[int, IssuedCard]:
    """The cards in force of all builds, if each of them says just this; else none."""
    held = {build.pk: card_in_force(build, now) for build in builds}
    same = {pk: card for pk, card in held.items() if card is not None and card.detail.get("digest") == said.digest}
    return same if len(same) == len(builds) else {}


def _next_number(build: Build) -> int:
    last = build.cards.order_by("-number").first()
    return last.number + 1 if last else 1


def _issue(
    by: Person, build: Build, now: datetime, detail: Callable[[datetime, datetime], dict[str, Any]]
) -> IssuedCard:
    following, until = next_stage(build), now + CARD_VALID
    card = IssuedCard.objects.create(
        build=build,
        number=_next_number(build),
        plan=following.plan,
        stage=following.stage,
        minutes=following.minutes,
        issued_at=now,
        valid_until=until,
        detail={
            "plan_revision": following.plan.revision,
            "oil_kind": following.plan.oil_kind,
            **detail(now, until),
        },
    )
    audit(by=by, act="issue_card", subject=card, now=now, detail={"stage": following.stage})
    return card


@dataclass(frozen=True)
class StatedBlock:
    duration_min: float
    band: str


def card_flown(engine: Engine, entry: EngineEntry, ended_at: datetime) -> IssuedCard:
    """The card that the pilot flew: the one named, else the newest one handed out by then.

    Raises
    ------
    Refusal : there is none.
    """
    cards = IssuedCard.objects.filter(build__engine=engine).select_related("build")
    if entry.card_id is not None:
        card = cards.filter(pk=entry.card_id).first()
        if card is None:
            raise Refusal.of("card_id", f"That card is not one of {engine}. Choose the card of this engine.")
        return card
    card = cards.filter(issued_at__lte=ended_at, build__assessment__live=True).order_by("-issued_at", "-number").first()
    if card is None:
        # A card may be made and flown within minutes, or the clock of the phone may be slow.
        card = cards.filter(build__state="open").order_by("-issued_at", "-number").first()
    if card is None:
        raise Refusal.of(
            "as_on_card",
            f"No card was handed out for {engine}. Type the power blocks, or leave them out for this engine.",
        )
    return card


def stated_blocks(card: IssuedCard, airborne_min: float) -> list[StatedBlock]:
    """The blocks that "as on the card" states.

    A card of an alternating stage is repeated until the landing. Any other card is taken as a whole, and refused for a
    flight that was too short for it.

    Raises
    ------
    Refusal : the flight is shorter than the card.
    """
    table = [StatedBlock(float(minutes), str(band)) for minutes, band in card.minutes]
    if not table:
        return []
    if card.stage not in UNTIL_LANDING:
        asked = sum(block.duration_min for block in table)
        if asked > airborne_min:
            raise Refusal(
                Problem(
                    "as_on_card",
                    said(
                        "Card {card} asks for {asked} min at power; the flight had {flown} min. Untick “as on the "
                        "card” and type the blocks that were flown.",
                        card=fixed(card.number, 0),
                        asked=number(asked),
                        flown=number(airborne_min),
                    ),
                )
            )
        return table
    left = airborne_min - CLIMB_AND_LANDING_MIN
    blocks: list[StatedBlock] = []
    while left >= SHORTEST_BLOCK_MIN:
        for block in table:
            if left < SHORTEST_BLOCK_MIN:
                break
            blocks.append(StatedBlock(min(block.duration_min, left), block.band))
            left -= block.duration_min
    return blocks
