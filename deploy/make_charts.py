"""Make the power charts of the demonstration's invented engine types, so that their printed rows follow exactly.

Run from the top of the checkout: ``python deploy/make_charts.py [FOLDER]``. Writes one JSON file a type into
reports/demo/charts/ (or FOLDER). Same output every time; a test compares the committed files with a fresh run.

The types are teaching material. No number here is of a real engine, and no chart is for flight.

How: on each type's printed rows (manifold pressure for 75 and 65 % at 2,000 and 4,000 ft, one engine speed) the
two-chart procedure is turned round: for a full-throttle line (manifold pressure and power at sea level) each row
gives the sea-level power of its manifold pressure. The full-throttle line is chosen so that these powers lie as
nearly as possible on one straight line, and 75 % is out of reach at 6,000 ft.
"""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from breakin.calc.atmosphere import density_ratio, standard_temperature_degf
from breakin.calc.power_laws import density_ratio_of_pressure_ratio, full_throttle_fraction

FOLDER = Path(__file__).resolve().parents[1] / "reports" / "demo" / "charts"
SOURCE = "Teaching chart of an invented engine type. Not for flight."
REVISION = "1"
ALTITUDES_FT = (2000.0, 4000.0)
TOO_HIGH_FT = 6000.0


@dataclass(frozen=True)
class ConstantSpeed:
    """Printed rows of a type with a constant-speed propeller: manifold pressure at 2,000 and 4,000 ft [inHg]."""

    name: str
    rated_hp: float
    rated_rpm: float
    rpm: float
    map_75: tuple[float, float]
    map_65: tuple[float, float]


CONSTANT_SPEED = (
    ConstantSpeed("TAV-4E", 180, 2700, 2450, (24.5, 24.1), (22.0, 21.7)),
    ConstantSpeed("VRN-6B", 235, 2575, 2400, (24.1, 23.7), (21.7, 21.3)),
    ConstantSpeed("VRN-6D", 285, 2700, 2500, (24.2, 23.8), (21.8, 21.4)),
    ConstantSpeed("PL-6G", 300, 2700, 2500, (24.2, 23.8), (21.8, 21.4)),
)
FIXED_PITCH_POINTS = (
    (2000, 2490, 75), (4000, 2560, 75), (6000, 2630, 75),
    (2000, 2370, 65), (4000, 2430, 65), (6000, 2490, 65),
)  # fmt: skip


def standard_sigma(altitude_ft: float) -> float:
    """Standard density ratio [-] at a pressure altitude [ft]."""
    return density_ratio(altitude_ft, standard_temperature_degf(altitude_ft))


def sea_level_powers(kind: ConstantSpeed, top_map: float, top_hp: float) -> tuple[np.ndarray, np.ndarray]:
    """Printed manifold pressures [inHg], rising, and the sea-level power [hp] that each must have."""
    rows = []
    for pct, pressures in ((0.75, kind.map_75), (0.65, kind.map_65)):
        for altitude, pressure in zip(ALTITUDES_FT, pressures, strict=True):
            sigma_a = density_ratio_of_pressure_ratio(pressure / top_map)
            share = (1 - standard_sigma(altitude)) / (1 - sigma_a)
            hp_a = top_hp * float(full_throttle_fraction(sigma_a))
            rows.append((pressure, (pct * kind.rated_hp - hp_a * share) / (1 - share)))
    pressures_, powers = np.array(sorted(rows)).T
    return pressures_, powers


def best_full_throttle(kind: ConstantSpeed) -> tuple[float, float]:
    """Full-throttle manifold pressure and power at sea level that make the sea-level chart straightest."""
    highest_hp = 0.75 * kind.rated_hp / float(full_throttle_fraction(standard_sigma(TOO_HIGH_FT)))
    lowest_hp = 0.75 * kind.rated_hp / float(full_throttle_fraction(standard_sigma(ALTITUDES_FT[1])))
    best = (np.inf, 0.0, 0.0)
    for top_map in np.round(np.arange(28.0, 29.55, 0.05), 2):
        for top_hp in np.round(np.arange(np.ceil(lowest_hp) + 1, highest_hp - 1, 0.1), 1):
            pressures, powers = sea_level_powers(kind, float(top_map), float(top_hp))
            x = np.append(pressures, top_map)
            y = np.append(powers, top_hp)
            slope, offset = np.polyfit(x, y, 1)
            steps = np.diff(y) / np.diff(x)
            if steps.min() < 0.3 * slope or slope * 12 + offset < 0.1 * kind.rated_hp:
                continue
            misfit = float(np.abs(y - slope * x - offset).max())
            if misfit < best[0]:
                best = (misfit, float(top_map), float(top_hp))
    if not np.isfinite(best[0]):
        raise SystemExit(f"{kind.name}: no full-throttle line fits the printed rows")
    return best[1], best[2]


def constant_speed_chart(kind: ConstantSpeed) -> dict[str, Any]:
    """The chart of one constant-speed type."""
    top_map, top_hp = best_full_throttle(kind)
    pressures, powers = sea_level_powers(kind, top_map, top_hp)
    slope = np.polyfit(np.append(pressures, top_map), np.append(powers, top_hp), 1)[0]
    low_map = np.array([12.0, 15.0, 18.0, 20.0])
    # Hang the straight lower part on the lowest printed row, so that the chart has no step there.
    low_hp = powers[0] + slope * (low_map - pressures[0])
    manifold = np.concatenate([low_map, pressures, [top_map]])
    at_rpm = np.concatenate([low_hp, powers, [top_hp]])
    # One exponent carries the chart to other speeds; it puts rated power at rated rpm and full throttle.
    exponent = np.log(kind.rated_hp / top_hp) / np.log(kind.rated_rpm / kind.rpm)
    speeds = sorted({1700.0, 1900.0, 2100.0, 2300.0, kind.rpm, kind.rated_rpm})
    factors = [(speed / kind.rpm) ** exponent for speed in speeds]
    return {
        "kind": "map_rpm",
        "rpm": speeds,
        "map_inhg": manifold.tolist(),
        "hp": [[round(float(value), 3) for value in at_rpm * factor] for factor in factors],
        "full_throttle": {
            "rpm": speeds,
            "map_inhg": [top_map] * len(speeds),
            "hp": [round(float(top_hp * factor), 3) for factor in factors],
        },
        "critical_altitude_ft": None,
        "source": SOURCE,
        "revision": REVISION,
    }


def turbo_chart() -> dict[str, Any]:
    """VRN-6T, 310 hp at 2,700 rpm and 37 inHg: 30.0 inHg is 75 % and 26.5 inHg 65 % at 2,400 rpm up to 16,000 ft."""
    rated_hp, rated_rpm, rpm = 310.0, 2700.0, 2400.0
    slope = 0.10 * rated_hp / (30.0 - 26.5)
    manifold = [14.0, 18.0, 22.0, 26.5, 30.0, 33.5, 37.0]
    at_rpm = [0.65 * rated_hp + slope * (pressure - 26.5) for pressure in manifold]
    exponent = np.log(rated_hp / at_rpm[-1]) / np.log(rated_rpm / rpm)
    speeds = [1700.0, 2000.0, 2200.0, 2400.0, 2550.0, 2700.0]
    factors = [(speed / rpm) ** exponent for speed in speeds]
    return {
        "kind": "map_rpm",
        "rpm": speeds,
        "map_inhg": manifold,
        "hp": [[round(float(value * factor), 3) for value in at_rpm] for factor in factors],
        "full_throttle": {
            "rpm": speeds,
            "map_inhg": [37.0] * len(speeds),
            "hp": [round(float(at_rpm[-1] * factor), 3) for factor in factors],
        },
        "critical_altitude_ft": 16000.0,
        "source": SOURCE,
        "revision": REVISION,
    }


def fixed_pitch_chart() -> dict[str, Any]:
    """TAV-4C, 160 hp at 2,700 rpm: the printed rows themselves."""
    return {
        "kind": "fixed_pitch",
        "pct_ref": 75,
        "rated_rpm": 2700.0,
        "points": [{"pressure_altitude_ft": a, "rpm": r, "pct": p} for a, r, p in FIXED_PITCH_POINTS],
        "source": SOURCE,
        "revision": REVISION,
    }


def charts() -> dict[str, dict[str, Any]]:
    """All charts by type name."""
    made = {kind.name: constant_speed_chart(kind) for kind in CONSTANT_SPEED}
    made["VRN-6T"] = turbo_chart()
    made["TAV-4C"] = fixed_pitch_chart()
    return made


def as_text(chart: dict[str, Any]) -> str:
    """The text of a chart's file."""
    return json.dumps(chart, indent=1) + "\n"


def main(folder: Path) -> None:
    """Write all charts into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, chart in charts().items():
        (folder / f"{name}.json").write_text(as_text(chart), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
