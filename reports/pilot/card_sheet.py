"""The whole next-flight card of an aircraft: one sheet, a column for each engine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.utils import timezone, translation

from breakin.models import StageKind
from breakin.saying import title_for
from engines.models import Aircraft
from reports.pilot import card_engine_words as say
from reports.pilot import card_words as words
from reports.pilot.card_air import Told, field_air
from reports.pilot.card_content import CardContent, FieldAir
from reports.pilot.card_engine import EngineFacts, engine_column, engine_facts
from reports.pilot.card_take_off import is_fixed
from reports.pilot.log_flight_page import EngineSection
from reports.pilot.words import kept
from reports.quantities import minutes_text, quantity
from shop.models import Shop


class Way(NamedTuple):
    """How a card is read: the code of a language, and a set of units."""

    language: str
    units: str


# The wording by which two cards are known to say the same.
PLAIN = Way("en", "us")
# Earlier stages ask for more: on a twin with engines at different stages both fly the earlier one's minutes.
ORDER = tuple(StageKind.values)
GROUND_MIN = 10.0


@dataclass(frozen=True)
class Sheet:
    """A card worked out, before anybody holds it.

    plain : in US units and English. shown : as its reader sees it, in his `way`. read_as : the same in another one.
    ways : in which those read it who fly this aircraft.
    """

    facts: Sequence[EngineFacts]
    plain: CardContent
    shown: CardContent
    way: Way
    read_as: Callable[[Way], CardContent]
    ways: Iterable[Way] = ()

    @property
    def digest(self) -> str:
        return self.plain.digest

    def kept(self, numbers: Mapping[int, int], made_at: datetime, valid_until: datetime) -> dict[str, Any]:
        """What an issued card keeps: what it said, and at once the same for others who may have to read it.

        Made now, from the same facts: later nobody could say it again without working it out again.
        """
        others = [way for way in dict.fromkeys([PLAIN, *self.ways]) if way != self.way]
        said = {way: self.plain if way == PLAIN else self.read_as(way) for way in others}
        times = timezone.localtime(made_at), timezone.localtime(valid_until)
        return {
            "content": self.numbered(numbers, made_at, valid_until).to_dict(),
            "language": self.way.language,
            "readings": [
                {"language": way.language, "units": way.units, "content": card.handed_out(numbers, *times).to_dict()}
                for way, card in said.items()
            ],
        }

    def numbered(self, numbers: Mapping[int, int], made_at: datetime, valid_until: datetime) -> CardContent:
        """As its reader sees it once it is handed out; the times in his zone."""
        return self.shown.handed_out(numbers, timezone.localtime(made_at), timezone.localtime(valid_until))


def make_sheet(
    aircraft: Aircraft, sections: Sequence[EngineSection], told: Told | None, units: str, now: datetime
) -> Sheet:
    """The card of these engines on this field and in this air, in the reader's units and in a plain wording."""
    facts = [engine_facts(section, told) for section in sections]

    def read_as(way: Way) -> CardContent:
        with translation.override(way.language):
            return _content(aircraft, facts, told, way.units, now)

    way = Way((translation.get_language() or PLAIN.language).partition("-")[0], units)
    return Sheet(facts, read_as(PLAIN), read_as(way), way, read_as)


def _content(
    aircraft: Aircraft, facts: Sequence[EngineFacts], told: Told | None, units: str, now: datetime
) -> CardContent:
    shop = Shop.objects.first()
    in_break_in = [fact for fact in facts if fact.following is not None]
    earliest = min(in_break_in, key=lambda fact: ORDER.index(fact.stage_kind), default=None)
    stage = earliest.stage_kind if earliest else ""
    return CardContent(
        registration=str(aircraft),
        shop_name=shop.name if shop else "",
        phone=shop.phone if shop else "",
        units=units,
        air=field_air(told, units, now) if told else FieldAir("", (), ""),
        engines=tuple(engine_column(fact, units) for fact in facts),
        stops=tuple(
            words.stop(fact.section.side, title_for(stop, units).rstrip(".")) for fact in facts for stop in fact.stops
        ),
        even_power=_even_power(facts, earliest),
        may_be=words.may_be(stage) if earliest else (),
        do_not=words.do_not(stage) if earliest else (),
        ground=_ground(earliest) if earliest else (),
        descent=_descent(facts, told, units),
        land_now=words.land_now(),
        after=words.after(),
        footer=words.footer(),
    )


def _even_power(facts: Sequence[EngineFacts], earliest: EngineFacts | None) -> str:
    if len(facts) < 2 or earliest is None:
        return ""
    stages = {fact.stage_kind for fact in facts if fact.following is not None}
    if len(stages) < 2:
        return words.even_power()
    return f"{words.even_power()} {words.uneven_stages(earliest.section.side)}"


def _ground(earliest: EngineFacts) -> tuple[str, ...]:
    plan = earliest.following.plan if earliest.following else None
    stage = earliest.stages.get(StageKind.GROUND)
    if stage is None or not stage.advice:
        return (words.ground(minutes_text(plan.ground_note_min if plan else GROUND_MIN)),)
    advice = kept(stage.advice)
    return (advice, f"{say.cowl_flaps()}: {kept(stage.cowl_flaps)}") if stage.cowl_flaps else (advice,)


def _descent(facts: Sequence[EngineFacts], told: Told | None, units: str) -> tuple[str, ...]:
    fixed = any(
        not fact.installation.has_map or (fact.revision is not None and is_fixed(fact.installation, fact.revision))
        for fact in facts
    )
    said = [words.descent(manifold=not fixed)]
    if told is not None and told.down is not None and told.down_from_ft is not None:
        said.append(
            words.top_of_descent(
                from_=quantity(told.down_from_ft, "altitude", units),
                to=quantity(told.down_from_ft - told.down.lose_ft, "altitude", units),
                speed=quantity(told.ground_speed_kt, "ground_speed", units),
                distance=words.nautical_miles(f"{told.down.distance_nm:.0f}"),
                minutes=minutes_text(told.down.minutes),
            )
        )
    return tuple(said)
