"""Reading an oil log given as plain dicts: units, order, and the losses between its readings."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, Literal

from breakin.calc.errors import BadLog, CalcError
from breakin.calc.oil.protocol import GOOD_U_QT
from breakin.calc.units import Kind, to_canonical

DEFAULT_LIMIT_QT_PER_H = 0.25
# The least that rounding to a dipstick division and pouring add to the doubt of a reading: own choice.
DIVISION_SHARE = 0.4
BAD_READING_QT = 0.7
STEP_QT = 0.6
FILL_AND_COOLER_U_QT = 0.2


@dataclass(frozen=True)
class LogEntry:
    """One entry in US quarts. ``index`` is its place in the log as given; ``u`` the doubt of a reading [qt]."""

    index: int
    kind: Literal["change", "reading", "add"]
    hours: float
    quarts: float
    when: str | None = None
    u: float = GOOD_U_QT


@dataclass(frozen=True)
class Span:
    """Hours in which a leak was open or running was not logged: no loss in them counts."""

    kind: str
    start: float
    end: float


@dataclass(frozen=True)
class OilLog:
    """A log that has been read and checked. Quarts, hours."""

    full_qt: float
    cylinder: str | None
    limit_qt_h: float
    entries: tuple[LogEntry, ...]
    spans: tuple[Span, ...] = ()

    @property
    def readings(self) -> tuple[LogEntry, ...]:
        """The dipstick readings, in order."""
        return tuple(entry for entry in self.entries if entry.kind == "reading")

    @property
    def now_h(self) -> float:
        """Hours of the last entry [h]."""
        return self.entries[-1].hours if self.entries else 0.0


@dataclass
class Chain:
    """Readings of one fill that can be compared: hours, and quarts lost since its first (additions put back)."""

    hours: list[float] = field(default_factory=list)
    level: list[float] = field(default_factory=list)
    added: list[float] = field(default_factory=list)
    u: list[float] = field(default_factory=list)
    index: list[int] = field(default_factory=list)

    def loss(self, place: int) -> float:
        """Quarts lost from the first reading of the chain to this one [qt]."""
        return self.level[0] - self.level[place] + self.added[place] - self.added[0]

    def part(self, places: Sequence[int]) -> "Chain":
        """The chain with only these places."""
        return Chain(
            [self.hours[place] for place in places],
            [self.level[place] for place in places],
            [self.added[place] for place in places],
            [self.u[place] for place in places],
            [self.index[place] for place in places],
        )


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadLog(f"{value!r} is not a number.", where=where, mend="Give a number, or leave the entry out.")
    return float(value)


def _quarts(value: Any, unit: str, where: str) -> float:
    number = _number(value, where)
    if number < 0:
        raise BadLog(f"{number:g} is below 0.", where=where, mend="Correct the amount.")
    try:
        return to_canonical(number, unit, Kind.VOLUME)
    except CalcError as refused:
        raise BadLog(refused.what, where=where, mend=refused.mend) from None


def read_log(log: Mapping[str, Any]) -> OilLog:
    """Read a log in its plain form.

    Parameters
    ----------
    log : mapping with ``capacity`` [log's unit], ``unit``, ``cylinder``, ``dipstick_step``, ``limit_qt_h`` [qt/h] and
        ``entries``: ``{"kind": "change", "hours", "fill"}``, ``{"kind": "reading", "hours", "level", "when"}``,
        ``{"kind": "add", "hours", "amount"}``, each with an optional ``unit`` that overrules and, for a reading, ``u``.
        Optional ``spans``: ``{"kind": "leak" or "unlogged", "from", "to"}`` [h].

    Returns
    -------
    OilLog

    Raises
    ------
    BadLog : an unknown entry, a missing or impossible value, hours that fall.
    """
    unit = str(log.get("unit") or "qt")
    full = _quarts(log.get("capacity"), unit, "capacity")
    if not 1 <= full <= 80:
        raise BadLog(f"{full:g} qt is outside 1 to 80 qt.", where="capacity", mend="Check it and its unit.")
    step = _quarts(log.get("dipstick_step") or 0.25, unit, "dipstick step")
    entries: list[LogEntry] = []
    for index, raw in enumerate(log.get("entries") or ()):
        where = f"oil entry {index + 1}"
        kind = raw.get("kind")
        name = {"change": "fill", "reading": "level", "add": "amount"}.get(kind)
        if name is None:
            raise BadLog(f"{kind!r} is not a kind of entry.", where=where, mend="Use change, reading or add.")
        quarts = _quarts(raw.get(name), str(raw.get("unit") or unit), f"{where}, {name}")
        hours = _number(raw.get("hours"), f"{where}, hours")
        if entries and hours < entries[-1].hours - 1e-9:
            mend = "Put the entries in order, or correct the meter reading."
            raise BadLog(f"{hours:g} h comes after {entries[-1].hours:g} h.", where=where, mend=mend)
        entry = LogEntry(index, kind, hours, quarts, raw.get("when"))
        if kind == "reading":
            given = raw.get("u")
            u = math.hypot(GOOD_U_QT, DIVISION_SHARE * step) if given is None else _quarts(given, unit, f"{where}, u")
            entry = replace(entry, u=max(u, 0.05))
        entries.append(entry)
    spans = tuple(
        Span(str(raw.get("kind")), _number(raw.get("from"), "span"), _number(raw.get("to"), "span"))
        for raw in log.get("spans") or ()
    )
    limit = _number(log.get("limit_qt_h", DEFAULT_LIMIT_QT_PER_H), "limit_qt_h")
    return OilLog(full, log.get("cylinder"), limit, tuple(entries), spans)


def chains_of(log: OilLog) -> list[Chain]:
    """Comparable readings, one chain a fill; the readings before the first run after a fill are left out.

    On that run the filter and the oil cooler fill, which is no loss.
    """
    chains: list[Chain] = [Chain()]
    added, filled_at = 0.0, -math.inf
    for entry in log.entries:
        if entry.kind == "change":
            chains.append(Chain())
            added, filled_at = 0.0, entry.hours
        elif entry.kind == "add":
            added += entry.quarts
        elif entry.hours > filled_at + 1e-9:
            chain = chains[-1]
            chain.hours.append(entry.hours)
            chain.level.append(entry.quarts)
            chain.added.append(added)
            chain.u.append(entry.u)
            chain.index.append(entry.index)
    return [chain for chain in chains if chain.hours]


def without_bad_readings(chain: Chain) -> tuple[Chain, list[int]]:
    """Leave out readings that stand alone against both neighbours. Returns the rest and the log places left out."""
    bad: list[int] = []
    keep = list(range(len(chain.hours)))
    for place in range(1, len(chain.hours) - 1):
        before, after = place - 1, place + 1
        if bad and chain.index[before] == bad[-1]:
            continue
        span = chain.hours[after] - chain.hours[before]
        share = (chain.hours[place] - chain.hours[before]) / span if span > 0 else 0.5
        expected = chain.loss(before) + share * (chain.loss(after) - chain.loss(before))
        # Both neighbours must disagree in the same direction, or the middle one is only part of a step.
        apart = [chain.loss(place) - chain.loss(other) for other in (before, after)]
        same_side = apart[0] * apart[1] > 0 and min(abs(value) for value in apart) > 0.5 * BAD_READING_QT
        if same_side and abs(chain.loss(place) - expected) > BAD_READING_QT:
            bad.append(chain.index[place])
            keep.remove(place)
    return chain.part(keep), bad


def split_at_steps(chain: Chain) -> tuple[list[Chain], list[float]]:
    """Cut a chain where the level steps up without a logged addition. Returns the parts and the hours of the steps."""
    cuts, hours = [0], []
    for before, after in pairwise(range(len(chain.hours))):
        if chain.loss(after) - chain.loss(before) < -STEP_QT:
            cuts.append(after)
            hours.append(chain.hours[after])
    cuts.append(len(chain.hours))
    return [chain.part(range(start, end)) for start, end in pairwise(cuts)], hours
