"""When a step of a signal begins: the first row that has left the level before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.smooth import Floats

# A step smaller than this share of the larger level is no step.
SMALLEST_STEP = 0.02


def fraction(values: Floats, before: float, after: float) -> Floats | None:
    """How far each value is on the way from one level to the other: 0 before, 1 after; None without a step."""
    span = after - before
    if not np.isfinite(span) or abs(span) < SMALLEST_STEP * max(abs(before), abs(after), 1e-9):
        return None
    return (values - before) / span


def onset(share: Floats, inside: int, line: float, floor: int = 0) -> int:
    """Walk back from a row on the way to the last one that is still on the level before, and give the one after it."""
    still = np.flatnonzero(~(share[floor : inside + 1] > line))
    return floor + int(still[-1]) + 1 if len(still) else floor


def onset_time(t: NDArray[np.float64], row: int) -> float:
    """When a step began that shows first in this row: half a step back where rows are more than a second apart."""
    row = min(max(row, 0), len(t) - 1)
    if row == 0:
        return float(t[0])
    gap = float(t[row] - t[row - 1])
    return float(t[row]) - max(gap - 1.0, 0.0) / 2.0
