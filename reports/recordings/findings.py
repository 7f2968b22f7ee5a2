"""What stands out in a recorded flight, each at its moment: what the shop found, and the readings one looks for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from breakin.calc.recording.moments import Moment
from breakin.calc.recording.result import EngineFlight, Piece
from breakin.models import Finding, Severity
from breakin.saying import text_for, title_for
from reports.quantities import minutes_text, quantity
from reports.recordings.panels import Lines, Pin, whose
from reports.recordings.words import power_text

# Fastest cooling that goes without a word [degF a minute]: Lycoming, Service Instruction 1094D, from a quotation.
COOLING_DEGF_MIN = 50.0
LANDING_S = 600.0  # light power is part of the last ten minutes
LONG_ENOUGH_MIN = 2.0
AROUND_S = 180.0  # what is shown on either side of a moment
TOO_NEAR = 0.03  # of the picture's width: two numbers would cover one another
# Where in a flight a rule looks.
_RULE_AT = {"E1": "takeoff", "E8": "takeoff", "E2": "hottest_head", "E3": "hottest_head", "E4": "hottest_head"}
_PANELS = {
    "takeoff": "fuel", "hottest_head": "cht", "fastest_cooling": "cht", "leaning": "egt", "light": "power",
    "undecided": "power", "lowest_oil_pressure": "oil", "hottest_oil": "oil", "hottest_turbine": "tit",
}  # fmt: skip


@dataclass(frozen=True)
class Pinned:
    """One line of the list under the picture.

    number : as in the picture; 0 when it belongs to the whole flight. t, t0, t1 : its moment and what to show [s].
    severity : the word of a finding, "" for a reading. href : where a finding is answered.
    """

    text: str
    kind: str = ""
    side: str = ""
    number: int = 0
    t: float | None = None
    t0: float = 0.0
    t1: float = 0.0
    at: str = ""
    severity: str = ""
    href: str = ""

    def panel(self, keys: Iterable[str]) -> str:
        """The panel it points to, of those that there are."""
        wanted = _PANELS.get(self.kind, "power")
        there = list(keys)
        return next(
            (key for key in (f"{wanted}_{self.side}", wanted, "power") if key in there), there[0] if there else ""
        )


def pinned(
    engines: Mapping[str, EngineFlight],
    lines: Mapping[str, Lines],
    moments: Sequence[Moment],
    events: Mapping[str, float],
    found: Sequence[tuple[Finding, str, str]],
    clock: Callable[[float], str],
    units: str,
) -> tuple[Pinned, ...]:
    """The list, in order of time, numbered; what belongs to the whole flight comes first, without a number.

    found : the shop's findings of this flight, each with its side and its address.
    """
    told = _Told(engines, lines, moments, events, units)
    places = told.places()
    made = [_of_finding(*each, places, units) for each in found]
    made += told.readings()
    whole = [each for each in made if each.t is None]
    timed = sorted((each for each in made if each.t is not None), key=lambda each: each.t or 0.0)
    numbered = [
        replace(each, number=place, at=clock(each.t or 0.0), t0=each.t0 or max(0.0, (each.t or 0.0) - AROUND_S),
                t1=each.t1 or (each.t or 0.0) + AROUND_S)
        for place, each in enumerate(timed, 1)
    ]  # fmt: skip
    return (*whole, *numbered)


def pins(list_of: Sequence[Pinned], keys: Sequence[str], seconds: float) -> tuple[Pin, ...]:
    """The numbers to be set into the picture; those that would cover one another share a box."""
    made: list[Pin] = []
    for each in list_of:
        if each.t is None:
            continue
        pin = Pin(each.t, (each.number,), each.panel(keys))
        near = next((one for one in made if one.panel == pin.panel and abs(one.t - pin.t) < seconds * TOO_NEAR), None)
        if near is None:
            made.append(pin)
        else:
            made[made.index(near)] = replace(near, numbers=near.numbers + pin.numbers)
    return tuple(made)


def _of_finding(row: Finding, side: str, href: str, places: Mapping[tuple[str, str], float], units: str) -> Pinned:
    kind = _RULE_AT.get(row.rule.split(".")[0].split("-")[0], "")
    return Pinned(
        f"{title_for(row, units)}. {text_for(row, units)}",
        kind,
        side,
        t=places.get((kind, side)),
        severity=Severity(row.severity).name.lower(),
        href=href,
    )


@dataclass(frozen=True)
class _Told:
    engines: Mapping[str, EngineFlight]
    lines: Mapping[str, Lines]
    moments: Sequence[Moment]
    events: Mapping[str, float]
    units: str

    def places(self) -> dict[tuple[str, str], float]:
        """When what a rule looks at happened."""
        made = {(each.kind, each.side): each.t for each in self.moments}
        start = self.events.get("takeoff_start")
        return made | ({("takeoff", side): start for side in self.engines} if start is not None else {})

    def readings(self) -> list[Pinned]:
        made = [self._of_moment(each) for each in self.moments]
        for side, engine in self.engines.items():
            made += [self._takeoff(side, engine), *self._pieces(side, engine)]
            made += [
                Pinned(
                    _("Leaned until cylinder %(number)d peaked first%(whose)s.")
                    % {"number": each.first_cylinder, "whose": self._whose(side)},
                    "leaning",
                    side,
                    t=each.t,
                )
                for each in engine.leanings
            ]
        return [each for each in made if each is not None]

    def _whose(self, side: str) -> str:
        return whose(side, len(self.engines) > 1)

    def _takeoff(self, side: str, engine: EngineFlight) -> Pinned | None:
        start, held = self.events.get("takeoff_start"), engine.takeoff
        read = ((held.fuel_flow_gph, "fuel_flow"), (held.map_inhg, "manifold"), (held.rpm, "rpm"))
        told = [quantity(value, kind, self.units) for value, kind in read if value is not None]
        if start is None or not told:
            return None
        text = _("Full throttle on the take-off roll%(whose)s: %(told)s.") % {
            "whose": self._whose(side),
            "told": ", ".join(told),
        }
        band = self.lines[side].takeoff_ff_gph
        if band is not None and held.fuel_flow_gph is not None:
            low, high = (quantity(value, "fuel_flow", self.units) for value in band)
            asked = _("The type asks for %(low)s to %(high)s of fuel, before any correction for the air.")
            text += " " + asked % {"low": low, "high": high}
        return Pinned(text, "takeoff", side, t=start)

    def _of_moment(self, each: Moment) -> Pinned | None:
        lines, which = self.lines[each.side], self._whose(each.side)
        if each.kind == "hottest_head":
            told = ((lines.watch_degf, _("watch line")), (lines.limit_degf, _("maker's limit")))
            against = ", ".join(f"{words} {self._warm(value)}" for value, words in told if value is not None)
            head = {"whose": which, "number": each.cylinder, "heat": self._warm(each.value)}
            text = _("Hottest head%(whose)s: cylinder %(number)d, %(heat)s") % head
            return Pinned(f"{text} ({against})." if against else f"{text}.", each.kind, each.side, t=each.t)
        if each.kind == "fastest_cooling" and each.value > COOLING_DEGF_MIN:
            fell = {
                "number": each.cylinder,
                "fell": quantity(each.value, "difference", self.units),
                "whose": which,
                "usual": quantity(COOLING_DEGF_MIN, "difference", self.units),
            }
            text = _("Cylinder %(number)d cooled by %(fell)s in a minute%(whose)s; %(usual)s is a usual limit.") % fell
            return Pinned(text, each.kind, each.side, t=each.t)
        if each.kind == "hottest_turbine" and lines.tit_limit_degf is not None and each.value > lines.tit_limit_degf:
            heat = {"whose": which, "heat": self._warm(each.value), "limit": self._warm(lines.tit_limit_degf)}
            text = _("Turbine inlet%(whose)s: %(heat)s, above the limit of %(limit)s.") % heat
            return Pinned(text, each.kind, each.side, t=each.t)
        return None

    def _warm(self, degf: float) -> str:
        return quantity(degf, "temperature", self.units)

    def _pieces(self, side: str, engine: EngineFlight) -> list[Pinned]:
        low, landed = (
            self.lines[side].low_pct,
            self.events.get("touchdown", engine.pieces[-1].t1 if engine.pieces else 0),
        )
        made = []
        for piece in engine.pieces:
            if piece.pct is None or piece.minutes < LONG_ENOUGH_MIN:
                continue
            if low is not None and piece.pct < low and piece.t0 < landed - LANDING_S:
                made.append(self._piece("light", _("Light running"), piece, side))
            elif piece.undecided:
                made.append(self._piece("undecided", _("Too close to the edge of a band to decide"), piece, side))
        return made

    def _piece(self, kind: str, words: str, piece: Piece, side: str) -> Pinned:
        told = {"what": words, "whose": self._whose(side), "minutes": minutes_text(piece.minutes)}
        text = _("%(what)s%(whose)s: %(minutes)s at %(power)s.") % {**told, "power": power_text(piece)}
        spare = max(60.0, 0.15 * (piece.t1 - piece.t0))
        return Pinned(text, kind, side, t=(piece.t0 + piece.t1) / 2, t0=max(0.1, piece.t0 - spare), t1=piece.t1 + spare)
