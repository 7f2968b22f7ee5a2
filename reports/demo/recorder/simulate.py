"""Legs and engines in, every second of the flight out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reports.demo.recorder.engine import Array, Engine, mixture_power, pressure_ratio, standard_degf
from reports.demo.recorder.script import FULL, Air, Leg, Script

_CHUNK = 100


@dataclass(frozen=True)
class EngineRun:
    """One engine, second by second; `cht` and `egt` have one row a cylinder. `x` is fuel against best power."""

    rpm: Array
    map_inhg: Array
    x: Array
    pct: Array
    fuel_gph: Array
    cht: Array
    egt: Array
    tit: Array
    oil_temp: Array
    oil_press: Array


@dataclass(frozen=True)
class Flown:
    """phase : name of the phase at each second; block : number of the cruise setting, -1 outside; settled : the
    throttle has reached what was asked for; leaning : the mixture is being leaned slowly."""

    air: Air
    alt_ft: Array
    oat_degf: Array
    ias_kt: Array
    phase: NDArray[np.str_]
    block: NDArray[np.int64]
    settled: NDArray[np.bool_]
    leaning: NDArray[np.bool_]
    engines: tuple[EngineRun, ...]

    @property
    def seconds(self) -> int:
        return len(self.alt_ft)


def lag(target: Array, tau_s: Array | float, first: float) -> Array:
    """First-order response, exact for a target held over each second; tau may change from second to second."""
    keep = np.broadcast_to(np.exp(-1.0 / np.asarray(tau_s, float)), target.shape)
    out = np.empty_like(target)
    now = first
    for begin in range(0, len(target), _CHUNK):
        part = slice(begin, begin + _CHUNK)
        shrink = np.cumprod(keep[part])
        out[part] = shrink * (now + np.cumsum((1 - keep[part]) * target[part] / shrink))
        now = float(out[part][-1])
    return out


def wander(rng: np.random.Generator, seconds: int, sigma: float, tau_s: float) -> Array:
    """Ornstein-Uhlenbeck noise of this standard deviation and correlation time."""
    return lag(rng.normal(0, sigma * np.sqrt(2 * tau_s), seconds), tau_s, float(rng.normal(0, sigma)))


def simulate(
    script: Script, engines: Sequence[Engine], *, seed: int, splits: Sequence[float] = (0.0, 0.0), rough: float = 1.0
) -> Flown:
    """Fly the script.

    Parameters
    ----------
    script : Script
    engines : one or two engines. splits : percent power added to each engine's settings in cruise.
    seed : int - wander of throttle, height and temperature.
    rough : how much everything wanders; 1 is a steady hand in quiet air.
    """
    rng = np.random.default_rng(seed)
    legs = script.legs
    spans = np.cumsum([0, *[leg.seconds for leg in legs]])
    total = int(spans[-1])
    air = script.air
    alt, ias = _path(script, legs, spans)
    flying = np.repeat([leg.ias > 72 or leg.phase == "climb" for leg in legs], [leg.seconds for leg in legs])
    alt = alt + np.where(flying, wander(rng, total, 12 * rough, 90), 0.0)
    oat = air.field_degf + air.lapse * (alt - air.field_ft) / 1000 + wander(rng, total, 0.3, 300)
    runs, settled = [], np.ones(total, bool)
    for engine, split in zip(engines, splits, strict=False):
        run, reached = _engine(rng, engine, split, legs, spans, air, script, alt, oat, ias, rough)
        runs.append(run)
        settled &= reached
    lengths = [leg.seconds for leg in legs]
    return Flown(
        air=air,
        alt_ft=alt,
        oat_degf=oat,
        ias_kt=ias,
        phase=np.repeat([leg.phase for leg in legs], lengths),
        block=np.repeat(_blocks(legs), lengths),
        settled=settled,
        leaning=np.repeat([leg.leaning for leg in legs], lengths),
        engines=tuple(runs),
    )


def _blocks(legs: Sequence[Leg]) -> list[int]:
    numbers, number, last = [], -1, None
    for leg in legs:
        setting = (leg.pct, leg.rpm) if leg.block else None
        if setting is not None and setting != last:
            number += 1
        last = setting
        numbers.append(number if leg.block else -1)
    return numbers


def _path(script: Script, legs: Sequence[Leg], spans: NDArray[np.int64]) -> tuple[Array, Array]:
    rate = np.repeat([leg.climb_fpm / 60 for leg in legs], [leg.seconds for leg in legs])
    alt = script.air.field_ft + np.concatenate([[0.0], np.cumsum(rate)[:-1]])
    ground = np.repeat(
        [leg.phase in ("off", "start", "taxi", "runup", "takeoff", "landing") for leg in legs],
        [leg.seconds for leg in legs],
    )
    alt = np.where(ground, script.air.field_ft, np.maximum(alt, script.air.field_ft))
    wanted = np.repeat([leg.ias for leg in legs], [leg.seconds for leg in legs])
    quick = np.repeat(
        [6.0 if leg.phase == "landing" else 13.0 if leg.phase in ("takeoff", "climb") else 20.0 for leg in legs],
        [leg.seconds for leg in legs],
    )
    return alt, lag(wanted, quick, 0.0)


def _ramp(first: float, targets: Sequence[float], rates: Sequence[float], spans: NDArray[np.int64]) -> Array:
    out = np.empty(int(spans[-1]))
    now = first
    for target, rate, a, b in zip(targets, rates, spans[:-1], spans[1:], strict=True):
        reach = rate * np.arange(1, b - a + 1)
        out[a:b] = now + np.clip(target - now, -reach, reach)
        if b > a:
            now = float(out[b - 1])
    return out


def _engine(
    rng: np.random.Generator, engine: Engine, split: float, legs: Sequence[Leg], spans: NDArray[np.int64], air: Air,
    script: Script, alt: Array, oat: Array, ias: Array, rough: float,
) -> tuple[EngineRun, NDArray[np.bool_]]:  # fmt: skip
    total = len(alt)
    targets, mixtures = [], []
    own = {"full": engine.rich_full, "part": engine.rich_part, "idle": engine.rich_idle}
    for leg, a, b in zip(legs, spans[:-1], spans[1:], strict=True):
        if leg.pct is None:
            targets.append(leg.map_inhg or 0.0)
        else:
            middle = float(alt[min((a + b) // 2, total - 1)])
            pct = leg.pct + (split if leg.block else 0.0)
            targets.append(engine.map_for(pct, leg.rpm, middle, air.oat(middle)))
        mixtures.append(own[leg.x] if isinstance(leg.x, str) else leg.x)
    asked = np.repeat(targets, [leg.seconds for leg in legs])
    full = engine.full_map(alt)
    throttle = _ramp(0.0, [min(t, 40.0) for t in targets], [leg.map_rate for leg in legs], spans)
    moving = np.abs(throttle - np.minimum(asked, 40.0)) > 0.05
    running = np.repeat([leg.phase != "off" for leg in legs], [leg.seconds for leg in legs])
    loose = np.where(asked >= FULL, 0.1, 1.0) * running * rough
    uneven = (wander(rng, total, 0.10, 150) + wander(rng, total, 0.09, 20)) * loose
    manifold = np.minimum(throttle + uneven, full + 0.1 * uneven)
    rpm = _ramp(0.0, [leg.rpm for leg in legs], [leg.rpm_rate for leg in legs], spans)
    rpm = np.where(running, rpm + wander(rng, total, 3.0, 15) * loose, rpm)
    x = _ramp(engine.rich_idle, mixtures, [leg.x_rate for leg in legs], spans)
    pct = engine.air_pct(rpm, manifold, alt, oat) * mixture_power(x) * running
    if engine.fixed_pitch_k:
        density = pressure_ratio(alt) * (518.67 / (oat + 459.67))
        propeller = np.cbrt(np.maximum(pct, 0.0) / (engine.fixed_pitch_k * density)) * (
            0.9 + 0.1 * ias / engine.cooling_kt
        )
        rpm = np.where(running, np.minimum(np.where(ias > 20, propeller, np.minimum(rpm, propeller)), 2750), rpm)
    manifold = np.where(running, manifold, 0.0)
    manifold = np.where(running, manifold, _stopped(pressure_ratio(alt) * 29.921, manifold, running))
    fuel_base = (pct + engine.friction_pct) / (75 + engine.friction_pct) * 75 / 100 * engine.rated_hp * engine.bsfc
    fuel = np.where(running, fuel_base / mixture_power(x) * x / engine.fuel_lb_gal, 0.0)
    cht, egt, tit = _heat(rng, engine, pct, x, oat, ias, running)
    oil_temp = lag(151 + 0.7 * pct + 0.35 * (oat - 50), 340.0, float(oat[0] + rng.uniform(3, 25)))
    oil_press = np.where(running, 30 + 48 * (1 - np.exp(-rpm / 850)) - 0.06 * (oil_temp - 190), 0.0)
    run = EngineRun(rpm, manifold, x, pct, fuel, cht, egt, tit, oil_temp, lag(oil_press, 2.0, 0.0))
    return run, ~moving


def _stopped(ambient: Array, manifold: Array, running: NDArray[np.bool_]) -> Array:
    """With the engine stopped the manifold fills to the pressure of the air within a few seconds."""
    since = np.zeros(len(ambient))
    last = 0
    for index in np.flatnonzero(np.diff(running.astype(int)) < 0).tolist():
        last = index + 1
        since[last:] = np.exp(-np.arange(len(ambient) - last) / 2.5)
    return np.asarray(ambient - since * (ambient - 12.5))


def _heat(
    rng: np.random.Generator, engine: Engine, pct: Array, x: Array, oat: Array, ias: Array, running: NDArray[np.bool_]
) -> tuple[Array, Array, Array]:
    load = (np.maximum(pct, 0.0) / 75) ** engine.head_exponent
    cool = (engine.cooling_kt / np.maximum(ias, 0.39 * engine.cooling_kt)) ** engine.cooling_exponent
    mixture = 1 - np.where(x > 0.99, 2.8, 3.5) * np.square(x - 0.99)
    hours = engine.hours_before + np.cumsum(running) / 3600
    seating = engine.seating_degf * np.exp(-hours / max(engine.seating_h, 0.1)) * np.minimum(load, 1.2)
    tau = engine.head_tau_s * (2.0 - np.clip(ias / 80, 0, 1))
    heads, gases = [], []
    # Far from peak the exhaust cools by about 100 ddegF for the first 8 % of fuel, less for the next.
    at_peak = -620 * np.exp(-np.maximum(pct, 1.0) / 25)
    soak = rng.uniform(0, 70)
    for rise, peak, hottest in zip(engine.heads, engine.peaks, engine.exhaust, strict=True):
        first = float(oat[0] + soak * rng.uniform(0.3, 1.0))
        heads.append(lag(oat + rise * load * cool * mixture + seating, tau * rng.uniform(0.93, 1.07), first))
        away = np.sqrt(np.square(x - peak) + 0.006**2) - 0.006
        rich = np.where(away < 0.4, 1250 * away - 1500 * away**2, 260)
        gas = hottest + at_peak - np.where(x >= peak, rich, 1450 * away)
        gases.append(lag(np.where(running, gas, oat), np.where(running, 6.0, 90.0), float(oat[0])))
    egt = np.array(gases)
    return np.array(heads), egt, egt.mean(axis=0) + engine.tit_over


__all__ = ["EngineRun", "Flown", "lag", "simulate", "standard_degf", "wander"]
