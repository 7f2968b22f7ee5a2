"""Which readings are bad, where an addition was not logged, and how high additions ended.

For a few engines drawn by their weights, the likeliest explanations of all readings together are followed side by
side: what a reading looked like is judged with what came after it.
"""

from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.events import Story
from breakin.calc.oil.model import (
    FIRST_RUN_QT,
    FIRST_RUN_SIGMA_QT,
    HOT_QT,
    HOT_SIGMA_QT,
    MODEL_QT_PER_SQRT_H,
    TYPING_SIGMA_QT,
    UNLOGGED_QT,
    UNLOGGED_SIGMA_QT,
    Added,
    Reading,
    Run,
    loss_tables,
    noise_of,
    settling_level,
    step,
)
from breakin.calc.oil.particles import Engines
from breakin.calc.oil.posterior import Posterior
from breakin.calc.oil.prior import Prior

ENGINES = 8
EXPLANATIONS = 8
GOOD, HOT, TYPING, UNLOGGED, FIRST_RUN = range(5)
BAD_P = 0.38
UNLOGGED_P = 0.45
TOPPING_P = 0.6
TOPPING_ABOVE_QT = 0.5
LAST_ADDITIONS = 3


@dataclass(frozen=True)
class Labels:
    """Places of bad readings, hours of unlogged additions, and the probability that topping up goes too high."""

    outliers: list[int]
    missed_additions: list[float]
    p_topping_high: float
    topping_high: bool


@dataclass
class _Paths:
    """Explanations followed: mean, variance, log weight (engines, explanations), and choices made so far."""

    mean: FloatArray
    var: FloatArray
    log_weight: FloatArray
    chosen: FloatArray
    tops: list[FloatArray]


def labels(found: Posterior, story: Story, full: float, prior: Prior) -> Labels:
    """Labels of a log's entries, from the posterior."""
    engines = _drawn(found)
    readings = [event for event in story.events if isinstance(event, Reading)]
    paths = _followed(story, engines, full, prior)
    weights = np.exp(paths.log_weight - paths.log_weight.max(axis=1, keepdims=True))
    weights = weights / weights.sum() * 1.0
    p_bad = np.tensordot(weights, (paths.chosen == HOT) | (paths.chosen == TYPING), axes=2)
    p_raised = np.tensordot(weights, paths.chosen == UNLOGGED, axes=2)
    p_high = _too_high(paths, weights)
    return Labels(
        [reading.index for reading, share in zip(readings, p_bad, strict=True) if share > BAD_P],
        [reading.hours for reading, share in zip(readings, p_raised, strict=True) if share > UNLOGGED_P],
        p_high,
        p_high > TOPPING_P,
    )


def _drawn(found: Posterior) -> Engines:
    """A few engines, drawn evenly through the weights in the order of their rates of decay and plateau."""
    order = np.argsort(found.engines.below)
    reached = np.cumsum(found.weights[order])
    places = order[np.searchsorted(reached, (np.arange(ENGINES) + 0.5) / ENGINES).clip(0, len(order) - 1)]
    return Engines(*(getattr(found.engines, name)[places] for name in Engines.__dataclass_fields__))


def _followed(story: Story, engines: Engines, full: float, prior: Prior) -> _Paths:
    lost, left = loss_tables(story.events, story.grid, engines)
    settle = settling_level(engines, full, prior)[:, None]
    breather = engines.breather[:, None]
    size = (ENGINES, 1)
    paths = _Paths(np.full(size, full - 1.5), np.full(size, 4.0), np.zeros(size), np.zeros((*size, 0), np.int8), [])
    for event in story.events:
        if isinstance(event, Run):
            dt = float(story.grid[event.first + 1] - story.grid[event.first])
            at = event.first
            paths.mean, paths.var = step(
                paths.mean, paths.var, settle, lost[at][:, None], left[at][:, None], dt, breather
            )
            paths.var = paths.var + (MODEL_QT_PER_SQRT_H**2 * dt + event.loose**2)
        elif isinstance(event, Reading):
            _explain(paths, event, engines, prior)
        elif isinstance(event, Added):
            paths.mean = paths.mean + event.quarts
            paths.var = paths.var + event.sigma**2
            if event.quarts > 0:
                paths.tops.append(_above(paths, settle))
        else:
            paths.mean, paths.var = np.full_like(paths.mean, event.quarts), np.full_like(paths.var, event.sigma**2)
    return paths


def _above(paths: _Paths, settle: FloatArray) -> FloatArray:
    """Probability that the level is now more than half a quart above the settling level."""
    z = (paths.mean - settle - TOPPING_ABOVE_QT) / np.sqrt(paths.var)
    result: FloatArray = 1 / (1 + np.exp(np.clip(-1.702 * z, -60, 60)))
    return result


def _explain(paths: _Paths, event: Reading, engines: Engines, prior: Prior) -> None:
    """Branch every explanation over what this reading may be, and keep the likeliest."""
    noise = noise_of(event, engines, prior)[:, None]
    p_hot = prior.hot_after if event.after else prior.hot_before
    shares = [1 - p_hot - prior.typing - prior.unlogged, p_hot, prior.typing, prior.unlogged]
    at = np.array([0.0, HOT_QT, 0.0, UNLOGGED_QT])
    extra = np.array([0.0, HOT_SIGMA_QT**2, TYPING_SIGMA_QT**2, UNLOGGED_SIGMA_QT**2])
    moves = np.array([True, False, False, True])
    if event.first_run:
        shares.append(prior.first_run_drop)
        at, extra = np.append(at, FIRST_RUN_QT), np.append(extra, FIRST_RUN_SIGMA_QT**2)
        moves = np.append(moves, True)
    mean, var = paths.mean[..., None], paths.var[..., None]
    wide = var + np.where(moves, extra, 0.0)
    spread = var + extra + noise[..., None]
    apart = event.quarts - mean - at
    log_weight = paths.log_weight[..., None] + np.log(shares) - 0.5 * (np.log(spread) + apart * apart / spread)
    gain = np.where(moves, wide / spread, 0.0)
    new_mean = mean + np.where(moves, at + gain * apart, 0.0)
    new_var = np.maximum(wide - gain * wide, 1e-6)
    count = log_weight.shape[1] * len(shares)
    flat = log_weight.reshape(ENGINES, count)
    if count > EXPLANATIONS:
        keep = np.argpartition(-flat, EXPLANATIONS - 1, axis=1)[:, :EXPLANATIONS]
    else:
        keep = np.broadcast_to(np.arange(count), (ENGINES, count))
    before = keep // len(shares)
    rows = np.arange(ENGINES)[:, None]
    paths.mean = new_mean.reshape(ENGINES, count)[rows, keep]
    paths.var = np.broadcast_to(new_var, log_weight.shape).reshape(ENGINES, count)[rows, keep]
    paths.log_weight = flat[rows, keep]
    paths.chosen = np.concatenate([paths.chosen[rows, before], (keep % len(shares)).astype(np.int8)[..., None]], axis=2)
    paths.tops = [top[rows, before] for top in paths.tops]


def _too_high(paths: _Paths, weights: FloatArray) -> float:
    """Probability that two of the last three additions ended too high."""
    last = paths.tops[-LAST_ADDITIONS:]
    if len(last) < 2:
        return 0.0
    if len(last) == 2:
        both = last[0] * last[1]
    else:
        first, second, third = last
        both = first * second + second * third + first * third - 2 * first * second * third
    return float(np.sum(weights * np.broadcast_to(both, weights.shape)))
