"""The confirming window: a second window that says the same as the one the break-in was closed on.

Two readings tell a loss only as well as a dipstick can, so one window may pass by luck. The second is measured after
the close-out and read in the first follow-up. Common practice with the arithmetic of the readings' own doubt; no
published source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from breakin.calc.oil import Window
from breakin.calc.said import Measure, Said, qt_h, said
from breakin.picture.picture import Picture
from breakin.rules.oil import apart, loss_words

SAME_QT_H, SAME_SIGMAS = 0.08, 1.6

Word = Literal["confirmed", "failed", "not known"]


@dataclass(frozen=True)
class Confirming:
    """word, and a sentence with its numbers. window : the one that decided, or the last that could not."""

    word: Word
    text: Said
    window: Window | None = None


def windows_since(picture: Picture) -> Sequence[Window]:
    """Windows since the close-out that can be judged and do not overlap, in order."""
    sealed = picture.record.sealed
    if sealed is None:
        return ()
    found = [one for one in picture.oil.sliding if one.assessable and one.h1 >= sealed.hours - 1e-9]
    return apart(sorted(found, key=lambda one: (one.h2, one.h1)))


def confirming(picture: Picture) -> Confirming:
    """The verdict of the first window since the close-out that decides it.

    Confirmed : rate + u at or under the accept rate, no more than max(0.08, 1.6 x both doubts together) from the window
    of the close-out, and the plan's least hours run. Failed : over the accept rate even with the doubt taken off. What
    lies between can't be told from the other by a dipstick, and waits for the next window.
    """
    plan, sealed = picture.record.plan, picture.record.sealed
    if plan is None or sealed is None:
        return Confirming("not known", said("The build has not been closed out."))
    since = windows_since(picture)
    for window in since:
        accept = qt_h(plan.accept_qt_h)
        if window.rate - window.u_rate > plan.accept_qt_h:
            words = said(
                "{loss}: over the {accept} accepted even with its doubt taken off.",
                loss=loss_words(window),
                accept=accept,
            )
            return Confirming("failed", words, window)
        low = window.rate + window.u_rate <= plan.accept_qt_h
        if low and window.h2 >= plan.minimum_h - 1e-9 and _same(sealed.window, window):
            return Confirming("confirmed", _confirmed(window, accept, sealed.window), window)
    if not since:
        return Confirming("not known", said("No window since the close-out can be judged yet."))
    last = since[-1]
    why = said(
        "{loss} neither confirms nor contradicts the close-out; the next window is waited for.", loss=loss_words(last)
    )
    return Confirming("not known", why, last)


def _same(first: tuple[float, float, float, float] | None, second: Window) -> bool:
    if first is None:
        return True
    rate, u = first[2], first[3]
    return abs(second.rate - rate) <= max(SAME_QT_H, SAME_SIGMAS * math.hypot(u, second.u_rate)) + 1e-9


def _confirmed(window: Window, accept: Measure, first: tuple[float, float, float, float] | None) -> Said:
    loss = loss_words(window)
    if first is None:
        return said("{loss}, {accept} accepted.", loss=loss, accept=accept)
    return said(
        "{loss}, {accept} accepted, and {rate} ± {doubt} in the window it was closed on.",
        loss=loss,
        accept=accept,
        rate=qt_h(first[2], bare=True),
        doubt=qt_h(first[3]),
    )
