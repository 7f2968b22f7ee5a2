"""Level flight: where the climb ends and the descent begins."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from breakin.calc.recording.ambient import LAPSE_DEGF_PER_FT
from breakin.calc.recording.edges import fraction, onset, onset_time
from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import Floats, nanmedian, running_mean, runs, shifted

# Level: climbs or sinks less than this [ft/s], for this long [s].
LEVEL_FT_S = 3.2
LEVEL_S = 150.0
# A level below this share of the greatest height is a circuit or a hold, not cruise.
CRUISE_HEIGHT_SHARE = 0.6
# An aeroplane takes some seconds to come to a steady climb or to level off: a first-order lag, one of these [s].
LAGS_S = (0.0, 2.5, 5.0)
# How far the bend is looked for, and how much of the climb beside it is used [s], in at most so many rows.
BEND_S = 22.0
FIT_S = 48.0
FIT_ROWS = 48
# No climb at all [ft/s].
SLOWEST_FT_S = 1.5
# The levers move within so long of it [s].
LEVERS_S = 12.0
# Without altitude: power steady within this share for this long [s].
STEADY_SHARE = 0.035
STEADY_S = 240.0

Found = tuple[float | None, float | None]


def level_stretch(signals: Signals, quick: Sequence[Floats], share: Floats, air: tuple[int, int]) -> Found | None:
    """Begin and end of cruise [s]; None for an end that was not recorded; None altogether without any cruise."""
    if signals.alt_ft is not None:
        rows = _level_rows(signals, signals.alt_ft, air, 9.0)
        if rows is not None:
            first, last = rows
            return (
                _levelled(signals, quick, first, air[0]) if first is not None else None,
                _left(signals, quick, last, air[1]) if last is not None else None,
            )
    elif signals.oat_degf is not None:
        # Air cools with height: without altitude its temperature shows climb and descent, only not to the second.
        rows = _level_rows(signals, signals.oat_degf / -LAPSE_DEGF_PER_FT, air, 45.0)
        if rows is not None and any(row is not None for row in rows):
            begin, end = (None if row is None else _near_levers(signals, quick, row) for row in rows)
            return begin, end
    return _by_power(signals, quick, share, air)


def _near_levers(signals: Signals, quick: Sequence[Floats], row: int) -> float:
    around = float(signals.t[min(row, len(signals.t) - 1)])
    moved = lever(signals, quick, around, 50.0, smallest=0.03)
    return around if moved is None else moved


def bend(signals: Signals, around: float, level_ft: float, *, before: bool) -> float | None:
    """When a climb or descent begins or ends at a level [s]: least squares over the time of the bend and its lag.

    Parameters
    ----------
    around : [s] a first guess, within half a minute.
    level_ft : [ft] the level, as a first guess.
    before : the level lies before the bend (lift-off, begin of the descent), else after it (level-off).
    """
    altitude = signals.alt_ft
    if altitude is None or not np.isfinite(level_ft):
        return None
    low, high = signals.row_at(around - FIT_S), signals.row_at(around + FIT_S)
    every = max(1, (high - low) // FIT_ROWS)
    t, alt = signals.t[low:high:every], altitude[low:high:every]
    known = np.isfinite(alt)
    t, alt = t[known], alt[known]
    if len(t) < 6:
        return None
    tried = np.arange(around - BEND_S, around + BEND_S + 0.1, 1.0)
    best: tuple[float, float] | None = None
    alt = alt - alt.mean()
    for tau in LAGS_S:
        since = t[None, :] - tried[:, None] if before else tried[:, None] - t[None, :]
        if before:
            away = np.where(since > 0, since - tau * (1.0 - np.exp(-np.maximum(since, 0.0) / max(tau, 0.1))), 0.0)
        else:
            # Once the nose comes down the rest of the climb dies away.
            away = np.where(since > 0, since + tau, tau * np.exp(np.minimum(since, 0.0) / max(tau, 0.1)))
        away = away - away.mean(axis=1, keepdims=True)
        spread = (away * away).sum(axis=1)
        gain = (away @ alt) ** 2 / np.maximum(spread, 1e-9)
        place = int(np.argmax(gain))
        if best is None or gain[place] > best[0]:
            best = (float(gain[place]), float(tried[place]))
    return best[1] if best else None


def line_meets(signals: Signals, begin: int, end: int, level_ft: float) -> float | None:
    """When the straight line through the altitudes of some rows meets a level [s]; None without a clear slope."""
    if signals.alt_ft is None or end - begin < 3 or not np.isfinite(level_ft):
        return None
    t, alt = signals.t[begin:end], signals.alt_ft[begin:end]
    known = np.isfinite(alt)
    if known.sum() < 3:
        return None
    middle = float(t[known].mean())
    x, y = t[known] - middle, alt[known]
    slope = float((x * y).sum() / (x * x).sum())
    if abs(slope) < SLOWEST_FT_S:
        return None
    return middle + (level_ft - float(y.mean())) / slope


def _level_rows(
    signals: Signals, altitude: Floats, air: tuple[int, int], smooth_s: float
) -> tuple[int | None, int | None] | None:
    """First and last row of level flight well over the ground; None for an end that lies outside the recording."""
    start, end = air
    if end - start < signals.rows(LEVEL_S):
        return None
    flown = running_mean(altitude[start:end], signals.rows(smooth_s))
    half = max(1, signals.rows(max(10.0, 0.7 * smooth_s)))
    t = signals.t[start:end]
    over = np.maximum(shifted(t, half) - shifted(t, -half), 1e-3)
    rate = (shifted(flown, half) - shifted(flown, -half)) / over
    stretches = [(a, b) for a, b in runs(np.abs(rate) < LEVEL_FT_S) if t[b - 1] - t[a] >= LEVEL_S]
    if not stretches:
        return None
    ground = min(nanmedian(altitude[: max(1, start)]), nanmedian(altitude[min(end, len(altitude) - 1) :]))
    if not np.isfinite(ground):
        ground = float(np.nanmin(altitude))
    heights = [nanmedian(flown[a:b]) - ground for a, b in stretches]
    high = [one for one, height in zip(stretches, heights, strict=True) if height > CRUISE_HEIGHT_SHARE * max(heights)]
    if not high:
        return None
    first, last = high[0][0], high[-1][1]
    edge = signals.rows(20)
    return (start + first if first > edge else None, start + last if last < end - start - edge else None)


def _levelled(signals: Signals, quick: Sequence[Floats], row: int, start: int) -> float:
    """When the climb ended: where the climb bends to the level, and the levers move near there."""
    altitude = signals.alt_ft
    settled = slice(row + signals.rows(15), row + signals.rows(60))
    level = nanmedian(altitude[settled]) if altitude is not None else float("nan")
    begin = max(start, row - signals.rows(70))
    around = float(signals.t[row])
    met = line_meets(signals, begin, max(begin + 3, row - signals.rows(12)), level)
    if met is not None and abs(met - around) < 60:
        around = met
    bent = bend(signals, around, level, before=False)
    around = around if bent is None else bent
    moved = lever(signals, quick, around, LEVERS_S + signals.step_s)
    return around if moved is None else moved


def _left(signals: Signals, quick: Sequence[Floats], row: int, end: int) -> float:
    altitude = signals.alt_ft
    held = slice(max(0, row - signals.rows(60)), max(1, row - signals.rows(15)))
    level = nanmedian(altitude[held]) if altitude is not None else float("nan")
    around = float(signals.t[min(row, len(signals.t) - 1)])
    met = line_meets(signals, row + signals.rows(12), min(end, row + signals.rows(70)), level)
    if met is not None and abs(met - around) < 60:
        around = met
    bent = bend(signals, around, level, before=True)
    around = around if bent is None else bent
    moved = lever(signals, quick, around, LEVERS_S + signals.step_s, smallest=0.03)
    return around if moved is None else moved


def lever(
    signals: Signals, quick: Sequence[Floats], around: float, reach_s: float, smallest: float = 0.025
) -> float | None:
    """When engine speed, else manifold pressure, begins a clear step near a time [s]; None when neither does.

    Engine speed goes first: manifold pressure falls all through a climb by itself.
    """
    row = min(signals.row_at(around), len(signals.t) - 1)
    low, high = max(0, row - signals.rows(reach_s)), min(len(signals.t), row + signals.rows(reach_s) + 1)
    for values in quick:
        before = nanmedian(values[max(0, low - signals.rows(6)) : low + 1])
        after = nanmedian(values[high - 1 : high + signals.rows(6)])
        way = fraction(values, before, after)
        if way is None or not abs(after - before) > smallest * abs(before):
            continue
        half = np.flatnonzero(way[low:high] > 0.5)
        if len(half):
            return onset_time(signals.t, low + onset(way[low:high], max(int(half[0]) - 1, 0), 0.12))
    return None


def _by_power(signals: Signals, quick: Sequence[Floats], share: Floats, air: tuple[int, int]) -> Found | None:
    """Without altitude: cruise is where power is steady, and airspeed past that of the climb."""
    start, end = air
    smooth = running_mean(share[start:end], signals.rows(15))
    half = max(1, signals.rows(30))
    change = np.abs(shifted(smooth, half) - shifted(smooth, -half))
    steady = np.nan_to_num(change, nan=1.0) < STEADY_SHARE * np.nanmax(smooth)
    t = signals.t[start:end]
    stretches = [(a, b) for a, b in runs(steady) if t[b - 1] - t[a] >= STEADY_S]
    speed = signals.ias_kt
    if speed is not None and stretches:
        flown = running_mean(speed[start:end], signals.rows(15))
        cruise = max(nanmedian(flown[a:b]) for a, b in stretches)
        fast = flown > 0.88 * cruise
        stretches = [(a, b) for a, b in stretches if np.mean(fast[a:b]) > 0.5]
    if not stretches:
        return None
    first, last = stretches[0][0], stretches[-1][1]
    begin = None
    if first > signals.rows(20):
        around = float(t[first])
        if speed is not None:
            climb = nanmedian(flown[signals.rows(40) : max(signals.rows(41), first)])
            rise = np.flatnonzero(flown[: first + signals.rows(200)] > climb + 0.5 * (cruise - climb))
            around = float(t[int(rise[0])]) - 20 if len(rise) and cruise > 1.08 * climb else around
        moved = lever(signals, quick, around, 45.0)
        begin = around if moved is None else moved
    left = None
    if last < end - start - signals.rows(20):
        moved = lever(signals, quick, float(t[last - 1]), 45.0, smallest=0.03)
        left = float(t[last - 1]) if moved is None else moved
    return begin, left
