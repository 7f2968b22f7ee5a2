"""Minutes in each band, and what they could be at least and at most under the doubt of the power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.result import Span
from breakin.calc.recording.smooth import Floats

# The power of a whole flight is a little off in one direction: each way it could be is tried, and the range leaves out
# the least likely at both ends. Most minutes lie far from any edge: in all about 97 of 100 ranges hold the truth.
TAIL = 0.05
TRIED = np.linspace(-3.2, 3.2, 129)
LIKELIHOOD = np.exp(-0.5 * TRIED**2)
LIKELIHOOD = LIKELIHOOD / LIKELIHOOD.sum()
# What passing through a band and the noise of the readings leave open in any case [min], and as a share of the range.
ROUGH_MIN = 0.2
ROUGH_SHARE = 0.05


# Steps of a fiftieth of a percent are finer than any reading.
STEPS_PER_PCT = 50
HIGHEST_STEP = 200 * STEPS_PER_PCT


@dataclass(frozen=True)
class Stock:
    """How long the power was below each of many fine steps of percent.

    below_s : [s] the time below step i, that is below i / STEPS_PER_PCT percent; rising.
    """

    below_s: Floats

    @classmethod
    def of(cls, pct: Floats, weight_s: Floats, where: NDArray[np.bool_]) -> Stock:
        known = where & np.isfinite(pct)
        step = np.clip(pct[known] * STEPS_PER_PCT, 0, HIGHEST_STEP).astype(np.int64)
        seconds = np.bincount(step, weights=weight_s[known], minlength=HIGHEST_STEP + 1)
        return cls(np.concatenate([[0.0], np.cumsum(seconds)]))

    @property
    def whole_min(self) -> float:
        return float(self.below_s[-1]) / 60.0

    def between(self, low: Floats, high: Floats) -> Floats:
        """Minutes with a power from low to high [%]."""
        first, last = (np.rint(np.clip(edge * STEPS_PER_PCT, 0, HIGHEST_STEP)).astype(np.int64) for edge in (low, high))
        minutes: Floats = np.maximum(self.below_s[last] - self.below_s[first], 0.0) / 60.0
        return minutes


def band_minutes(stock: Stock, low: float, high: float, sigma: float) -> Span:
    """Central, least and most minutes with power in a band.

    Parameters
    ----------
    low, high : [%] edges of the band; low may be -inf.
    sigma : one sigma of the power as a share of it, in one direction for the whole flight.
    """
    factors = 1.0 / np.maximum(1.0 + TRIED * sigma, 0.05)
    tried = stock.between(low * factors, high * factors)
    order = np.argsort(tried, kind="stable")
    weight = np.cumsum(LIKELIHOOD[order])
    least = float(tried[order][np.searchsorted(weight, TAIL)])
    most = float(tried[order][min(int(np.searchsorted(weight, 1.0 - TAIL)), len(tried) - 1)])
    central = float(stock.between(np.asarray(low), np.asarray(high)))
    rough = ROUGH_MIN + ROUGH_SHARE * (most - least)
    return Span(
        round(central, 3),
        round(max(0.0, min(least, central) - rough), 3),
        round(min(stock.whole_min, max(most, central) + rough), 3),
    )
