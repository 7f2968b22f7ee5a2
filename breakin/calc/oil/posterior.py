"""From a log to weighted engines: a first look over the whole prior, then looks where the log points.

Each look after the first draws from normal distributions fitted, one for each kind of engine, to the weighted engines so
far; all points are kept and weighed against the mixture they came from, so that the weights stay exact.
"""

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
    engines_at,
    kind_shares,
    normal_points,
    prior_points,
)
from breakin.calc.oil.prior import FinishPrior, Prior

ENOUGH = 400.0
FIT_ENOUGH = 50.0
LATER_POINTS = 1024
LOOKS = 2
LEAST_SHARE = 0.02
LEAST_DRIFT = 0.25
WIDER = 1.25
PRIOR_COUNTS = 6.0


@dataclass(frozen=True)
class Posterior:
    """Possible engines with weights that sum to 1, and the level of each now."""

    engines: Engines
    kinds: FloatArray
    z: FloatArray
    weights: FloatArray
    level: Level

    @property
    def effective(self) -> float:
        """Effective number of engines."""
        return float(1 / np.sum(self.weights**2))


def posterior_of(story: Story, full: float, prior: Prior, finish: FinishPrior) -> Posterior:
    """Weighted engines that explain the log."""
    z, kinds = prior_points()
    shares = kind_shares(prior)
    counts = np.bincount(kinds, minlength=KINDS)
    # log of (prior density / density drawn from), both relative to the standard normal.
    base = np.log(shares[kinds] + 1e-300) - np.log(counts[kinds])
    engines = _prior_engines(prior, finish)
    level = filtered(story.events, story.grid, engines, full, prior)
    weights = _normalised(base + level.log_likelihood)
    found = Posterior(engines, kinds, z, weights, level)
    drawn: list[tuple[int, float, FloatArray, FloatArray]] = []
    for look in range(LOOKS):
        if found.effective >= ENOUGH:
            break
        found = _looked_again(found, look, drawn, story, full, prior, finish, shares, counts)
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
    return _normalised(low * logs)


def _allotted(by_kind: FloatArray) -> list[int]:
    """Points for each kind: by weight, but never few for a drift, which one look easily misses."""
    wanted = np.where(by_kind > LEAST_SHARE, np.maximum(by_kind, 0.08), 0.0)
    wanted[DRIFT] = np.maximum(by_kind[DRIFT], LEAST_DRIFT if by_kind[DRIFT] > 0.001 else 0.0)
    return [int(round(LATER_POINTS * share)) for share in wanted / wanted.sum()]


def _fitted(found: Posterior, kind: int) -> tuple[FloatArray, FloatArray]:
    """Mean and root of the covariance of one kind of engine, a little wider than the weights say."""
    chosen = np.flatnonzero(found.kinds == kind)
    weights = _tempered(found.weights[chosen] + 1e-300)
    z = found.z[chosen]
    mean = weights @ z
    centred = z - mean
    effective = 1 / np.sum(weights**2)
    cov = (centred.T * weights) @ centred * WIDER
    cov = (effective * cov + PRIOR_COUNTS * np.eye(DIMENSIONS) * 0.5) / (effective + PRIOR_COUNTS)
    return mean, np.linalg.cholesky(cov)


def _looked_again(
    found: Posterior,
    look: int,
    drawn: list[tuple[int, float, FloatArray, FloatArray]],
    story: Story,
    full: float,
    prior: Prior,
    finish: FinishPrior,
    shares: FloatArray,
    counts: FloatArray,
) -> Posterior:
    by_kind = np.bincount(found.kinds, weights=found.weights, minlength=KINDS)
    parts_z, parts_kind = [], []
    for kind, count in enumerate(_allotted(by_kind)):
        if count == 0:
            continue
        mean, root = _fitted(found, kind)
        points = normal_points(LATER_POINTS, skip=5000 + 3000 * look)[:count]
        parts_z.append(mean + points @ root.T)
        parts_kind.append(np.full(count, kind))
        drawn.append((kind, float(count), mean, root))
    z_new, kind_new = np.vstack(parts_z), np.concatenate(parts_kind)
    engines_new = engines_at(z_new, kind_new, prior, finish)
    level_new = filtered(story.events, story.grid, engines_new, full, prior)
    z_all, kind_all = np.vstack([found.z, z_new]), np.concatenate([found.kinds, kind_new])
    level = Level(
        *(
            np.concatenate([getattr(found.level, name), getattr(level_new, name)])
            for name in ("mean", "var", "log_likelihood")
        )
    )
    engines = Engines(
        *(
            np.concatenate([getattr(found.engines, name), getattr(engines_new, name)])
            for name in Engines.__dataclass_fields__
        )
    )
    log_weights = (
        level.log_likelihood + np.log(shares[kind_all] + 1e-300) - np.log(_drawn_from(z_all, kind_all, drawn, counts))
    )
    return Posterior(engines, kind_all, z_all, _normalised(log_weights), level)


def _drawn_from(
    z: FloatArray, kinds: FloatArray, drawn: list[tuple[int, float, FloatArray, FloatArray]], counts: FloatArray
) -> FloatArray:
    """Density of all draws relative to the standard normal, times their number."""
    density = counts[kinds].astype(float)
    norm = 0.5 * np.einsum("ij,ij->i", z, z)
    for kind, count, mean, root in drawn:
        chosen = np.flatnonzero(kinds == kind)
        scaled = (z[chosen] - mean) @ np.linalg.inv(root).T
        log_ratio = norm[chosen] - 0.5 * np.einsum("ij,ij->i", scaled, scaled) - np.log(np.diag(root)).sum()
        density[chosen] += count * np.exp(np.minimum(log_ratio, 300.0))
    return density
