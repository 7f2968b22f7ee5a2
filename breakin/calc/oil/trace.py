"""The estimate over the hours, for the oil picture: fitted level, loss rate, and what the log said after each reading.

One more pass through the level filter with the engines that the posterior ended with. The fitted level is the filter's:
what was known at that entry, with the weights of today. The loss is today's view of all hours, and of the hours ahead.
The probability of having stabilized is that of its own hour: what the log up to that reading said.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.answers import BAND_QT_PER_H, BAND_SHARE
from breakin.calc.oil.events import Story
from breakin.calc.oil.log import OilLog
from breakin.calc.oil.model import (
    MODEL_QT_PER_SQRT_H,
    Added,
    Fill,
    Reading,
    Run,
    loss_tables,
    read,
    settling_level,
    step,
)
from breakin.calc.oil.particles import Engines
from breakin.calc.oil.posterior import Posterior
from breakin.calc.oil.prior import Prior

NINETY_PERCENT = 1.645
RATE_POINTS = 24
RATE_ENGINES = 200
AHEAD_SHARE, AHEAD_LEAST_H, AHEAD_MOST_H = 0.35, 2.0, 10.0
FIRST_P_AT = 3


def trace_of(found: Posterior, story: Story, log: OilLog, prior: Prior) -> dict[str, Any]:
    """The estimate over the hours.

    Parameters
    ----------
    found : Posterior - of this story.
    story, log, prior : as the posterior was made from.

    Returns
    -------
    dict of plain lists, rounded. Hours are the log's own.
        ``level``: ``hours``, ``mid``, ``lo``, ``hi`` [h], [qt] - fitted level with its 90 % band; an hour stands twice
        where oil was poured in, before and after. ``readings``: ``index`` (place of the entry), ``expected`` and ``u``
        [qt] - the level expected before the reading was known. ``rate``: ``hours``, ``mid``, ``lo``, ``hi`` [qt/h] -
        ring-related loss, up to and beyond now. ``settled``: ``hours``, ``p`` - after each reading from the third on.
    """
    shift = log.now_h - log.entries[-1].at
    levels, expected, settled = _followed(found, story, log, prior, shift)
    return {
        "level": levels,
        "readings": expected,
        "rate": _rates(found, log, shift),
        "settled": settled,
        "now_h": round(log.now_h, 3),
    }


class _Levels:
    """The fitted level, point by point."""

    def __init__(self, weights: FloatArray) -> None:
        self.weights = weights
        self.hours: list[float] = []
        self.mid: list[float] = []
        self.half: list[float] = []

    def add(self, hours: float, mean: FloatArray, var: FloatArray) -> tuple[float, float]:
        middle = float(self.weights @ mean)
        sigma = float(np.sqrt(max(float(self.weights @ (var + (mean - middle) ** 2)), 0.0)))
        self.hours.append(round(hours, 3))
        self.mid.append(round(middle, 3))
        self.half.append(NINETY_PERCENT * sigma)
        return middle, sigma

    def told(self) -> dict[str, list[float]]:
        low = [round(middle - half, 3) for middle, half in zip(self.mid, self.half, strict=True)]
        high = [round(middle + half, 3) for middle, half in zip(self.mid, self.half, strict=True)]
        return {"hours": self.hours, "mid": self.mid, "lo": low, "hi": high}


def _followed(
    found: Posterior, story: Story, log: OilLog, prior: Prior, shift: float
) -> tuple[dict[str, list[float]], dict[str, list[float]], dict[str, list[float]]]:
    """The filter once more, written down on the way: levels, expected readings, probabilities."""
    engines, grid = found.engines, story.grid
    lost, left = loss_tables(story.events, grid, engines)
    settle = settling_level(engines, log.full_qt, prior)
    mean, var = np.full(settle.shape, log.full_qt - 1.5), np.full(settle.shape, 4.0)
    likelihood = np.zeros(settle.shape)
    # What weighs an engine before any reading: its posterior weight with the likelihood of all readings taken out.
    with np.errstate(divide="ignore"):
        before = np.log(found.weights) - found.level.log_likelihood
    band = np.maximum(BAND_SHARE * engines.plateau, BAND_QT_PER_H)
    accepted = engines.plateau <= log.limit_qt_h
    relative = engines.noise / prior.noise_qt
    levels = _Levels(found.weights)
    expected: dict[str, list[float]] = {"index": [], "expected": [], "u": []}
    settled: dict[str, list[float]] = {"hours": [], "p": []}
    at, known = 0.0, False
    for event in story.events:
        if isinstance(event, Run):
            dt = float(grid[event.first + 1] - grid[event.first])
            mean, var = step(mean, var, settle, lost[event.first], left[event.first], dt, engines.breather)
            var = var + (MODEL_QT_PER_SQRT_H**2 * dt + event.loose**2)
            at = float(grid[event.first + 1])
            continue
        if known and not isinstance(event, Reading):
            levels.add(at + shift, mean, var)
        if isinstance(event, Reading):
            middle = float(found.weights @ mean)
            spread = float(found.weights @ (var + (mean - middle) ** 2))
            if known:
                expected["index"].append(event.index)
                expected["expected"].append(round(middle, 3))
                expected["u"].append(round(float(np.sqrt(spread)), 3))
            told = event.u
            noise = engines.noise**2 + event.division**2 / 12 if told is None else (told * relative) ** 2
            mean, var, gain = read(mean, var, noise, event, prior)
            likelihood = likelihood + gain
            settled["hours"].append(round(event.hours, 3))
            inside = (engines.rate(at) - engines.plateau <= band) & accepted
            settled["p"].append(_share(before + likelihood, inside))
        else:
            mean, var = _poured(mean, var, event)
        known = True
        levels.add(at + shift, mean, var)
    settled = {name: values[FIRST_P_AT - 1 :] for name, values in settled.items()}
    return levels.told(), expected, settled


def _poured(mean: FloatArray, var: FloatArray, event: Added | Fill) -> tuple[FloatArray, FloatArray]:
    """Level after oil was poured in, or after a fill."""
    if isinstance(event, Added):
        return mean + event.quarts, var + event.sigma**2
    return np.full_like(mean, event.quarts), np.full_like(var, event.sigma**2)


def _share(log_weights: FloatArray, flag: NDArray[np.bool_]) -> float:
    weights = np.exp(log_weights - log_weights.max())
    return round(min(max(float(weights @ flag) / float(weights.sum()), 0.0), 1.0), 4)


def _rates(found: Posterior, log: OilLog, shift: float) -> dict[str, list[float]]:
    """Loss past the rings over the hours, and ahead as far as it is worth saying."""
    engines = _evenly(found, log.entries[-1].at, RATE_ENGINES)
    now = log.entries[-1].at
    ahead = min(max(AHEAD_SHARE * now, AHEAD_LEAST_H), AHEAD_MOST_H)
    past = np.linspace(0.0, now, RATE_POINTS)
    hours = np.append(past, np.linspace(now, now + ahead, RATE_POINTS // 3 + 1)[1:])
    # The engines weigh the same, so the bounds are places in the ordered rates.
    rates = np.sort(np.stack([engines.rate(float(hour)) for hour in hours]), axis=1)
    low, middle, high = (rates[:, round(share * (RATE_ENGINES - 1))] for share in (0.05, 0.5, 0.95))
    return {
        "hours": [round(float(hour) + shift, 3) for hour in hours],
        "lo": [round(float(value), 4) for value in low],
        "mid": [round(float(value), 4) for value in middle],
        "hi": [round(float(value), 4) for value in high],
    }


def _evenly(found: Posterior, now: float, count: int) -> Engines:
    """So many engines, drawn evenly through the weights in the order of their present rate: always the same ones."""
    order = np.argsort(found.engines.rate(now))
    reached = np.cumsum(found.weights[order])
    places = np.searchsorted(reached, (np.arange(count) + 0.5) / count).clip(0, len(found.weights) - 1)
    chosen = order[places]
    return Engines(*(getattr(found.engines, name)[chosen] for name in Engines.__dataclass_fields__))
