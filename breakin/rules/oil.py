"""O-rules: what the dipstick says. O8 and O9 answer at once when a level is stored.

Limits come from the plan, the minimum from the POH/AFM by way of the installation, the ceiling from the maker or from
the published formula named with it. Times, shares and the half quart of a rise: common practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from breakin.calc.oil import Window
from breakin.picture.oil import OilRow
from breakin.picture.picture import Picture
from breakin.rules.base import CALL, NOTE, STAND, STOP, Answer, Hit, answer, oil_evidence, rule

RISE_QT = 0.5
SETTLED_AFTER_H = 3.0
SLOW_SHARE = 1.5
FULL_FILL_QT = 3.0
OIL_WORDS = {"mineral": "straight mineral", "ad": "ashless dispersant", "other": "other or unknown"}


@rule(
    "O1",
    version=1,
    needs=("two readings",),
    severity="none",
    title="Windows that can be judged",
    text="A loss is measured between two good readings of one kind in one fill. It can be judged from 4 h on and with "
    "no more than ± 0.06 qt/h of doubt; one flight alone proves nothing.",
)
def windows_that_count(picture: Picture) -> Answer:
    counted = [window for window in picture.oil.sliding if window.assessable]
    if not counted:
        reason = picture.oil.sliding[-1].why_not if picture.oil.sliding else "no two good readings lie 4 h apart"
        return Answer("not known", f"No window can be judged yet: {reason}.")
    return Answer("met", f"{_loss(counted[-1])}.")


@rule(
    "O2",
    version=1,
    needs=("reading",),
    severity="none",
    title="Over-fill",
    text="An engine settles about two quarts under its full mark. What is poured above that goes out of the breather "
    "and says nothing about the rings; such windows are shown and left out.",
)
def over_fill(picture: Picture) -> Answer:
    spans = [window for window in picture.oil.windows if window.over_fill_qt > 0]
    if not spans:
        return Answer("met", f"No window started above the settling level, {picture.oil.settle_qt:.1f} qt.")
    last = spans[-1]
    return Answer(
        "not met",
        f"{len(spans)} windows held up to {max(span.over_fill_qt for span in spans):.2f} qt above the settling level, "
        f"{picture.oil.settle_qt:.1f} qt, the last from {last.h1:.1f} h to {last.h2:.1f} h: not the rings' loss.",
    )


@rule(
    "O3",
    version=1,
    severity="none",
    title="Hold, add and no-go line",
    text="Never pour above the hold line; below the add line add one quart; the no-go line is the POH/AFM minimum, and "
    "it and the pilot's judgement always win.",
)
def lines(picture: Picture) -> Answer:
    drawn = picture.oil.lines
    if drawn is None:
        return Answer("not known", "The minimum for flight is not on record, so no lines can be drawn.")
    advice = picture.oil.advice
    said = f" {advice.sentence}" if advice else ""
    return Answer("met", f"Hold {drawn.hold:.2f}, add {drawn.add:.2f}, no-go {drawn.no_go:.2f} qt.{said}")


@rule(
    "O4",
    version=1,
    needs=("two readings",),
    severity="stop",
    title="Oil loss over the ceiling",
    text="A loss that lies over the ceiling even with its doubt taken off, in a window that can be judged, is a Stop.",
)
def over_ceiling(picture: Picture) -> Answer:
    limits = picture.oil.limits
    if limits is None:
        return Answer("not known", "Neither the maker's limit nor rated power is on record.")
    over = _apart([window for window in picture.oil.sliding if _surely_over(window, limits.ceiling)])
    hits = []
    for window in over:
        last = _row(picture, window.roots[-1])
        text = f"{_loss(window)}, over the ceiling of {limits.ceiling:.2f} qt/h. {STAND}"
        numbers = {"rate_qt_h": window.rate, "u_qt_h": window.u_rate, "ceiling_qt_h": limits.ceiling}
        evidence = tuple(oil_evidence(root, "in the window") for root in window.roots)
        hits.append(Hit(window.roots[-1], STOP, text, limits.basis[:200], last.placed.event.at, numbers, evidence))
    if not any(window.assessable for window in picture.oil.sliding):
        return Answer("not known", "No window can be judged yet.")
    return answer(hits, f"No window lies over the ceiling of {limits.ceiling:.2f} qt/h.")


def _surely_over(window: Window, line: float) -> bool:
    return window.assessable and window.rate - window.u_rate > line


def _apart(found: Sequence[Window]) -> list[Window]:
    """The first of each group of overlapping windows: a later reading must not find the same loss again."""
    kept: list[Window] = []
    for window in found:
        if not kept or window.h1 >= kept[-1].h2 - 1e-9:
            kept.append(window)
    return kept


def _loss(window: Window) -> str:
    return f"Loss {window.rate:.2f} ± {window.u_rate:.2f} qt/h between {window.h1:.1f} h and {window.h2:.1f} h"


def _row(picture: Picture, root: str) -> OilRow:
    return next(row for row in picture.oil_rows if str(row.placed.event.root) == root)


@dataclass(frozen=True)
class Settling:
    """Whether the oil loss counts as provisionally settled, and everything that stands against it, in sentences."""

    declared: bool
    vetoes: tuple[str, ...]
    agrees: str

    @property
    def provisional(self) -> bool:
        return self.declared and not self.vetoes


def settling(picture: Picture) -> Settling:
    """The estimate's declaration, its vetoes and the paper window's word ("agrees", "disagrees", "too short")."""
    oil = picture.oil
    declared = bool(oil.estimate and oil.estimate["stabilized"])
    paper = oil.paper.verdict if oil.paper else "too short"
    # The paper window agrees with a declaration when it passes, and with none when it fails.
    agrees = "too short" if paper == "too short" else "agrees" if (paper == "passes") == declared else "disagrees"
    vetoes = []
    if oil.leak_open:
        vetoes.append("A leak is open.")
    if oil.only_over_fill:
        vetoes.append(f"Every window lies above the settling level, {oil.settle_qt:.1f} qt: over-fill hides the rings.")
    if any(not _explained(picture, hit) for hit in _rises(picture)):
        vetoes.append("A rise of the oil level is not explained.")
    if picture.hours < SETTLED_AFTER_H:
        vetoes.append(f"{picture.hours:.1f} h of at least {SETTLED_AFTER_H:.0f} h run.")
    seat, last = picture.record.installation, oil.last_reading
    if seat and last and last.level_qt is not None and last.level_qt < seat.min_oil_qt:
        vetoes.append(f"The level, {last.level_qt:.2f} qt, is under the minimum, {seat.min_oil_qt:.2f} qt.")
    return Settling(declared, tuple(vetoes), agrees)


def _explained(picture: Picture, hit: Hit) -> bool:
    return picture.record.decision("O8", hit.key) == "cleared"


@rule(
    "O5",
    version=1,
    needs=("reading", "plan"),
    severity="none",
    title="Settled, provisionally",
    text="Provisionally settled when the estimate gives at least 0.85 that the loss has stabilized under the accept "
    "rate, from 4 readings over 3 h, with no open leak, no unexplained rise and no level under the minimum. The paper "
    "window stands beside it.",
)
def settled(picture: Picture) -> Answer:
    state, oil = settling(picture), picture.oil
    if oil.estimate is None:
        return Answer("not known", oil.refusal)
    chance = f"{oil.estimate['p_stabilized']:.2f} of 0.85 that the loss has stabilized"
    if state.provisional:
        return Answer("met", f"Estimate: {chance}. The paper window: {state.agrees}.")
    against = " ".join(state.vetoes)
    return Answer("not met", f"Estimate: {chance}. {against}".strip())


@rule(
    "O8",
    version=1,
    needs=("two readings",),
    severity="call; stop when confirmed",
    title="Oil level rose",
    text="A level that rises by half a quart or more without an addition: a reader's error, oil that nobody noted, or "
    "fuel or water in the oil. Ask the same day. When the next reading confirms it, or it happens again, it is a Stop "
    "until smell and sample have been checked.",
    safety=True,
)
def level_rise(picture: Picture) -> Answer:
    return answer(_rises(picture), "No level rose without an addition.")


def _rises(picture: Picture) -> Iterator[Hit]:
    rises = 0
    for before, row, following, gained in _pairs(picture.oil_rows):
        doubt = math.hypot(before.u_qt or 0.3, row.u_qt or 0.3)
        if gained < max(RISE_QT, 2 * doubt) - 1e-9:
            continue
        rises += 1
        confirmed = following is not None and following - (before.level_qt or 0.0) >= RISE_QT - 1e-9
        event = row.placed.event
        shown = f"from {before.level_qt:.2f} to {row.level_qt:.2f} qt at {row.placed.hours:.1f} h, "
        shown += f"{gained:.2f} qt more than what was added explains"
        evidence = (
            oil_evidence(before.placed.event.root, f"{before.level_qt:.2f} qt"),
            oil_evidence(event.root, f"{row.level_qt:.2f} qt"),
        )
        numbers = {"rise_qt": gained, "doubt_qt": doubt}
        source = "common practice, no published source"
        if confirmed or rises > 1:
            why = "the next reading confirms it" if confirmed else "it is the second rise"
            text = f"The oil level rose {shown}; {why}. Smell for fuel, look for water, take a sample. {STAND}"
            yield Hit(str(event.root), STOP, text, source, event.at, numbers, evidence)
        else:
            text = f"The oil level rose {shown}. Ask today: did someone else add? Read again; smell for fuel and water."
            yield Hit(str(event.root), CALL, text, source, event.at, numbers, evidence)


def _pairs(rows: Sequence[OilRow]) -> Iterator[tuple[OilRow, OilRow, float | None, float]]:
    """Neighbouring readings of one kind in one fill: before, after, the next with nothing added, and the gain."""
    last: dict[str, tuple[OilRow, float]] = {}
    poured = 0.0
    for place, row in enumerate(rows):
        event = row.placed.event
        if event.kind == "drain_fill":
            last.clear()
        elif event.kind == "addition":
            poured += event.amount_qt or 0.0
        elif row.level_qt is not None and event.kind == "reading":
            before = last.get(row.protocol)
            if before is not None and before[0].level_qt is not None:
                gained = row.level_qt - before[0].level_qt - (poured - before[1])
                yield before[0], row, _next_level(rows[place + 1 :], row.protocol), gained
            last[row.protocol] = (row, poured)


def _next_level(rows: Sequence[OilRow], protocol: str) -> float | None:
    for row in rows:
        if row.placed.event.kind in ("addition", "drain_fill"):
            return None
        if row.placed.event.kind == "reading" and row.protocol == protocol:
            return row.level_qt
    return None


@rule(
    "O9",
    version=1,
    needs=("reading",),
    severity="call; stop when repeated",
    title="Oil under the minimum",
    text="A level under the POH/AFM minimum after a flight asks for a call today; flown although it was under the "
    "minimum before the flight, the manager is told as well. A second time is a Stop.",
    safety=True,
    judges_log_only=True,
)
def under_minimum(picture: Picture) -> Answer:
    if not picture.record.installations:
        return Answer("not known", "The engine is not installed, so no minimum for flight is on record.")
    return answer(_under_minimum(picture), "No level was under the minimum for flight.")


def _under_minimum(picture: Picture) -> Iterator[Hit]:
    found = 0
    rows = picture.oil_rows
    for place, row in enumerate(rows):
        event = row.placed.event
        seat = picture.record.installation_at(event.at) or picture.record.installation
        if event.kind != "reading" or row.level_qt is None or seat is None:
            continue
        before = event.when == "before"
        level = row.level_qt + (_poured_before_flight(rows[place + 1 :], row) if before else 0.0)
        if level >= seat.min_oil_qt - 1e-9 or (before and not _was_flown(picture, row)):
            continue
        found += 1
        what = "and the flight was made; tell the manager" if before else "after running"
        text = f"Oil level {level:.2f} qt, under the minimum of {seat.min_oil_qt:.2f} qt, {what}. "
        text += f"Not for the first time. {STAND}" if found > 1 else "Call today: do not fly under the minimum."
        evidence = (oil_evidence(event.root, f"{row.level_qt:.2f} qt"),)
        numbers = {"level_qt": level, "minimum_qt": seat.min_oil_qt, "time": found}
        severity = STOP if found > 1 else CALL
        yield Hit(str(event.root), severity, text, seat.min_oil_source[:200], event.at, numbers, evidence)


def _poured_before_flight(rows: Sequence[OilRow], reading: OilRow) -> float:
    same = (row for row in rows if row.placed.seat == reading.placed.seat and row.placed.event.kind == "addition")
    return sum(row.placed.event.amount_qt or 0.0 for row in same)


def _was_flown(picture: Picture, reading: OilRow) -> bool:
    number = reading.placed.seat // 2
    runs = picture.clock.runs
    return 0 <= number < len(runs) and runs[number].run.is_flight


@rule(
    "O10",
    version=1,
    needs=("plan",),
    severity="note; call for a full fill",
    title="Oil kind",
    text="Oil of another kind than the plan's: up to a quart is noted and explained; a full fill or three quarts ask "
    "for a call, to decide on a drain by the plan's source.",
)
def oil_kind(picture: Picture) -> Answer:
    plan = picture.record.plan
    if plan is None or picture.record.state == "closed":
        return Answer("not applicable", "The plan's oil kind holds until close-out.")
    hits = []
    for row in picture.oil_rows:
        event = row.placed.event
        amount = event.filled_qt if event.kind == "drain_fill" else event.amount_qt
        if event.kind not in ("addition", "drain_fill") or not amount or event.oil_kind in ("", plan.oil_kind):
            continue
        much = event.kind == "drain_fill" or amount >= FULL_FILL_QT
        text = (
            f"{amount:.2f} qt of {OIL_WORDS.get(event.oil_kind, event.oil_kind)} oil at {row.placed.hours:.1f} h; the "
            f"plan asks for {OIL_WORDS.get(plan.oil_kind, plan.oil_kind)}. "
        )
        text += "Call and decide on a drain by the plan's source." if much else "So little spoils nothing; say so."
        evidence = (oil_evidence(event.root, f"{amount:.2f} qt"),)
        severity = CALL if much else NOTE
        hits.append(Hit(str(event.root), severity, text, plan.name[:200], event.at, {"amount_qt": amount}, evidence))
    return answer(hits, "All oil was of the plan's kind, where its kind was told.")


@rule(
    "O11",
    version=1,
    needs=("flight", "plan"),
    severity="call",
    title="Slow to settle",
    text="Half as long again as this kind of build usually takes, and not settled: call, borescope, compression and "
    "breather pressure; at twice as long the manager talks to the maker or the cylinder supplier. Missed first hours "
    "lengthen what is expected.",
)
def slow_to_settle(picture: Picture) -> Answer:
    plan = picture.record.plan
    if plan is None or picture.record.state != "open":
        return Answer("not applicable", "The build is not open.")
    if settling(picture).provisional:
        return Answer("met", "Provisionally settled.")
    expected = expected_high_h(picture)
    if picture.hours <= SLOW_SHARE * expected:
        return Answer("met", f"{picture.hours:.1f} h run of {expected:.0f} h expected at most.")
    line = 2.0 if picture.hours > 2 * expected else SLOW_SHARE
    text = f"{picture.hours:.1f} h run and not settled; this kind of build usually takes up to {expected:.0f} h. "
    text += (
        "Manager: talk to the maker or the cylinder supplier." if line == 2.0 else "Borescope, compression, breather."
    )
    placed = next(run for run in picture.clock.flights if run.end_h > line * expected)
    evidence = ({"kind": "flight", "root": str(placed.run.root), "words": f"{placed.end_h:.1f} h"},)
    numbers = {"hours": picture.hours, "expected_h": expected}
    hit = Hit(f"{line:g} times expected", CALL, text, plan.name[:200], placed.run.at, numbers, evidence)
    return Answer("not met", text, (hit,))


def expected_high_h(picture: Picture) -> float:
    """The longest expected of this build [h]: the plan's, half as long again when the first hours were missed."""
    plan, credit = picture.record.plan, picture.power.credit
    high = plan.expected_high_h if plan else math.inf
    return high * 1.5 if credit is not None and credit.final and credit.first_two == "missed" else high
