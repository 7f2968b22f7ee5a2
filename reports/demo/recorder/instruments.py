"""What the instruments show of a flight: noise, bias, faults, at the recorder's own pace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reports.demo.recorder.engine import Array
from reports.demo.recorder.simulate import Flown


@dataclass(frozen=True)
class Fault:
    """A probe that fails at second `at`: engine 1 or 2, "cht3", and "stuck", "spikes", "jump" or "open"."""

    engine: int
    sensor: str
    kind: str
    at: int


@dataclass(frozen=True)
class Instruments:
    """Noise is one sigma; a bias is added, a factor multiplied, for each engine in order. An open probe gives NaN:
    what that looks like is the file's business.
    """

    step_s: int = 1
    rpm: float = 4.0
    map_inhg: float = 0.06
    fuel_gph: float = 0.07
    cht_degf: float = 0.5
    egt_degf: float = 2.0
    oil_temp_degf: float = 0.5
    oil_press_psi: float = 0.7
    oat_degf: float = 0.5
    alt_ft: float = 5.0
    ias_kt: float = 1.2
    map_bias: tuple[float, float] = (0.0, 0.0)
    fuel_factor: tuple[float, float] = (1.0, 1.0)
    oat_bias: float = 0.0
    alt_bias: float = 0.0
    faults: tuple[Fault, ...] = ()


def readings(flown: Flown, instruments: Instruments, *, seed: int) -> tuple[NDArray[np.int64], dict[str, Array]]:
    """The second of each row, and each channel at those seconds, in canonical units.

    Channels: rpm_1, map_1, ff_1, cht_1_1 .. (engine, cylinder), egt_1_1 .., tit_1, oil_temp_1, oil_press_1, oat, alt,
    ias, lat, lon [deg].
    """
    rng = np.random.default_rng(seed)
    t = np.arange(0, flown.seconds, instruments.step_s)
    rows = len(t)

    def noisy(values: Array, sigma: float) -> Array:
        return np.asarray(values[t] + rng.normal(0, sigma, rows))

    shown: dict[str, Array] = {}
    for number, run in enumerate(flown.engines, start=1):
        running = run.rpm[t] > 0
        shown[f"rpm_{number}"] = np.where(running, noisy(run.rpm, instruments.rpm), 0.0)
        shown[f"map_{number}"] = noisy(run.map_inhg, instruments.map_inhg) + instruments.map_bias[number - 1]
        flow = noisy(run.fuel_gph, instruments.fuel_gph) * instruments.fuel_factor[number - 1]
        shown[f"ff_{number}"] = np.where(running, np.maximum(flow, 0.0), 0.0)
        for cylinder in range(len(run.cht)):
            shown[f"cht_{number}_{cylinder + 1}"] = noisy(run.cht[cylinder], instruments.cht_degf)
            shown[f"egt_{number}_{cylinder + 1}"] = noisy(run.egt[cylinder], instruments.egt_degf)
        shown[f"tit_{number}"] = noisy(run.tit, instruments.egt_degf)
        shown[f"oil_temp_{number}"] = noisy(run.oil_temp, instruments.oil_temp_degf)
        shown[f"oil_press_{number}"] = noisy(run.oil_press, instruments.oil_press_psi)
    shown["oat"] = noisy(flown.oat_degf, instruments.oat_degf) + instruments.oat_bias
    shown["alt"] = noisy(flown.alt_ft, instruments.alt_ft) + instruments.alt_bias
    # Out along a straight line and back, from a place in the middle of an ocean.
    out = np.cumsum(flown.ias_kt) / 3600 / 60
    there = np.minimum(out, out[-1] - out)[t]
    shown["lat"], shown["lon"] = 21.4 + there * 0.8, -151.2 + there * 0.6
    shown["ias"] = np.where(flown.ias_kt[t] > 25, noisy(flown.ias_kt, instruments.ias_kt), 0.0)
    for fault in instruments.faults:
        name = f"{fault.sensor[:3]}_{fault.engine}_{fault.sensor[3:]}"
        shown[name] = _failed(rng, shown[name], int(np.searchsorted(t, fault.at)), fault.kind)
    return t, shown


def _failed(rng: np.random.Generator, values: Array, at: int, kind: str) -> Array:
    values = values.copy()
    rest = len(values) - at
    if kind == "stuck":
        values[at:] = values[max(at - 1, 0)]
    elif kind == "jump":
        values[at:] += rng.choice([-1.0, 1.0]) * rng.uniform(110, 180)
    elif kind == "open":
        values[at:] = np.nan
    else:
        hit = rng.random(rest) < rng.uniform(0.02, 0.06)
        values[at:][hit] += (rng.choice([-1.0, 1.0], rest) * rng.uniform(150, 700, rest))[hit]
    return values
