"""How fast the rings lose oil now, and whether that has settled: a weighted straight line through recent windows.

Definition. On the ring-related rate, breather loss of an over-filled sump excluded: stabilized when the rate lies
within max(20 % of its plateau, 0.05 qt/h) of the plateau, and the plateau is at or under the accept limit. No
published numerical definition exists; this one is the project's own. A declaration also needs a probability of at
least 0.85, four readings and three hours.

Breather loss is put at 0.25 qt/h for each quart above the settling level; a line is fitted by generalised least
squares to the losses between neighbouring readings, recent ones counting more; the plateau lies one decay time
further down the line. All of this is deliberately simple: its intervals are wide, and say so.
"""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.log import Chain, OilLog, chains_of, read_log, split_at_steps, without_bad_readings

NEEDED_READINGS = 3
DECLARE_P = 0.85
DECLARE_READINGS = 4
DECLARE_HOURS = 3.0
BAND_SHARE = 0.2
BAND_QT_PER_H = 0.05
BREATHER_PER_H = 0.25
TOPPING_ABOVE_QT = 0.5
FORGET_H = 8.0
# Typical decay time of the loss by cylinder finish [h], and how far the rate may wander off a straight line.
DECAY_H = {"steel": 4.0, "nitrided": 8.0, "chrome": 16.0}
UNKNOWN_DECAY_H = 8.0
# Prior of rate and slope: a fresh engine loses a few tenths and falls.
PRIOR = {"rate": 0.3, "rate_sigma": 0.3, "slope": -0.01, "slope_sigma": 0.03, "settle_below_full": 2.0}
SETTLE_SIGMA_QT = 0.6
# Scale of the spread: readings of one day share an error, and the true fall is a curve, not a line.
SPREAD_FACTOR = 2.0
NOT_SETTLING_P = 0.95
NOT_SETTLING_HOURS = 12.0
SAMPLES = 2000

NUMBERS = (
    "p_stabilized", "rate_now", "rate_lo", "rate_hi", "settle_h", "settle_lo", "settle_hi", "p_not_settling",
    "p_rising", "level_settle", "level_lo", "level_hi",
)  # fmt: skip


def estimate(log: Mapping[str, Any], prior: Mapping[str, float] | None = None) -> dict[str, Any]:
    """Estimate of ring-related oil loss and of settling, at the last entry of a log.

    Parameters
    ----------
    log : mapping, see :func:`breakin.calc.oil.log.read_log`. Litres and imperial quarts are converted.
    prior : mapping or None - overrides of ``PRIOR`` [qt/h, qt/h2, qt].

    Returns
    -------
    dict, US quarts and logged hours: ``p_stabilized``, ``stabilized``, ``rate_now``, ``rate_lo``, ``rate_hi`` (50, 5
    and 95 %), ``settle_h``, ``settle_lo``, ``settle_hi``, ``not_settling``, ``p_not_settling``, ``rising``,
    ``p_rising``, ``level_settle``, ``level_lo``, ``level_hi``, ``topping_high``, ``outliers`` (places of entries),
    ``missed_additions`` (hours), ``refusal`` (a sentence, or None) and ``notes``. With a refusal the numbers are None.

    Raises
    ------
    BadLog : the log cannot be read as one.
    """
    settings = {**PRIOR, **(prior or {})}
    read = read_log(log)
    count = len(read.readings)
    if count < NEEDED_READINGS:
        return _refused(f"Not enough readings yet: {count} of {NEEDED_READINGS}.")
    settle = read.full_qt - settings["settle_below_full"]
    chains, outliers, missed = _cleaned(read)
    times, rates, cov, notes = _windows(chains, read, settle)
    if not len(times):
        return _refused("No running time between comparable readings yet.") | {
            "outliers": outliers,
            "missed_additions": missed,
        }
    mean, spread = _line(times, rates, cov, read.now_h, settings)
    drawn = _drawn(mean, spread)
    decay = DECAY_H.get(read.cylinder or "", UNKNOWN_DECAY_H)
    hours = read.now_h - read.entries[0].hours
    result = _answers(drawn, decay, read, hours, enough=count >= DECLARE_READINGS and hours >= DECLARE_HOURS)
    return result | {
        "level_settle": settle,
        "level_lo": settle - 1.645 * SETTLE_SIGMA_QT,
        "level_hi": settle + 1.645 * SETTLE_SIGMA_QT,
        "topping_high": _topping_high(read, settle),
        "outliers": outliers,
        "missed_additions": missed,
        "refusal": None,
        "notes": notes,
    }


def _refused(why: str) -> dict[str, Any]:
    empty: dict[str, Any] = dict.fromkeys(NUMBERS)
    return empty | {
        "stabilized": False,
        "not_settling": False,
        "rising": False,
        "topping_high": False,
        "outliers": [],
        "missed_additions": [],
        "refusal": why,
        "notes": [],
    }


def _cleaned(log: OilLog) -> tuple[list[Chain], list[int], list[float]]:
    parts: list[Chain] = []
    outliers: list[int] = []
    missed: list[float] = []
    for chain in chains_of(log):
        good, bad = without_bad_readings(chain)
        pieces, steps = split_at_steps(good)
        parts += pieces
        outliers += bad
        missed += steps
    return parts, outliers, missed


def _windows(chains: list[Chain], log: OilLog, settle: float) -> tuple[FloatArray, FloatArray, FloatArray, list[str]]:
    """Mid-times [h], ring rates [qt/h] and their covariance, between neighbouring readings of each chain."""
    times: list[float] = []
    rates: list[float] = []
    blocks: list[FloatArray] = []
    notes: list[str] = []
    for chain in chains:
        size = len(chain.hours)
        pick: list[tuple[int, int]] = []
        for last in range(1, size):
            first = pick[-1][1] if pick else 0
            if chain.hours[last] - chain.hours[first] >= 0.5:
                pick.append((first, last))
        if not pick:
            continue
        to_rate = np.zeros((len(pick), size))
        extra = np.zeros(len(pick))
        for row, (first, last) in enumerate(pick):
            hours = chain.hours[last] - chain.hours[first]
            poured = chain.added[last] - chain.added[first]
            mean_level = (chain.level[first] + chain.level[last] + poured) / 2
            breather = BREATHER_PER_H * max(0.0, mean_level - settle)
            times.append((chain.hours[first] + chain.hours[last]) / 2)
            rates.append((chain.loss(last) - chain.loss(first)) / hours - breather)
            to_rate[row, [first, last]] = -1 / hours, 1 / hours
            shadowed = any(span.start < chain.hours[last] and span.end > chain.hours[first] for span in log.spans)
            if shadowed:
                notes.append(
                    f"{chain.hours[first]:.1f} h to {chain.hours[last]:.1f} h left out: leak or unlogged running."
                )
            extra[row] = (0.6 * breather) ** 2 + (0.05 * poured / hours) ** 2 + (1e6 if shadowed else 0.0)
        blocks.append(to_rate @ np.diag(np.square(chain.u)) @ to_rate.T + np.diag(extra))
    cov = np.zeros((len(times), len(times)))
    start = 0
    for block in blocks:
        cov[start : start + len(block), start : start + len(block)] = block
        start += len(block)
    return np.array(times), np.array(rates), cov, notes


def _line(
    times: FloatArray, rates: FloatArray, cov: FloatArray, now_h: float, settings: Mapping[str, float]
) -> tuple[FloatArray, FloatArray]:
    """Rate now and slope, with their covariance."""
    ago = times - now_h
    # A falling rate is not a straight line: older windows carry more doubt about today.
    stale = np.diag(np.square(0.02 * np.expm1(np.minimum(-ago / FORGET_H, 6.0))))
    weights = np.linalg.inv(cov + stale + 1e-6 * np.eye(len(times)))
    design = np.column_stack([np.ones_like(ago), np.maximum(ago, -2 * FORGET_H)])
    prior_mean = np.array([settings["rate"], settings["slope"]])
    prior_weight = np.diag([settings["rate_sigma"] ** -2, settings["slope_sigma"] ** -2])
    # Bounded influence: a window far off the line loses weight instead of bending it.
    scale = np.ones(len(times))
    sd = np.sqrt(np.diag(cov + stale))
    for _ in range(4):
        scaled = weights * np.sqrt(np.outer(scale, scale))
        spread = np.linalg.inv(design.T @ scaled @ design + prior_weight)
        mean = spread @ (design.T @ scaled @ rates + prior_weight @ prior_mean)
        misfit = np.abs(rates - design @ mean) / sd
        scale = np.where(misfit > 2.0, 2.0 / np.maximum(misfit, 1e-9), 1.0)
    return mean, SPREAD_FACTOR * spread


def _drawn(mean: FloatArray, spread: FloatArray) -> FloatArray:
    """Rate and slope drawn from their joint distribution, rate not below 0: the same points every time."""
    generator = np.random.default_rng(20)
    half = generator.standard_normal((SAMPLES // 2, 2))
    normal = np.vstack([half, -half])
    drawn: FloatArray = mean + normal @ np.linalg.cholesky(spread).T
    drawn[:, 0] = np.maximum(drawn[:, 0], 0.0)
    return drawn


def _answers(drawn: FloatArray, decay: float, log: OilLog, hours: float, *, enough: bool) -> dict[str, Any]:
    rate, slope = drawn.T
    above = np.clip(-slope * decay, 0.0, rate)
    plateau = rate - above
    band = np.maximum(BAND_SHARE * plateau, BAND_QT_PER_H)
    accepted = plateau <= log.limit_qt_h
    rising = slope > 0.01
    p_stabilized = float(np.mean((above <= band) & accepted & ~rising))
    p_not_settling = float(np.mean(~accepted))
    wait = np.where(above > band, decay * np.log(np.maximum(above, 1e-9) / band), 0.0)
    settle = log.now_h + wait
    lo, mid, hi = (float(value) for value in np.quantile(rate, [0.05, 0.5, 0.95]))
    when = [float(value) for value in np.quantile(settle, [0.05, 0.5, 0.95])]
    p_rising = float(np.mean(rising))
    return {
        "p_stabilized": p_stabilized,
        "stabilized": bool(enough and p_stabilized >= DECLARE_P),
        "rate_now": mid,
        "rate_lo": lo,
        "rate_hi": hi,
        "settle_h": when[1],
        "settle_lo": when[0],
        "settle_hi": when[2],
        "not_settling": bool(enough and hours >= NOT_SETTLING_HOURS and p_not_settling >= NOT_SETTLING_P),
        "p_not_settling": p_not_settling,
        "rising": bool(enough and p_rising >= 0.9),
        "p_rising": p_rising,
    }


def _topping_high(log: OilLog, settle: float) -> bool:
    """Two of the last three additions ended more than half a quart above the settling level."""
    ended: list[float] = []
    level = math.nan
    for entry in log.entries:
        if entry.kind == "add":
            level += entry.quarts
            ended.append(level)
        else:
            level = entry.quarts
    return sum(1 for top in ended[-3:] if top > settle + TOPPING_ABOVE_QT) >= 2
