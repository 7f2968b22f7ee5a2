"""Level flight: where the climb ends and the descent begins."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from breakin.calc.recording.edges import fraction, onset, onset_time
from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import Floats, nanmedian, running_mean, runs, shifted

# Level: climbs or sinks less than this [ft/s], for this long [s].
LEVEL_FT_S = 3.2
LEVEL_S = 150.0
# A level below this share of the greatest height is a circuit or a hold, not cruise.
CRUISE_HEIGHT_SHARE = 0.6
# The line through a climb or descent meets the level so long after it began to bend [s]: first-order lag, own estimate.
LAG_S = 5.0
# The levers move within so long of it [s].
LEVERS_S = 12.0
# Without altitude: power steady within this share for this long [s].
STEADY_SHARE = 0.035
STEADY_S = 240.0

Meets = Callable[[Signals, int, int, float, float], float | None]
Found = tuple[float | None, float | None]


def level_stretch(
    signals: Signals, quick: Sequence[Floats], share: Floats, air: tuple[int, int], meets: Meets
) -> Found | None:
    """Begin and end of cruise [s]; None for an end that was not recorded; None altogether without any cruise."""
    if signals.alt_ft is not None:
        found = _by_altitude(signals, quick, air, meets)
        if found is not None:
            return found
    return _by_power(signals, quick, share, air)


def _by_altitude(signals: Signals, quick: Sequence[Floats], air: tuple[int, int], meets: Meets) -> Found | None:
    altitude = signals.alt_ft
    if altitude is None:
        return None
    start, end = air
    if end - start < signals.rows(LEVEL_S):
        return None
    flown = running_mean(altitude[start:end], signals.rows(9))
    half = max(1, signals.rows(10))
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
    begin = _levelled(signals, quick, start + first, start, meets) if first > signals.rows(20) else None
    left = _left(signals, quick, start + last, end, meets) if last < end - start - signals.rows(20) else None
    return begin, left


def _levelled(signals: Signals, quick: Sequence[Floats], row: int, start: int, meets: Meets) -> float:
    """When the climb ended: the climb's line meets the level, and the levers move near there."""
    altitude = signals.alt_ft
    settled = slice(row + signals.rows(25), row + signals.rows(100))
    level = nanmedian(altitude[settled]) if altitude is not None else float("nan")
    begin = max(start, row - signals.rows(70))
    met = meets(signals, begin, max(begin + 3, row - signals.rows(12)), level, -LAG_S)
    around = float(signals.t[row]) if met is None or abs(met - signals.t[row]) > 60 else met
    moved = lever(signals, quick, around, LEVERS_S + 2 * signals.step_s)
    return around if moved is None else moved


def _left(signals: Signals, quick: Sequence[Floats], row: int, end: int, meets: Meets) -> float:
    altitude = signals.alt_ft
    held = slice(max(0, row - signals.rows(100)), max(1, row - signals.rows(20)))
    level = nanmedian(altitude[held]) if altitude is not None else float("nan")
    met = meets(signals, row + signals.rows(12), min(end, row + signals.rows(70)), level, -LAG_S)
    around = float(signals.t[min(row, len(signals.t) - 1)])
    if met is not None and abs(met - around) < 60:
        around = met
    moved = lever(signals, quick, around, LEVERS_S + 2 * signals.step_s, smallest=0.04)
    return around if moved is None else moved


def lever(
    signals: Signals, quick: Sequence[Floats], around: float, reach_s: float, smallest: float = 0.025
) -> float | None:
    """When engine speed or manifold pressure begins a clear step near a time [s]; None when neither does."""
    row = min(signals.row_at(around), len(signals.t) - 1)
    low, high = max(0, row - signals.rows(reach_s)), min(len(signals.t), row + signals.rows(reach_s) + 1)
    best: tuple[float, float] | None = None
    for values in quick:
        before = nanmedian(values[max(0, low - signals.rows(6)) : low + 1])
        after = nanmedian(values[high - 1 : high + signals.rows(6)])
        size = abs(after - before) / max(abs(before), 1e-9)
        way = fraction(values, before, after)
        if way is None or not size > smallest:
            continue
        half = np.flatnonzero(way[low:high] > 0.5)
        if not len(half):
            continue
        at = onset_time(signals.t, low + onset(way[low:high], max(int(half[0]) - 1, 0), 0.15))
        steep = size / max(float(signals.t[low + int(half[0])]) - at, 1.0)
        if best is None or steep > best[0]:
            best = (steep, at)
    return best[1] if best else None


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
