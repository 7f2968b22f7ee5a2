"""The oil log of a build, worked out: windows, estimate, lines, spans of leak and over-fill (rules O1 to O5)."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
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
    protocol_of,
    sliding_windows,
    windows,
)
from breakin.calc.oil.estimate import estimate
from breakin.calc.oil.prior import Prior, partial_prior
from breakin.calc.oil.windows import ANCHOR_U_QT
from breakin.calc.said import said
from breakin.picture.clock import Clock, PlacedOil, place_oil
from breakin.record import BuildRecord, InspectionFacts

DRIPS = 2  # belly oil from here on is an open leak
FINISH_SLOWEST_FIRST = ("chrome", "nitrided", "plain_steel", "through_hardened", "nickel")
CYLINDER = {"chrome": "chrome", "nitrided": "nitrided", "plain_steel": "steel", "through_hardened": "steel"}
FLIGHTS_FOR_PLANNED_H = 5
ORDINARY_FLIGHT_H = 1.0
# Half of a 90 % interval over this is one sigma of a normal distribution.
NINETY_PERCENT = 1.645


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


def governing_finish(record: BuildRecord) -> str:
    """The slowest finish among the disturbed cylinders; "" when none is on record."""
    fitted = {position.finish for position in record.positions if position.disturbed}
    return next((finish for finish in FINISH_SLOWEST_FIRST if finish in fitted), "")


def settle_level_qt(record: BuildRecord) -> float:
    """Where the level is expected to settle [qt]: the type's own figure, else two below full."""
    if record.type.settle_qt is not None:
        return record.type.settle_qt
    try:
        return expected_settle_qt(record.type.sump_full_qt)
    except CalcError:
        return record.type.sump_full_qt * 0.75  # a sump this small has no published habit; shown as the type's line


def oil_rows(record: BuildRecord, clock: Clock) -> tuple[tuple[OilRow, ...], tuple[Leak, ...]]:
    """Every oil event on the clock, and the spans with an open leak."""
    placed = place_oil(record, clock)
    leaks = _leaks(record, placed)
    return _rows(record, clock, placed, leaks), tuple(leaks)


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
    found, refusal = _estimate(record, clock, entries, leaks, prior)
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


def log_for_estimate(
    record: BuildRecord, clock: Clock, entries: Sequence[OilEntry], leaks: Sequence[Leak]
) -> dict[str, Any]:
    """The log in the plain form that the estimate reads."""
    rows: list[dict[str, Any]] = []
    for entry in entries:
        if entry.kind == "reading":
            row = {
                "kind": "reading",
                "hours": entry.hours,
                "level": entry.level_qt,
                "u": entry.u_qt,
                "when": entry.when,
            }
        elif entry.kind == "addition":
            row = {"kind": "add", "hours": entry.hours, "amount": entry.amount_qt}
        else:
            row = {"kind": "change", "hours": entry.hours, "fill": entry.fill_qt}
        rows.append(row)
    spans = [{"kind": "unlogged", "from": span.from_h, "to": span.to_h} for span in clock.unlogged]
    spans += [{"kind": "leak", "from": from_h, "to": clock.hours if to is None else to} for from_h, to, _, _ in leaks]
    seat = record.installation
    return {
        "engine_id": record.engine_id,
        "capacity": record.type.sump_full_qt,
        "unit": "qt",
        "meter": "hobbs" if seat and seat.basis_clock == "hobbs" else "tach",
        "cylinder": CYLINDER.get(governing_finish(record)),
        "dipstick_step": 0.25,
        "limit_qt_h": record.plan.accept_qt_h if record.plan else None,
        "entries": rows,
        "spans": spans,
    }


def believed(record: BuildRecord, prior: Prior, before: tuple[float, float] | None = None) -> Prior:
    """What is believed of this build beforehand: the type's own settling level, a partial build's own loss before it.

    Parameters
    ----------
    record : BuildRecord
    prior : Prior of a whole engine.
    before : rate and its one-sigma doubt [qt/h] before a partial job; None when not known.

    Returns
    -------
    Prior; its name tells the loss before where that is used. A loss before that is no rate to return to (none measured,
    or over 2 qt/h) leaves the prior, and its name, as of a whole engine.
    """
    own = record.type.settle_qt
    if own is not None:
        prior = replace(prior, settle_below_full_qt=record.type.sump_full_qt - own)
    new = sum(position.disturbed for position in record.positions)
    if not record.partial or before is None or new == 0:
        return prior
    try:
        return partial_prior(before[0], new / record.type.cylinders, prior, u_qt_h=before[1])
    except CalcError:
        return prior


def _estimate(
    record: BuildRecord, clock: Clock, entries: Sequence[OilEntry], leaks: Sequence[Leak], prior: Prior
) -> tuple[Mapping[str, Any] | None, str]:
    if record.type.log_only:
        return None, said("This type stands outside the standard rules: its oil is logged, not judged.")
    if record.plan is None:
        return None, said("No run-in plan has been issued, so there is no accept rate to judge by.")
    if not entries:
        return None, said("No oil reading yet.")
    try:
        found = estimate(log_for_estimate(record, clock, entries, leaks), prior, trace=True)
    except CalcError as error:
        return None, str(error)
    if found.get("refusal") or found["rate_now"] is None or not math.isfinite(found["rate_now"]):
        return None, str(found.get("refusal") or said("Not enough readings yet."))
    return found, ""
