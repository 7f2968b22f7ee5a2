"""Fewer points that look the same: for drawing hours of a recording on a few hundred pixels.

The time is cut into equal buckets and of each the lowest and the highest sample is kept, at their own times. Drawn
with one bucket a pixel column, the line covers the pixels that the whole line would cover, but for its entry into and
exit from each column: U. Jugel, Z. Jerzak, G. Hackenbroich, V. Markl, "M4: a visualization-oriented time series data
aggregation", Proceedings of the VLDB Endowment 7 (2014), from memory. No value is averaged or invented.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


def window(t: Floats, start: float, end: float) -> slice:
    """The samples from `start` to `end` [s] and one beyond each, so that a line runs to both edges of a picture.

    t : float [s], shape (n,), rising.
    """
    first = int(np.searchsorted(t, start, side="left"))
    last = int(np.searchsorted(t, end, side="right"))
    return slice(max(first - 1, 0), min(last + 1, t.size))


def usual_gap(t: Floats) -> float:
    """How long the clock may stand still in a line before the line is broken [s]: five samples, ten seconds or more."""
    return max(10.0, 5.0 * float(np.median(np.diff(t)))) if t.size > 1 else 10.0


def thin(
    t: Floats, values: Floats, most: int, *, keep: Sequence[float] = (), gap_s: float = np.inf
) -> tuple[Floats, Floats]:
    """About `most` samples of a channel that keep its shape; NaN where the line is to be broken.

    Parameters
    ----------
    t : float [s], shape (n,), rising.
    values : float, shape (n,); NaN where nothing was recorded. A few missing samples break no line.
    most : int, at least 4. Breaks and edges of gaps come on top: two and a half times as many at worst.
    keep : float [s] - moments whose nearest sample is kept, such as the lift-off.
    gap_s : float [s] - a longer time without a sample breaks the line.

    Returns
    -------
    times and values, shape (m,): the first and the last sample, the lowest and the highest of each bucket, both ends
    of the longest gaps and the kept moments, in order. A break is a NaN among the values.

    >>> thin(np.arange(4.0), np.array([1.0, 2.0, np.nan, 3.0]), 10)[1]
    array([1., 2., 3.])
    """
    there = np.isfinite(values)
    t, values = t[there], values[there]
    if t.size == 0:
        return t, values
    chosen = np.arange(t.size) if t.size <= most else _chosen(t, values, most, keep, gap_s)
    return _broken(t, values, chosen, gap_s)


def envelope(
    t: Floats, low: Floats, high: Floats, most: int, *, gap_s: float = np.inf
) -> tuple[Floats, Floats, Floats]:
    """The room between two lines in about `most` steps: times, and of each bucket the lowest low and the highest high.

    Arguments as for :func:`thin`; a bucket stands at the middle of its samples, the first and the last at their ends.
    """
    there = np.isfinite(low) & np.isfinite(high)
    t, low, high = t[there], low[there], high[there]
    if t.size == 0:
        return t, low, high
    if t.size > most:
        starts = _starts(t, most)
        ends = np.append(starts[1:], t.size) - 1
        middles = (t[starts] + t[ends]) / 2.0
        middles[0], middles[-1] = t[0], t[-1]
        low, high = np.minimum.reduceat(low, starts), np.maximum.reduceat(high, starts)
        apart = np.concatenate(([0], np.cumsum(np.diff(t) > gap_s)))[starts]
        t = middles
    else:
        apart = np.concatenate(([0], np.cumsum(np.diff(t) > gap_s)))
    at = np.flatnonzero(np.diff(apart)) + 1
    return np.insert(t, at, t[at]), np.insert(low, at, np.nan), np.insert(high, at, np.nan)


def _chosen(t: Floats, values: Floats, most: int, keep: Sequence[float], gap_s: float) -> Places:
    starts = _starts(t, max(1, most // 2 - 1))
    bucket = np.repeat(np.arange(starts.size), np.diff(np.append(starts, t.size)))
    lowest = _first_of_each(values == np.minimum.reduceat(values, starts)[bucket], bucket)
    highest = _first_of_each(values == np.maximum.reduceat(values, starts)[bucket], bucket)
    moments = np.asarray(keep, dtype=np.float64)
    moments = moments[(moments >= t[0]) & (moments <= t[-1])]
    return np.unique(
        np.concatenate(([0, t.size - 1], lowest, highest, _nearest(t, moments), _gap_edges(t, gap_s, most // 8)))
    ).astype(np.intp)


def _starts(t: Floats, buckets: int) -> Places:
    """First sample of each bucket that holds any."""
    edges = np.linspace(t[0], t[-1], buckets + 1)[:-1]
    return np.unique(np.searchsorted(t, edges, side="left"))


def _first_of_each(true: NDArray[np.bool_], bucket: Places) -> Places:
    at = np.flatnonzero(true)
    first: Places = at[np.append(True, np.diff(bucket[at]) > 0)]
    return first


def _nearest(t: Floats, moments: Floats) -> Places:
    after = np.clip(np.searchsorted(t, moments), 0, t.size - 1)
    before = np.clip(after - 1, 0, t.size - 1)
    return np.where(np.abs(t[before] - moments) <= np.abs(t[after] - moments), before, after)


def _gap_edges(t: Floats, gap_s: float, most: int) -> Places:
    steps = np.diff(t)
    gaps = np.flatnonzero(steps > gap_s)
    longest = gaps[np.argsort(-steps[gaps], kind="stable")[:most]]
    return np.concatenate((longest, longest + 1))


def _broken(t: Floats, values: Floats, chosen: Places, gap_s: float) -> tuple[Floats, Floats]:
    gaps_before = np.concatenate(([0], np.cumsum(np.diff(t) > gap_s)))[chosen]
    at = np.flatnonzero(np.diff(gaps_before)) + 1
    kept_t, kept = t[chosen], values[chosen]
    return np.insert(kept_t, at, kept_t[at]), np.insert(kept, at, np.nan)
