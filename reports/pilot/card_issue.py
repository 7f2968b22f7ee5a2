"""Which next-flight card somebody holds: the default one by looking, another one by saying "use this card"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from breakin.entries.metar import FRESH
from breakin.models import IssuedCard, StageKind
from breakin.services import cards
from engines.models import Aircraft, Build
from reports.delivery.planned import newest_plan, seats_of
from reports.pilot.card_air import AskedAir, Field, asked_air
from reports.pilot.card_content import CardContent
from reports.pilot.card_sheet import Sheet, Way, make_sheet
from reports.pilot.log_flight_page import EngineSection, pilots_of, sections_of
from reports.reader import Reader
from shop.errors import Refusal
from shop.models import Person

_HOURS: Mapping[str, int] = {StageKind.HOUR_1: 1, StageKind.HOUR_2: 2}


@dataclass(frozen=True)
class InHand:
    """A card as it is looked at.

    cards : those that were handed out and say just this, by the key of the build; empty where it is not in hand.
    offered : it can be taken by "use this card". aged : the air on the card in hand was told too long ago.
    """

    asked: AskedAir
    content: CardContent
    cards: Mapping[int, IssuedCard]
    offered: bool
    aged: bool


def look_at(
    aircraft: Aircraft, sections: Sequence[EngineSection], reader: Reader, typed: Mapping[str, str], now: datetime
) -> InHand:
    """The card in hand; with something typed, the card that could be taken instead.

    Without anything typed the card in hand is shown in the air it was made for, and who holds none, or one that facts
    have overtaken, is handed the next one. The shop's own people are handed none by looking.
    """
    builds = _builds(sections)
    held = _held(builds, now)
    asked_for = any(value.strip() for value in typed.values())
    said = typed if asked_for else _air_of(held)
    asked = asked_air(_field(aircraft, builds, reader), reader.units, said, now)
    sheet = make_sheet(aircraft, sections, asked.told, reader.units, now)
    same = _same(held, builds, sheet)
    if not same and not asked_for and asked.told and reader.person and not reader.staff and builds:
        same = _hand_out(aircraft, sections, reader.person, asked, sheet, reader.units, now)
    return InHand(
        asked=asked,
        content=_numbered(sheet, same),
        cards=same,
        offered=bool(builds) and not same and asked.told is not None,
        aged=any(card.detail.get("air") and now - card.issued_at > FRESH for card in same.values()),
    )


def take(
    aircraft: Aircraft, sections: Sequence[EngineSection], reader: Reader, typed: Mapping[str, str], now: datetime
) -> InHand:
    """Hand out the card for what was typed. Nothing is handed out while a box is refused."""
    asked = asked_air(_field(aircraft, _builds(sections), reader), reader.units, typed, now)
    sheet = make_sheet(aircraft, sections, asked.told, reader.units, now)
    given: Mapping[int, IssuedCard] = {}
    if asked.told is not None and reader.person is not None and _builds(sections):
        given = _hand_out(aircraft, sections, reader.person, asked, sheet, reader.units, now)
    return InHand(asked, _numbered(sheet, given), given, offered=False, aged=False)


def hand_out(section: EngineSection, reader: Reader, now: datetime) -> IssuedCard | None:
    """The card for the next flight, which the pilot holds in hand by seeing it: "as on the card" refers to it.

    The same one as long as it holds. The shop's own people are handed none by looking.
    """
    build = section.build
    if build is None or section.plan is None or reader.person is None or reader.staff:
        return section.card
    try:
        held = cards.card_in_force(build, now)
    except Refusal:
        return section.card
    if held is not None:
        return held
    aircraft = section.installation.aircraft
    given = look_at(aircraft, sections_of(aircraft, now), reader, {}, now).cards
    return given.get(build.pk, section.card)


def _hand_out(
    aircraft: Aircraft,
    sections: Sequence[EngineSection],
    by: Person,
    asked: AskedAir,
    sheet: Sheet,
    units: str,
    now: datetime,
) -> Mapping[int, IssuedCard]:
    written = [sheet]
    ways = [Way(person.language, person.units) for person in pilots_of(aircraft, now)]

    def write() -> Sheet:
        """The sheet as it was worked out; once the builds are locked, anew."""
        made = written.pop() if written else make_sheet(aircraft, sections, asked.told, units, now)
        return replace(made, ways=ways)

    return cards.hand_out(by=by, builds=_builds(sections), write=write, air=asked.typed, now=now)


def _builds(sections: Sequence[EngineSection]) -> list[Build]:
    """The builds that a card is for: open, with a plan."""
    return [section.build for section in sections if section.build is not None and section.plan is not None]


def _field(aircraft: Aircraft, builds: Sequence[Build], reader: Reader) -> Field:
    """Where the next flight is flown from: by the delivery plan in the first two hours, else from home."""
    home = Field(str(aircraft.home), aircraft.home.elevation_ft)
    stages = {cards.next_stage(build).stage for build in builds}
    number = _HOURS.get(stages.pop()) if len(stages) == 1 else None
    plan = newest_plan(reader.user, aircraft, seats_of(aircraft)) if number else None
    hour = next((row for row in plan.hours.all() if row.number == number), None) if plan else None
    return Field(hour.field, hour.elevation_ft, by_delivery_plan=True) if hour else home


def _held(builds: Sequence[Build], now: datetime) -> dict[int, IssuedCard]:
    found = {build.pk: cards.card_in_force(build, now) for build in builds}
    return {pk: card for pk, card in found.items() if card is not None}


def _same(held: Mapping[int, IssuedCard], builds: Sequence[Build], sheet: Sheet) -> Mapping[int, IssuedCard]:
    """The cards in hand, if each engine's says just this."""
    say_it = len(held) == len(builds) and all(card.detail.get("digest") == sheet.digest for card in held.values())
    return held if say_it else {}


def _air_of(held: Mapping[int, IssuedCard]) -> Mapping[str, str]:
    """What was typed for the card in hand."""
    newest = max(held.values(), key=lambda card: card.issued_at, default=None)
    return newest.detail.get("air") or {} if newest else {}


def _numbered(sheet: Sheet, held: Mapping[int, IssuedCard]) -> CardContent:
    """The card with its numbers, once somebody holds it."""
    newest = max(held.values(), key=lambda card: card.issued_at, default=None)
    if newest is None:
        return sheet.shown
    numbers = {pk: card.number for pk, card in held.items()}
    return sheet.numbered(numbers, newest.issued_at, newest.valid_until)
