"""Invented oil logs with their truth, for tests and the bench. Knows nothing of the estimator.

The loss curves are partly of other forms than those the estimator assumes: two exponentials, a stretched exponential,
a hyperbola and a logistic fall; a breather that sets in softly, or as a power law; an upward drift that curves. All
figures are invented.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

LITRES_PER_QUART = 0.946352946
BAND_SHARE, BAND_QT_PER_H = 0.2, 0.05
REGIMES = ("normal", "overfill", "slow", "sparse", "drift", "glazed", "si")
REGIME_SHARES = (0.39, 0.16, 0.14, 0.10, 0.09, 0.08, 0.04)
STEP_H = 0.05


@dataclass(frozen=True)
class Kind:
    """How well a log is kept, and of what engines. ``noise``, ``hot``, ``typing``, ``forgotten``: factors on the
    ordinary shares; ``decay``, ``plateau``: factors on the decay time and the plateau of the ordinary fleet.
    """

    noise: float = 1.0
    hot: float = 1.0
    typing: float = 1.0
    forgotten: float = 1.0
    limits: tuple[float, float] = (0.25, 0.25)
    decay: float = 1.0
    plateau: float = 1.0


KINDS = {
    "base": Kind(),
    "harder": Kind(noise=1.35, hot=1.5, typing=1.6, forgotten=2.5),
    "limits": Kind(limits=(0.12, 0.40)),
    "tight": Kind(plateau=0.6),
    "tight and late": Kind(decay=2.0, plateau=0.6),
}


@dataclass(frozen=True)
class Engine:
    """Truth of one engine: ring rate as a function of hours, breather, settling level, and when it settles."""

    regime: str
    shape: str
    cylinder: str | None
    capacity: float
    settle_level: float | None
    plateau: float
    rate: Callable[[float], float]
    breather: Callable[[float], float]
    onset: float | None
    limit: float


def generated(count: int, kind: str = "base", seed: int = 1) -> list[dict[str, Any]]:
    """So many logs of a kind ("base", "harder", "limits"): ``{"log": ..., "truth": ...}``."""
    return [one_log(KINDS[kind], np.random.default_rng([seed, number]), f"E{number:05d}") for number in range(count)]


def one_log(kind: Kind, rng: np.random.Generator, engine_id: str = "E") -> dict[str, Any]:
    """One log with its truth, in the fields of the estimate's plain form."""
    engine = _engine(kind, rng)
    return _flown(engine, kind, rng, engine_id)


def _engine(kind: Kind, rng: np.random.Generator) -> Engine:
    regime = str(rng.choice(REGIMES, p=np.array(REGIME_SHARES) / sum(REGIME_SHARES)))
    limit = float(np.round(rng.uniform(*kind.limits), 2))
    plateau = float(np.clip(rng.lognormal(math.log(0.08 * kind.plateau), 0.5), 0.03, 0.85 * limit))
    tau = float(rng.uniform(0.9, 6.0)) * kind.decay
    cylinder = rng.choice(["steel", "nitrided", "chrome", "none"], p=[0.34, 0.42, 0.06, 0.18])
    if regime == "glazed":
        plateau = limit * float(rng.uniform(1.25, 3.2))
    if regime == "slow":
        tau = float(rng.uniform(8.0, 16.0)) * kind.decay
        cylinder = rng.choice(["chrome", "nitrided", "none", "steel"], p=[0.8, 0.1, 0.06, 0.04])
    above = float(rng.lognormal(math.log(0.48), 0.4)) if regime != "glazed" else float(rng.uniform(0.03, 0.5))
    shape = str(rng.choice(["exp", "two-exp", "stretched", "hyperbola", "logistic"], p=[0.45, 0.23, 0.12, 0.12, 0.08]))
    onset, slope, bend = None, 0.0, 1.0
    if regime == "drift":
        onset = float(rng.uniform(8.0, 20.0))
        slope, bend = float(rng.lognormal(math.log(0.016), 0.5)), float(rng.choice([1.0, 1.0, 0.8, 1.3]))
    fall = _fall(shape, tau, rng)

    def rate(hours: float) -> float:
        drift = slope * (hours - onset) ** bend if onset is not None and hours > onset else 0.0
        return plateau + above * fall(hours) + drift

    capacity = float(rng.choice([6.0, 8.0, 10.0, 12.0], p=[0.1, 0.42, 0.14, 0.34]))
    settle, breather = _breather(capacity, rng)
    if regime == "overfill" and settle is None:
        settle, breather = _breather(capacity, rng)
    name = None if cylinder == "none" else str(cylinder)
    return Engine(regime, shape, name, capacity, settle, plateau, rate, breather, onset, limit)


def _fall(shape: str, tau: float, rng: np.random.Generator) -> Callable[[float], float]:
    """A fall from 1 to 0."""
    if shape == "two-exp":
        share, slow = float(rng.uniform(0.5, 0.85)), float(rng.uniform(1.8, 3.0))
        return lambda t: share * math.exp(-1.25 * t / tau) + (1 - share) * math.exp(-t * 1.25 / (slow * tau))
    if shape == "stretched":
        power = float(rng.uniform(0.75, 1.3))
        return lambda t: math.exp(-((t / tau) ** power))
    if shape == "hyperbola":
        return lambda t: (1 + t / (3 * tau)) ** -3.0
    if shape == "logistic":
        return lambda t: (1 + math.exp(-1.5)) / (1 + math.exp(1.3 * t / tau - 1.5))
    return lambda t: math.exp(-t / tau)


def _breather(capacity: float, rng: np.random.Generator) -> tuple[float | None, Callable[[float], float]]:
    if rng.random() < 0.12:
        return None, lambda level: 0.0
    settle = capacity - float(np.clip(rng.normal(1.92, 0.45), 0.7, 3.3))
    strength = float(np.clip(rng.lognormal(math.log(0.3), 0.55), 0.1, 0.95))
    form = str(rng.choice(["linear", "soft", "power"], p=[0.5, 0.4, 0.1]))
    if form == "soft":
        width = float(rng.uniform(0.15, 0.35))
        return settle, lambda level: strength * width * math.log1p(math.exp(min((level - settle) / width, 60.0)))
    if form == "power":
        return settle, lambda level: strength * max(0.0, level - settle) ** 1.3
    return settle, lambda level: strength * max(0.0, level - settle)


def settling(engine: Engine, end_h: float) -> tuple[float | None, float | None]:
    """The hour at which it settles, by the definition, and the hour at which that ends."""
    band = max(BAND_SHARE * engine.plateau, BAND_QT_PER_H)
    if engine.plateau > engine.limit:
        return None, None
    settled: float | None = None
    hours = 0.0
    while hours < max(end_h, 80.0):
        inside = engine.rate(hours) - engine.plateau <= band
        if settled is None and inside:
            settled = hours
        if settled is not None and not inside:
            return settled, hours
        hours += STEP_H
    return settled, None


@dataclass
class _Sump:
    level: float
    hours: float = 0.0

    def run(self, engine: Engine, duration: float) -> None:
        steps = max(1, round(duration / STEP_H))
        width = duration / steps
        for _ in range(steps):
            middle = self.hours + width / 2
            self.level = max(0.2, self.level - width * (engine.rate(middle) + engine.breather(self.level)))
            self.hours += width


def _flown(engine: Engine, kind: Kind, rng: np.random.Generator, engine_id: str) -> dict[str, Any]:
    per_unit = LITRES_PER_QUART if engine.regime == "si" else 1.0
    unit = "L" if engine.regime == "si" else "qt"
    step = float(rng.choice([0.25, 0.5]))
    noise = float(rng.uniform(0.12, 0.30)) * kind.noise
    sparse = engine.regime == "sparse"
    end = float(rng.uniform(15, 40))
    forgotten_share = (0.14 if rng.random() < 0.3 else 0.0) * kind.forgotten
    top_up_to = engine.capacity if engine.regime == "overfill" else engine.capacity - float(rng.uniform(0.0, 2.0))
    trigger = top_up_to - float(rng.uniform(0.9, 2.0))
    entries: list[dict[str, Any]] = []
    truth: dict[str, Any] = {"outliers": [], "missed": [], "adds": [], "at_readings": [], "levels": []}
    sump = _Sump(0.0)

    def change() -> None:
        sump.level = top_up_to + float(rng.normal(0, 0.12))
        entries.append({"kind": "change", "hours": round(sump.hours, 1), "fill": top_up_to * per_unit, "unit": unit})

    def read(when: str) -> float:
        level = sump.level + float(rng.normal(0, noise))
        draw = rng.random()
        bad = None
        if draw < (0.09 if when == "after" else 0.008) * kind.hot:
            bad, level = "hot", level - abs(float(rng.normal(1.0, 0.4)))
        elif draw > 1 - 0.012 * kind.typing:
            bad, level = "typo", level + float(rng.choice([-2, -1.5, 1.5, 2, -1]))
        shown = max(0.0, round(level * per_unit / step) * step)
        if bad:
            truth["outliers"].append({"entry": len(entries), "kind": bad})
        truth["levels"].append([len(entries), sump.level])
        truth["at_readings"].append([len(entries), engine.rate(sump.hours), None])
        entries.append({"kind": "reading", "hours": round(sump.hours, 1), "level": shown, "unit": unit, "when": when})
        return shown / per_unit

    change()
    change_at = sorted(float(value) for value in rng.uniform(8, 30, size=int(rng.integers(0, 3))))
    p_before, p_after = (0.35, 0.15) if sparse else (0.75, 0.5)
    while sump.hours < end and len(truth["at_readings"]) < 32:
        if rng.random() < p_before:
            shown = read("before")
            if shown < trigger:
                amount = max(1.0, float(np.round((top_up_to - shown) * 2) / 2))
                amount = min(amount, 3.0) if engine.regime != "overfill" else amount
                missed = bool(rng.random() < forgotten_share)
                sump.level += amount
                if missed:
                    truth["missed"].append(
                        {"hours": round(sump.hours, 1), "amount": amount, "after_entry": len(entries) - 1}
                    )
                else:
                    entries.append(
                        {"kind": "add", "hours": round(sump.hours, 1), "amount": amount * per_unit, "unit": unit}
                    )
                truth["adds"].append([round(sump.hours, 1), sump.level, amount, missed])
        sump.run(engine, round(float(np.clip(rng.lognormal(math.log(1.3), 0.45), 0.4, 5.0)), 1))
        if rng.random() < p_after:
            read("after")
        if change_at and sump.hours > change_at[0]:
            change_at.pop(0)
            change()
    settle_h, lost_h = settling(engine, sump.hours)
    for row in truth["at_readings"]:
        hours = entries[row[0]]["hours"]
        row[2] = settle_h is not None and settle_h <= hours and (lost_h is None or hours < lost_h)
    truth |= {"regime": engine.regime, "shape": engine.shape, "plateau": engine.plateau, "settle_h": settle_h}
    truth |= {"lost_h": lost_h, "onset_h": engine.onset, "never": engine.plateau > engine.limit}
    truth |= {"S": engine.settle_level, "end_h": sump.hours, "limit": engine.limit, "sd": noise}
    log = {"engine_id": engine_id, "capacity": engine.capacity * per_unit, "unit": unit, "meter": "tach"}
    log |= {"cylinder": engine.cylinder, "dipstick_step": step, "limit_qt_h": engine.limit, "entries": entries}
    return {"log": log, "truth": truth}
