"""The level filter: how well each possible engine explains a log.

Between entries the level falls by V' = -r(t) - k max(0, V - E), with the ring rate taken at its mean over the step; the
crossing of E is closed form. Each engine carries its level as a normal distribution; a reading is explained as good,
read hot, mistyped, or raised by an addition that nobody logged, and the explanations are merged again by moments.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.particles import Engines
from breakin.calc.oil.prior import Prior

HOT_QT, HOT_SIGMA_QT = -0.95, 0.42
TYPING_SIGMA_QT = 1.4
UNLOGGED_QT, UNLOGGED_SIGMA_QT = 1.5, 0.65
FIRST_RUN_QT, FIRST_RUN_SIGMA_QT = -0.8, 0.2
LOOSE_QT = 2.0
MODEL_QT_PER_SQRT_H = 0.06


@dataclass(frozen=True)
class Fill:
    """An oil change, or the start of a log: the level is near ``quarts``."""

    quarts: float
    sigma: float


@dataclass(frozen=True)
class Added:
    """Oil poured in."""

    quarts: float
    sigma: float


@dataclass(frozen=True)
class Run:
    """Running from grid time ``first`` to ``first + 1``; ``loose`` [qt] of level doubt for a leak or unlogged time."""

    first: int
    loose: float = 0.0


@dataclass(frozen=True)
class Reading:
    """A dipstick reading. ``u`` [qt] replaces the general noise where the reader told it."""

    quarts: float
    u: float | None
    division: float
    after: bool
    first_run: bool
    index: int
    hours: float


Event = Fill | Added | Run | Reading


@dataclass
class Level:
    """Level of every engine: mean and variance, and the log likelihood so far."""

    mean: FloatArray
    var: FloatArray
    log_likelihood: FloatArray


def loss_tables(events: Sequence[Event], grid: FloatArray, engines: Engines) -> tuple[FloatArray, FloatArray]:
    """Ring loss in each step of the grid [qt], and what is left of a quart of over-fill after it [-]."""
    return np.diff(engines.lost(grid), axis=0), np.exp(-engines.breather * np.diff(grid)[:, None])


def settling_level(engines: Engines, full: float, prior: Prior) -> FloatArray:
    """Where the level of each engine settles [qt]."""
    usual = prior.settle_below_full_qt
    result: FloatArray = full - engines.below + max(usual - prior.settle_most_share * full, 0.0)
    return result


def step(
    mean: FloatArray,
    var: FloatArray,
    settle: FloatArray,
    lost: FloatArray,
    left: FloatArray,
    dt: float,
    breather: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Level after a step of running: above the settling level it decays, below it falls with the rings alone."""
    base = lost / (dt * breather)
    over = mean - settle
    top = np.maximum(over, 0.0)
    # Share of the over-fill's influence that survives: until the end of the step, or until the level crosses.
    kept = np.maximum(left, base / (base + top))
    after = np.minimum(over, 0.0) - lost - base * np.log(kept) + np.maximum((top + base) * left - base, 0.0)
    return settle + after, var * kept * kept


def filtered(events: Sequence[Event], grid: FloatArray, engines: Engines, full: float, prior: Prior) -> Level:
    """Run the events through every engine."""
    lost, left = loss_tables(events, grid, engines)
    settle = settling_level(engines, full, prior)
    size = settle.shape
    mean, var = np.full(size, full - 1.5), np.full(size, 4.0)
    log_likelihood = np.zeros(size)
    for event in events:
        if isinstance(event, Run):
            dt = float(grid[event.first + 1] - grid[event.first])
            mean, var = step(mean, var, settle, lost[event.first], left[event.first], dt, engines.breather)
            var = var + (MODEL_QT_PER_SQRT_H**2 * dt + event.loose**2)
        elif isinstance(event, Reading):
            noise = noise_of(event, engines, prior)
            mean, var, gain = read(mean, var, noise, event, prior)
            log_likelihood += gain
        elif isinstance(event, Added):
            mean = mean + event.quarts
            var = var + event.sigma**2
        else:
            mean, var = np.full(size, event.quarts), np.full(size, event.sigma**2)
    return Level(mean, var, log_likelihood)


def noise_of(event: Reading, engines: Engines, prior: Prior) -> FloatArray:
    """Variance of a reading under each engine's reader [qt2]: as told, else general noise and the division."""
    if event.u is not None:
        told: FloatArray = (event.u * engines.noise / prior.noise_qt) ** 2
        return told
    general: FloatArray = engines.noise**2 + event.division**2 / 12
    return general


def read(
    mean: FloatArray, var: FloatArray, noise: FloatArray, event: Reading, prior: Prior
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Level after a reading, and the log likelihood of the reading."""
    p_hot = prior.hot_after if event.after else prior.hot_before
    p_good = 1 - p_hot - prior.typing - prior.unlogged
    off = event.quarts - mean
    spread = var + noise
    good = (p_good / np.sqrt(spread)) * np.exp(-0.5 * off * off / spread)
    hot = _lobe(off, spread, p_hot, HOT_QT, HOT_SIGMA_QT)
    typing = _lobe(off, spread, prior.typing, 0.0, TYPING_SIGMA_QT)
    gain = var / spread
    shift = gain * off
    rest_good = var - gain * var
    weight_bad = hot + typing
    total = good + weight_bad
    moved = good * shift
    second = good * (rest_good + shift * shift) + weight_bad * var
    if float(off.max()) > 0.0:
        raised = _lobe(off, spread, prior.unlogged, UNLOGGED_QT, UNLOGGED_SIGMA_QT)
        wide = var + UNLOGGED_SIGMA_QT**2
        gain_up = wide / (wide + noise)
        shift_up = UNLOGGED_QT + gain_up * (off - UNLOGGED_QT)
        total = total + raised
        moved = moved + raised * shift_up
        second = second + raised * (wide - gain_up * wide + shift_up * shift_up)
    if event.first_run:
        dropped = _lobe(off, spread, prior.first_run_drop, FIRST_RUN_QT, FIRST_RUN_SIGMA_QT)
        wide = var + FIRST_RUN_SIGMA_QT**2
        gain_down = wide / (wide + noise)
        shift_down = FIRST_RUN_QT + gain_down * (off - FIRST_RUN_QT)
        total = total + dropped
        moved = moved + dropped * shift_down
        second = second + dropped * (wide - gain_down * wide + shift_down * shift_down)
    total = total + 1e-12
    change = moved / total
    return mean + change, np.maximum(second / total - change * change, 1e-6), np.log(total)


def _lobe(off: FloatArray, spread: FloatArray, share: float, at: float, sigma: float) -> FloatArray:
    wide = spread + sigma * sigma
    apart = off - at
    result: FloatArray = (share / np.sqrt(wide)) * np.exp(-0.5 * apart * apart / wide)
    return result


def closed_form_rest(level: float, settle: float, rate: float, breather: float, hours: float) -> float:
    """Level after running at a steady rate, worked by hand: for checks. All [qt], [qt/h], [1/h], [h]."""
    over = level - settle
    if over <= 0 or breather <= 0:
        return level - rate * hours
    base = rate / breather
    crossing = math.log(1 + over / base) / breather if base > 0 else math.inf
    if crossing >= hours:
        return settle + (over + base) * math.exp(-breather * hours) - base
    return settle - rate * (hours - crossing)
