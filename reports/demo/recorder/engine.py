"""The engine of a made recording: its chart, its mixture curve, its heads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.atmosphere import density_ratio
from breakin.calc.chart import Chart
from breakin.calc.power import percent_power

Array = NDArray[np.float64]
LEAST_MAP_INHG = 6.0


@dataclass(frozen=True)
class Engine:
    """What the calculation needs of one engine.

    chart_rpm, chart_map, chart_hp : sea-level grid [rpm], [inHg], [hp].
    altitude_ft, altitude_factor : power at the same setting against that of the grid, standard day.
    scale : true power against the chart. critical_ft : up to which a turbocharger holds full manifold pressure.
    bsfc : at 75 % and best power [lb/(hp h)]. friction_pct : makes fuel for each horsepower rise at low power.
    rich_full, rich_part, rich_idle : mixture at full throttle, in the climb at part throttle and on the ground, as fuel
        against that of best power.
    heads : rise of each head over the outside air at 75 % and 115 kt [ddegF]. peaks : mixture at which each cylinder's
        exhaust is hottest. exhaust : the temperature there at high power [degF].
    tit_over : turbine inlet over the mean exhaust [ddegF].
    fixed_pitch_k : percent / (density ratio x rpm^3) of a fixed-pitch propeller; 0 for a constant-speed one.
    """

    cylinders: int
    rated_hp: float
    rated_rpm: float
    turbo: bool
    full_throttle_map: float
    chart_rpm: Array
    chart_map: Array
    chart_hp: Array
    altitude_ft: Array
    altitude_factor: Array
    heads: tuple[float, ...]
    peaks: tuple[float, ...]
    exhaust: tuple[float, ...]
    scale: float = 1.0
    critical_ft: float = 0.0
    bsfc: float = 0.46
    fuel_lb_gal: float = 6.01
    friction_pct: float = 10.0
    rich_full: float = 1.18
    rich_part: float = 1.08
    rich_idle: float = 1.1
    head_tau_s: float = 80.0
    head_exponent: float = 0.57
    cooling_exponent: float = 0.25
    seating_degf: float = 20.0
    seating_h: float = 2.0
    hours_before: float = 0.0
    fixed_pitch_k: float = 0.0
    cooling_kt: float = 115.0
    tit_over: float = 75.0

    def grid_hp(self, rpm: Array, map_inhg: Array) -> Array:
        """Sea-level power by straight lines in both directions, carried on beyond the edges [hp]."""
        i = np.clip(np.searchsorted(self.chart_rpm, rpm) - 1, 0, len(self.chart_rpm) - 2)
        j = np.clip(np.searchsorted(self.chart_map, map_inhg) - 1, 0, len(self.chart_map) - 2)
        u = (rpm - self.chart_rpm[i]) / (self.chart_rpm[i + 1] - self.chart_rpm[i])
        v = (map_inhg - self.chart_map[j]) / (self.chart_map[j + 1] - self.chart_map[j])
        low = self.chart_hp[i, j] * (1 - v) + self.chart_hp[i, j + 1] * v
        high = self.chart_hp[i + 1, j] * (1 - v) + self.chart_hp[i + 1, j + 1] * v
        # Below half the rated speed the grid is no more than a guess: power goes with engine speed there.
        speed = np.minimum(rpm / self.chart_rpm[0], 1.0)
        held = np.where(rpm < self.chart_rpm[0], self.chart_hp[0, j] * (1 - v) + self.chart_hp[0, j + 1] * v, 0.0)
        return np.maximum(np.where(rpm < self.chart_rpm[0], held * speed, low * (1 - u) + high * u), 0.0)

    def air_pct(self, rpm: Array, map_inhg: Array, alt_ft: Array, oat_degf: Array) -> Array:
        """Percent of rated power at best-power mixture."""
        factor = np.interp(alt_ft, self.altitude_ft, self.altitude_factor) * temperature_factor(alt_ft, oat_degf)
        return 100.0 * self.scale / self.rated_hp * self.grid_hp(rpm, map_inhg) * factor

    def map_for(self, pct: float, rpm: float, alt_ft: float, oat_degf: float) -> float:
        """Manifold pressure for a percentage [inHg], whatever the throttle can give."""
        pressures = np.linspace(LEAST_MAP_INHG, 45.0, 400)
        wide = np.full_like(pressures, rpm)
        found = self.air_pct(wide, pressures, np.full_like(wide, alt_ft), np.full_like(wide, oat_degf))
        return float(np.interp(pct, found, pressures))

    def full_map(self, alt_ft: Array) -> Array:
        """Manifold pressure at full throttle [inHg]."""
        pressure = pressure_ratio(alt_ft)
        if not self.turbo:
            return self.full_throttle_map * pressure
        return self.full_throttle_map * np.minimum(1.0, pressure / pressure_ratio(self.critical_ft))


def pressure_ratio(alt_ft: Array | float) -> Array:
    """ISO 2533:1975, first layer."""
    return np.asarray((1 - 6.87559e-6 * np.asarray(alt_ft, float)) ** 5.25588)


def standard_degf(alt_ft: Array | float) -> Array:
    return np.asarray(59.0 - 0.00356616 * np.asarray(alt_ft, float))


def temperature_factor(alt_ft: Array, oat_degf: Array) -> Array:
    return np.asarray(np.sqrt((standard_degf(alt_ft) + 459.67) / (np.asarray(oat_degf, float) + 459.67)))


def mixture_power(x: Array) -> Array:
    """Power against that of best-power mixture: flat on the rich side, with the fuel on the lean side."""
    over = np.maximum(x - 1, 0)
    rich = np.where(over < 0.25, 1 - 0.9 * over**2, 0.94375 - 0.12 * (over - 0.25))
    lean = np.maximum(1 - x, 0)
    return np.asarray(np.where(x >= 1, rich, np.where(lean < 0.085, 1 - 6 * lean**2, 0.95665 - 1.02 * (lean - 0.085))))


def heads_of(rng: np.random.Generator, cylinders: int, mean: float, spread: float) -> tuple[float, ...]:
    return tuple(float(v) for v in mean + rng.normal(0, spread, cylinders))


def engine_of_type(revision: Mapping[str, Any], seed: int, **more: Any) -> Engine:
    """An engine of one of the demo's types, agreeing with its chart.

    Parameters
    ----------
    revision : mapping - cylinders, rated_hp, rated_rpm, chart (its stored form), turbo, takeoff_ff (gal/h).
    seed : int - the differences between its cylinders.
    more : fields of `Engine` to set otherwise.
    """
    rng = np.random.default_rng(seed)
    chart = Chart.from_dict(revision["chart"], rated_hp=revision["rated_hp"])
    cylinders = int(revision["cylinders"])
    fields: dict[str, Any] = {
        "cylinders": cylinders,
        "rated_hp": revision["rated_hp"],
        "rated_rpm": revision["rated_rpm"],
        "turbo": bool(revision.get("turbo")),
        "heads": heads_of(rng, cylinders, 305.0, 9.0),
        "peaks": tuple(float(v) for v in 0.915 + np.clip(rng.normal(0, 0.008, cylinders), -0.015, 0.015)),
        "exhaust": tuple(float(v) for v in 1490 + rng.normal(0, 22, cylinders)),
    }
    if chart.kind == "fixed_pitch":
        fields |= _fixed_pitch(chart, revision)
    else:
        fields |= _constant_speed(chart)
    # The fuel flow at full throttle is made to meet the middle of the type's take-off range.
    if revision.get("takeoff_ff"):
        bare = 0.46 * revision["rated_hp"] / 6.01 * (1 + 10 / 97) / (1 + 10 / 75) * 0.97
        fields["rich_full"] = float(np.clip(revision["takeoff_ff"] / bare, 1.05, 1.5))
    return Engine(**(fields | more))


def _constant_speed(chart: Chart) -> dict[str, Any]:
    altitudes = np.arange(0, 20001, 1000.0)
    rpm = float(np.mean(chart.rpm[-3:]))
    factors = []
    for altitude in altitudes.tolist():
        top = chart.full_throttle_map_inhg[-1] * (
            1.0 if chart.critical_altitude_ft else float(pressure_ratio(altitude))
        )
        setting = max(min(top * 0.93, chart.map_inhg[-1]), chart.map_inhg[0] + 0.5)

        def pct(at: float, setting: float = setting) -> float:
            return percent_power(chart, rpm=rpm, map_inhg=setting, pressure_altitude_ft=at, oat_degf=None).pct

        factors.append(pct(altitude) / pct(0.0))
    return {
        "full_throttle_map": chart.full_throttle_map_inhg[-1],
        "critical_ft": chart.critical_altitude_ft or 0.0,
        "chart_rpm": np.array(chart.rpm),
        "chart_map": np.array(chart.map_inhg),
        "chart_hp": np.array(chart.hp),
        "altitude_ft": altitudes,
        "altitude_factor": np.array(factors),
    }


def _fixed_pitch(chart: Chart, revision: Mapping[str, Any]) -> dict[str, Any]:
    """No chart of manifold pressure is printed: a plain grid stands in, and engine speed follows from the power."""
    point = chart.points[len(chart.points) // 2]
    standard = float(standard_degf(point.pressure_altitude_ft))
    sigma = float(density_ratio(point.pressure_altitude_ft, standard))
    rated = float(revision["rated_rpm"])
    speeds = np.array([0.6, 0.75, 0.9, 1.0]) * rated
    pressures = np.array([10.0, 16.0, 22.0, 29.0])
    share = np.outer((speeds / rated) ** 0.7, (pressures - 6) / (28.7 - 6))
    altitudes = np.arange(0, 20001, 2000.0)
    return {
        "full_throttle_map": 28.7,
        "chart_rpm": speeds,
        "chart_map": pressures,
        "chart_hp": share * revision["rated_hp"],
        "altitude_ft": altitudes,
        "altitude_factor": 1 + 0.3 * (1 - pressure_ratio(altitudes)),
        "fixed_pitch_k": point.pct / (sigma * point.rpm**3),
    }
