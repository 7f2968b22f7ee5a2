"""Small vectorised tools over samples: filling, running means and medians, steps. No Python loop over samples.

All work along axis 0, so that a column and a matrix of columns go the same way.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]


def filled(values: Floats, longest: int) -> Floats:
    """Blanks take the last value before them, for at most ``longest`` rows; what is older stays blank (NaN)."""
    known = np.isfinite(values)
    if known.all():
        return values
    rows = np.arange(len(values)).reshape((-1,) + (1,) * (values.ndim - 1))
    last = np.maximum.accumulate(np.where(known, rows, -1), axis=0)
    held = np.take_along_axis(values, np.maximum(last, 0), axis=0)
    return np.where((last >= 0) & (rows - last <= longest), held, np.nan)


def shifted(values: Floats, rows: int) -> Floats:
    """The values ``rows`` rows later (negative: earlier); beyond an end the end value holds."""
    if rows == 0 or not len(values):
        return values
    at = np.clip(np.arange(len(values)) + rows, 0, len(values) - 1)
    return values[at]


def median3(values: Floats) -> Floats:
    """Running median of three neighbours by minima and maxima: far quicker than a rolling median."""
    if len(values) < 3:
        return values
    out = values.copy()
    a, b, c = values[:-2], values[1:-1], values[2:]
    low, high = np.minimum(a, b), np.maximum(a, b)
    out[1:-1] = np.maximum(low, np.minimum(high, c))
    return out


def median5(values: Floats) -> Floats:
    """Running median of five neighbours by a network of minima and maxima."""
    if len(values) < 5:
        return median3(values)
    out = median3(values)
    a, b, c, d, e = (values[i : len(values) - 4 + i] for i in range(5))
    low1, high1 = np.minimum(a, b), np.maximum(a, b)
    low2, high2 = np.minimum(d, e), np.maximum(d, e)
    # The lower of the lows and the higher of the highs cannot be the median of five.
    low, high = np.maximum(low1, low2), np.minimum(high1, high2)
    out[2:-2] = np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), c))
    return out


def running_mean(values: Floats, rows: int) -> Floats:
    """Centred mean over ``rows`` rows (made odd); near the ends over what there is. NaN where any value is NaN."""
    half = max(rows // 2, 0)
    if half == 0 or len(values) < 2:
        return values
    blank = np.isnan(values)
    gaps = bool(blank.any())
    sums = np.cumsum(np.where(blank, 0.0, values) if gaps else values, axis=0, dtype=np.float64)
    sums = np.concatenate([np.zeros_like(sums[:1]), sums])
    at = np.arange(len(values))
    low, high = np.maximum(at - half, 0), np.minimum(at + half + 1, len(values))
    count: Any = (high - low).reshape((-1,) + (1,) * (values.ndim - 1))
    mean = (sums[high] - sums[low]) / count
    if gaps:
        blanks = np.concatenate([np.zeros_like(blank[:1], dtype=np.int64), np.cumsum(blank, axis=0)])
        mean = np.where(blanks[high] - blanks[low] > 0, np.nan, mean)
    return mean.astype(values.dtype, copy=False)


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The stretches in which the mask holds, as (first row, row after the last)."""
    if not len(mask):
        return []
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def nanmedian(values: Floats) -> float:
    """Median of what is known, or NaN when nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def nanmean(values: Floats) -> float:
    """Mean of what is known, or NaN when nothing is."""
    known = values[np.isfinite(values)]
    return float(np.mean(known, dtype=np.float64)) if len(known) else float("nan")


def none_if_nan(value: float, digits: int | None = None) -> float | None:
    """None for NaN: "not known"; else the plain number."""
    if not np.isfinite(value):
        return None
    return float(value) if digits is None else round(float(value), digits)
