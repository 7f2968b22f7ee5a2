"""The paper window: what a technician with pencil and paper would say about settling (rule O5)."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from breakin.calc.oil.windows import (
    ASSESSABLE_H,
    ASSESSABLE_U_QT_PER_H,
    Anchor,
    OilEntry,
    Window,
    anchor_chains,
    window_between,
)

START_AFTER_H = 3.0
NEEDED_ANCHORS = 3
NEEDED_FLIGHTS = 3
RISE_QT = 0.5


@dataclass(frozen=True)
class PaperWindow:
    """The newest sliding window and what it says.

    verdict : "passes", "fails" or "too short".
    reasons : sentences with numbers, what is lacking or what was found.
    window : the window judged, or None when there is none.
    """

    verdict: Literal["passes", "fails", "too short"]
    reasons: tuple[str, ...]
    window: Window | None


def paper_window(
    entries: Sequence[OilEntry],
    expected_settle_qt: float,
    *,
    accept_qt_per_h: float,
    no_go_qt: float | None,
    start_after_h: float = START_AFTER_H,
    flight_ends_h: Sequence[float] | None = None,
) -> PaperWindow:
    """Judge the shortest window of at least 4 h, 3 anchors and 3 flights that ends at the newest anchor.

    Passes when loss plus doubt is at most the accept rate, nothing was added, no level was under the minimum, no
    leak was open and no level rose by half a quart without an addition.

    Parameters
    ----------
    entries : OilEntry in order of happening.
    expected_settle_qt : float [qt]
    accept_qt_per_h : float [qt/h] - the plan's accept rate.
    no_go_qt : float [qt] or None when the minimum is not on record: the window then cannot pass.
    start_after_h : float [h] - the window starts at or after it.
    flight_ends_h : hours at which flights ended; None counts the steps of the hours between entries as flights.

    Returns
    -------
    PaperWindow

    Raises
    ------
    BadLog : the entries are not a log.
    """
    ends = flight_ends_h if flight_ends_h is not None else _steps(entries)
    chains = [chain for chain in anchor_chains(entries) if len(chain) >= 2]
    if not chains:
        return PaperWindow("too short", ("Two good readings of one kind in one fill are needed.",), None)
    chain = max(chains, key=lambda one: one[-1].index)
    last = chain[-1]
    lacking: list[str] = []
    for first in reversed(chain[:-1]):
        if last.hours <= first.hours:
            continue
        window = window_between(entries, first, last, expected_settle_qt)
        lacking = _lacking(window, chain, ends, start_after_h)
        if not lacking:
            return _judged(entries, window, accept_qt_per_h, no_go_qt)
        if first.hours < start_after_h - 1e-9:
            break
    return PaperWindow("too short", tuple(lacking or ["No time between the good readings."]), None)


def _steps(entries: Sequence[OilEntry]) -> list[float]:
    return [after.hours for before, after in pairwise(entries) if after.hours - before.hours > 0.05]


def _lacking(window: Window, chain: Sequence[Anchor], ends: Sequence[float], start_after_h: float) -> list[str]:
    hours = window.h2 - window.h1
    # Readings at one hour are one look at the engine, not two.
    looks = len({anchor.hours for anchor in chain if window.h1 <= anchor.hours <= window.h2})
    flights = sum(1 for end in ends if window.h1 + 1e-9 < end <= window.h2 + 1e-9)
    lacking = []
    if window.h1 < start_after_h - 1e-9:
        lacking.append(f"The window would start at {window.h1:.1f} h, before {start_after_h:.0f} h.")
    if hours < ASSESSABLE_H - 1e-9:
        lacking.append(f"{hours:.1f} h of {ASSESSABLE_H:.0f} h.")
    if looks < NEEDED_ANCHORS:
        lacking.append(f"{looks} good readings of {NEEDED_ANCHORS}.")
    if flights < NEEDED_FLIGHTS:
        lacking.append(f"{flights} flights of {NEEDED_FLIGHTS}.")
    if window.u_rate > ASSESSABLE_U_QT_PER_H:
        lacking.append(f"± {window.u_rate:.2f} qt/h of at most ± {ASSESSABLE_U_QT_PER_H:.2f}.")
    return lacking


def _judged(entries: Sequence[OilEntry], window: Window, accept: float, no_go: float | None) -> PaperWindow:
    span = entries[window.first : window.last + 1]
    loss = f"Loss {window.rate:.2f} ± {window.u_rate:.2f} qt/h between {window.h1:.1f} h and {window.h2:.1f} h"
    against: list[str] = []
    # A loss from over-fill is the breather's: it says nothing of the rings, neither for nor against.
    if window.rate + window.u_rate > accept and not window.over_fill_qt:
        against.append(f"{loss} is not clear of the accept rate, {accept:.2f} qt/h.")
    against += _rises(span)
    if any(entry.leak_open for entry in span):
        against.append("A leak was open.")
    levels = [entry.level_qt for entry in span if entry.level_qt is not None]
    if no_go is not None and min(levels) < no_go:
        against.append(f"A level of {min(levels):.2f} qt was under the minimum, {no_go:.2f} qt.")
    if against:
        return PaperWindow("fails", tuple(against), window)
    open_points: list[str] = []
    if window.added:
        open_points.append(f"{window.added:.2f} qt were added in it; a window with nothing added is needed.")
    if no_go is None:
        open_points.append("The POH/AFM minimum is not on record.")
    if not window.assessable:
        open_points.append(f"It cannot be judged: {window.why_not}.")
    if open_points:
        return PaperWindow("too short", tuple(open_points), window)
    return PaperWindow("passes", (f"{loss}, accepted up to {accept:.2f} qt/h.",), window)


def _rises(span: Sequence[OilEntry]) -> list[str]:
    """Rises of half a quart or more between two readings without an addition between them."""
    found = []
    before: OilEntry | None = None
    for entry in span:
        if entry.kind != "reading" or entry.level_qt is None:
            before = None
            continue
        if before is not None and before.level_qt is not None and before.protocol == entry.protocol:
            rise = entry.level_qt - before.level_qt
            if rise >= RISE_QT - 1e-9:
                found.append(f"The level rose by {rise:.2f} qt at {entry.hours:.1f} h without an addition.")
        before = entry
    return found
