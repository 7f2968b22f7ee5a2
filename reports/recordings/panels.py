"""What the picture of a recorded flight holds: panels over one axis of time, in the reader's units.

`reports.recordings.plot` makes the living figure of it and `reports.recordings.still` the printed one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from breakin.calc.recording.result import EngineFlight
from reports.quantities import in_units, unit

Ranges = Mapping[str, tuple[float, float]]
Room = tuple[float, float]
_KINDS = {
    "rpm": "rpm", "map": "manifold", "ff": "fuel_flow", "cht": "temperature", "egt": "temperature",
    "tit": "temperature", "oil_temp": "temperature", "oat": "temperature", "oil_press": "oil_pressure",
    "alt": "altitude",
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One channel. `look`: "ink", "accent", "soft", "dotted" or "dotted accent". `right`: by the scale on the right.

    left_out : the probe is not believed; it is drawn, and the scale takes no notice of it.
    """

    channel: str
    label: str
    look: str = "ink"
    right: bool = False
    cylinder: int | None = None
    left_out: bool = False


@dataclass(frozen=True)
class Level:
    """A line across a panel with its words. `strong` for a limit."""

    value: float
    words: str
    strong: bool = False

    def is_high_in(self, room: Room) -> bool:
        """So near to the top of a panel that its words belong below it."""
        return self.value > room[1] - 0.2 * (room[1] - room[0])


@dataclass(frozen=True)
class Block:
    """A steady piece of power: seconds, percent, and its words for who points at it."""

    t0: float
    t1: float
    pct: float
    words: str


@dataclass(frozen=True)
class Panel:
    """One strip of the picture. `room` is what the left scale spans, `right_room` the right one, `height` its share."""

    key: str
    title: str
    lines: tuple[Line, ...]
    room: Room
    height: float = 1.0
    levels: tuple[Level, ...] = ()
    bands: tuple[tuple[float, float, str], ...] = ()
    blocks: tuple[Block, ...] = ()
    right_room: Room | None = None


@dataclass(frozen=True)
class Pin:
    """Findings at one moment. `numbers` as in the list under the picture, `panel` the key of their panel."""

    t: float
    numbers: tuple[int, ...]
    panel: str

    @property
    def words(self) -> str:
        return " ".join(str(number) for number in self.numbers)


@dataclass(frozen=True)
class Picture:
    """Panels from top to bottom. `events`: seconds and words. `origin_ms`: local clock at 0 s, as if it were UTC."""

    panels: tuple[Panel, ...]
    events: tuple[tuple[float, str], ...]
    seconds: float
    origin_ms: int
    clock: str
    pins: tuple[Pin, ...] = ()

    @property
    def channels(self) -> tuple[str, ...]:
        return tuple(line.channel for panel in self.panels for line in panel.lines)


@dataclass(frozen=True)
class Lines:
    """What the type and the plan of an engine say: temperatures in degF, bands in percent of rated power."""

    watch_degf: float | None = None
    limit_degf: float | None = None
    tit_limit_degf: float | None = None
    takeoff_ff_gph: Room | None = None
    bands: Mapping[str, Room] = field(default_factory=dict)
    low_pct: float | None = None


def kind_of(channel: str) -> str:
    """The kind of quantity of a channel, for `reports.quantities`; "" for percent and other bare numbers."""
    parts = channel.split("_")
    return _KINDS.get("_".join(parts[:2])) or _KINDS.get(parts[0], "")


def side_word(side: str, twin: bool) -> str:
    return {"1": _("left"), "2": _("right")}.get(side, side) if twin else ""


def whose(side: str, twin: bool) -> str:
    """ ", left engine" behind what is said of one engine of two; "" where there is one."""
    return {"1": _(", left engine"), "2": _(", right engine")}.get(side, "") if twin else ""


@dataclass(frozen=True)
class Drawing:
    """What panels are made from.

    engines, lines : by side, "1" and "2". ranges : lowest and highest of each recorded channel, canonical.
    """

    engines: Mapping[str, EngineFlight]
    lines: Mapping[str, Lines]
    ranges: Ranges
    units: str

    def panels(self) -> tuple[Panel, ...]:
        """The panels of a flight, only those of which something was recorded."""
        made = [self._power(), self._manifold()]
        made += [self._cylinders("cht", side) for side in self.engines]
        made += [self._cylinders("egt", side) for side in self.engines]
        made += [self._turbine(), self._fuel(), self._oil(), self._altitude()]
        return tuple(panel for panel in made if panel is not None)

    @property
    def twin(self) -> bool:
        return len(self.engines) > 1

    def _value(self, value: float, kind: str) -> float:
        return in_units(value, kind, self.units) if kind else value

    def _room(self, channels: Sequence[str], levels: Sequence[Level] = ()) -> Room:
        """What the scale has to span: all that was recorded, and the lines across that are near it."""
        kind = kind_of(channels[0])
        low = min(self._value(self.ranges[name][0], kind) for name in channels)
        high = max(self._value(self.ranges[name][1], kind) for name in channels)
        high = max([high, *(each.value for each in levels if each.value <= high + 0.25 * (high - low))])
        spare = 0.06 * (high - low) or 1.0
        return low - spare, high + spare

    def _each_side(self, name: str, words: str = "", *, right: bool = False) -> tuple[Line, ...]:
        """The same channel of each engine: left in ink, right in the accent."""
        found = []
        for side in self.engines:
            if name.format(side) in self.ranges:
                label = " ".join(part for part in (side_word(side, self.twin), words) if part)
                look = ("dotted " if right else "") + ("accent" if side == "2" else "" if right else "ink")
                look = look.strip()
                found.append(Line(name.format(side), label, look, right))
        return tuple(found)

    def _power(self) -> Panel | None:
        drawn = self._each_side("pct_{}", _("power"))
        if not drawn:
            return None
        plan = next((self.lines[side] for side in self.engines if self.lines[side].bands), Lines())
        steady = [
            Block(piece.t0, piece.t1, piece.pct, self._steady(piece.minutes, piece.pct, side))
            for side, engine in self.engines.items()
            for piece in engine.pieces
            if piece.steady and piece.pct is not None
        ]
        return Panel(
            "power",
            _("Power, % of rated, with one standard deviation"),
            drawn,
            (0.0, max([100.0, *(self.ranges[line.channel][1] for line in drawn)]) + 5),
            2.2,
            ()
            if plan.low_pct is None
            else (Level(plan.low_pct, _("light below %(low)s %%") % {"low": f"{plan.low_pct:g}"}),),
            tuple(
                (low, high, _("%(name)s %% band") % {"name": name}) for name, (low, high) in sorted(plan.bands.items())
            ),
            tuple(steady),
        )

    def _steady(self, minutes: float, pct: float, side: str) -> str:
        said = _("%(minutes)d min at %(pct)d %%") % {"minutes": round(minutes), "pct": round(pct)}
        return said + self._whose(side)

    def _whose(self, side: str) -> str:
        return whose(side, self.twin)

    def _manifold(self) -> Panel | None:
        pressure = self._each_side("map_{}_inhg", _("manifold pressure"))
        speed = self._each_side("rpm_{}", "rpm", right=bool(pressure))
        if not pressure and not speed:
            return None
        if not pressure:
            return Panel("manifold", "rpm", speed, self._room([line.channel for line in speed]))
        told = {"unit": unit("manifold", self.units)}
        title = _("Manifold pressure, %(unit)s, and rpm, right") if speed else _("Manifold pressure, %(unit)s")
        right_room = self._room([line.channel for line in speed]) if speed else None
        return Panel(
            "manifold",
            title % told,
            pressure + speed,
            self._room([line.channel for line in pressure]),
            right_room=right_room,
        )

    def _cylinders(self, name: str, side: str) -> Panel | None:
        """Every cylinder of one engine: the hottest head in ink, its mates thin beside it."""
        found = sorted(
            (each for each in self.ranges if each.startswith(f"{name}_{side}_")),
            key=lambda each: int(each.split("_")[2]),
        )
        if not found:
            return None
        engine = self.engines[side]
        bad = {fault.sensor for fault in engine.bad_sensors}
        drawn = []
        for channel in found:
            number = int(channel.split("_")[2])
            if f"{name}{number}" in bad:
                drawn.append(
                    Line(
                        channel,
                        _("cylinder %(number)d, left out") % {"number": number},
                        "dotted",
                        cylinder=number,
                        left_out=True,
                    )
                )
                continue
            look = "ink" if number == engine.cht_max_cylinder else "soft"
            drawn.append(Line(channel, _("cylinder %(number)d") % {"number": number}, look, cylinder=number))
        drawn.sort(key=lambda line: line.look == "ink")  # the strong one lies on top
        levels = self._head_levels(side) if name == "cht" else ()
        words = _("CHT") if name == "cht" else _("EGT")
        title = f"{words}{self._whose(side)}, {unit('temperature', self.units)}"
        told = "".join(f"; {each.words} {each.value:.0f}" for each in levels)
        left_out = [str(line.cylinder) for line in drawn if line.left_out]
        told += _("; dotted, left out: %(cylinders)s") % {"cylinders": ", ".join(left_out)} if left_out else ""
        believed = [line.channel for line in drawn if not line.left_out]
        room = self._room(believed or found, levels)
        return Panel(f"{name}_{side}", title + told, tuple(drawn), room, 1.5 if name == "cht" else 1.2, levels)

    def _head_levels(self, side: str) -> tuple[Level, ...]:
        lines = self.lines[side]
        made = ((lines.watch_degf, _("watch line"), False), (lines.limit_degf, _("maker's limit"), True))
        return tuple(
            Level(self._value(value, "temperature"), words, strong)
            for value, words, strong in made
            if value is not None
        )

    def _turbine(self) -> Panel | None:
        drawn = self._each_side("tit_{}_degf", _("turbine inlet"))
        if not drawn:
            return None
        limit = next((each.tit_limit_degf for each in self.lines.values() if each.tit_limit_degf is not None), None)
        levels = () if limit is None else (Level(self._value(limit, "temperature"), _("limit"), True),)
        title = _("Turbine inlet temperature, %(unit)s") % {"unit": unit("temperature", self.units)}
        return Panel("tit", title, drawn, self._room([line.channel for line in drawn], levels), 0.9, levels)

    def _fuel(self) -> Panel | None:
        drawn = self._each_side("ff_{}_gph", _("fuel flow"))
        if not drawn:
            return None
        band = next((each.takeoff_ff_gph for each in self.lines.values() if each.takeoff_ff_gph), None)
        levels = () if band is None else (Level(self._value(band[0], "fuel_flow"), _("least at full throttle")),)
        title = _("Fuel flow, %(unit)s") % {"unit": unit("fuel_flow", self.units)}
        return Panel("fuel", title, drawn, self._room([line.channel for line in drawn], levels), 0.9, levels)

    def _oil(self) -> Panel | None:
        warm = self._each_side("oil_temp_{}_degf", _("oil temperature"))
        pressed = self._each_side("oil_press_{}_psi", _("oil pressure"), right=bool(warm))
        if not warm and not pressed:
            return None
        units = {"warm": unit("temperature", self.units), "pressed": unit("oil_pressure", self.units)}
        both = _("Oil temperature, %(warm)s and pressure, %(pressed)s, right")
        one = _("Oil temperature, %(warm)s") if warm else _("Oil pressure, %(pressed)s")
        title = (both if warm and pressed else one) % units
        left = self._room([line.channel for line in warm or pressed])
        right_room = self._room([line.channel for line in pressed]) if warm and pressed else None
        return Panel("oil", title, warm + pressed, left, 0.8, right_room=right_room)

    def _altitude(self) -> Panel | None:
        if "alt_ft" not in self.ranges:
            return None
        drawn = (Line("alt_ft", _("altitude")),)
        return Panel(
            "altitude",
            _("Altitude, %(unit)s") % {"unit": unit("altitude", self.units)},
            drawn,
            self._room(["alt_ft"]),
            0.8,
        )
