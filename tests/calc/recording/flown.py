"""A flight written second by second with what is true of it, for the tests of the analysis. All of it invented."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.mixture import PEAK_OVER_BEST, power_of_mixture

RATED_HP, RATED_RPM, TOP_MAP = 200.0, 2700.0, 28.8
RPM_AXIS, MAP_AXIS = [1800.0, 2100.0, 2400.0, 2700.0], [14.0, 18.0, 22.0, 26.0, 28.8]
FIELD_FT, CRUISE_FT = 1200.0, 5200.0
EVENTS = {
    "engine_start": 30, "runup_start": 300, "runup_end": 345, "takeoff_start": 420, "liftoff": 447,
    "cruise_start": 900, "descent_start": 4500, "touchdown": 5000, "shutdown": 5200,
}  # fmt: skip
END_S = 5260
LEAN_S = (1040, 1150, 1210)  # begins, is leanest, is back
SETTINGS = ((900, 2400.0, 24.0), (2700, 2400.0, 21.0))
PEAKS = (0.010, -0.004, 0.0, -0.008)  # the first cylinder runs leanest


def chart_hp(rpm: Any, pressure: Any) -> Any:
    """The sea-level chart in closed form."""
    return RATED_HP * (rpm / RATED_RPM) ** 0.9 * (pressure - 5.0) / (TOP_MAP - 5.0)


def spec(**more: Any) -> dict[str, Any]:
    """The engine in the plain form."""
    hp = [[round(float(chart_hp(rpm, pressure)), 3) for pressure in MAP_AXIS] for rpm in RPM_AXIS]
    return {
        "cylinders": 4, "rated_hp": RATED_HP, "rated_rpm": RATED_RPM, "compression": 8.5, "turbo": False,
        "full_throttle_map_inhg": TOP_MAP, "bsfc_best_power_lb_hp_h": 0.46, "fuel_lb_per_gal": 6.0,
        "chart_sea_level": {"rpm": RPM_AXIS, "map_inhg": MAP_AXIS, "hp": hp}, "hours_before": 0.0,
    } | more  # fmt: skip


SCHEDULE = {
    "phase": "later", "bands": [75, 65], "tol": 3.0, "low": 60.0, "minutes": 120, "block_min": 30, "block_tol_min": 5,
    "cht_limit_f": 460, "cht_drop_limit_f_min": 50, "egt_tol_f": 50,
    "credit": {"75": [72, 85], "65": [62, 68]},
}  # fmt: skip


@dataclass(frozen=True)
class Samples:
    """What the analysis takes."""

    columns: dict[str, NDArray[np.float64]]
    t: NDArray[np.float64]
    sample_s: float
    row: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def without(self, *parts: str) -> Samples:
        """The same without the columns whose name contains one of the parts."""
        kept = {name: values for name, values in self.columns.items() if not any(part in name for part in parts)}
        return replace(self, columns=kept)

    def changed(self, **new: NDArray[np.float64]) -> Samples:
        return replace(self, columns=self.columns | new)

    def only(self, first: float, last: float) -> Samples:
        """The rows between two times."""
        keep = (self.t >= first) & (self.t < last)
        return replace(self, columns={name: v[keep] for name, v in self.columns.items()}, t=self.t[keep])


@dataclass(frozen=True)
class Flown:
    """A flight: its samples, and percent power and mixture second by second."""

    samples: Samples
    pct: NDArray[np.float64]
    mixture: NDArray[np.float64]


def _ramp(t: Any, points: list[tuple[float, float]]) -> Any:
    return np.interp(t, [p[0] for p in points], [p[1] for p in points])


def flight(
    *, step_s: int = 1, seed: int = 1, lean_of_peak: bool = False, leaned: bool = True, leanest: float | None = None,
    side: str = "1",
    oat_above_standard: float = 20.0, map_bias: float = 0.0, fuel_factor: float = 1.0, settings: Any = SETTINGS,
) -> Flown:  # fmt: skip
    """A flight of 75 and 65 percent, leaned to the first peak on the way (or left lean of peak)."""
    rng = np.random.default_rng(seed)
    t = np.arange(0, END_S + 1, 1.0)
    e = EVENTS
    altitude = _ramp(t, [(0, FIELD_FT), (e["liftoff"], FIELD_FT), (e["cruise_start"], CRUISE_FT),
                         (e["descent_start"], CRUISE_FT), (e["touchdown"], FIELD_FT), (END_S, FIELD_FT)])  # fmt: skip
    ambient = 29.92126 * (1 - 6.8755856e-6 * altitude) ** 5.255876
    steps = [(0.0, 0.0, 0.0), (e["engine_start"], 1000.0, 12.0), (e["runup_start"], 1800.0, 17.5),
             (e["runup_end"], 1000.0, 12.0), (e["takeoff_start"], 2680.0, 99.0), *settings,
             (e["descent_start"], 2400.0, 17.0), (e["touchdown"], 1000.0, 12.0)]  # fmt: skip
    begin = np.asarray([one[0] for one in steps])
    which = np.searchsorted(begin, t, side="right") - 1
    lag = 1 - np.exp(-(t - begin[which] + 1) / 3.0)
    speeds, pressures = np.asarray([one[1] for one in steps]), np.asarray([one[2] for one in steps])
    before = np.maximum(which - 1, 0)
    rpm = speeds[before] + lag * (speeds[which] - speeds[before])
    open_throttle = 0.965 * ambient
    wanted = np.minimum(pressures, 40.0)
    manifold = wanted[before] + lag * (wanted[which] - wanted[before])
    manifold = np.minimum(manifold, open_throttle)
    running = (t >= e["engine_start"]) & (t < e["shutdown"])
    rpm = np.where(running, rpm, 0.0)
    # After a stop the manifold fills within some seconds.
    filling = np.where(t < e["shutdown"], 0.0, (ambient - 10.0) * np.exp(-np.maximum(t - e["shutdown"], 0.0) / 3.0))
    manifold = np.where(running, manifold, ambient - filling)
    mixture = _ramp(t, [(0, 1.14), (e["cruise_start"], 1.14), (e["cruise_start"] + 10, 1.06), (END_S, 1.06)])
    if leaned:
        first, lowest, back = LEAN_S
        least, after = leanest or PEAK_OVER_BEST - 0.02, 1.0
        rest = (back, after)
        if lean_of_peak:
            least, rest = 0.78, (back, 0.78)
        mixture = _ramp(t, [(0, 1.14), (e["cruise_start"], 1.14), (e["cruise_start"] + 10, 1.06), (first, 1.06),
                            (lowest, least), rest, (END_S, rest[1])])  # fmt: skip
    standard = 59 - 0.0035662 * altitude
    oat = standard + oat_above_standard
    pct = np.where(running, power_by_charts(rpm, manifold, altitude, oat), 0.0)
    burnt = pct / 100 * RATED_HP * 0.46 / 6.0 * mixture
    pct = pct * power_of_mixture(mixture)
    fuel = np.where(running, np.maximum(burnt, 1.0), 0.0)
    airspeed = _ramp(t, [(0, 0), (e["takeoff_start"], 0), (e["liftoff"], 65), (e["liftoff"] + 30, 90),
                         (e["cruise_start"], 90), (e["cruise_start"] + 60, 125), (e["descent_start"], 125),
                         (e["touchdown"] - 120, 80), (e["touchdown"], 68), (e["touchdown"] + 25, 0),
                         (END_S, 0)])  # fmt: skip
    columns = {
        f"rpm_{side}": rpm + running * rng.normal(0, 4, len(t)),
        f"map_{side}_inhg": manifold + map_bias + rng.normal(0, 0.05, len(t)),
        f"ff_{side}_gph": np.where(running, fuel_factor * fuel + rng.normal(0, 0.05, len(t)), 0.0),
        f"oil_temp_{side}_degf": np.where(running, 180.0, oat[0] + 8.0) + rng.normal(0, 0.5, len(t)),
        f"oil_press_{side}_psi": running * (np.where(rpm > 1500, 65.0, 40.0) + rng.normal(0, 0.5, len(t))),
        "oat_degf": oat + rng.normal(0, 0.3, len(t)),
        "alt_ft": altitude + rng.normal(0, 5, len(t)),
        "ias_kt": np.maximum(airspeed + (airspeed > 0) * rng.normal(0, 1, len(t)), 0.0),
    }  # fmt: skip
    for number, lean in enumerate(PEAKS, start=1):
        columns[f"egt_{side}_{number}_degf"] = _exhaust(pct, mixture - lean, running, oat, number) + rng.normal(
            0, 1.5, len(t)
        )
        columns[f"cht_{side}_{number}_degf"] = _head(t, pct, mixture, oat, running, number) + rng.normal(0, 0.5, len(t))
    rows = np.arange(0, len(t), step_s)
    samples = Samples({name: values[rows] for name, values in columns.items()}, t[rows], float(step_s), rows)
    return Flown(samples, pct, mixture)


def power_by_charts(rpm: Any, manifold: Any, altitude: Any, oat: Any) -> Any:
    """Percent power by the two-chart procedure, written out here once more (SFTE, Technical Handbook, 2013, 10.2)."""
    sigma = (1 - 6.8755856e-6 * altitude) ** 4.255876
    sigma_a = np.minimum((np.maximum(manifold, 1.0) / TOP_MAP) ** (4.255876 / 5.255876), 0.999)
    full = chart_hp(np.maximum(rpm, 1.0), TOP_MAP) * (1.1324 * sigma_a - 0.1324)
    low = chart_hp(np.maximum(rpm, 1.0), manifold)
    hp = low + (full - low) * (1 - sigma) / (1 - sigma_a)
    wide_open = full * (1.1324 * sigma - 0.1324) / (1.1324 * sigma_a - 0.1324)
    hp = np.where(sigma < sigma_a, wide_open, hp)
    standard = 518.67 * (1 - 6.8755856e-6 * altitude)
    return 100 * hp / RATED_HP * np.sqrt(standard / (oat + 459.67))


def _exhaust(pct: Any, mixture: Any, running: Any, oat: Any, number: int) -> Any:
    away = np.sqrt((mixture - PEAK_OVER_BEST) ** 2 + 0.006**2) - 0.006
    gas = np.where(running, 1480.0 + 12 * number - 1050 * away - 600 * np.exp(-pct / 20), oat)
    return _first_order(gas, np.where(running, 3.0, 200.0), float(oat[0]))


def _head(t: Any, pct: Any, mixture: Any, oat: Any, running: Any, number: int) -> Any:
    lean = np.where(mixture < 0.95, 1 - 4 * (0.95 - mixture) ** 2 * 3, 1.0)
    steady = oat + running * (90 + 190 * (np.maximum(pct, 1) / 75) ** 0.6) * lean + running * 6 * number
    return _first_order(steady, np.full(len(t), 90.0), float(oat[0]) + 20)


def _first_order(target: Any, tau: Any, first: float) -> Any:
    out = np.empty(len(target))
    now = first
    for index, (wanted, time) in enumerate(zip(target.tolist(), tau.tolist(), strict=True)):
        now += (wanted - now) / time
        out[index] = now
    return out
