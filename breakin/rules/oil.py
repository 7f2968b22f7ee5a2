"""O-rules: windows, over-fill, lines, the ceiling, and whether the loss has settled (O1 to O5).

Limits come from the plan, the minimum from the POH/AFM by way of the installation, the ceiling from the maker or from
the published formula named with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from breakin.calc.oil import Window
from breakin.calc.said import Said, fixed, qt_h, said, sentences
from breakin.picture.oil_rows import OilRow
from breakin.picture.picture import Picture
from breakin.record import InstallationFacts
from breakin.rules.base import NOTE, STAND, STOP, Answer, Hit, answer, oil_evidence, rule
from breakin.rules.oil_level import TRADE, rises

SETTLED_AFTER_H = 3.0


@rule(
    "O1",
    version=1,
    needs=("two readings",),
    severity="none",
    title=said("Windows that can be judged"),
    text="A loss is measured between two good readings of one kind in one fill. It can be judged from 4 h on and with "
    "no more than ± 0.06 qt/h of doubt; one flight alone proves nothing.",
)
def windows_that_count(picture: Picture) -> Answer:
    counted = [window for window in picture.oil.sliding if window.assessable]
    if not counted:
        reason = picture.oil.sliding[-1].why_not if picture.oil.sliding else "no two good readings lie 4 h apart"
        return Answer("not known", f"No window can be judged yet: {reason}.")
    return Answer("met", f"{loss_words(counted[-1])}.")


@rule(
    "O2",
    version=1,
    needs=("reading",),
    severity="none",
    title=said("Over-fill"),
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
    title=said("Hold, add and no-go line"),
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
    title=said("Oil loss over the ceiling"),
    text="A loss that lies over the ceiling even with its doubt taken off, in a window that can be judged, is a Stop.",
)
def over_ceiling(picture: Picture) -> Answer:
    limits = picture.oil.limits
    if limits is None:
        return Answer("not known", "Neither the maker's limit nor rated power is on record.")
    over = apart([window for window in picture.oil.sliding if surely_over(window, limits.ceiling)])
    hits = []
    for window in over:
        last = row_of(picture, window.roots[-1])
        over_it = said("{loss}, over the ceiling of {ceiling}.", loss=loss_words(window), ceiling=qt_h(limits.ceiling))
        text = sentences(over_it, STAND)
        numbers = {"rate_qt_h": window.rate, "u_qt_h": window.u_rate, "ceiling_qt_h": limits.ceiling}
        evidence = tuple(oil_evidence(root, "in the window") for root in window.roots)
        hits.append(Hit(window.roots[-1], STOP, text, limits.basis[:200], last.placed.event.at, numbers, evidence))
    if not any(window.assessable for window in picture.oil.sliding):
        return Answer("not known", "No window can be judged yet.")
    return answer(hits, f"No window lies over the ceiling of {limits.ceiling:.2f} qt/h.")


def surely_over(window: Window, line: float) -> bool:
    return window.assessable and window.rate - window.u_rate > line


def apart(found: Sequence[Window]) -> list[Window]:
    """The first of each group of overlapping windows: a later reading must not find the same loss again."""
    kept: list[Window] = []
    for window in found:
        if not kept or window.h1 >= kept[-1].h2 - 1e-9:
            kept.append(window)
    return kept


def loss_words(window: Window) -> Said:
    return said(
        "Loss {rate} ± {doubt} between {start} h and {end} h",
        rate=qt_h(window.rate, bare=True),
        doubt=qt_h(window.u_rate),
        start=fixed(window.h1),
        end=fixed(window.h2),
    )


def row_of(picture: Picture, root: str) -> OilRow:
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
    if any(not _explained(picture, hit) for hit in rises(picture)):
        vetoes.append("A rise of the oil level is not explained.")
    if changed := _separator_without_window(picture):
        vetoes.append(changed)
    if picture.hours < SETTLED_AFTER_H:
        vetoes.append(f"{picture.hours:.1f} h of at least {SETTLED_AFTER_H:.0f} h run.")
    seat, last = picture.record.installation, oil.last_reading
    if seat and last and last.level_qt is not None and last.level_qt < seat.min_oil_qt:
        vetoes.append(f"The level, {last.level_qt:.2f} qt, is under the minimum, {seat.min_oil_qt:.2f} qt.")
    return Settling(declared, tuple(vetoes), agrees)


def separator_changes(picture: Picture) -> list[tuple[InstallationFacts, float]]:
    """When an oil separator was fitted or taken out: the installation from then on, and the break-in hours then."""
    seats = pairwise(picture.record.installations)
    return [(now, picture.clock.hours_at(now.since)) for before, now in seats if before.separator != now.separator]


def _separator_without_window(picture: Picture) -> str:
    """Why a change of separator stands against settling: no loss since it can be judged yet. "" when one can."""
    changes = [hours for _, hours in separator_changes(picture) if hours > 0]
    if not changes or any(one.assessable and one.h1 >= changes[-1] - 1e-9 for one in picture.oil.sliding):
        return ""
    return f"An oil separator was fitted or taken out at {changes[-1]:.1f} h; no loss since can be judged yet."


def _explained(picture: Picture, hit: Hit) -> bool:
    return picture.record.decision("O8", hit.key) == "cleared"


@rule(
    "O5",
    version=1,
    needs=("reading", "plan"),
    severity="none",
    title=said("Settled, provisionally"),
    text="Provisionally settled when the estimate gives at least 0.85 that the loss has stabilized under the accept "
    "rate, from 4 readings over 3 h, with no open leak, no unexplained rise and no level under the minimum. The paper "
    "window stands beside it.",
)
def settled(picture: Picture) -> Answer:
    state, oil = settling(picture), picture.oil
    if oil.estimate is None:
        return Answer("not known", oil.refusal)
    chance = settled_chance(oil.estimate)
    if state.provisional:
        return Answer("met", f"{chance} The paper window: {state.agrees}.")
    against = " ".join(state.vetoes)
    return Answer("not met", f"{chance} {against}".strip())


def settled_chance(estimate: Mapping[str, Any]) -> str:
    """How sure the estimate is, and how sure it has to be, in a sentence."""
    return f"Estimate: {estimate['p_stabilized']:.2f} sure that the loss has stabilized; at least 0.85 is asked for."


@rule(
    "O18",
    version=1,
    needs=("two readings",),
    severity="note",
    title=said("Oil separator changed"),
    text="A separator that drains into the sump gives back what the breather throws out, and a blocked return keeps "
    "it. The loss before it was fitted or taken out and the loss after are not compared; no window reaches across.",
)
def separator_changed(picture: Picture) -> Answer:
    hits = []
    for seat, hours in separator_changes(picture):
        if hours <= 0 or hours >= picture.hours:
            continue
        text = sentences(
            said(
                "An oil separator was fitted at {hours} h: the loss before and after is not compared.",
                hours=fixed(hours),
            )
            if seat.separator
            else said(
                "An oil separator was taken out at {hours} h: the loss before and after is not compared.",
                hours=fixed(hours),
            ),
            said("Look at its return line and, in winter, at the breather for ice."),
        )
        key = f"separator {seat.since.isoformat()}"
        hits.append(Hit(key, NOTE, text, TRADE, seat.since, {"hours": hours, "fitted": seat.separator}))
    return answer(hits, "No oil separator was fitted or taken out during the log.")
