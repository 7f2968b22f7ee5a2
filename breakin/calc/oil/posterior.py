"""From a log to weighted engines: a first look over the whole prior, then looks where the log points.

Each look after the first draws from normal distributions fitted, one for each kind of engine, to the weighted engines
so far; all points are kept and weighed against the mixture they came from, so that the weights stay exact.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.events import Story
from breakin.calc.oil.model import Level, filtered
from breakin.calc.oil.particles import (
    DIMENSIONS,
    DRIFT,
    KINDS,
    Engines,
    IntArray,
    engines_at,
    kind_shares,
    normal_points,
    prior_points,
)
from breakin.calc.oil.prior import FinishPrior, Prior

ENOUGH = 400.0
FIT_ENOUGH = 50.0
LATER_POINTS = 1280
LOOKS = 2
LEAST_SHARE = 0.02
LEAST_DRIFT = 0.25
WIDER = 1.25
PRIOR_COUNTS = 6.0


@dataclass(frozen=True)
class Posterior:
    """Possible engines with weights that sum to 1, and the level of each now."""

    engines: Engines
    kinds: IntArray
    z: FloatArray
    weights: FloatArray
    level: Level

    @property
    def effective(self) -> float:
        """Effective number of engines."""
        return float(1 / np.sum(self.weights**2))


@dataclass(frozen=True)
class _Question:
    """What is asked: a log's story, the sump, the prior with its shares of kinds, and the first points of each kind."""

    story: Story
    full: float
    prior: Prior
    finish: FinishPrior
    shares: FloatArray
    counts: IntArray


@dataclass(frozen=True)
class _Drawing:
    """Points of one kind drawn from a normal distribution: their number, its mean, the root of its covariance."""

    kind: int
    count: float
    mean: FloatArray
    root: FloatArray


def posterior_of(story: Story, full: float, prior: Prior, finish: FinishPrior) -> Posterior:
    """Weighted engines that explain the log.

    Parameters
    ----------
    story : Story of the log. full : float [qt], the sump's full mark. prior, finish : what is believed beforehand.

    Returns
    -------
    Posterior
    """
    z, kinds = prior_points()
    counts: IntArray = np.bincount(kinds, minlength=KINDS)
    asked = _Question(story, full, prior, finish, kind_shares(prior), counts)
    engines = _prior_engines(prior, finish)
    level = filtered(story.events, story.grid, engines, full, prior)
    found = Posterior(engines, kinds, z, _weighed(asked, z, kinds, level, []), level)
    drawings: list[_Drawing] = []
    for look in range(LOOKS):
        if found.effective >= ENOUGH:
            break
        found = _looked_again(found, look, drawings, asked)
    return found


_CACHE: dict[tuple[int, int], tuple[Prior, FinishPrior, Engines]] = {}


def _prior_engines(prior: Prior, finish: FinishPrior) -> Engines:
    key = (id(prior), id(finish))
    kept = _CACHE.get(key)
    if kept is not None and kept[0] is prior and kept[1] is finish:
        return kept[2]
    z, kinds = prior_points()
    engines = engines_at(z, kinds, prior, finish)
    if len(_CACHE) > 32:
        _CACHE.clear()
    _CACHE[key] = (prior, finish, engines)
    return engines


def _normalised(log_weights: FloatArray) -> FloatArray:
    weights = np.exp(log_weights - log_weights.max())
    result: FloatArray = weights / weights.sum()
    return result


def _tempered(weights: FloatArray) -> FloatArray:
    """Weights flattened until enough engines count, to fit a spread to."""
    weights = weights / weights.sum()
    if 1 / np.sum(weights**2) >= FIT_ENOUGH:
        return weights
    logs = np.log(np.maximum(weights, 1e-300))
    low, high = 0.0, 1.0
    for _ in range(8):
        middle = 0.5 * (low + high)
        flat = _normalised(middle * logs)
        if 1 / np.sum(flat**2) >= FIT_ENOUGH:
            low = middle
        else:
            high = middle
    tempered = _normalised(low * logs)
    return tempered


def _allotted(by_kind: FloatArray) -> list[int]:
    """Points for each kind: by weight, but never few for a drift, which one look easily misses."""
    wanted = np.where(by_kind > LEAST_SHARE, np.maximum(by_kind, 0.08), 0.0)
    wanted[DRIFT] = np.maximum(by_kind[DRIFT], LEAST_DRIFT if by_kind[DRIFT] > 0.001 else 0.0)
    return [round(LATER_POINTS * share) for share in wanted / wanted.sum()]


def _fitted(found: Posterior, kind: int) -> tuple[FloatArray, FloatArray]:
    """Mean and root of the covariance of one kind of engine, a little wider than the weights say."""
    chosen = np.flatnonzero(found.kinds == kind)
    weights = _tempered(found.weights[chosen] + 1e-300)
    z = found.z[chosen]
    mean = weights @ z
    centred = z - mean
    effective = 1 / np.sum(weights**2)
    cov = (centred.T * weights) @ centred * WIDER
    cov = (float(effective) * cov + PRIOR_COUNTS * np.eye(DIMENSIONS) * 0.5) / (effective + PRIOR_COUNTS)
    root: FloatArray = np.linalg.cholesky(cov).astype(np.float64)
    return mean, root


def _looked_again(found: Posterior, look: int, drawings: list[_Drawing], asked: _Question) -> Posterior:
    """All engines so far, and more of them where the weights are. Adds to ``drawings``."""
    by_kind: FloatArray = np.bincount(found.kinds, weights=found.weights, minlength=KINDS).astype(np.float64)
    parts_z, parts_kind = [], []
    for kind, count in enumerate(_allotted(by_kind)):
        if count == 0:
            continue
        mean, root = _fitted(found, kind)
        points = normal_points(LATER_POINTS, skip=5000 + 3000 * look)[:count]
        parts_z.append(mean + points @ root.T)
        parts_kind.append(np.full(count, kind))
        drawings.append(_Drawing(kind, float(count), mean, root))
    z, kinds = np.vstack(parts_z), np.concatenate(parts_kind)
    engines = engines_at(z, kinds, asked.prior, asked.finish)
    level = filtered(asked.story.events, asked.story.grid, engines, asked.full, asked.prior)
    names = Engines.__dataclass_fields__
    engines = Engines(*(np.concatenate([getattr(found.engines, name), getattr(engines, name)]) for name in names))
    names = Level.__dataclass_fields__
    level = Level(*(np.concatenate([getattr(found.level, name), getattr(level, name)]) for name in names))
    z, kinds = np.vstack([found.z, z]), np.concatenate([found.kinds, kinds])
    return Posterior(engines, kinds, z, _weighed(asked, z, kinds, level, drawings), level)


def _weighed(
    asked: _Question, z: FloatArray, kinds: IntArray, level: Level, drawings: Sequence[_Drawing]
) -> FloatArray:
    """Weights: likelihood times prior over the density of all draws."""
    believed = np.log(asked.shares[kinds] + 1e-300)
    return _normalised(level.log_likelihood + believed - np.log(_drawn_from(z, kinds, drawings, asked.counts)))


def _drawn_from(z: FloatArray, kinds: IntArray, drawings: Sequence[_Drawing], counts: IntArray) -> FloatArray:
    """Density of all draws relative to the standard normal, times their number."""
    density = counts[kinds].astype(np.float64)
    norm = 0.5 * np.einsum("ij,ij->i", z, z)
    for drawing in drawings:
        chosen = np.flatnonzero(kinds == drawing.kind)
        scaled = (z[chosen] - drawing.mean) @ np.linalg.inv(drawing.root).T
        log_det = np.log(np.diag(drawing.root)).sum()
        log_ratio = norm[chosen] - 0.5 * np.einsum("ij,ij->i", scaled, scaled) - log_det
        density[chosen] += drawing.count * np.exp(np.minimum(log_ratio, 300.0))
    return density
