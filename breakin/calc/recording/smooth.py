"""Small vectorised tools over samples: filling, running means and medians, steps. No Python loop over samples.

All work along axis 0, so that a column and a matrix of columns go the same way.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]
# A median needs no more values than this.
MEDIAN_OF = 1500


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
    size = len(values)
    if rows == 0 or not size:
        return values
    out = np.empty_like(values)
    if abs(rows) >= size:
        out[:] = values[-1] if rows > 0 else values[0]
    elif rows > 0:
        out[:-rows], out[-rows:] = values[rows:], values[-1]
    else:
        out[-rows:], out[:-rows] = values[:rows], values[0]
    return out


def extreme(values: Floats, before: int, after: int, pick: np.ufunc) -> Floats:
    """Running ``np.minimum`` or ``np.maximum`` from ``before`` rows earlier to ``after`` rows later, by doubling."""
    out = values
    for reach, sign in ((before, -1), (after, 1)):
        covered = 0
        while covered < reach:
            step = min(covered + 1, reach - covered)
            out = pick(out, shifted(out, sign * step))
            covered += step
    return out


def median3(values: Floats) -> Floats:
    """Running median of three neighbours by minima and maxima: far quicker than a rolling median."""
    if len(values) < 3:
        return values
    out = values.copy()
    a, b, c = values[:-2], values[1:-1], values[2:]
    low, high = np.minimum(a, b), np.maximum(a, b)
    out[1:-1] = np.maximum(low, np.minimum(high, c))
    return out


def running_mean(values: Floats, rows: int) -> Floats:
    """Centred mean over ``rows`` rows (made odd); near the ends over what there is. NaN where any value is NaN."""
    half = max(rows // 2, 0)
    size = len(values)
    if half == 0 or size < 2:
        return values
    sums = np.zeros((size + 1, *values.shape[1:]), order="F")
    np.cumsum(values, axis=0, out=sums[1:])
    blank = None
    if np.isnan(sums[-1]).any():
        blank = np.isnan(values)
        np.cumsum(np.where(blank, 0.0, values), axis=0, out=sums[1:])
    mean = _between(sums, half)
    at = np.arange(size)
    count: Any = (np.minimum(at + half + 1, size) - np.maximum(at - half, 0)).reshape((-1,) + (1,) * (values.ndim - 1))
    mean /= count
    if blank is not None:
        blanks = np.zeros_like(sums)
        np.cumsum(blank, axis=0, out=blanks[1:])
        mean[_between(blanks, half) > 0] = np.nan
    return mean.astype(values.dtype, copy=False)


def _between(sums: Floats, half: int) -> Floats:
    """Differences of running sums over the window around each row."""
    size = len(sums) - 1
    if size <= 2 * half:
        at = np.arange(size)
        difference: Floats = sums[np.minimum(at + half + 1, size)] - sums[np.maximum(at - half, 0)]
        return difference
    out = np.empty_like(sums[1:])
    out[half : size - half] = sums[2 * half + 1 :] - sums[: size - 2 * half]
    out[:half] = sums[half + 1 : 2 * half + 1]
    out[size - half :] = sums[-1] - sums[size - 2 * half : size - half]
    return out


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The stretches in which the mask holds, as (first row, row after the last)."""
    if not len(mask):
        return []
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def nanmedian(values: Floats) -> float:
    """Median of what is known, or NaN when nothing is. Of very many values every n-th is looked at."""
    if len(values) > 2 * MEDIAN_OF:
        values = values[:: len(values) // MEDIAN_OF]
    known = values[np.isfinite(values)]
    size = len(known)
    if not size:
        return float("nan")
    half = size // 2
    ordered = np.partition(known, half)
    if size % 2:
        return float(ordered[half])
    return (float(ordered[:half].max()) + float(ordered[half])) / 2.0


def nanmean(values: Floats) -> float:
    """Mean of what is known, or NaN when nothing is."""
    known = values[np.isfinite(values)]
    return float(known.sum(dtype=np.float64)) / len(known) if len(known) else float("nan")


def none_if_nan(value: float, digits: int | None = None) -> float | None:
    """None for NaN: "not known"; else the plain number."""
    plain = float(value)
    if not math.isfinite(plain):
        return None
    return plain if digits is None else round(plain, digits)
