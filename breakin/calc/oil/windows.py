"""Windows of oil loss between anchor readings (rules O1 and O2).

With two good readings the uncertainty of a loss is 0.21 qt/h over 1 h, 0.053 over 4 h and 0.027 over 8 h, so one
flight can never prove anything except a gross loss. A loss is never clipped: a dipstick that reads higher gives a
negative one, and that is shown.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from breakin.calc.errors import BadLog

ANCHOR_U_QT = 0.15
OVER_FILL_ABOVE_SETTLE_QT = 0.5
ASSESSABLE_H = 4.0
ASSESSABLE_U_QT_PER_H = 0.06
ADDED_SHARE_U = 0.05


@dataclass(frozen=True)
class OilEntry:
    """One oil event of one engine, in the order of happening. Quarts and run hours.

    hours : float [h] on the break-in clock; may repeat, never falls.
    kind : "reading", "addition" or "drain_fill".
    level_qt, amount_qt, fill_qt : float [qt] - the one that belongs to the kind; the others None.
    u_qt : float [qt] - one-sigma uncertainty of a reading.
    when : "before" or "after" the flight, or None.
    root : opaque id.
    protocol : class of a reading; only like is compared with like.
    leak_open : a leak was known and open.
    unlogged : running before this entry was not logged.
    estimated_hours : ``hours`` was worked out from another clock.
    separator : an air-oil separator was fitted, which gives back some of what the breather throws out.
    """

    hours: float
    kind: Literal["reading", "addition", "drain_fill"]
    level_qt: float | None = None
    amount_qt: float | None = None
    fill_qt: float | None = None
    u_qt: float = 0.3
    when: Literal["before", "after"] | None = None
    root: str = ""
    protocol: str = "unknown"
    leak_open: bool = False
    unlogged: bool = False
    estimated_hours: bool = False
    separator: bool = False


@dataclass(frozen=True)
class Anchor:
    """A reading good enough to measure a loss from. ``fill`` counts drains; ``index`` is its place in the entries."""

    index: int
    hours: float
    level_qt: float
    u_qt: float
    protocol: str
    fill: int
    root: str


@dataclass(frozen=True)
class Window:
    """The loss between two anchors.

    h1, h2 : float [h]; level1, level2 : float [qt]; added : float [qt] poured in between.
    rate, u_rate : float [qt/h], one sigma.
    assessable : whether it can be judged; why_not : the reasons as one sentence, or None.
    over_fill_qt : float [qt] - by how much the highest level in it lies above the settling level, where that is more
        than half a quart; else 0. Such a loss is breather loss and says nothing about the rings.
    roots : ids of the readings and additions that it rests on.
    first, last : places of the two anchors in the entries.
    """

    h1: float
    h2: float
    level1: float
    level2: float
    added: float
    rate: float
    u_rate: float
    assessable: bool
    why_not: str | None
    over_fill_qt: float
    roots: tuple[str, ...]
    first: int
    last: int


def check_entries(entries: Sequence[OilEntry]) -> None:
    """Refuse entries that cannot be a log.

    Raises
    ------
    BadLog : hours fall, a value is missing or not finite, or an addition is not above 0.
    """
    for index, entry in enumerate(entries):
        where = f"oil entry {index + 1}"
        value = {"reading": entry.level_qt, "addition": entry.amount_qt, "drain_fill": entry.fill_qt}.get(entry.kind)
        if value is None or not math.isfinite(value) or not math.isfinite(entry.hours):
            raise BadLog(f"a {entry.kind} without its hours or quarts.", where=where, mend="Fill it in.")
        if value < 0 or (entry.kind == "addition" and value == 0) or entry.u_qt <= 0:
            raise BadLog(f"a {entry.kind} of {value:g} ± {entry.u_qt:g} qt.", where=where, mend="Correct the amount.")
    for index, (before, after) in enumerate(pairwise(entries)):
        if after.hours < before.hours:
            mend = "Put the entries in order or correct the meter reading."
            where = f"oil entry {index + 2}"
            raise BadLog(f"{after.hours:g} h comes after {before.hours:g} h.", where=where, mend=mend)


def anchors(entries: Sequence[OilEntry]) -> list[Anchor]:
    """The readings that a loss may be measured from.

    A reading with u at most 0.15 qt. After a drain and fill, the first good reading after the first run: before it
    the filter and cooler have not filled.

    Parameters
    ----------
    entries : OilEntry in order of happening.

    Returns
    -------
    list of Anchor, in the same order. Classes of protocol are mixed; :func:`windows` keeps them apart.

    Raises
    ------
    BadLog : the entries are not a log.
    """
    check_entries(entries)
    found = []
    fill, filled_at = 0, -math.inf
    for index, entry in enumerate(entries):
        if entry.kind == "drain_fill":
            fill, filled_at = fill + 1, entry.hours
        elif entry.level_qt is not None and entry.u_qt <= ANCHOR_U_QT + 1e-9 and entry.hours > filled_at:
            found.append(Anchor(index, entry.hours, entry.level_qt, entry.u_qt, entry.protocol, fill, entry.root))
    return found


def windows(entries: Sequence[OilEntry], expected_settle_qt: float) -> list[Window]:
    """Losses between neighbouring anchors of one protocol class and one fill.

    Parameters
    ----------
    entries : OilEntry in order of happening.
    expected_settle_qt : float [qt] - the settling level E of rule O2.

    Returns
    -------
    list of Window in order of their end.

    Raises
    ------
    BadLog : the entries are not a log.
    """
    found = [
        window_between(entries, first, last, expected_settle_qt)
        for chain in anchor_chains(entries)
        for first, last in pairwise(chain)
        if last.hours > first.hours
    ]
    return sorted(found, key=lambda window: window.last)


def anchor_chains(entries: Sequence[OilEntry]) -> list[list[Anchor]]:
    """Anchors grouped by fill and protocol class: a window never spans a drain, nor compares hot with cold."""
    chains: dict[tuple[int, str], list[Anchor]] = {}
    for anchor in anchors(entries):
        chains.setdefault((anchor.fill, anchor.protocol), []).append(anchor)
    return list(chains.values())


def sliding_windows(entries: Sequence[OilEntry], expected_settle_qt: float) -> list[Window]:
    """For each anchor the shortest window of at least 4 h that ends there.

    Parameters
    ----------
    entries : OilEntry in order of happening.
    expected_settle_qt : float [qt]

    Returns
    -------
    list of Window in order of their end; anchors with no 4 h before them give none.

    Raises
    ------
    BadLog : the entries are not a log.
    """
    found = []
    for chain in anchor_chains(entries):
        for position, last in enumerate(chain):
            earlier = [first for first in chain[:position] if last.hours - first.hours >= ASSESSABLE_H - 1e-9]
            if earlier:
                found.append(window_between(entries, earlier[-1], last, expected_settle_qt))
    return sorted(found, key=lambda window: window.last)


def window_between(entries: Sequence[OilEntry], first: Anchor, last: Anchor, expected_settle_qt: float) -> Window:
    """The loss between two anchors of one fill.

    Parameters
    ----------
    entries : OilEntry in order of happening.
    first, last : Anchor, last later by hours.
    expected_settle_qt : float [qt]

    Returns
    -------
    Window

    Raises
    ------
    BadLog : no time between the two.
    """
    hours = last.hours - first.hours
    if hours <= 0:
        where = f"{first.hours:g} h and {last.hours:g} h"
        raise BadLog("a loss needs time between two readings.", where=where, mend="Choose later readings.")
    inside = entries[first.index + 1 : last.index]
    additions = [entry for entry in inside if entry.kind == "addition"]
    added = sum(entry.amount_qt or 0.0 for entry in additions)
    rate = (first.level_qt - last.level_qt + added) / hours
    u_rate = math.sqrt(first.u_qt**2 + last.u_qt**2 + (ADDED_SHARE_U * added) ** 2) / hours
    # The highest the level can have stood: at the start, or just after an addition, with the mean loss in between.
    peak, poured = first.level_qt, 0.0
    for entry in additions:
        poured += entry.amount_qt or 0.0
        peak = max(peak, first.level_qt + poured - rate * (entry.hours - first.hours))
    over_fill = peak - expected_settle_qt if peak > expected_settle_qt + OVER_FILL_ABOVE_SETTLE_QT + 1e-9 else 0.0
    reasons = _why_not(hours, u_rate, over_fill, entries[first.index : last.index + 1])
    return Window(
        first.hours,
        last.hours,
        first.level_qt,
        last.level_qt,
        added,
        rate,
        u_rate,
        not reasons,
        "; ".join(reasons) or None,
        over_fill,
        (first.root, *(entry.root for entry in additions), last.root),
        first.index,
        last.index,
    )


def _why_not(hours: float, u_rate: float, over_fill: float, span: Sequence[OilEntry]) -> list[str]:
    reasons = []
    if hours < ASSESSABLE_H - 1e-9:
        reasons.append(f"{hours:.1f} h is too short to judge, {ASSESSABLE_H:.0f} h are needed")
    if u_rate > ASSESSABLE_U_QT_PER_H:
        reasons.append(f"± {u_rate:.2f} qt/h is too uncertain to judge, ± {ASSESSABLE_U_QT_PER_H:.2f} is needed")
    if over_fill:
        reasons.append(f"over-fill: up to {over_fill:.2f} qt above the settling level")
    if any(entry.leak_open for entry in span):
        reasons.append("a leak was open")
    if any(entry.unlogged for entry in span[1:]):
        reasons.append("running in it was not logged")
    if span[0].separator != span[-1].separator:
        reasons.append("an oil separator was fitted or taken out in it")
    if span[0].estimated_hours or span[-1].estimated_hours:
        reasons.append("its hours are estimated")
    return reasons
