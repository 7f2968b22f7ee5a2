"""Answers read off weighted engines: rate, settling, forecast, settling level."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.log import OilLog
from breakin.calc.oil.model import settling_level
from breakin.calc.oil.particles import DRIFT, STEP, TAIL_SLOWER, Engines
from breakin.calc.oil.posterior import Posterior
from breakin.calc.oil.prior import Prior

DECLARE_P = 0.85
DECLARE_READINGS = 4
DECLARE_HOURS = 3.0
BAND_SHARE = 0.2
BAND_QT_PER_H = 0.05
NOT_SETTLING_P = 0.9
RISING_P = 0.75
TOPPING_ABOVE_QT = 0.5
LAST_ADDITIONS = 3


def quantiles(values: FloatArray, weights: FloatArray, shares: Sequence[float]) -> list[float]:
    """Weighted quantiles, interpolated between the middles of the weights."""
    order = np.argsort(values)
    ordered = weights[order]
    reached = np.cumsum(ordered) - 0.5 * ordered
    return [float(value) for value in np.interp(shares, reached, values[order])]


def settling_time(engines: Engines, band: FloatArray) -> FloatArray:
    """Time at which the falling part of the rate enters the band [h from the log's start], 0 when it starts inside."""
    above, decay, tail = engines.above, engines.decay, engines.tail
    # Newton on ln of a sum of two exponentials, which is convex and falling: from the left it never overshoots.
    time = np.zeros_like(decay)
    target = np.log(band / above)
    slower = TAIL_SLOWER * decay
    for _ in range(6):
        quick = (1 - tail) * np.exp(-time / decay)
        slow = tail * np.exp(-time / slower)
        total = quick + slow
        time = time + np.maximum(np.log(total) - target, 0.0) * total / (quick / decay + slow / slower)
    return time


def answers(found: Posterior, log: OilLog, readings: int, prior: Prior) -> dict[str, Any]:
    """All numbers of the estimate except the labels of single entries."""
    engines, weights = found.engines, found.weights
    now = log.entries[-1].at
    rate = engines.rate(now)
    drift = engines.drift(now)
    band = np.maximum(BAND_SHARE * engines.plateau, BAND_QT_PER_H)
    accepted = engines.plateau <= log.limit_qt_h
    inside = (rate - engines.plateau <= band) & accepted
    rising = ((found.kinds == DRIFT) | (found.kinds == STEP)) & (drift > band)
    p_stabilized, p_not_settling, p_rising = (
        min(max(float(weights @ flag), 0.0), 1.0) for flag in (inside, ~accepted, rising)
    )
    enough = readings >= DECLARE_READINGS and now >= DECLARE_HOURS
    lo, mid, hi = quantiles(rate, weights, (0.05, 0.5, 0.95))
    not_settling = enough and p_not_settling >= NOT_SETTLING_P
    result = {
        "p_stabilized": p_stabilized,
        "stabilized": bool(enough and p_stabilized >= DECLARE_P),
        "rate_now": mid,
        "rate_lo": lo,
        "rate_hi": hi,
        "not_settling": bool(not_settling),
        "p_not_settling": p_not_settling,
        "rising": bool(enough and p_rising >= RISING_P),
        "p_rising": p_rising,
    }
    settle = settling_level(engines, log.full_qt, prior)
    level_lo, level, level_hi = quantiles(settle, weights, (0.05, 0.5, 0.95))
    when_weights = weights * accepted if p_not_settling < 0.999 else weights
    when_weights = when_weights / when_weights.sum()
    when_lo, when, when_hi = quantiles(settling_time(engines, band), when_weights, (0.05, 0.5, 0.95))
    shift = log.now_h - now
    return result | {
        "settle_h": when + shift,
        "settle_lo": when_lo + shift,
        "settle_hi": when_hi + shift,
        "level_settle": level,
        "level_lo": level_lo,
        "level_hi": level_hi,
    }
