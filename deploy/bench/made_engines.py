"""Invented engines with a nominal chart, and the true engine that departs from it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from reports.demo.recorder import Engine
from reports.demo.recorder.engine import heads_of, pressure_ratio

# name: cylinders, turbocharged, fixed pitch, horsepower from .. to
MODELS = {
    "na4": (4, False, False, 150, 210),
    "na4f": (4, False, True, 110, 180),
    "na6": (6, False, False, 220, 310),
    "tc6": (6, True, False, 220, 375),
    "tc4": (4, True, False, 180, 250),
}


def made_engine(
    rng: np.random.Generator, stage: str, *, like: tuple[str, Engine] | None = None, older: bool = False
) -> tuple[str, Engine, Engine]:
    """A model, the true engine and the nominal one, whose chart the reader of the recording is given."""
    if like is None:
        model = str(rng.choice(list(MODELS), p=[0.33, 0.08, 0.32, 0.2, 0.07]))
        nominal = _nominal(rng, model)
    else:
        model, nominal = like
    hours = {"hour1": 0.0, "hour2": 1.0, "later": float(rng.uniform(2, 12))}[stage]
    if older:
        hours = float(rng.uniform(100, 900))
    altitudes = np.arange(0, 20001, 1000.0)
    back = rng.uniform(0.09, 0.21) if nominal.turbo else rng.uniform(0.24, 0.36)
    true = replace(
        nominal,
        scale=float(1 + np.clip(rng.normal(0, 0.016), -0.04, 0.04)),
        bsfc=float(0.46 * (1 + np.clip(rng.normal(0, 0.025), -0.06, 0.06))),
        altitude_factor=1 + back * (1 - pressure_ratio(altitudes)),
        friction_pct=float(rng.uniform(7, 13)),
        rich_full=float(rng.uniform(1.12, 1.27)),
        rich_part=float(rng.uniform(1.05, 1.12)),
        rich_idle=float(rng.uniform(1.0, 1.2)),
        heads=heads_of(rng, nominal.cylinders, rng.uniform(278, 325), rng.uniform(6, 16)),
        peaks=_peaks(rng, nominal.cylinders),
        exhaust=tuple(float(v) for v in rng.uniform(1460, 1560) + rng.normal(0, 32, nominal.cylinders)),
        head_tau_s=float(rng.uniform(60, 115)),
        head_exponent=float(rng.uniform(0.5, 0.66)),
        cooling_exponent=float(rng.uniform(0.18, 0.32)),
        seating_degf=float(rng.uniform(8, 38)),
        seating_h=float(rng.uniform(0.8, 5)),
        hours_before=hours,
    )
    return model, true, nominal


def _peaks(rng: np.random.Generator, cylinders: int) -> tuple[float, ...]:
    """Where each exhaust is hottest. Two that peak as one are no question to ask: the first leads a little."""
    spread = np.clip(rng.normal(0, rng.choice([0.01, 0.018]), cylinders), -0.035, 0.035)
    first, second = np.argsort(spread)[:-3:-1]
    spread[first] = max(spread[first], spread[second] + 0.002)
    return tuple(float(v) for v in rng.uniform(0.90, 0.93) + spread)


def _nominal(rng: np.random.Generator, model: str) -> Engine:
    cylinders, turbo, fixed, low, high = MODELS[model]
    hp = float(5 * round(rng.uniform(low, high) / 5))
    rated = float(rng.choice([2500, 2575, 2600, 2700]))
    top = float(round(rng.uniform(33, 39), 1) if turbo else round(rng.uniform(28.4, 29.1), 1))
    speeds = np.append(np.arange(1800, rated - 40, 200.0), rated)
    pressures = np.arange(14, top + 0.01 if turbo else 29, 2.0)
    none, bend = rng.uniform(4.5, 7.5), rng.uniform(0.8, 1.0)
    share = np.outer((speeds / rated) ** bend, (pressures - none) / (top - none))
    altitudes = np.arange(0, 20001, 1000.0)
    blank = (0.0,) * cylinders
    return Engine(
        cylinders=cylinders,
        rated_hp=hp,
        rated_rpm=rated,
        turbo=turbo,
        full_throttle_map=top,
        critical_ft=float(rng.uniform(12000, 18000)) if turbo else 0.0,
        chart_rpm=speeds,
        chart_map=pressures,
        chart_hp=np.rint(hp * share),
        altitude_ft=altitudes,
        altitude_factor=np.ones_like(altitudes),
        heads=blank,
        peaks=blank,
        exhaust=blank,
        # Percent / (density ratio x rpm^3): three quarters at nine tenths of the rated speed, a mile up.
        fixed_pitch_k=75 / (0.86 * (0.93 * rated) ** 3) if fixed else 0.0,
    )


def spec_of(nominal: Engine, true: Engine) -> dict[str, Any]:
    """What is known of the engine to whoever reads the recording."""
    return {
        "cylinders": nominal.cylinders,
        "rated_hp": nominal.rated_hp,
        "rated_rpm": nominal.rated_rpm,
        "compression": 7.5 if nominal.turbo else 8.5,
        "turbo": nominal.turbo,
        "full_throttle_map_inhg": nominal.full_throttle_map,
        "bsfc_best_power_lb_hp_h": 0.46,
        "fuel_lb_per_gal": nominal.fuel_lb_gal,
        "chart_sea_level": {
            "rpm": nominal.chart_rpm.tolist(),
            "map_inhg": nominal.chart_map.tolist(),
            "hp": nominal.chart_hp.tolist(),
        },
        "hours_before": true.hours_before,
    }
