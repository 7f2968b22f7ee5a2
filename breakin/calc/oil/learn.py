"""Decay time and plateau of each cylinder finish, learned from the shop's own closed logs and shrunk to the built-in
prior.

Each log is read once under the built-in prior: its weighted engines are what the log alone says, times the built-in
prior. Dividing that prior out again and putting a shifted one in its place gives the log's say on any shift, without
reading it again. The shift of a finish is the one at which all its logs together, and the built-in prior as so many
pseudo-engines, are most likely. A log that says little moves little, so a break-in given up early counts for what it
shows and is not dropped.

The bands hold if engines lose oil as the model says. Where a fleet's loss falls with a longer tail than the model has,
part of the tail is taken for plateau. Spreads and the shares of glazed and drifting engines stay as built in.

Source: empirical Bayes by expectation and maximisation with a normal prior on the shift; textbook, no particular
source. The weight of the built-in prior is the project's own.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from statistics import NormalDist
from typing import Any

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.errors import OutOfRange
from breakin.calc.oil.events import running_between_readings, story_of
from breakin.calc.oil.log import read_log
from breakin.calc.oil.particles import GLAZED
from breakin.calc.oil.posterior import posterior_of
from breakin.calc.oil.prior import BUILT_IN, FINISHES, FinishPrior, Prior

# The built-in prior weighs as much as so many engines whose decay time and plateau were known exactly.
BUILT_IN_ENGINES = 8.0
UNKNOWN = "unknown"
NEEDED_READINGS = 3
NEEDED_RUNNING_H = 0.1
MOST_STEPS = 400
CLOSE_ENOUGH = 1e-4
NEGLIGIBLE = 1e-6
CURVATURE_STEP = 0.05
NINETY_PERCENT = 1.645


@dataclass(frozen=True)
class Evidence:
    """What one log says, under the built-in prior: possible engines of one length, with weights that sum to 1.

    of : what the log belongs to, told in the answer. finish : "steel", "nitrided", "chrome" or "unknown".
    log_decay, log_plateau : natural logarithms of decay time [h] and plateau [qt/h].
    usual : 1 where the plateau is that of a finish, 0 for a glazed engine, whose plateau says nothing of it.
    """

    of: str
    finish: str
    log_decay: FloatArray
    log_plateau: FloatArray
    usual: FloatArray
    weights: FloatArray


@dataclass(frozen=True)
class Learned:
    """One finish: typical (median) decay time [h] and plateau [qt/h], each with its 90 % band; ``of`` its engines."""

    finish: str
    of: tuple[str, ...]
    built_in: FinishPrior
    proposed: FinishPrior
    decay_h: float
    decay_band_h: tuple[float, float]
    plateau_qt_h: float
    plateau_band_qt_h: tuple[float, float]

    @property
    def engines(self) -> int:
        """How many engines it was learned from."""
        return len(self.of)


def evidence(log: Mapping[str, Any], of: str, prior: Prior = BUILT_IN) -> Evidence | None:
    """What one log says of its finish.

    Parameters
    ----------
    log : mapping, see :func:`breakin.calc.oil.log.read_log`; the whole log of an engine, however it ended.
    of : what to call it.
    prior : the built-in prior, or the same with another settling level.

    Returns
    -------
    Evidence, or None when the log has too few readings or no running between them to say anything.

    Raises
    ------
    BadLog : the log cannot be read as one.
    """
    read = read_log(log)
    if len(read.readings) < NEEDED_READINGS or running_between_readings(read) < NEEDED_RUNNING_H:
        return None
    finish = read.cylinder if read.cylinder in FINISHES else UNKNOWN
    found = posterior_of(story_of(read, prior), read.full_qt, prior, prior.finish(finish))
    kept = np.flatnonzero(found.weights > NEGLIGIBLE)
    return Evidence(
        of=of,
        finish=finish,
        log_decay=np.log(found.engines.decay[kept]),
        log_plateau=np.log(found.engines.plateau[kept]),
        usual=(found.kinds[kept] != GLAZED).astype(float),
        weights=found.weights[kept] / found.weights[kept].sum(),
    )


def learn(logs: Iterable[Evidence], built_in: Prior = BUILT_IN, engines: float = BUILT_IN_ENGINES) -> list[Learned]:
    """Every finish as the logs and the built-in prior together have it.

    Parameters
    ----------
    logs : evidence taken under ``built_in``.
    built_in : Prior
    engines : float > 0 [engines] - weight of the built-in prior.

    Returns
    -------
    list of Learned, one a finish in the order steel, nitrided, chrome, unknown; without engines exactly as built in.

    Raises
    ------
    OutOfRange : ``engines`` is not above 0.
    """
    if not engines > 0:
        raise OutOfRange(f"{engines:g} engines are no weight.", where="engines", mend="Give a number above 0.")
    rows = list(logs)
    return [
        _of_finish(finish, [row for row in rows if row.finish == finish], built_in.finish(finish), engines)
        for finish in (*FINISHES, UNKNOWN)
    ]


def learned_prior(rows: Sequence[Learned], name: str, built_in: Prior = BUILT_IN) -> Prior:
    """The prior with these finishes; whatever else is believed stays as built in."""
    found = {row.finish: row.proposed for row in rows}
    by_finish = {finish: found.get(finish, built_in.finish(finish)) for finish in FINISHES}
    return replace(built_in, name=name, by_finish=by_finish, unknown=found.get(UNKNOWN, built_in.unknown))


def typical_decay_h(finish: FinishPrior) -> float:
    """Median of the decay time, quick and slow engines together [h].

    >>> round(typical_decay_h(FinishPrior(decay_h=3.0, slow_share=0.0)), 3)
    3.0
    """
    low, high = np.log(1e-3), np.log(1e3)
    for _ in range(60):
        middle = 0.5 * (low + high)
        below = sum(share * NormalDist(at, spread).cdf(middle) for share, at, spread in _parts(finish) if share > 0)
        low, high = (middle, high) if below < 0.5 else (low, middle)
    return float(np.exp(0.5 * (low + high)))


def finish_numbers(prior: Prior) -> dict[str, dict[str, float]]:
    """The finishes of a prior as plain numbers, to be kept; :func:`prior_from_numbers` reads them."""
    return {finish: asdict(prior.finish(finish)) for finish in (*FINISHES, UNKNOWN)}


def prior_from_numbers(numbers: Mapping[str, Mapping[str, float]], name: str, built_in: Prior = BUILT_IN) -> Prior:
    """A prior from kept numbers.

    Raises
    ------
    OutOfRange : a finish or a number has an unknown name.
    """
    known = {one.name for one in fields(FinishPrior)}
    strange = sorted(set(numbers) - {*FINISHES, UNKNOWN}) + sorted({n for row in numbers.values() for n in row} - known)
    if strange:
        raise OutOfRange(f"{', '.join(strange)} is no number of the prior.", where="prior", mend="Check its name.")
    found = {finish: replace(built_in.finish(finish), **row) for finish, row in numbers.items()}
    by_finish = {finish: found.get(finish, built_in.finish(finish)) for finish in FINISHES}
    return replace(built_in, name=name, by_finish=by_finish, unknown=found.get(UNKNOWN, built_in.unknown))


def _parts(finish: FinishPrior) -> tuple[tuple[float, float, float], ...]:
    """Share, place and spread of ln(decay): the quick engines and the slow ones."""
    return (
        (1 - finish.slow_share, float(np.log(finish.decay_h)), finish.decay_spread),
        (finish.slow_share, float(np.log(finish.slow_decay_h)), finish.slow_spread),
    )


def _of_finish(name: str, logs: Sequence[Evidence], finish: FinishPrior, engines: float) -> Learned:
    if not logs:
        decay, plateau, sigma_decay, sigma_plateau = 0.0, 0.0, *_Fleet.alone(finish, engines)
    else:
        fleet = _Fleet(logs, finish, engines)
        decay, plateau = fleet.shifts()
        sigma_decay, sigma_plateau = fleet.sigmas(decay, plateau)
    by, by_plateau = float(np.exp(decay)), float(np.exp(plateau))
    proposed = finish
    if logs:
        proposed = replace(
            finish,
            decay_h=finish.decay_h * by,
            slow_decay_h=finish.slow_decay_h * by,
            plateau_qt_h=finish.plateau_qt_h * by_plateau,
        )
    typical = typical_decay_h(finish) * by
    settled = proposed.plateau_qt_h
    return Learned(
        finish=name,
        of=tuple(row.of for row in logs),
        built_in=finish,
        proposed=proposed,
        decay_h=typical,
        decay_band_h=_band(typical, sigma_decay),
        plateau_qt_h=settled,
        plateau_band_qt_h=_band(settled, sigma_plateau),
    )


def _band(value: float, sigma: float) -> tuple[float, float]:
    return value * float(np.exp(-NINETY_PERCENT * sigma)), value * float(np.exp(NINETY_PERCENT * sigma))


class _Fleet:
    """The logs of one finish side by side: all their possible engines, and which log each belongs to."""

    def __init__(self, logs: Sequence[Evidence], finish: FinishPrior, engines: float) -> None:
        self.decay = np.concatenate([row.log_decay for row in logs])
        self.usual = np.concatenate([row.usual for row in logs])
        self.parts = _parts(finish)
        self.spread = finish.plateau_spread
        self.off = np.concatenate([row.log_plateau for row in logs]) - np.log(finish.plateau_qt_h)
        self.starts = np.cumsum([0, *(len(row.weights) for row in logs[:-1])])
        self.owner = np.repeat(np.arange(len(logs)), [len(row.weights) for row in logs])
        # The log's weights with the built-in prior of the decay divided out again.
        self.base = np.log(np.concatenate([row.weights for row in logs])) - np.log(self._decay_density(0.0).sum(axis=0))
        self.decay_info, self.plateau_info = self.built_in_information(finish, engines)

    @staticmethod
    def built_in_information(finish: FinishPrior, engines: float) -> tuple[float, float]:
        """What the pseudo-engines know about the two shifts: one over variance."""
        parts = _parts(finish)
        middle = sum(share * at for share, at, _ in parts)
        variance = sum(share * (spread**2 + (at - middle) ** 2) for share, at, spread in parts)
        return engines / variance, engines / finish.plateau_spread**2

    @classmethod
    def alone(cls, finish: FinishPrior, engines: float) -> tuple[float, float]:
        """Sigmas of the two shifts where there is no log."""
        of_decay, of_plateau = cls.built_in_information(finish, engines)
        return of_decay**-0.5, of_plateau**-0.5

    def _decay_density(self, shift: float) -> FloatArray:
        """Density of each engine's ln(decay) as a quick one and as a slow one, shape (2, n)."""
        rows = [
            share / spread * np.exp(-0.5 * ((self.decay - at - shift) / spread) ** 2) + 1e-300
            for share, at, spread in self.parts
        ]
        return np.array(rows)

    def _log_weights(self, decay: float, plateau: float, density: FloatArray) -> FloatArray:
        """Logarithm of the weights under the shifted prior, not normalised."""
        gained = plateau * (self.off - 0.5 * plateau) / self.spread**2
        result: FloatArray = self.base + np.log(density.sum(axis=0)) + self.usual * gained
        return result

    def _totals(self, log_weights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weights that sum to 1 for each log, and the logarithm of the sum of each."""
        top = np.maximum.reduceat(log_weights, self.starts)
        raw = np.exp(log_weights - top[self.owner])
        sums = np.add.reduceat(raw, self.starts)
        return raw / sums[self.owner], top + np.log(sums)

    def shifts(self) -> tuple[float, float]:
        """The likeliest shifts of ln(decay) and ln(plateau)."""
        decay = plateau = 0.0
        for _ in range(MOST_STEPS):
            density = self._decay_density(decay)
            weights, _ = self._totals(self._log_weights(decay, plateau, density))
            shares = weights * density / density.sum(axis=0)
            pull, hold = 0.0, self.decay_info
            for share, (_, at, spread) in zip(shares, self.parts, strict=True):
                pull += float(share @ (self.decay - at)) / spread**2
                hold += float(share.sum()) / spread**2
            usual = weights * self.usual
            before = decay, plateau
            decay = pull / hold
            plateau = float(usual @ self.off) / (float(usual.sum()) + self.plateau_info * self.spread**2)
            if abs(decay - before[0]) + abs(plateau - before[1]) < CLOSE_ENOUGH:
                break
        return decay, plateau

    def log_likelihood(self, decay: float, plateau: float) -> float:
        """Of both shifts, the pseudo-engines included."""
        _, sums = self._totals(self._log_weights(decay, plateau, self._decay_density(decay)))
        held = 0.5 * (self.decay_info * decay**2 + self.plateau_info * plateau**2)
        return float(sums.sum()) - held

    def sigmas(self, decay: float, plateau: float) -> tuple[float, float]:
        """Sigma of each shift, from the curvature of the likelihood at its top."""
        step = CURVATURE_STEP
        at = {(i, j): self.log_likelihood(decay + i * step, plateau + j * step) for i in (-1, 0, 1) for j in (-1, 0, 1)}
        of_decay = (2 * at[0, 0] - at[1, 0] - at[-1, 0]) / step**2
        of_plateau = (2 * at[0, 0] - at[0, 1] - at[0, -1]) / step**2
        both = -(at[1, 1] - at[1, -1] - at[-1, 1] + at[-1, -1]) / (4 * step**2)
        rest = of_decay * of_plateau - both**2
        return float(np.sqrt(of_plateau / rest)), float(np.sqrt(of_decay / rest))
