"""The page of the next-flight card of an aircraft, and the card as its reader holds it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from engines.models import Aircraft
from reports.oil.advice import OilAdvice
from reports.pilot.aircraft_page import AircraftPage, aircraft_page
from reports.pilot.card_air import Asked, Field
from reports.pilot.card_content import CardContent
from reports.pilot.card_issue import InHand, look_at
from reports.pilot.log_flight_page import sections_of
from reports.reader import Reader


@dataclass(frozen=True)
class OilNow:
    """The oil of one engine as it was read last."""

    side: str
    advice: OilAdvice
    reading: str


@dataclass(frozen=True)
class CardPage:
    """The page.

    page : the aircraft with what stands against flying it. field : what an empty elevation means. boxes, metar : of the
    form. typed : what was typed, each
    with its unit, to be sent along with "use this card".
    content : what the card says. kept : keys of the cards that say just this, once they are handed out.
    offered : it is not the card in hand, and can be taken. aged : its air was told long ago.
    """

    page: AircraftPage
    field: Field
    boxes: Sequence[Asked]
    metar: Asked
    typed: Mapping[str, str]
    content: CardContent
    kept: Sequence[int]
    offered: bool
    aged: bool
    oil: Sequence[OilNow]

    @property
    def refused(self) -> bool:
        return bool(self.metar.error) or any(box.error for box in self.boxes)

    @property
    def opened(self) -> bool:
        """Is there something in the boxes to look at?"""
        return self.refused or bool(self.typed)


def card_page(aircraft: Aircraft, reader: Reader, now: datetime, typed: Mapping[str, str]) -> CardPage:
    """The card in hand, or the one for what was typed."""
    page = aircraft_page(aircraft, reader, now)
    sections = sections_of(aircraft, now) if page.held else []
    return shown(page, look_at(aircraft, sections, reader, typed, now))


def shown(page: AircraftPage, in_hand: InHand) -> CardPage:
    """The page of a card that was looked at."""
    asked = in_hand.asked
    return CardPage(
        page=page,
        field=asked.field,
        boxes=asked.boxes,
        metar=asked.metar,
        typed=asked.typed,
        content=in_hand.content,
        kept=[card.pk for card in in_hand.cards.values()],
        offered=in_hand.offered,
        aged=in_hand.aged,
        oil=[OilNow(panel.side, panel.oil, panel.oil_reading) for panel in page.engines],
    )
