"""The oil loss before a partial job, from the readings before it (rule O12).

Facts hang on the engine, so the readings of an earlier build, or of the years before the first one, are there. The
rate is what a technician would work out on paper: the newest windows before the change, back to back, weighed by their
hours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from breakin.calc.oil import Window, sliding_windows
from breakin.picture.clock import clock_of
from breakin.picture.oil import settle_level_qt
from breakin.picture.oil_rows import oil_rows
from breakin.record import BuildRecord

WINDOWS = 3


@dataclass(frozen=True)
class RateBefore:
    """Loss before the change [qt/h] with its one-sigma doubt, the hours it rests on, and the entries."""

    rate: float
    u_rate: float
    hours: float
    roots: tuple[str, ...]


def rate_before(record: BuildRecord) -> RateBefore | None:
    """The loss before a partial job; None for another kind of build, or when no window before it can be judged."""
    if not record.partial or not record.earlier_oil:
        return None
    earlier = replace(
        record, runs=record.earlier_runs, oil=record.earlier_oil, inspections=(), cell_runs=(), left_out=(), events=()
    )
    rows, _ = oil_rows(earlier, clock_of(earlier))
    entries = [row.entry for row in rows if row.entry is not None]
    judged = [window for window in sliding_windows(entries, settle_level_qt(record)) if window.assessable]
    chosen = _back_to_back(judged)
    if not chosen:
        return None
    hours = sum(window.h2 - window.h1 for window in chosen)
    lost = sum(window.rate * (window.h2 - window.h1) for window in chosen)
    doubt = math.sqrt(sum((window.u_rate * (window.h2 - window.h1)) ** 2 for window in chosen))
    roots = tuple(dict.fromkeys(root for window in reversed(chosen) for root in window.roots))
    return RateBefore(lost / hours, doubt / hours, hours, roots)


def _back_to_back(windows: Sequence[Window]) -> list[Window]:
    """The newest windows that do not overlap, newest first."""
    chosen: list[Window] = []
    for window in reversed(windows):
        if len(chosen) < WINDOWS and (not chosen or window.h2 <= chosen[-1].h1 + 1e-9):
            chosen.append(window)
    return chosen
