"""The clock of a recording: what a number of time counts, and a clock repaired.

A clock that jumps does not count; a true gap does. A forward jump over ten minutes with slow signals unmoved is a jump.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.gaps import Signals
from breakin.calc.recording.written_time import DAY, TimeFormat

Floats = NDArray[np.float64]
LONG_GAP_S = 600.0
LONGEST_PAUSE_S = 400.0 * DAY
NEVER_SET = 946_771_200.0
"""2 January 2000: a clock that was never set starts on a day before [s since 1970]."""


def number_format(values: Floats, name: str) -> TimeFormat:
    """What a column of numbers counts: seconds, minutes, hours, days or thousandths, or seconds since 1970."""
    good = values[np.isfinite(values)]
    steps = np.diff(good)
    steps = steps[steps > 0]
    step = float(np.median(steps)) if len(steps) else 1.0
    top = float(np.median(good)) if len(good) else 0.0
    words = re.split(r"[^a-z]+", name.casefold())
    if 6.3e8 < top < 4.2e9:
        return TimeFormat("epoch", True, text="seconds since 1970")
    if 6.3e11 < top < 4.2e12:
        return TimeFormat("epoch", True, text="thousandths of a second since 1970", scale=0.001)
    if 3.0e4 < top < 7.0e4 and step < 0.001:
        return TimeFormat("serial", True, text="days since 1900, as spreadsheets count", scale=DAY)
    if {"ms", "msec", "millis", "milliseconds"} & set(words) or step >= 100:
        return TimeFormat("elapsed", False, text="thousandths of a second", scale=0.001)
    if {"min", "mins", "minutes", "minuten"} & set(words) and step < 0.5:
        return TimeFormat("elapsed", False, text="minutes since the start", scale=60.0)
    if {"h", "hr", "hrs", "hours", "stunden"} & set(words) and step < 0.02:
        return TimeFormat("elapsed", False, text="hours since the start", scale=3600.0)
    return TimeFormat("elapsed", False, text="seconds since the start")


SERIAL_1900 = 25_569.0 * DAY
"""Seconds from day 0 of spreadsheets (30 December 1899) to 1 January 1970."""


def _run_lengths(raw: Floats) -> NDArray[np.int64]:
    """How many rows in a row share each reading."""
    starts = np.concatenate(([0], np.flatnonzero(np.diff(raw)) + 1))
    return np.diff(np.concatenate((starts, [len(raw)])))


@dataclass
class Repair:
    """The repaired clock, fed with one stretch of rows after another.

    dated : the raw seconds hold the date, so that midnight needs no mending.
    step : usual time between rows; tick : between readings of the clock [s]; a_tick : rows for each reading.
    """

    dated: bool
    step: float | None = None
    tick: float = 1.0
    a_tick: int = 1
    shared: int = 0
    rows: int = 0
    backward: int = 0
    last_raw: float | None = None
    last_t: float = 0.0
    latest: float = 0.0
    jumps: int = 0
    gaps: int = 0
    gap_s: float = 0.0
    midnights: int = 0
    offsets: list[tuple[float, int]] = field(default_factory=list)

    def times(self, raw: Floats, signals: Signals) -> Floats:
        """Seconds since the first row of the file.

        Parameters
        ----------
        raw : [s] of the recorder, finite, in file order.
        signals : of the same rows.
        """
        if self.step is None:
            steps = np.diff(raw)
            steps = steps[(steps > 0) & (steps <= LONG_GAP_S)]
            self.tick = float(np.median(steps)) if len(steps) else 1.0
            self.a_tick = int(np.median(_run_lengths(raw)))
            self.step = self.tick / self.a_tick
        steps = np.diff(raw, prepend=raw[0] if self.last_raw is None else self.last_raw)
        jump_at: NDArray[np.int64] = np.empty(0, np.int64)
        if steps.min() < 0 or steps.max() > 1.5 * self.tick:
            if not self.dated:
                over = steps < -DAY / 2
                for index in np.flatnonzero((steps < 0) & ~over):
                    over[index] = signals.rested(int(index))  # a day ended between two flights
                self.midnights += int(over.sum())
                steps = np.where(over, steps + DAY, steps)
            jump = steps < 0
            for index in np.flatnonzero(steps > LONG_GAP_S):
                set_right = self.dated and raw[index] - steps[index] < NEVER_SET and raw[index] > NEVER_SET
                wrong = set_right or steps[index] > LONGEST_PAUSE_S
                jump[index] = wrong or not (signals.rested(int(index)) or signals.moved(int(index)))
            jump_at = np.flatnonzero(jump)
            self.jumps += len(jump_at)
            self.backward += int((steps < 0).sum())
            steps = np.where(jump, self.tick, steps)
            gap = steps > max(5.0 * self.tick, 10.0)
            self.gaps += int(gap.sum())
            self.gap_s += float(steps[gap].sum())
        whole = self.last_t + np.cumsum(steps)
        self._weigh(raw - whole, jump_at)
        # A reading may come sooner than usual: rows before it then share its time.
        t = np.maximum.accumulate(np.maximum(whole + self._within_tick(steps), self.latest))
        self.latest = float(t[-1])
        self.rows += len(raw)
        self.last_raw, self.last_t = float(raw[-1]), float(whole[-1])
        return np.asarray(np.round(t, 6), np.float64)

    def _within_tick(self, steps: Floats) -> Floats | float:
        """How far after the reading of its clock each row was written, where several rows share a reading [s]."""
        same = steps == 0
        if self.last_raw is None:
            same[0] = False
        if not same.any():
            self.shared = 0
            return 0.0
        index = np.arange(len(steps))
        start = np.maximum.accumulate(np.where(same, -1, index))
        place = np.where(start >= 0, index - start, index + self.shared + 1)
        self.shared = int(place[-1])
        late = place - self.a_tick + 1.0
        share = np.where(late <= 0, place, self.a_tick - 2.0 ** -np.maximum(late, 0.0)) / self.a_tick
        return np.asarray(share * self.tick)

    def _weigh(self, offset: Floats, jump_at: NDArray[np.int64]) -> None:
        """Keep the clock at t = 0 that most rows between two jumps stand for."""
        for start, end in zip((0, *jump_at), (*jump_at, len(offset)), strict=True):
            if start > 0 or not self.offsets or (len(jump_at) and jump_at[0] == 0):
                self.offsets.append((float(offset[min(start, len(offset) - 1)]), 0))
            value, rows = self.offsets[-1]
            self.offsets[-1] = (value, rows + int(end - start))

    @property
    def start(self) -> float:
        """The recorder's own clock at t = 0 [s], by the stretch between jumps that has most rows."""
        return max(self.offsets, key=lambda each: each[1])[0] if self.offsets else 0.0
