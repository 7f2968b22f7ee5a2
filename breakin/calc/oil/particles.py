"""Possible engines, drawn once from fixed low-discrepancy points: the same engines for every log of one finish.

Every engine is a point ``z`` in a space where the prior is the standard normal distribution; :func:`engines_at` turns
points into rates, times and levels. Points fill the unit cube by an additive recurrence (the generalised golden
ratio), which is deterministic and spreads evenly in every dimension.
"""

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.prior import FinishPrior, Prior

IntArray = npt.NDArray[np.int_]

# Dimensions of z.
PLATEAU, ABOVE, DECAY, SETTLE, BREATHER, NOISE, TAIL, ONSET, SLOPE = range(9)
DIMENSIONS = 9
# Kinds of engine.
NORMAL, GLAZED, DRIFT, STEP = range(4)
KINDS = 4
POINTS = {NORMAL: 896, GLAZED: 384, DRIFT: 640, STEP: 128}
NO_BREATHER_PER_H = 0.02
TAIL_SHARE_OF_ENGINES = 0.2
MOST_TAIL = 0.45
TAIL_SLOWER = 2.6
STEP_TAKES_H = 0.5


@dataclass(frozen=True)
class Engines:
    """Arrays of one length: the parameters of possible engines, times from the log's first entry.

    plateau, above [qt/h], decay [h]: rate = plateau + above * ((1 - tail) exp(-t/decay) + tail exp(-t/slower decay))
    + min(slope * (t - onset)+, rise) [qt/h2], [h], [qt/h]. below [qt]: settling level under the full mark. breather
    [1/h]. noise [qt].
    """

    plateau: FloatArray
    above: FloatArray
    decay: FloatArray
    tail: FloatArray
    onset: FloatArray
    slope: FloatArray
    rise: FloatArray
    below: FloatArray
    breather: FloatArray
    noise: FloatArray

    def rate(self, hours: float) -> FloatArray:
        """Ring-related rate at this time [qt/h]."""
        quick = np.exp(-hours / self.decay)
        slow = np.exp(-hours / (TAIL_SLOWER * self.decay))
        fall = self.above * (quick + self.tail * (slow - quick))
        total: FloatArray = self.plateau + fall + self.drift(hours)
        return total

    def drift(self, hours: float) -> FloatArray:
        """How far the rate has climbed back since the onset [qt/h]."""
        return np.minimum(self.slope * np.maximum(hours - self.onset, 0.0), self.rise)

    def lost(self, hours: FloatArray) -> FloatArray:
        """Quarts lost past the rings since time 0, one row a time."""
        at = hours[:, None]
        quick = -np.expm1(-at / self.decay)
        slow = -np.expm1(-at / (TAIL_SLOWER * self.decay))
        fall = self.above * self.decay * (quick + self.tail * (TAIL_SLOWER * slow - quick))
        since = np.maximum(at - self.onset, 0.0)
        ramp = np.minimum(since, self.rise / self.slope)
        drift = self.slope * ramp * (since - 0.5 * ramp)
        return self.plateau * at + fall + drift


@lru_cache(maxsize=32)
def normal_points(count: int, dimensions: int = DIMENSIONS, skip: int = 0) -> FloatArray:
    """So many points, standard normal, shape (count, dimensions): an additive recurrence through the inverse normal.

    Source: the recurrence x(n) = frac(n / g), g the root of g**(d+1) = g + 1, from memory.
    """
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = root ** -np.arange(1, dimensions + 1)
    unit = (0.5 + np.outer(np.arange(1 + skip, count + 1 + skip), steps)) % 1.0
    inverse = NormalDist().inv_cdf
    flat = [inverse(min(max(float(value), 1e-6), 1 - 1e-6)) for value in unit.ravel()]
    points = np.array(flat).reshape(unit.shape)
    points.setflags(write=False)
    return points


@lru_cache(maxsize=8)
def prior_points() -> tuple[FloatArray, IntArray]:
    """Points of all kinds, and the kind of each."""
    points = np.vstack([normal_points(POINTS[kind], skip=1000 * kind) for kind in range(KINDS)])
    kinds = np.repeat(np.arange(KINDS), [POINTS[kind] for kind in range(KINDS)])
    return points, kinds


def kind_shares(prior: Prior) -> FloatArray:
    """Prior probability of each kind of engine."""
    shares = np.array([0.0, prior.glazed_share, prior.drift_share, prior.step_share])
    shares[NORMAL] = 1 - shares.sum()
    return shares


def engines_at(z: FloatArray, kinds: IntArray, prior: Prior, finish: FinishPrior) -> Engines:
    """Engines at points z (n, 9) of these kinds."""
    glazed, drifting, stepping = kinds == GLAZED, kinds == DRIFT, kinds == STEP
    median = np.where(glazed, prior.glazed_qt_h, finish.plateau_qt_h)
    spread = np.where(glazed, prior.glazed_spread, finish.plateau_spread)
    plateau = median * np.exp(spread * z[:, PLATEAU])
    above_median = np.where(glazed, prior.glazed_above_qt_h, prior.above_qt_h)
    above = above_median * np.exp(np.where(glazed, prior.glazed_above_spread, prior.above_spread) * z[:, ABOVE])
    decay = _decay(z[:, DECAY], finish)
    edge = NormalDist().inv_cdf(1 - TAIL_SHARE_OF_ENGINES)
    tail = np.where(z[:, TAIL] > edge, MOST_TAIL * _phi_share(z[:, TAIL], edge), 0.0)
    onset = prior.drift_onset_h * np.exp(prior.drift_onset_spread * np.where(stepping, 1.3, 1.0) * z[:, ONSET])
    slope = prior.drift_qt_h2 * np.exp(prior.drift_spread * z[:, SLOPE])
    rise = np.where(stepping, prior.step_qt_h * np.exp(prior.step_spread * z[:, SLOPE]), 50.0)
    slope = np.where(stepping, rise / STEP_TAKES_H, np.where(drifting, slope, 1e-12))
    below = prior.settle_below_full_qt + prior.settle_sigma_qt * z[:, SETTLE]
    none = NormalDist().inv_cdf(prior.no_breather_share)
    breather = np.where(
        z[:, BREATHER] < none,
        NO_BREATHER_PER_H,
        prior.breather_per_h * np.exp(prior.breather_spread * (z[:, BREATHER] - 0.2)),
    )
    noise = prior.noise_qt * np.exp(prior.noise_spread * z[:, NOISE])
    return Engines(plateau, above, decay, tail, onset, slope, rise, below, breather, noise)


def _phi_share(z: FloatArray, edge: float) -> FloatArray:
    """0 at the edge, towards 1 far above it."""
    return -np.expm1(-1.2 * np.maximum(z - edge, 0.0))


def _decay(z: FloatArray, finish: FinishPrior) -> FloatArray:
    """Quick and slow decay joined: the upper share of z belongs to the slow ones."""
    grid, times = _decay_table(finish)
    result: FloatArray = np.exp(np.interp(z, grid, times))
    return result


@lru_cache(maxsize=64)
def _decay_table(finish: FinishPrior) -> tuple[FloatArray, FloatArray]:
    """z against ln(decay): the inverse distribution of the two-lognormal mixture."""
    logs = np.linspace(np.log(0.3), np.log(60.0), 400)
    normal = NormalDist()
    quick_at, slow_at = np.log(finish.decay_h), np.log(finish.slow_decay_h)
    below = [
        (1 - finish.slow_share) * normal.cdf((value - quick_at) / finish.decay_spread)
        + finish.slow_share * normal.cdf((value - slow_at) / finish.slow_spread)
        for value in logs
    ]
    z = np.array([normal.inv_cdf(min(max(share, 1e-9), 1 - 1e-9)) for share in below])
    return z, logs
