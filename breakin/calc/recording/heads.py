"""Head temperatures: the climb's peak and when it came, the fastest fall, who runs hot."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.phases import Course
from breakin.calc.recording.result import Cylinders
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import Floats, none_if_nan, running_mean, runs

# The peak of a climb may come a while after the level-off: heads lag [s].
AFTER_CLIMB_S = 600.0
WITHOUT_CRUISE_S = 1200.0
# Straight means hide a peak: a parabola is fitted over so long [s] for its height, and longer for its time.
HEIGHT_S = 45.0
TIME_S = 60.0
LEAST_ROWS = 7
FLAT_DEGF = 0.3
# Cooling is judged over a minute (maker's line is in degF a minute: SI 1094D).
DROP_S = 60.0
DROP_SMOOTH_S = 9.0
LOOK_S = 3.0


@dataclass(frozen=True)
class Climb:
    """The climb's peak of each head, and when [s]; None for a rejected probe."""

    peak_degf: Cylinders
    turnover_s: Cylinders


def climb_window(signals: Signals, course: Course) -> slice | None:
    """The rows in which the climb's peak is looked for."""
    if course.air is None:
        return None
    first = signals.row_at(course.events.get("takeoff_start", float(signals.t[course.air[0]])))
    if "cruise_start" in course.events:
        until = course.events["cruise_start"] + AFTER_CLIMB_S
    else:
        until = float(signals.t[first]) + WITHOUT_CRUISE_S
    end = min(signals.row_at(until), course.air[1])
    return slice(first, end) if end - first > 3 else None


def climb_peaks(signals: Signals, course: Course, heads: Probes) -> Climb:
    """Peak and turn-over of each head in the first climb."""
    window = climb_window(signals, course)
    count = heads.values.shape[1]
    if window is None:
        return Climb((None,) * count, (None,) * count)
    values = heads.values[window].astype(np.float64)
    high, slow = (_parabolas(values, max(signals.rows(seconds), LEAST_ROWS)) for seconds in (HEIGHT_S, TIME_S))
    t = signals.t[window]
    peaks: list[float | None] = []
    times: list[float | None] = []
    for index in range(count):
        if heads.rejected[index] or not np.isfinite(high[:, index]).any():
            peaks.append(None)
            times.append(None)
            continue
        peaks.append(none_if_nan(float(np.nanmax(high[:, index])), 2))
        times.append(_turnover(t, slow[:, index]))
    return Climb(tuple(peaks), tuple(times))


def _turnover(t: NDArray[np.float64], values: Floats) -> float | None:
    """The middle of the flat top: one highest row alone would follow the noise."""
    top = int(np.nanargmax(values))
    flat = values > values[top] - FLAT_DEGF
    for a, b in runs(np.nan_to_num(flat).astype(bool)):
        if a <= top < b:
            return round(float(t[a:b].mean()), 1)
    return round(float(t[top]), 1)


def _parabolas(values: Floats, rows: int) -> Floats:
    """Smoothing by a parabola through the rows around each row (least squares, evaluated in the middle)."""
    half = max(rows // 2, 1)
    if len(values) < 2 * half + 1 or half < 2:
        return values
    x = np.arange(-half, half + 1, dtype=np.float64)
    s2, s4, n = float((x**2).sum()), float((x**4).sum()), float(len(x))
    kernel = (s4 - s2 * x**2) / (n * s4 - s2 * s2)
    out = np.full_like(values, np.nan)
    padded = np.concatenate([np.repeat(values[:1], half, axis=0), values, np.repeat(values[-1:], half, axis=0)])
    for index in range(values.shape[1]):
        out[:, index] = np.convolve(padded[:, index], kernel, "valid")
    return out


def fastest_fall(signals: Signals, course: Course, heads: Probes) -> Cylinders:
    """The fastest fall of each head over a minute in flight [degF/min]; 0 when it never fell."""
    none: Cylinders = (None,) * int(heads.values.shape[1])
    if course.air is None:
        return none
    start, end = course.air
    step = signals.rows(DROP_S)
    if end - start <= step:
        return none
    smooth = running_mean(heads.values[start:end], signals.rows(DROP_SMOOTH_S))
    # Heads are slow: every second or third row is enough to look at.
    every = max(1, signals.rows(LOOK_S))
    over = np.maximum(signals.t[start + step : end : every] - signals.t[start : end - step : every], 1.0)
    fell = smooth[:-step:every] - smooth[step::every]
    falls = np.fmax.reduce(fell / over[:, None].astype(smooth.dtype), axis=0) * 60.0
    return tuple(
        None if heads.rejected[index] or not np.isfinite(fall) else round(max(float(fall), 0.0), 2)
        for index, fall in enumerate(falls)
    )


def hottest(heads: Probes, rows: slice) -> tuple[float | None, int | None]:
    """The hottest head in some rows: its temperature [degF] and its number."""
    values = heads.values[rows]
    if not values.size or np.isnan(values).all():
        return None, None
    row, column = np.unravel_index(int(np.nanargmax(values)), values.shape)
    return round(float(values[row, column]), 1), int(column) + 1


def hottest_line(heads: Probes) -> Floats:
    """The hottest head of each row; NaN where no head is known."""
    if not heads.values.shape[1]:
        return np.full(len(heads.values), np.nan)
    return reduce(np.fmax, heads.values.T)


def longest_minutes(signals: Signals, mask: NDArray[np.bool_]) -> float:
    """The longest unbroken stretch of a mask [min]."""
    return max((float(signals.t[b - 1] - signals.t[a] + signals.step_s) / 60.0 for a, b in runs(mask)), default=0.0)


def climb_profile(
    signals: Signals, course: Course, hottest_degf: Floats
) -> tuple[tuple[tuple[float, float], ...], str]:
    """The hottest head at every 1,000 ft passed in the first climb, and whether it was falling by 3,000 ft."""
    window = climb_window(signals, course)
    if window is None or signals.alt_ft is None or not np.isfinite(hottest_degf).any():
        return (), "not observed"
    field_ft = signals.alt_ft[window.start]
    until = signals.row_at(course.events["cruise_start"]) if "cruise_start" in course.events else window.stop
    height = signals.alt_ft[window.start : max(until, window.start + 1)] - field_ft
    hot = hottest_degf[window.start : window.start + len(height)]
    points: list[tuple[float, float]] = []
    falling = "not observed"
    for feet in range(1000, 20001, 1000):
        past = np.flatnonzero(height >= feet)
        if not len(past):
            break
        row = int(past[0])
        if np.isfinite(hot[row]):
            points.append((float(feet), round(float(hot[row]), 1)))
        if feet == 3000:
            before = hot[max(0, row - signals.rows(60)) : row + 1]
            known = before[np.isfinite(before)]
            if len(known) > 3:
                third = max(1, len(known) // 3)
                falling = "yes" if known[-third:].mean() < known[:third].mean() - 0.5 else "no"
    return tuple(points), falling
