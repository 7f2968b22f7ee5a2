"""What "as on the card" means: the power blocks of the card that was handed out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from breakin.entries import EngineEntry
from breakin.models import IssuedCard, StageKind
from engines.models import Engine
from shop.errors import Problem, Refusal

# Climb, descent and circuit are not flown at the card's power. Experience of the trade, no source.
CLIMB_AND_LANDING_MIN = 10.0
SHORTEST_BLOCK_MIN = 5.0
# These stages alternate until landing; the others ask for their whole minute table.
_UNTIL_LANDING = frozenset({StageKind.ALTERNATING, StageKind.SETTLE})


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
    if card.stage not in _UNTIL_LANDING:
        asked = sum(block.duration_min for block in table)
        if asked > airborne_min:
            raise Refusal(
                Problem(
                    "as_on_card",
                    f"Card {card.number} asks for {asked:g} min at power; the flight had {airborne_min:g} min. "
                    "Untick “as on the card” and type the blocks that were flown.",
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
