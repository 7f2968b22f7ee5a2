"""Writes ``oil_sampler.json``: what a general-purpose sampler makes of a few short logs, on the estimator's own model.

Not part of the test run, and its sampler is no dependency of this project. To write the file again, in an environment
of its own with ``numpy`` and ``emcee`` (3.1.6 was used)::

    python -m tests.data.make_oil_sampler

Two general methods, neither with any part of the estimator's fixed points, fits or looks:

- an ensemble Markov chain (emcee, differential-evolution and stretch moves; its snooker move is left out, with it the
  chain was off by 0.01 on P from plain Monte Carlo), twice from different seeds. It walks in
  the space where the prior is standard normal; the four kinds of engine share that space, so they are summed out of
  the likelihood at every point, and a point counts for each kind by that kind's part of the sum;
- plain Monte Carlo: a great many points drawn at random from the prior, each taken as every kind of engine, weighed by
  likelihood alone.

Shared with the estimator: the prior, the engines a point stands for, and the level filter's log likelihood.
"""

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.events import Story, story_of
from breakin.calc.oil.log import OilLog, read_log
from breakin.calc.oil.model import filtered
from breakin.calc.oil.particles import DIMENSIONS, KINDS, Engines, engines_at, kind_shares
from breakin.calc.oil.prior import BUILT_IN
from tests.data.oil_generator import generated

OUT = Path(__file__).with_name("oil_sampler.json")
# Seed of the generator, place among its logs, and how many readings are taken. The last is the worst of 110 looked at:
# two explanations far apart.
CHOSEN = ((77, 1, 9), (77, 29, 9), (77, 36, 9), (77, 41, 9), (77, 50, 9), (77, 54, 9), (78, 48, 12))
WALKERS, BURN, STEPS, THIN = 240, 1500, 4000, 10
CHAIN_SEEDS = (11, 12)
DRAWS, DRAWS_AT_ONCE, DRAW_SEED = 3_000_000, 20_000, 13


def main() -> None:
    """Sample every chosen log and write the file."""
    rows = []
    for seed, place, readings in CHOSEN:
        one = generated(place + 1, seed=seed)[place]
        log = first_readings(one["log"], readings)
        row: dict[str, Any] = {"generated": [seed, place], "regime": one["truth"]["regime"], "readings": readings}
        row["chains"] = [by_chain(log, start) for start in CHAIN_SEEDS]
        row["random_draws"] = by_random_draws(log, DRAW_SEED)
        print(row)
        rows.append(row | {"log": log})
    how = {"sampler": f"emcee {version('emcee')}", "numpy": version("numpy"), "walkers": WALKERS, "burn_in": BURN}
    how |= {"steps": STEPS, "chain_seeds": CHAIN_SEEDS, "random_draws": DRAWS, "draw_seed": DRAW_SEED}
    OUT.write_text(json.dumps({"made_by": how, "logs": rows}, indent=1) + "\n")


def first_readings(log: dict[str, Any], count: int) -> dict[str, Any]:
    """The log up to and with so many readings."""
    ends = [place for place, entry in enumerate(log["entries"]) if entry["kind"] == "reading"]
    return log | {"entries": log["entries"][: ends[count - 1] + 1]}


class Asked:
    """One log, ready to be asked for the log likelihood of points."""

    def __init__(self, log: dict[str, Any]) -> None:
        self.log: OilLog = read_log(log)
        self.story: Story = story_of(self.log, BUILT_IN)
        self.finish = BUILT_IN.finish(self.log.cylinder)
        self.log_shares = np.log(kind_shares(BUILT_IN))

    def engines(self, z: FloatArray) -> Engines:
        """The engines that points (n, 9) stand for, every kind after the other: 4 n of them."""
        return engines_at(np.tile(z, (KINDS, 1)), np.repeat(np.arange(KINDS), len(z)), BUILT_IN, self.finish)

    def by_kind(self, z: FloatArray) -> FloatArray:
        """Log of share times likelihood, shape (4, n)."""
        level = filtered(self.story.events, self.story.grid, self.engines(z), self.log.full_qt, BUILT_IN)
        return level.log_likelihood.reshape(KINDS, len(z)) + self.log_shares[:, None]

    def log_posterior(self, z: FloatArray) -> FloatArray:
        """Log of prior times likelihood with the kinds summed out, shape (n,)."""
        total: FloatArray = np.logaddexp.reduce(self.by_kind(z), axis=0) - 0.5 * np.sum(z * z, axis=1)
        return total


def by_chain(log: dict[str, Any], seed: int) -> dict[str, float]:
    """Answers of the ensemble chain."""
    import emcee  # type: ignore[import-not-found]

    asked = Asked(log)
    rng = np.random.default_rng(seed)
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(WALKERS, DIMENSIONS, asked.log_posterior, moves=moves, vectorize=True)
    sampler.random_state = np.random.RandomState(seed).get_state()
    sampler.run_mcmc(rng.standard_normal((WALKERS, DIMENSIONS)), BURN + STEPS)
    z = sampler.get_chain(discard=BURN, thin=THIN, flat=True)
    longest = float(np.max(sampler.get_autocorr_time(discard=BURN, tol=0)))
    parts = [z[first : first + DRAWS_AT_ONCE] for first in range(0, len(z), DRAWS_AT_ONCE)]
    weights = []
    for part in parts:
        by_kind = asked.by_kind(part)
        weights.append(np.exp(by_kind - np.logaddexp.reduce(by_kind, axis=0)))
    found = answered(asked, parts, weights)
    return found | {"autocorrelation_steps": round(longest, 1), "independent": round(WALKERS * STEPS / longest)}


def by_random_draws(log: dict[str, Any], seed: int) -> dict[str, float]:
    """Answers of engines drawn at random from the prior and weighed by likelihood alone."""
    asked = Asked(log)
    rng = np.random.default_rng(seed)
    parts = [rng.standard_normal((DRAWS_AT_ONCE, DIMENSIONS)) for _ in range(DRAWS // DRAWS_AT_ONCE // KINDS)]
    logs = [asked.by_kind(part) for part in parts]
    top = max(float(one.max()) for one in logs)
    weights = [np.exp(one - top) for one in logs]
    flat = np.concatenate([one.ravel() for one in weights])
    return answered(asked, parts, weights) | {"independent": round(float(flat.sum() ** 2 / np.sum(flat**2)))}


def answered(asked: Asked, parts: list[FloatArray], weights: list[FloatArray]) -> dict[str, float]:
    """P(stabilized) and the rate now, 5, 50 and 95 %, by the definition; each part weighed by kind, shape (4, n)."""
    now = asked.log.entries[-1].at
    rates, plateaus = [], []
    for part in parts:
        engines = asked.engines(part)
        rates.append(engines.rate(now))
        plateaus.append(engines.plateau)
    rate, plateau = np.concatenate(rates), np.concatenate(plateaus)
    weight = np.concatenate([one.ravel() for one in weights])
    weight = weight / weight.sum()
    settled = (rate - plateau <= np.maximum(0.2 * plateau, 0.05)) & (plateau <= asked.log.limit_qt_h)
    order = np.argsort(rate)
    reached = np.searchsorted(np.cumsum(weight[order]), (0.05, 0.5, 0.95))
    lo, middle, hi = (round(float(rate[order[place]]), 4) for place in reached)
    p = round(float(weight[settled].sum()), 4)
    return {"p_stabilized": p, "rate_lo": lo, "rate_now": middle, "rate_hi": hi}


if __name__ == "__main__":
    main()
