"""O-rules that look at single entries: a step, a rise, a level under the minimum, the kind of oil (O7 to O10).

O7, O8 and O9 answer at once when a level is stored, so nothing here asks for the estimate. The minimum comes from the
POH/AFM by way of the installation. A step of a quart and a half, a rise of half a quart, three quarts of another oil:
common practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from breakin.calc.said import Said, Values, fixed, qt, said, sentences
from breakin.picture.oil import settle_level_qt
from breakin.picture.oil_rows import DRIPS, OilRow
from breakin.picture.picture import Picture
from breakin.record import PlanFacts
from breakin.rules.base import CALL, NOTE, STAND, STOP, WATCH, Answer, Hit, answer, oil_evidence, rule

STEP_QT, STEP_H = 1.5, 2.0
# What filter and cooler take on the first run after a fill, and what has drained back overnight.
FIRST_RUN_QT, OVERNIGHT_QT = 0.8, 0.25
RISE_QT = 0.5
NOTE_QT, FULL_FILL_QT = 1.0, 3.0
TRADE = "common practice, no published source"
OIL_WORDS = {
    "mineral": said("straight mineral"),
    "ad": said("ashless dispersant"),
    "other": said("other or unknown"),
}


@rule(
    "O7",
    version=1,
    needs=("two readings",),
    severity="stop; call or note when it started over-filled",
    title=said("A quart and a half gone at once"),
    text="A quart and a half or more lost within 2 h between two good readings, from the settling level or below, is a "
    "Stop: look for a leak. From above it the breather may have thrown it out: ask for oil on the belly. What filter "
    "and cooler take on the first run after a fill is allowed for.",
    safety=True,
)
def step(picture: Picture) -> Answer:
    return answer(_steps(picture), "No flight lost a quart and a half at once.")


@dataclass(frozen=True)
class _Drop:
    """Two good readings after each other in one fill: quarts poured in and lost between them, what is allowed for,
    run hours."""

    before: OilRow
    after: OilRow
    poured_qt: float
    lost_qt: float
    allowed_qt: float
    hours: float

    def lost_below(self, settle_qt: float) -> float:
        """Quarts lost that did not stand above the settling level, what is allowed for taken off."""
        above = max((self.before.level_qt or 0.0) + self.poured_qt - settle_qt, 0.0)
        return self.lost_qt - self.allowed_qt - above


def _drops(rows: Sequence[OilRow]) -> Iterator[_Drop]:
    before: OilRow | None = None
    poured, fresh_fill_h = 0.0, -math.inf
    for row in rows:
        event = row.placed.event
        if event.kind == "drain_fill":
            before, fresh_fill_h = None, row.placed.hours
        elif event.kind == "addition":
            poured += event.amount_qt or 0.0
        elif row.good and row.level_qt is not None:
            if before is not None and before.level_qt is not None:
                allowed = FIRST_RUN_QT if before.placed.hours <= fresh_fill_h < row.placed.hours else 0.0
                allowed += OVERNIGHT_QT if (before.protocol, row.protocol) == ("cold", "rested") else 0.0
                lost = before.level_qt + poured - row.level_qt
                yield _Drop(before, row, poured, lost, allowed, row.placed.hours - before.placed.hours)
            before, poured = row, 0.0


def _steps(picture: Picture) -> Iterator[Hit]:
    settle = settle_level_qt(picture.record)
    for drop in _drops(picture.oil_rows):
        if drop.hours > STEP_H + 1e-9 or drop.lost_qt - drop.allowed_qt < STEP_QT - 1e-9:
            continue
        event, start = drop.after.placed.event, drop.before.level_qt or 0.0
        # The breather throws out no more than what stands above the settling level.
        over_filled = start + drop.poured_qt > settle + 1e-9 and drop.lost_below(settle) < STEP_QT - 1e-9
        if not over_filled or (event.belly_oil or 0) >= DRIPS:
            severity = STOP
            what = sentences(said("Look for a leak: filter, lines, seals, belly and cowl."), STAND)
        elif event.belly_oil is None:
            severity = CALL
            what = said(
                "It started above the settling level, {settle}. Ask today: is there oil on the belly?",
                settle=qt(settle, 1),
            )
        else:
            severity = NOTE
            what = said(
                "It started above the settling level, {settle}, and the belly was looked at: over-fill loss.",
                settle=qt(settle, 1),
            )
        text = sentences(_gone(drop, start), what)
        evidence = (
            oil_evidence(drop.before.placed.event.root, f"{start:.2f} qt"),
            oil_evidence(event.root, f"{drop.after.level_qt:.2f} qt"),
        )
        numbers = {"lost_qt": drop.lost_qt, "hours": drop.hours, "line_qt": STEP_QT, "settle_qt": settle}
        yield Hit(str(event.root), severity, text, TRADE, event.at, numbers, evidence)


def _gone(drop: _Drop, start: float) -> Said:
    """How much went, in how long, and what was poured in or allowed for meanwhile."""
    told: Values = {
        "lost": qt(drop.lost_qt),
        "hours": fixed(drop.hours),
        "start": qt(start, bare=True),
        "end": qt(drop.after.level_qt or 0.0),
    }
    poured, allowed = qt(drop.poured_qt), qt(drop.allowed_qt)
    if drop.poured_qt and drop.allowed_qt:
        return said(
            "{lost} gone in {hours} h, from {start} to {end} with {poured} added ({allowed} of it allowed for).",
            poured=poured, allowed=allowed, **told,
        )  # fmt: skip
    if drop.poured_qt:
        return said("{lost} gone in {hours} h, from {start} to {end} with {poured} added.", poured=poured, **told)
    if drop.allowed_qt:
        return said(
            "{lost} gone in {hours} h, from {start} to {end} ({allowed} of it allowed for).", allowed=allowed, **told
        )
    return said("{lost} gone in {hours} h, from {start} to {end}.", **told)


@rule(
    "O8",
    version=1,
    needs=("two readings",),
    severity="call; stop when confirmed",
    title=said("Oil level rose"),
    text="A level that rises by half a quart or more without an addition: a reader's error, oil that nobody noted, or "
    "fuel or water in the oil. Ask the same day. When the next reading confirms it, or it happens again, it is a Stop "
    "until smell and sample have been checked.",
    safety=True,
)
def level_rise(picture: Picture) -> Answer:
    return answer(rises(picture), "No level rose without an addition.")


def rises(picture: Picture) -> Iterator[Hit]:
    """Every rise without an addition. The first asks; a second that follows one nobody explained is a Stop."""
    unexplained = 0
    for before, row, following, gained in _pairs(picture.oil_rows):
        doubt = math.hypot(before.u_qt or 0.3, row.u_qt or 0.3)
        if gained < max(RISE_QT, 2 * doubt) - 1e-9:
            continue
        confirmed = following is not None and following - (before.level_qt or 0.0) >= RISE_QT - 1e-9
        event = row.placed.event
        shown = said(
            "from {before} to {level} at {hours} h, {gained} more than what was added explains",
            before=qt(before.level_qt or 0.0, bare=True),
            level=qt(row.level_qt or 0.0),
            hours=fixed(row.placed.hours),
            gained=qt(gained),
        )
        evidence = (
            oil_evidence(before.placed.event.root, f"{before.level_qt:.2f} qt"),
            oil_evidence(event.root, f"{row.level_qt:.2f} qt"),
        )
        numbers = {"rise_qt": gained, "doubt_qt": doubt}
        if confirmed or unexplained:
            why = said("the next reading confirms it") if confirmed else said("it is the second rise")
            rose = said(
                "The oil level rose {shown}; {why}. Smell for fuel, look for water, take a sample.",
                shown=shown,
                why=why,
            )
            text = sentences(rose, STAND)
            yield Hit(str(event.root), STOP, text, TRADE, event.at, numbers, evidence)
        else:
            text = said(
                "The oil level rose {shown}. Ask today: did someone else add? Read again; smell for fuel and water.",
                shown=shown,
            )
            yield Hit(str(event.root), CALL, text, TRADE, event.at, numbers, evidence)
        unexplained += not _explained(picture, event.root)


def _explained(picture: Picture, root: UUID) -> bool:
    keys = (str(root), f"{root}:stop")
    return any(picture.record.decision("O8", key) == "cleared" for key in keys)


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
    title=said("Oil under the minimum"),
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
        told: Values = {"level": qt(level), "least": qt(seat.min_oil_qt)}
        text = (
            said("Oil level {level}, under the minimum of {least}, and the flight was made; tell the manager.", **told)
            if before
            else said("Oil level {level}, under the minimum of {least}, after running.", **told)
        )
        text = (
            sentences(text, said("Not for the first time."), STAND)
            if found > 1
            else sentences(text, said("Call today: do not fly under the minimum."))
        )
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
    version=2,
    needs=("plan",),
    severity="note, watch; call for a full fill",
    title=said("Oil kind"),
    text="Oil of another kind than the plan's: up to a quart in one fill is noted and explained, more is watched; a "
    "full fill or three quarts ask for a call, to decide on a drain by the plan's source.",
)
def oil_kind(picture: Picture) -> Answer:
    plan = picture.record.plan
    if plan is None or picture.record.state == "closed":
        return Answer("not applicable", "The plan's oil kind holds until close-out.")
    return answer(other_oil(picture, plan), "All oil was of the plan's kind, where its kind was told.")


_WHAT_NOW = {
    NOTE: said("So little spoils nothing: tell whoever poured it which oil to use."),
    WATCH: said("Tell whoever poured it; no more of it in this fill."),
    CALL: said("Call and decide on a drain by the plan's source."),
}


def other_oil(picture: Picture, plan: PlanFacts) -> Iterator[Hit]:
    """Each pouring of another oil, judged by what has come together in this fill."""
    together = 0.0
    sealed = picture.record.sealed
    for row in picture.oil_rows:
        event = row.placed.event
        if sealed is not None and event.at > sealed.at:
            return  # from the close-out on it flies on its service oil, also where it was reopened
        filled = event.kind == "drain_fill"
        if filled:
            together = 0.0
        amount = event.filled_qt if filled else event.amount_qt
        if event.kind not in ("addition", "drain_fill") or not amount or event.oil_kind in ("", plan.oil_kind):
            continue
        together += amount
        severity = CALL if filled or together >= FULL_FILL_QT - 1e-9 else WATCH if together > NOTE_QT + 1e-9 else NOTE
        poured: Values = {
            "amount": qt(amount),
            "kind": OIL_WORDS.get(event.oil_kind, event.oil_kind),
            "hours": fixed(row.placed.hours),
            "planned": OIL_WORDS.get(plan.oil_kind, plan.oil_kind),
        }
        text = (
            said(
                "{amount} of {kind} oil at {hours} h, {together} of it in this fill; the plan asks for {planned}.",
                together=qt(together), **poured,
            )
            if together > amount + 1e-9
            else said("{amount} of {kind} oil at {hours} h; the plan asks for {planned}.", **poured)
        )  # fmt: skip
        text = sentences(text, _WHAT_NOW[severity])
        evidence = (oil_evidence(event.root, f"{amount:.2f} qt"),)
        numbers = {"amount_qt": amount, "in_this_fill_qt": together}
        yield Hit(str(event.root), severity, text, plan.name[:200], event.at, numbers, evidence)
