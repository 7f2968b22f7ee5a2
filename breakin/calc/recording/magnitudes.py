"""Units told by the size of the numbers.

A unit is judged for a whole group of probes, never for one: one bad probe must not turn its siblings. What magnitudes
can't tell apart - litres and kilograms an hour - is taken by the best physical guess and said in a note.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.scales import GROUPS, Wanted, factor

Floats = NDArray[np.float64]

FULL_RICH_GPH_PER_HP = 0.087
"""Fuel at take-off, full rich, for each rated horsepower: 0.5 to 0.55 lb/hp h (common practice, no source)."""


@dataclass(frozen=True)
class Units:
    """The unit of each group that was left open, and what to say about it. `weak`: groups that could be otherwise.

    unfit : units that the numbers rule out, by group.
    """

    units: Mapping[str, str]
    notes: tuple[str, ...]
    weak: tuple[str, ...]
    unfit: Mapping[str, tuple[str, ...]]


def _top(columns: Mapping[str, Floats], wanted: Iterable[Wanted], group: str, share: float = 97.0) -> float:
    """A high value of a group, by the median of its probes."""
    tops = []
    for one in wanted:
        if one.group == group:
            values = columns[one.column]
            values = values[np.isfinite(values) & (np.abs(values) < 5000.0)]
            if len(values):
                place = int(share / 100.0 * (len(values) - 1))
                tops.append(float(np.partition(values, place)[place]))
    return float(np.median(tops)) if tops else float("nan")


def judged(
    columns: Mapping[str, Floats],
    wanted: tuple[Wanted, ...],
    rated_hp: Mapping[str, float] | None = None,
    t: Floats | None = None,
) -> Units:
    """Units from magnitudes, for every group of which there are columns, whatever the mapping says of it.

    Parameters
    ----------
    columns : values as in the file, by name of the column.
    rated_hp : rated power of each engine [hp], where known; it tells the units of fuel flow.
    t : time of each row [s], where known; the rate of climb helps to tell feet from metres.
    """
    units: dict[str, str] = {}
    notes: list[str] = []
    weak: list[str] = []
    unfit: dict[str, tuple[str, ...]] = {}
    groups = {one.group for one in wanted}

    hot = _engine_temperatures(columns, wanted)
    of_engine = max(hot.values(), key=lambda each: each[1], default=("F", 0.0))[0]
    for group, (unit, sure) in hot.items():
        units[group] = unit if sure else of_engine
        if sure < 1.0:
            weak.append(group)
    if "oat" in groups:
        units["oat"], sure = _air(columns, wanted, of_engine)
        if not sure:
            weak.append("oat")
    if "rpm" in groups:
        units["rpm"] = "rpm"
    if "manifold_pressure" in groups:
        top = _top(columns, wanted, "manifold_pressure")
        units["manifold_pressure"] = "hPa" if top > 250 else "kPa" if top > 62 else "psi" if top < 15.5 else "inHg"
    if "oil_press" in groups:
        top = _top(columns, wanted, "oil_press")
        units["oil_press"] = "bar" if top < 12 else "kPa" if top > 160 else "psi"
    if "alt" in groups:
        units["alt"], sure = _height(columns, wanted, units.get("manifold_pressure", "inHg"), units.get("oat", "C"), t)
        if not sure:
            weak.append("alt")
    if "airspeed" in groups:
        top = _top(columns, wanted, "airspeed")
        units["airspeed"] = "km/h" if top > 220 else "kt"
        height = _column(columns, wanted, "alt")
        flew = height is not None and np.isfinite(height).any() and float(np.nanmax(height) - np.nanmin(height)) > 800
        # In flight less than 160 is too slow for km/h.
        if top <= 320 and not (flew and top < 160):
            weak.append("airspeed")
    if "fuel_flow" in groups:
        pressure_unit = units.get("manifold_pressure", "inHg")
        units["fuel_flow"], note, unfit["fuel_flow"] = _fuel(columns, wanted, rated_hp or {}, pressure_unit)
        weak.append("fuel_flow")
        notes.append(note)
    return Units(units, tuple(notes), tuple(weak), unfit)


def _column(columns: Mapping[str, Floats], wanted: Iterable[Wanted], group: str) -> Floats | None:
    return next((columns[one.column] for one in wanted if one.group == group), None)


_LINES = {"egt": (1000.0, 720.0), "tit": (1000.0, 720.0), "cht": (235.0, 230.0), "oil_temp": (118.0, 118.0)}
"""Between degC and degF of a group: with the engine at power, and else (common practice, no source)."""


def _engine_temperatures(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...]) -> dict[str, tuple[str, float]]:
    """Unit of each group of the engine's temperatures by its own size, and how sure that is: 0, 0.5 or 1."""
    found: dict[str, tuple[str, float]] = {}
    pressure = _top(columns, wanted, "manifold_pressure")
    idle = pressure < 18.0 or 62.0 < pressure < 610.0
    at_power = _top(columns, wanted, "rpm") > 2000 and not idle
    for group, (at_work, else_) in _LINES.items():
        top = _top(columns, wanted, group)
        if not np.isfinite(top):
            continue
        line = at_work if at_power else else_
        apart = abs(float(np.log(max(top, 1.0) / line)))
        sure = (1.0 if apart > 0.12 else 0.5) if at_power or top > line else 0.5 if group in ("egt", "tit") else 0.0
        found[group] = ("F" if top > line else "C"), sure
    return found


def _air(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], of_engine: str) -> tuple[str, bool]:
    """Outside air: over 50 it can't be degC, under -15 it can't well be degF; between, as a cold engine's probes."""
    if _top(columns, wanted, "oat") > 50:
        return "F", True
    if _top(columns, wanted, "oat", 3.0) < -15:
        return "C", True
    air, rpm = _column(columns, wanted, "oat"), _column(columns, wanted, "rpm")
    if air is None or rpm is None:
        return of_engine, False
    still = (rpm < 50) & np.isfinite(air)
    cold = [
        float(np.nanmedian(columns[one.column][still]))
        for one in wanted
        if one.group in ("egt", "cht", "oil_temp") and np.isfinite(columns[one.column][still]).any()
    ]
    if not cold:
        return of_engine, False
    coldest, outside = _celsius(min(cold), of_engine), float(np.median(air[still]))
    off = {unit: abs(_celsius(outside, unit) - coldest) for unit in ("F", "C")}
    near, far = sorted(off, key=off.__getitem__)
    return (near, True) if off[near] < 5.0 and off[far] > 12.0 else (of_engine, False)


def _celsius(value: float, unit: str) -> float:
    return (value - 32.0) / 1.8 if unit == "F" else value


def _height(
    columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], pressure_unit: str, air_unit: str, t: Floats | None
) -> tuple[str, bool]:
    """Feet or metres, and whether that is sure.

    Four witnesses: manifold pressure with the engine stopped is that of the air; without a turbocharger it is never
    over that of the air; the air cools by 2 degC in 1,000 ft; and a piston aircraft climbs 300 to 1,600 ft a minute.
    One of them may lie: manifold pressure may be off, and an inversion is warmer above.
    """
    height = _column(columns, wanted, "alt")
    if height is None or not np.isfinite(height).any():
        return "ft", False
    scale, _none = factor(pressure_unit, "manifold_pressure")
    votes = 0.0
    nearest = []
    for side in sorted({one.engine for one in wanted if one.engine}):
        of = [one for one in wanted if one.engine == side]
        rpm, pressure = _column(columns, of, "rpm"), _column(columns, of, "manifold_pressure")
        if rpm is None or pressure is None:
            continue
        still = (rpm < 50) & np.isfinite(pressure) & np.isfinite(height)
        if still.sum() >= 2:
            implied = _pressure_altitude(float(np.median(pressure[still])) * scale)
            at = float(np.median(height[still]))
            nearest.append((min(abs(implied - at), abs(implied - at / 0.3048)), implied, at))
        running = (rpm > 1500) & np.isfinite(pressure) & np.isfinite(height) & (height > 0)
        if running.sum() > 20 and np.percentile(pressure[running], 99) * scale < 31.0:
            over = _pressure_altitude(pressure[running] * scale)
            votes += 2.0 * (np.mean(height[running] / 0.3048 > over + 1500.0) > 0.02)
    if nearest:
        _far, implied, at = min(nearest)
        as_feet, as_metres = abs(implied - at), abs(implied - at / 0.3048)
        if abs(as_feet - as_metres) > 400:
            votes += 2.0 if as_feet < as_metres else -2.0
    votes += _lapse(columns, wanted, height, air_unit) + _climb(height, t)
    return ("ft" if votes >= 0 else "m"), abs(votes) >= 2.0


def _pressure_altitude(pressure_inhg: float | Floats) -> Floats:
    """Altitude of a pressure in the standard atmosphere [ft]: ICAO Doc 7488, 1993 edition."""
    return np.asarray(145_366.45 * (1 - (np.maximum(pressure_inhg, 1.0) / 29.9213) ** 0.190284))


def _climb(height: Floats, t: Floats | None) -> float:
    if t is None:
        return 0.0
    known = np.isfinite(height)
    at, up = t[known], height[known]
    ahead = np.searchsorted(at, at + 60.0)
    inside = ahead < len(at)
    if inside.sum() < 10:
        return 0.0
    lasted = at[ahead[inside]] - at[inside]
    rates = ((up[ahead[inside]] - up[inside]) / lasted * 60.0)[lasted < 150.0]
    if not len(rates):
        return 0.0
    fastest = float(np.percentile(rates, 97))
    return 2.0 if fastest > 520.0 else -1.0 if 100.0 < fastest < 330.0 else 0.0


def _lapse(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], height: Floats, air_unit: str) -> float:
    air = _column(columns, wanted, "oat")
    if air is None:
        return 0.0
    known = np.isfinite(air) & np.isfinite(height)
    if known.sum() < 40:
        return 0.0
    low, high = np.percentile(height[known], (20, 80))
    if high - low < 600:
        return 0.0
    cooled = float(np.median(air[known & (height <= low)]) - np.median(air[known & (height >= high)]))
    rate = cooled / (1.8 if air_unit == "F" else 1.0) / (high - low) * 1000.0
    if rate <= 0.5:
        return 0.0
    # 1.98 in 1,000 ft or 6.5 in 1,000 m; between them lies 3.6.
    return 1.0 if rate < 3.0 else -1.0 if rate > 4.3 else 0.0


def _fuel(
    columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], rated_hp: Mapping[str, float], pressure_unit: str
) -> tuple[str, str, tuple[str, ...]]:
    """Gallons, litres or kilograms an hour, as the greatest flow best fits the engine; why; and what can't be."""
    top = _top(columns, wanted, "fuel_flow", 99.0)
    engines = {one.engine for one in wanted if one.group == "fuel_flow"}
    powers = [rated_hp[one] for one in engines if one in rated_hp]
    if powers:
        wants = FULL_RICH_GPH_PER_HP * float(np.mean(powers))
        pressure = _top(columns, wanted, "manifold_pressure", 99.0) * factor(pressure_unit, "manifold_pressure")[0]
        if np.isfinite(pressure):
            wants *= min(1.0, max(pressure, 15.0) / 29.5)
    else:
        heads = [sum(one.group in ("cht", "egt") and one.engine == engine for one in wanted) for engine in engines]
        wants = 24.0 if max(heads, default=0) >= 10 else 14.0
    if not np.isfinite(top) or top <= 0:
        return "gph", "Fuel flow was read as gallons an hour; there was no flow to tell by.", ()
    off = {unit: float(np.log(top * factor(unit, "fuel_flow")[0] / wants)) for unit in GROUPS["fuel_flow"]}
    unit = min(("gph", "L/h", "kg/h"), key=lambda one: abs(off[one]))
    word = {"gph": "gallons", "L/h": "litres", "kg/h": "kilograms"}[unit]
    why = "its power" if powers else "its number of cylinders"
    note = f"The unit of fuel flow was not given; read as {word} an hour, which fits an engine of {why} best."
    pressure = _top(columns, wanted, "manifold_pressure", 99.0) * factor(pressure_unit, "manifold_pressure")[0]
    powered = pressure > 23.0  # a run on the ground at low power burns little in any unit
    return unit, note, tuple(one for one, by in off.items() if by > 0.8 or (by < -0.8 and powered))
