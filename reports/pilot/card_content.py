"""What a next-flight card says: the one shape that is shown, kept with the card, and printed.

Everything is text in the units of whoever the card was handed to, ready to be set; whatever prints it adds headings and
nothing else. An empty text or an empty tuple means that there is nothing to say, and its heading is left out too. What
can't be read on this aircraft says "not fitted". `to_dict` is what an issued card keeps in its detail under "content"
(and under "readings" for those who fly the aircraft and read it otherwise),
`from_dict` takes it back; both change only together with `SHAPE`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

# Raised when a field goes or changes its meaning; a field may be added with a default.
SHAPE = 1


@dataclass(frozen=True)
class Line:
    """One labelled value. note : the small print beside it."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class FieldAir:
    """For which field and air the card was made.

    place : name of the home field where nothing was typed, else "".
    lines : elevation, altimeter setting, temperature, pressure altitude, density altitude.
    source : where the air comes from, a sentence: typed, decoded from a METAR, or assumed standard.
    warning : what is wrong with it, as an old METAR; else "".
    """

    place: str
    lines: tuple[Line, ...]
    source: str
    warning: str = ""


@dataclass(frozen=True)
class Cell:
    """What to set at one altitude in one air. value : the number he sets, "24.2", or words; note : small, below it."""

    value: str
    note: str = ""


@dataclass(frozen=True)
class SettingRow:
    """One altitude. label : "2,000 ft" or "highest"; cells : one for each air of the table."""

    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class SettingTable:
    """What to set for one power.

    power : "75 %". at : "2,500 rpm", which holds for the whole table; "" with a fixed-pitch propeller.
    unit : of the cells' values, "inHg" or "rpm".
    airs : (name, how far from standard) of each column: cold, standard, hot, and today where it is known.
    reach : a sentence, how high this power can be had.
    fuel_flow : about what fuel flow to expect; "" where it can't be said.
    """

    power: str
    at: str
    unit: str
    airs: tuple[tuple[str, str], ...]
    rows: tuple[SettingRow, ...]
    reach: str
    fuel_flow: str = ""

    @property
    def _day(self) -> int:
        """Column of the day's air, the fourth where it is known; else of standard air, the middle one of three."""
        return 3 if len(self.airs) > 3 else len(self.airs) // 2

    @property
    def day_name(self) -> str:
        """Which air `day_cells` are for."""
        return self.airs[self._day][0]

    @property
    def day_cells(self) -> tuple[tuple[str, Cell], ...]:
        """What to set at each altitude in the day's air, else in standard air."""
        return tuple((row.label, row.cells[self._day]) for row in self.rows)


@dataclass(frozen=True)
class MinuteRow:
    """One row of the minute table. clock : "0:00 to 1:00"; power : "75 % of rated power"; counts : its credit band."""

    clock: str
    power: str
    counts: str = ""


@dataclass(frozen=True)
class TakeOff:
    """checks : full-throttle rpm, manifold pressure, fuel flow. reject : the words about rejecting. note : how the
    fuel-flow band was brought to this air."""

    checks: tuple[Line, ...]
    reject: str
    note: str = ""


@dataclass(frozen=True)
class Climb:
    """words : to which height, within gliding reach. boxes : heights where the hottest head is written down.
    falling : by when the heads must come down, and what to do if not. lines : mixture, cowl flaps."""

    words: str
    boxes: tuple[str, ...]
    falling: str
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True)
class EngineColumn:
    """One engine's column.

    build : key of the build, None where the engine is in no break-in. number : of its card, None before it is kept.
    side : "LEFT", "RIGHT" or "" for a single engine. engine : type and serial number. hours : run so far.
    plan : plan revision, its source and the source's revision.
    stage : what this flight is; owed : minutes still owed. aboard : who may be aboard. advice : the plan's own words.
    why : why there are no settings, else "". follows : not in break-in, it follows the other engine.
    not_achievable : a sentence where the power can't be had in this air; instead : what would do, each alone.
    oil : hold line, add line, no-go; oil_kind : what may be poured.
    repeats : the minute table begins again until landing.
    cruise : mixture, cowl flaps, altitude limit after the climb. heat : expected early, our watch line, maker's limit,
    turbine limit. oil_limits : oil temperature and pressure. ignore : what is not worth a worry.
    cautions : of this kind of engine.
    """

    build: int | None
    number: int | None
    side: str
    engine: str
    hours: str = ""
    plan: str = ""
    stage: str = ""
    owed: str = ""
    aboard: str = ""
    advice: str = ""
    why: str = ""
    follows: bool = False
    oil: tuple[Line, ...] = ()
    oil_kind: str = ""
    take_off: TakeOff | None = None
    climb: Climb | None = None
    minutes: tuple[MinuteRow, ...] = ()
    repeats: bool = False
    settings: tuple[SettingTable, ...] = ()
    not_achievable: str = ""
    instead: tuple[str, ...] = ()
    cruise: tuple[Line, ...] = ()
    heat: tuple[Line, ...] = ()
    oil_limits: tuple[Line, ...] = ()
    ignore: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class CardContent:
    """The card of an aircraft: one sheet, a column for each engine.

    made_at, valid_until : ISO times with the zone of the reader; empty before the card is kept.
    units : "us", "si" or "mixed". even_power : for a twin, else "".
    stops : what must be cleared by a technician before any flight. may_be, do_not : what this flight may be, and what
    it may not. ground : before start and on the ground.
    descent : the rule, and the top of descent where height and ground speed were typed.
    """

    registration: str
    shop_name: str
    phone: str
    units: str
    air: FieldAir
    engines: tuple[EngineColumn, ...]
    stops: tuple[str, ...] = ()
    even_power: str = ""
    may_be: tuple[str, ...] = ()
    do_not: tuple[str, ...] = ()
    ground: tuple[str, ...] = ()
    descent: tuple[str, ...] = ()
    land_now: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    footer: str = ""
    made_at: str = ""
    valid_until: str = ""
    shape: int = SHAPE

    @property
    def made(self) -> datetime | None:
        """When it was made; None before it is kept."""
        return datetime.fromisoformat(self.made_at) if self.made_at else None

    @property
    def until(self) -> datetime | None:
        """Until when it holds at most; None before it is kept."""
        return datetime.fromisoformat(self.valid_until) if self.valid_until else None

    @property
    def twin(self) -> bool:
        return len(self.engines) > 1

    @property
    def digest(self) -> str:
        """SHA-256 of what the card says, without its numbers and times and without the warning that its air has grown
        old: two cards that say the same share it.
        """
        bare = replace(
            self,
            made_at="",
            valid_until="",
            air=replace(self.air, warning=""),
            engines=tuple(replace(engine, number=None) for engine in self.engines),
        )
        text = json.dumps(bare.to_dict(), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()

    def handed_out(self, numbers: Mapping[int, int], made_at: datetime, valid_until: datetime) -> CardContent:
        """The same with the number of each build's card, and its times."""
        engines = tuple(
            replace(engine, number=None if engine.build is None else numbers.get(engine.build))
            for engine in self.engines
        )
        return replace(self, engines=engines, made_at=made_at.isoformat(), valid_until=valid_until.isoformat())

    def to_dict(self) -> dict[str, Any]:
        """As JSON knows it: objects, lists, texts, numbers, booleans, null."""
        plain: dict[str, Any] = json.loads(json.dumps(asdict(self)))
        return plain

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> CardContent:
        """Take back what `to_dict` gave.

        Raises
        ------
        ValueError : kept by a software of another shape.
        """
        if kept.get("shape") != SHAPE:
            raise ValueError(f"This card was kept in shape {kept.get('shape')}; this software reads shape {SHAPE}.")
        body = dict(kept)
        body["air"] = FieldAir(**{**body["air"], "lines": _lines(body["air"]["lines"])})
        body["engines"] = tuple(_column(row) for row in body["engines"])
        return cls(**_tuples(body))


def _column(kept: Mapping[str, Any]) -> EngineColumn:
    body = dict(kept)
    for name in ("oil", "cruise", "heat", "oil_limits"):
        body[name] = _lines(body.get(name, ()))
    if body.get("take_off"):
        body["take_off"] = TakeOff(**{**body["take_off"], "checks": _lines(body["take_off"]["checks"])})
    if body.get("climb"):
        climb = dict(body["climb"])
        climb["lines"] = _lines(climb["lines"])
        body["climb"] = Climb(**_tuples(climb))
    body["minutes"] = tuple(MinuteRow(**row) for row in body.get("minutes", ()))
    body["settings"] = tuple(_table(row) for row in body.get("settings", ()))
    return EngineColumn(**_tuples(body))


def _table(kept: Mapping[str, Any]) -> SettingTable:
    rows = tuple(SettingRow(row["label"], tuple(Cell(**cell) for cell in row["cells"])) for row in kept["rows"])
    return SettingTable(**{**kept, "rows": rows, "airs": tuple(tuple(air) for air in kept["airs"])})


def _lines(kept: Any) -> tuple[Line, ...]:
    return tuple(Line(**line) for line in kept)


def _tuples(body: Mapping[str, Any]) -> dict[str, Any]:
    """The same with the lists that are left as tuples."""
    return {name: tuple(value) if isinstance(value, list) else value for name, value in body.items()}
