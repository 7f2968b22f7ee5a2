"""The oil events of a build on its clock: what each is worth, and the spans in which a leak stood open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakin.calc.oil import OilEntry, protocol_of
from breakin.calc.oil.windows import ANCHOR_U_QT
from breakin.picture.clock import Clock, PlacedOil, place_oil
from breakin.record import BuildRecord, InspectionFacts

DRIPS = 2  # belly oil from here on is an open leak

Leak = tuple[float, float | None, datetime, datetime | None]  # hours from and to, seen at, found fixed at


@dataclass(frozen=True)
class OilRow:
    """One oil event with its place on the clock and what it is worth. `level_qt` has the dipstick's offset in it."""

    placed: PlacedOil
    level_qt: float | None
    u_qt: float | None
    protocol: str
    leak_open: bool
    entry: OilEntry | None
    entry_index: int | None
    before_first_run: bool = False  # after a fill, before the engine ran: filter and cooler have not filled

    @property
    def good(self) -> bool:
        """A reading good enough to measure from."""
        return self.entry is not None and self.entry.kind == "reading" and self.entry.u_qt <= ANCHOR_U_QT + 1e-9

    @property
    def anchor(self) -> bool:
        return self.good and not self.before_first_run

    @property
    def why_not(self) -> str:
        """Why a reading is not measured from; "" for one that is, and for any other event."""
        if self.anchor or self.placed.event.kind != "reading":
            return ""
        if self.before_first_run and self.good:
            return "before the first run after the fill, while filter and cooler are empty"
        return f"± {self.u_qt or 0.3:.2f} qt, {self.protocol} reading"


def oil_rows(record: BuildRecord, clock: Clock) -> tuple[tuple[OilRow, ...], tuple[Leak, ...]]:
    """Every oil event on the clock, and the spans with an open leak."""
    placed = place_oil(record, clock)
    leaks = _leaks(record, placed)
    return _rows(record, clock, placed, leaks), tuple(leaks)


def _leaks(record: BuildRecord, placed: Sequence[PlacedOil]) -> list[Leak]:
    """Spans with an open leak: from the look before the one that saw it until a leak check finds nothing.

    A leak that a check found and fixed at once was open since the last look that saw none.
    """
    checks = [row for row in record.inspections if row.kind == "leak"]
    seen: list[tuple[datetime, float]] = []
    before_h = 0.0
    for row in placed:
        event = row.event
        if event.kind == "loss_seen" or (event.belly_oil or 0) >= DRIPS:
            seen.append((event.at, before_h))
        if event.kind == "reading":
            before_h = row.hours
    hours_by_time = [(row.event.at, row.hours) for row in placed]
    for check in checks:
        if check.result != "normal":
            seen.append((check.at, max((hours for at, hours in hours_by_time if at <= check.at), default=0.0)))
        elif any((spot.get("grade") or 0) >= DRIPS for spot in check.results.get("spots", ())):
            seen += _before_it_was_fixed(record, check, checks, placed)
    spans: list[Leak] = []
    for at, from_h in sorted(seen):
        if spans and (spans[-1][3] is None or at <= spans[-1][3]):
            continue
        fixed = next((check.at for check in checks if check.result == "normal" and check.at > at), None)
        later = max((hours for moment, hours in hours_by_time if fixed and moment <= fixed), default=from_h)
        spans.append((from_h, None if fixed is None else later, at, fixed))
    return spans


def _before_it_was_fixed(
    record: BuildRecord, check: InspectionFacts, checks: Sequence[InspectionFacts], placed: Sequence[PlacedOil]
) -> list[tuple[datetime, float]]:
    """Of a leak found and fixed in one look: the first oil event that it may have shadowed, and the hours it is open
    from, at the last look at the belly or the engine that saw it dry. None where no oil event lies between.
    """
    dry = [one.at for one in checks if one.at < check.at]
    belly = ((row.event.at, row.event.belly_oil) for row in placed)
    dry += [at for at, oil in belly if oil is not None and oil < DRIPS and at < check.at]
    clean_at = max(dry, default=record.opened_at)
    from_h = max((row.hours for row in placed if row.event.at <= clean_at), default=0.0)
    return [(row.event.at, from_h) for row in placed if clean_at < row.event.at < check.at][:1]


def _rows(record: BuildRecord, clock: Clock, placed: Sequence[PlacedOil], leaks: Sequence[Leak]) -> tuple[OilRow, ...]:
    estimated_at = {run.end_h for run in clock.runs if run.run.hours_estimated}
    ends = [span.to_h for span in clock.unlogged]
    rows: list[OilRow] = []
    number, filled_at = 0, -math.inf
    for row in placed:
        event = row.event
        seat = record.installation_at(event.at) or record.installation
        offset = seat.dipstick_offset_qt if seat else 0.0
        level = None if event.level_qt is None else event.level_qt + offset
        leaking = any(at <= event.at and (fixed is None or event.at < fixed) for _, _, at, fixed in leaks)
        unlogged = bool(ends) and row.hours >= ends[0] - 1e-9
        while ends and row.hours >= ends[0] - 1e-9:
            ends.pop(0)
        estimated = row.estimated or row.hours in estimated_at
        separator = seat is not None and seat.separator
        entry, u, protocol = _entry(row, level, leaking, unlogged, estimated, separator)
        if event.kind == "drain_fill":
            filled_at = row.hours
        fresh = event.kind == "reading" and row.hours <= filled_at
        rows.append(OilRow(row, level, u, protocol, leaking, entry, number if entry else None, fresh))
        number += entry is not None
    return tuple(rows)


def _entry(
    row: PlacedOil, level: float | None, leaking: bool, unlogged: bool, estimated: bool, separator: bool
) -> tuple[OilEntry | None, float | None, str]:
    """The event as the calculations read it; None for an event that is no part of the balance."""
    event = row.event
    common = {
        "hours": row.hours,
        "root": str(event.root),
        "leak_open": leaking,
        "unlogged": unlogged,
        "estimated_hours": estimated,
        "separator": separator,
    }
    if event.kind == "reading" and level is not None and level >= 0:
        how = protocol_of(
            minutes_since_shutdown=event.minutes_since_shutdown,
            level_ground=event.level_ground,
            wiped_twice=event.wiped_twice,
            recalled=event.recalled,
            u_qt=event.u_qt,
        )
        when: Any = event.when if event.when in ("before", "after") else None
        reading = OilEntry(kind="reading", level_qt=level, u_qt=how.u_qt, protocol=how.kind, when=when, **common)  # type: ignore[arg-type]
        return reading, how.u_qt, how.kind
    if event.kind == "addition" and event.amount_qt:
        return OilEntry(kind="addition", amount_qt=event.amount_qt, **common), None, ""  # type: ignore[arg-type]
    if event.kind == "drain_fill" and event.filled_qt is not None:
        return OilEntry(kind="drain_fill", fill_qt=event.filled_qt, **common), None, ""  # type: ignore[arg-type]
    return None, None, ""
