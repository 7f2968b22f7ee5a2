"""The oil log of a build, worked out: windows, estimate, lines, spans of leak and over-fill (rules O1 to O5)."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from breakin.calc.errors import CalcError
from breakin.calc.oil import (
    Advice,
    OilEntry,
    OilLimits,
    OilLines,
    PaperWindow,
    Window,
    advise,
    expected_settle_qt,
    oil_limits,
    oil_lines,
    paper_window,
    sliding_windows,
    windows,
)
from breakin.picture.clock import Clock
from breakin.picture.oil_estimate import believed, estimated
from breakin.picture.oil_rows import Leak, OilRow
from breakin.record import BuildRecord

FLIGHTS_FOR_PLANNED_H = 5
ORDINARY_FLIGHT_H = 1.0
# Half of a 90 % interval over this is one sigma of a normal distribution.
NINETY_PERCENT = 1.645


@dataclass(frozen=True)
class OilPicture:
    """All that the oil log says. `estimate` is None and `refusal` says why where nothing can be estimated."""

    rows: tuple[OilRow, ...]
    entries: tuple[OilEntry, ...]
    windows: tuple[Window, ...]
    sliding: tuple[Window, ...]
    settle_qt: float
    limits: OilLimits | None
    lines: OilLines | None
    planned_h: float
    paper: PaperWindow | None
    estimate: Mapping[str, Any] | None
    trace: Mapping[str, Any] | None
    refusal: str
    leak_spans: tuple[tuple[float, float], ...]
    leak_open: bool
    prior: str  # name of what was believed beforehand

    @property
    def readings(self) -> tuple[OilRow, ...]:
        return tuple(row for row in self.rows if row.level_qt is not None and row.placed.event.kind == "reading")

    @property
    def only_over_fill(self) -> bool:
        """Does everything that was measured lie above the settling level, where the breather hides the rings?"""
        return bool(self.windows) and all(window.over_fill_qt > 0 for window in self.windows)

    @property
    def last_reading(self) -> OilRow | None:
        return self.readings[-1] if self.readings else None

    @property
    def rate(self) -> float | None:
        return None if self.estimate is None else self.estimate["rate_now"]

    @property
    def u_rate(self) -> float | None:
        """One sigma of the rate [qt/h], from the 90 % interval."""
        if self.estimate is None:
            return None
        return float(self.estimate["rate_hi"] - self.estimate["rate_lo"]) / (2 * NINETY_PERCENT)

    @property
    def advice(self) -> Advice | None:
        """What to do at the last level that was read, with what was added since."""
        level = self.level_now
        if level is None or self.lines is None:
            return None
        try:
            return advise(level, self.lines)
        except CalcError:
            return None

    @property
    def level_now(self) -> float | None:
        """The last reading with what was poured in since, or the fill when nothing was read after it [qt]."""
        level: float | None = None
        for entry in self.entries:
            if entry.kind == "reading":
                level = entry.level_qt
            elif entry.kind == "drain_fill":
                level = entry.fill_qt
            elif level is not None:
                level += entry.amount_qt or 0.0
        return level


def settle_level_qt(record: BuildRecord) -> float:
    """Where the level is expected to settle [qt]: the type's own figure, else two below full."""
    if record.type.settle_qt is not None:
        return record.type.settle_qt
    try:
        return expected_settle_qt(record.type.sump_full_qt)
    except CalcError:
        return record.type.sump_full_qt * 0.75  # a sump this small has no published habit; shown as the type's line


def oil_of(
    record: BuildRecord,
    clock: Clock,
    rows: tuple[OilRow, ...],
    leaks: tuple[Leak, ...],
    before: tuple[float, float] | None = None,
) -> OilPicture:
    """The oil picture of a build, from its placed events; ``before`` as for :func:`believed`."""
    entries = tuple(row.entry for row in rows if row.entry is not None)
    settle = settle_level_qt(record)
    limits = _limits(record)
    prior = believed(record, record.prior, before)
    found, refusal = estimated(record, clock, entries, leaks, prior)
    planned = _planned_h(clock)
    rate = found["rate_now"] if found else None
    u = (found["rate_hi"] - found["rate_lo"]) / (2 * NINETY_PERCENT) if found else None
    return OilPicture(
        rows=rows,
        entries=entries,
        windows=tuple(windows(entries, settle)),
        sliding=tuple(sliding_windows(entries, settle)),
        settle_qt=settle,
        limits=limits,
        lines=_lines(record, settle, planned, rate, u),
        planned_h=planned,
        paper=_paper(record, clock, entries, settle),
        estimate=found,
        trace=found.get("trace") if found else None,
        refusal=refusal,
        leak_spans=tuple((from_h, to_h if to_h is not None else clock.hours) for from_h, to_h, _, _ in leaks),
        leak_open=any(to_h is None for _, to_h, _, _ in leaks),
        prior=prior.name,
    )


def _limits(record: BuildRecord) -> OilLimits | None:
    try:
        return oil_limits(rated_hp=record.type.rated_hp, maker_qt_per_h=record.type.oil_ceiling_qt_h)
    except CalcError:
        return None


def _lines(
    record: BuildRecord, settle: float, planned_h: float, rate: float | None, u: float | None
) -> OilLines | None:
    seat = record.installation
    try:
        return oil_lines(record.type.sump_full_qt, settle, seat.min_oil_qt if seat else None, planned_h, rate, u)
    except CalcError:
        return None


def _planned_h(clock: Clock) -> float:
    """Length of an ordinary flight of this aircraft [h]: the median of the last five."""
    last = [placed.end_h - placed.start_h for placed in clock.flights[-FLIGHTS_FOR_PLANNED_H:]]
    return statistics.median(last) if last else ORDINARY_FLIGHT_H


def _paper(record: BuildRecord, clock: Clock, entries: Sequence[OilEntry], settle: float) -> PaperWindow | None:
    if record.plan is None or not entries:
        return None
    return paper_window(
        entries,
        settle,
        accept_qt_per_h=record.plan.accept_qt_h,
        no_go_qt=record.installation.min_oil_qt if record.installation else None,
        flight_ends_h=[placed.end_h for placed in clock.flights],
    )
