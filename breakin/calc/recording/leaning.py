"""Leaning to the first cylinder that peaks: where the fuel/air ratio has a trough and the exhaust a crest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from breakin.calc.recording.result import Leaning
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import Floats, extreme, nanmedian, running_mean

# A trough of fuel for the air: down by so much beforehand and up again by so much afterwards, as a share.
FALL_SHARE = 0.04
RISE_SHARE = 0.015
# The exhaust rises by so much on the way [ddegF].
EXHAUST_RISE_DEGF = 35.0
# And falls again by so much when the mixture is made richer, or leaner still [ddegF].
EXHAUST_FALL_DEGF = 20.0
# A rise of which so much comes within so long [s] is a change of power, not of mixture.
STEP_S = 8.0
STEP_SHARE = 0.45
# Leaning takes at least so long [s].
SLOWLY_S = 15.0
# Crests are looked for this finely [s].
LOOK_S = 3.0
# A crest is the highest within so long on both sides [s].
NEAR_S = 20.0
# How far to look before and after the trough [s].
BEFORE_S = 220.0
AFTER_S = 90.0
# Air must not change while the mixture is moved [share].
AIR_SHARE = 0.035
# A probe peaked by this long after the trough [s]: metal follows gas late.
LATE_S = 4.0
# The straight part of the rise, below the crest [ddegF].
RAMP_DEGF = (12.0, 75.0)
# A crest is passed, not only reached, when the rise would have met it this long before the trough [s].
# The trough of fuel for the air is noisy, and missing without fuel flow: then the crest of the exhaust stands for it,
# which comes late by the lag of the probes.
PASSED_S = 2.5
PASSED_LATE_S = 5.5
PASSED_BLIND_S = 3.0
# How much of the slope of a rise is taken from all probes together.
SHARED_SLOPE = 0.8
# Crests are the mean of the highest values of so long [s]: one highest value alone is noise.
TOP_S = 11.0
# The crest is round: the first probe is at its top so long after the straight rise would have met it [s].
ROUND_S = 5.0


@dataclass(frozen=True)
class Leaned:
    """One leaning. t : first peak [s]. first_cylinder : 1 is the first. trough_row : leanest row.
    crest_degf : the highest of each exhaust probe, NaN for a rejected one."""

    t: float
    first_cylinder: int
    trough_row: int
    crest_degf: Floats

    @property
    def plain(self) -> Leaning:
        return Leaning(round(self.t, 1), self.first_cylinder)


def leanings_of(
    signals: Signals, fuel_air: Floats | None, air_pct: Floats | None, exhaust: Probes, air: tuple[int, int]
) -> tuple[Leaned, ...]:
    """Every leaning to the first peak in flight.

    Parameters
    ----------
    fuel_air : rows - fuel for the air, in any unit; None where it cannot be told: then the crest of the exhaust alone.
    air_pct : rows - power by the chart without mixture [%], or None.
    exhaust : exhaust probes.
    air : first row and row after the last in flight.
    """
    start, end = air
    if end - start < signals.rows(60):
        return ()
    flown = exhaust.values[start:end]
    good = np.flatnonzero(np.isfinite(flown).any(axis=0)) if flown.shape[1] else np.zeros(0, dtype=np.int64)
    if not len(good):
        return ()
    smooth = running_mean(flown[:, good], signals.rows(5))
    mean = _mean(smooth)
    steady = None if air_pct is None else running_mean(air_pct[start:end], signals.rows(9))
    # Rows to look at, and how long before each the rise must have met its crest.
    tried: list[tuple[int, float]] = []
    depth = None if fuel_air is None else -running_mean(fuel_air[start:end], signals.rows(7))
    if depth is not None:
        scale = abs(nanmedian(depth))
        tried = [
            (row, PASSED_S) for row in _crests(signals, depth, FALL_SHARE * scale, RISE_SHARE * scale) if scale > 0
        ]
    for row in _crests(signals, mean, EXHAUST_RISE_DEGF, EXHAUST_RISE_DEGF):
        through = depth is not None and _leaner_still(signals, depth, row)
        tried.append((row, -np.inf if through else PASSED_LATE_S if depth is not None else PASSED_BLIND_S))
    found: list[Leaned] = []
    for row, passed_s in tried:
        if any(abs(signals.t[start + row] - signals.t[other.trough_row]) < BEFORE_S for other in found):
            continue
        one = _first_peak(signals, signals.t[start:end], smooth, mean, row, _held_since(signals, steady, row))
        if one is None or (row - one[0]) * signals.step_s < passed_s:
            continue
        peak_row, place, crests = one
        full = np.full(exhaust.values.shape[1], np.nan)
        full[good] = crests
        t = float(np.interp(start + peak_row, np.arange(len(signals.t)), signals.t)) + ROUND_S
        t = min(t, float(signals.t[start + row]))
        found.append(Leaned(t, int(good[place]) + 1, start + row, full))
    return tuple(sorted(found, key=lambda one: one.t))


def _leaner_still(signals: Signals, depth: Floats, row: int) -> bool:
    """Whether fuel for the air went on falling past a crest of the exhaust: pulled through to the lean side."""
    near = signals.rows(3)
    now = nanmedian(depth[max(0, row - near) : row + near + 1])
    later = nanmedian(depth[row + signals.rows(30) : row + signals.rows(30) + 2 * near + 1])
    return later - now > RISE_SHARE * abs(now)


def _mean(values: Floats) -> Floats:
    mean: Floats = values @ np.full(values.shape[1], 1.0 / values.shape[1], dtype=values.dtype)
    if not np.isnan(mean).any():
        return mean
    known = np.isfinite(values)
    count = known.sum(axis=1)
    total = np.where(known, values, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _crests(signals: Signals, values: Floats, fall: float, rise: float) -> list[int]:
    """Local maxima that stand over what is around by ``fall`` beforehand and ``rise`` afterwards."""
    every = signals.rows(LOOK_S)
    few = values[::every]
    known = np.isfinite(few)
    level, low = np.where(known, few, -np.inf), np.where(known, few, np.inf)
    near, before, after = (max(1, signals.rows(seconds) // every) for seconds in (NEAR_S, BEFORE_S, AFTER_S))
    stands = known & (level >= extreme(level, near, near, np.maximum))
    stands &= level - extreme(low, before, 0, np.minimum) >= fall
    stands &= level - extreme(low, 0, after, np.minimum) >= rise
    stands[:3] = stands[-3:] = False
    rows = []
    for place in np.flatnonzero(stands):
        first = (int(place) - 1) * every + 1
        rows.append(first + int(np.nanargmax(values[first : first + 2 * every - 1])))
    return rows


def _highest(values: Floats, rows: int) -> Floats:
    """Mean of the highest few values of each column; NaN for a column without any."""
    ordered = np.sort(np.where(np.isfinite(values), values, -np.inf), axis=0)[-rows:]
    return np.where(np.isfinite(ordered).all(axis=0), ordered.mean(axis=0), np.nan)


def _lowest(values: Floats) -> float:
    return float(np.min(values, initial=np.inf, where=np.isfinite(values)))


def _held_since(signals: Signals, steady: Floats | None, row: int) -> int | None:
    """Since which row the air has been as at the trough; None when it changes right after."""
    low = max(0, row - signals.rows(BEFORE_S))
    if steady is None:
        return low
    apart = np.abs(steady[low : row + signals.rows(15)] / max(float(np.nan_to_num(steady[row])), 1.0) - 1)
    moved = np.flatnonzero(~(apart < AIR_SHARE))
    if len(moved) and moved[-1] > row - low:
        return None
    return low + int(moved[-1]) + 1 if len(moved) else low


def _at_once(signals: Signals, t: Floats, mean: Floats, low: int, row: int) -> bool:
    """Whether the exhaust rose in one step, as it does with a change of power, and not slowly as with the mixture."""
    step = signals.rows(STEP_S)
    rising = mean[low : row + 1]
    if len(rising) <= step:
        return True
    # Over a gap in the recording nothing is said of how quickly it rose.
    unbroken = t[low + step : row + 1] - t[low : row + 1 - step] < 2 * STEP_S + signals.step_s
    highest = float(np.max(np.where(unbroken, np.nan_to_num(rising[step:] - rising[:-step], nan=0.0), 0.0)))
    return highest > STEP_SHARE * (float(mean[row]) - _lowest(rising))


def _first_peak(
    signals: Signals, t: Floats, smooth: Floats, mean: Floats, row: int, low: int | None
) -> tuple[float, int, Floats] | None:
    """The row (with its fraction) in which the first probe met its crest, which probe, and all the crests."""
    late = row + signals.rows(LATE_S)
    if low is None or row - low < max(3, signals.rows(SLOWLY_S)) or late >= len(mean) or not np.isfinite(mean[row]):
        return None
    if mean[row] - _lowest(mean[low : row + 1]) < EXHAUST_RISE_DEGF:
        return None
    if mean[row] - _lowest(mean[row : row + signals.rows(AFTER_S)]) < EXHAUST_FALL_DEGF:
        return None
    if _at_once(signals, t, mean, low, row):
        return None
    low = max(0, row - signals.rows(BEFORE_S))
    crests = _highest(smooth[low : late + 1], signals.rows(TOP_S))
    rises = [_last_rise(smooth[low : row + 1, place], float(crest)) for place, crest in enumerate(crests)]
    middles, belows, slopes = (np.asarray(column) for column in zip(*rises, strict=True))
    # Mixture moves under all probes alike: what the slope of one differs from the usual one is mostly noise.
    slopes = SHARED_SLOPE * nanmedian(slopes) + (1.0 - SHARED_SLOPE) * slopes
    times = low + middles + belows / slopes
    if np.isnan(times).all():
        return None
    first = int(np.nanargmin(times))
    # The one highest value, not the mean of a few, tells a peak that was only just reached from one that was passed.
    top = float(np.nanmax(smooth[low : late + 1, first]))
    met = float(times[first]) + max(top - float(crests[first]), 0.0) / float(slopes[first])
    return met, first, crests


def _last_rise(values: Floats, crest: float) -> tuple[float, float, float]:
    """The straight part of the last rise to the crest: its middle [rows], how far below the crest that is [ddegF], and
    its slope [ddegF a row]; NaN without such a rise."""
    none = float("nan"), float("nan"), float("nan")
    below = crest - values
    last_far = np.flatnonzero(~(below < RAMP_DEGF[1]))
    begin = int(last_far[-1]) + 1 if len(last_far) else 0
    near = np.flatnonzero(below[begin:] < RAMP_DEGF[0])
    stop = begin + int(near[0]) if len(near) else len(values)
    if stop - begin < 3:
        return none
    x, y = np.arange(begin, stop, dtype=np.float64), below[begin:stop].astype(np.float64)
    x_mean, y_mean = float(x.mean()), float(y.mean())
    slope = -float(((x - x_mean) * (y - y_mean)).sum() / ((x - x_mean) ** 2).sum())
    return (x_mean, y_mean, slope) if slope > 0 else none
