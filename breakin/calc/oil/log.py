"""Reading an oil log given as plain dicts: units, order, what is impossible and what is only doubtful."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from breakin.calc.errors import BadLog, CalcError
from breakin.calc.units import Kind, to_canonical

DEFAULT_LIMIT_QT_PER_H = 0.25
# A level so far above the full mark cannot be read off a dipstick: common sense, no source.
ABOVE_STICK_QT = 2.0
FINEST_U_QT = 0.05
CALM_DIVISION_QT = 0.25
NAMES: dict[str, str] = {"change": "fill", "reading": "level", "add": "amount"}


@dataclass(frozen=True)
class LogEntry:
    """One entry. ``index`` is its place in the log as given; quarts; hours as given and ``at``, hours since the start.

    ``at`` runs on over a switch of meters; ``switched`` marks the first entry on another meter: how long the engine
    ran in between is not known. ``u`` is the doubt that the reader told [qt], or None. ``oil`` is the kind of oil.
    """

    index: int
    kind: Literal["change", "reading", "add"]
    hours: float
    at: float
    quarts: float
    when: str | None = None
    u: float | None = None
    switched: bool = False
    oil: str | None = None


@dataclass(frozen=True)
class Span:
    """Hours in which a leak was open or running was not logged: no loss in them counts."""

    kind: str
    start: float
    end: float


@dataclass(frozen=True)
class OilLog:
    """A log that has been read and checked. Quarts, hours. ``notes`` tell what was doubtful and what was done."""

    full_qt: float
    division_qt: float
    cylinder: str | None
    limit_qt_h: float
    entries: tuple[LogEntry, ...]
    spans: tuple[Span, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def readings(self) -> tuple[LogEntry, ...]:
        """The dipstick readings that can be used, in order."""
        return tuple(entry for entry in self.entries if entry.kind == "reading" and self.usable(entry))

    @property
    def now_h(self) -> float:
        """Hours of the last entry [h]."""
        return self.entries[-1].hours if self.entries else 0.0

    def usable(self, entry: LogEntry) -> bool:
        """Whether a reading lies on the dipstick."""
        return entry.quarts <= self.full_qt + ABOVE_STICK_QT


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
    log : mapping with ``capacity`` [log's unit], ``unit``, ``cylinder``, ``dipstick_step``, ``limit_qt_h`` [qt/h],
        ``meter`` and ``entries`` in order of happening: ``{"kind": "change", "hours", "fill"}``,
        ``{"kind": "reading", "hours", "level", "when"}``, ``{"kind": "add", "hours", "amount"}``. Each may carry
        ``unit`` and ``meter``, which overrule the log's, and ``oil``, its kind; a reading ``u``, its one-sigma doubt.
        Optional ``spans``: ``{"kind": "leak" or "unlogged", "from", "to"}`` [h].

    Returns
    -------
    OilLog

    Raises
    ------
    BadLog : an unknown entry, a missing or impossible value, hours that fall.
    """
    if not isinstance(log, Mapping):
        raise BadLog(f"{type(log).__name__} is not a log.", where="oil log", mend="Give its fields by name.")
    unit = str(log.get("unit") or "qt")
    full = _quarts(log.get("capacity"), unit, "capacity")
    if not 1 <= full <= 80:
        raise BadLog(f"{full:g} qt is outside 1 to 80 qt.", where="capacity", mend="Check it and its unit.")
    given = log.get("dipstick_step")
    division = CALM_DIVISION_QT if given is None else _quarts(given, unit, "dipstick step")
    if not 0 < division <= 4:
        raise BadLog(f"{division:g} qt is outside 0 to 4 qt.", where="dipstick step", mend="Check it and its unit.")
    limit = _number(DEFAULT_LIMIT_QT_PER_H if log.get("limit_qt_h") is None else log["limit_qt_h"], "accept limit")
    if not 0 < limit <= 10:
        raise BadLog(f"{limit:g} is outside 0 to 10 qt/h.", where="accept limit", mend="Check the plan.")
    entries = _entries(log, unit)
    _check_amounts(entries, full)
    cylinder = log.get("cylinder")
    notes = _notes(entries, full, log)
    return OilLog(full, division, cylinder, limit, tuple(entries), _spans(log), tuple(notes))


def _entries(log: Mapping[str, Any], unit: str) -> list[LogEntry]:
    raw_entries = log.get("entries")
    if raw_entries is None or isinstance(raw_entries, str | Mapping):
        raise BadLog("there is no list of entries.", where="entries", mend="Give them in order of happening.")
    meter = log.get("meter")
    entries: list[LogEntry] = []
    offset = 0.0
    for index, raw in enumerate(raw_entries):
        where = f"oil entry {index + 1}"
        if not isinstance(raw, Mapping):
            raise BadLog(f"{raw!r} is not an entry.", where=where, mend="Give its fields by name.")
        kind = raw.get("kind")
        name = NAMES.get(kind) if isinstance(kind, str) else None
        if name is None:
            raise BadLog(f"{kind!r} is not a kind of entry.", where=where, mend="Use change, reading or add.")
        own_unit = str(raw.get("unit") or unit)
        quarts = _quarts(raw.get(name), own_unit, f"{where}, {name}")
        hours = _number(raw.get("hours"), f"{where}, hours")
        own_meter = raw.get("meter") or meter
        switched = bool(entries) and own_meter != meter
        meter = own_meter
        if not entries:
            offset = -hours
        elif switched:
            offset = entries[-1].at - hours
        elif hours < entries[-1].hours - 1e-9:
            mend = "Put the entries in order, or correct the meter reading; for a new meter, name it in the entry."
            raise BadLog(f"{hours:g} h comes after {entries[-1].hours:g} h.", where=where, mend=mend)
        u = None
        if kind == "reading" and raw.get("u") is not None:
            u = max(_quarts(raw["u"], own_unit, f"{where}, u"), FINEST_U_QT)
        at = max(hours + offset, entries[-1].at if entries else 0.0)
        kind = cast(Literal["change", "reading", "add"], kind)
        entries.append(LogEntry(index, kind, hours, at, quarts, raw.get("when"), u, switched, raw.get("oil")))
    return entries


def _check_amounts(entries: list[LogEntry], full: float) -> None:
    for entry in entries:
        where = f"oil entry {entry.index + 1}"
        if entry.kind == "add" and entry.quarts > full:
            wrong = f"{entry.quarts:g} qt added is more than the sump holds, {full:g} qt."
            raise BadLog(wrong, where=where, mend="Check the amount and its unit; log a drain and fill as a change.")
        if entry.kind == "change" and entry.quarts > full + ABOVE_STICK_QT:
            wrong = f"a fill of {entry.quarts:g} qt is more than the sump holds, {full:g} qt."
            raise BadLog(wrong, where=where, mend="Check the fill and its unit.")


def _spans(log: Mapping[str, Any]) -> tuple[Span, ...]:
    spans = []
    for number, raw in enumerate(log.get("spans") or (), 1):
        where = f"span {number}"
        start, end = _number(raw.get("from"), where), _number(raw.get("to"), where)
        if end < start:
            raise BadLog(f"it ends at {end:g} h, before {start:g} h.", where=where, mend="Swap or correct the hours.")
        spans.append(Span(str(raw.get("kind")), start, end))
    return tuple(spans)


def _notes(entries: list[LogEntry], full: float, log: Mapping[str, Any]) -> list[str]:
    notes = []
    for entry in entries:
        if entry.kind == "reading" and entry.quarts > full + ABOVE_STICK_QT:
            notes.append(
                f"The reading of {entry.quarts:.2f} qt at {entry.hours:.1f} h lies above the stick and was left out."
            )
        if entry.switched:
            notes.append(
                f"Another hour meter from {entry.hours:.1f} h on: nothing is compared over the switch; hours are those "
                "of the new meter."
            )
    levels = [entry.quarts for entry in entries if entry.kind == "reading"]
    if len(levels) >= 3 and max(levels) - min(levels) < 1e-9:
        notes.append(f"All {len(levels)} readings are equal: a dipstick that was not read anew would look the same.")
    oils = [entry.oil for entry in entries if entry.oil]
    if len(set(oils)) > 1:
        first = next(entry for entry in entries if entry.oil and entry.oil != oils[0])
        notes.append(
            f"Another kind of oil from {first.hours:.1f} h on: the loss before and after need not be the same."
        )
    for span in log.get("spans") or ():
        why = "open leak" if span.get("kind") == "leak" else "running that was not logged"
        notes.append(f"{span['from']:.1f} h to {span['to']:.1f} h left out: {why}.")
    return notes
