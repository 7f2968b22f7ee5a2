"""From a mapping of columns to canonical names and units, and the judgement of units from magnitudes.

A unit is judged for a whole group of probes, never for one: one bad probe must not turn its siblings. What magnitudes
can't tell apart - litres and kilograms an hour - is taken by the best physical guess and said in a note.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.errors import BadQuantity
from breakin.calc.recording.unreadable import Unreadable
from breakin.calc.units import Kind, to_canonical

Floats = NDArray[np.float64]
Factor = tuple[float, float]

AVGAS_LB_PER_US_GALLON = 6.0
"""Weight of aviation gasoline in usual planning: FAA-H-8083-1B, Weight and Balance Handbook (from memory)."""
LB_PER_KG = 1 / 0.45359237
KM_PER_NAUTICAL_MILE = 1.852
KM_PER_STATUTE_MILE = 1.609344

_KNOTS = {"kt": 1.0, "km/h": 1 / KM_PER_NAUTICAL_MILE, "mph": KM_PER_STATUTE_MILE / KM_PER_NAUTICAL_MILE}

GROUPS: Mapping[str, tuple[str, ...]] = {
    "rpm": ("rpm",),
    "manifold_pressure": ("inHg", "hPa", "kPa", "psi"),
    "fuel_flow": ("gph", "L/h", "kg/h", "lb/h", "imp gal/h"),
    "oil_temp": ("F", "C"),
    "oil_press": ("psi", "bar", "kPa"),
    "tit": ("F", "C"),
    "cht": ("F", "C"),
    "egt": ("F", "C"),
    "oat": ("F", "C"),
    "alt": ("ft", "m"),
    "airspeed": ("kt", "km/h", "mph"),
}
_KINDS = {
    "manifold_pressure": Kind.PRESSURE_MANIFOLD,
    "fuel_flow": Kind.FUEL_FLOW,
    "oil_press": Kind.OIL_PRESSURE,
    "alt": Kind.ALTITUDE,
} | {name: Kind.TEMPERATURE for name in ("oil_temp", "tit", "cht", "egt", "oat")}
_SAME = {
    "°f": "F", "degf": "F", "deg f": "F", "f": "F", "fahrenheit": "F", "°c": "C", "degc": "C", "deg c": "C", "c": "C",
    "celsius": "C", "inhg": "inHg", "in hg": "inHg", "in.hg": "inHg", "in. hg": "inHg", '"hg': "inHg", "inches": "inHg",
    "hpa": "hPa", "mbar": "hPa", "mb": "hPa", "kpa": "kPa", "psi": "psi", "bar": "bar", "gph": "gph", "gal/h": "gph",
    "gal/hr": "gph", "usg/h": "gph", "us gal/h": "gph", "l/h": "L/h", "l/hr": "L/h", "lph": "L/h", "ltr/h": "L/h",
    "kg/h": "kg/h", "kg/hr": "kg/h", "lb/h": "lb/h", "lb/hr": "lb/h", "pph": "lb/h", "lbs/h": "lb/h",
    "imp gal/h": "imp gal/h", "ft": "ft", "feet": "ft", "m": "m", "metres": "m", "meters": "m", "kt": "kt", "kts": "kt",
    "knots": "kt", "km/h": "km/h", "kmh": "km/h", "kph": "km/h", "mph": "mph", "rpm": "rpm", "1/min": "rpm",
    "u/min": "rpm", "r/min": "rpm", "auto": "auto", "": "auto",
}  # fmt: skip
_ONE = {
    "rpm": "rpm_{e}", "manifold_pressure": "map_{e}_inhg", "fuel_flow": "ff_{e}_gph", "oil_temp": "oil_temp_{e}_degf",
    "oil_press": "oil_press_{e}_psi", "tit": "tit_{e}_degf", "cht": "cht_{e}_{c}_degf", "egt": "egt_{e}_{c}_degf",
    "oat": "oat_degf", "alt": "alt_ft", "airspeed": "ias_kt", "latitude": "latitude_deg", "longitude": "longitude_deg",
}  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """One column of the file and what becomes of it: its name in the table, its group, and its unit as confirmed."""

    column: str
    name: str
    group: str
    unit: str
    engine: str


def unit_of(text: str, group: str) -> str:
    """The unit a text means for a group of channels: one of GROUPS, "auto" for none, "" when it is not known.

    >>> unit_of("deg F", "cht"), unit_of("mbar", "manifold_pressure"), unit_of("furlong", "alt")
    ('F', 'hPa', '')
    """
    unit = _SAME.get(text.strip().casefold(), "")
    return unit if unit == "auto" or unit in GROUPS.get(group, ()) else ""


def wanted_of(mapping: Mapping[str, Any], position: Iterable[tuple[str, str]] = ()) -> tuple[Wanted, ...]:
    """What a mapping asks for.

    Parameters
    ----------
    mapping : in the shape of the channel mapping: "time", "engines", "common", "units".
    position : (channel, column) of latitude and longitude, when they are to be kept.

    Raises
    ------
    Unreadable : a mapping of another shape, no engine channel, one column for two things, an unknown unit.
    """
    units = mapping.get("units") or {}
    found: list[Wanted] = []

    def add(group: str, column: object, engine: str = "", cylinder: int = 0) -> None:
        if not isinstance(column, str):
            raise Unreadable(f"the mapping of {group} is not a name of a column", mend="Choose the column again.")
        unit = unit_of(str(units.get(column, "auto")), group) if group in GROUPS else "deg"
        if not unit:
            mend = f"Choose one of {', '.join(GROUPS[group])}."
            raise Unreadable(f"the unit “{units[column]}” does not fit", column=column, mend=mend)
        found.append(Wanted(column, _ONE[group].format(e=engine, c=cylinder), group, unit, engine))

    try:
        for engine, channels in sorted((mapping.get("engines") or {}).items()):
            if engine not in ("1", "2"):
                raise Unreadable(f"engine “{engine}” is not 1 or 2", mend="Choose the columns again.")
            for group, column in channels.items():
                if group in ("cht", "egt"):
                    for cylinder, one in enumerate(column, 1):
                        if one is not None:
                            add(group, one, engine, cylinder)
                elif group in GROUPS and column is not None:
                    add(group, column, engine)
        for group in ("oat", "alt", "airspeed"):
            if (mapping.get("common") or {}).get(group) is not None:
                add(group, mapping["common"][group])
    except (AttributeError, TypeError) as error:
        raise Unreadable("the mapping of columns has a wrong shape", mend="Choose the columns again.") from error
    if not any(one.engine for one in found):
        raise Unreadable("no column of an engine is chosen", mend="Choose at least engine speed.")
    for channel, column in position:
        add(channel, column)
    seen: set[str] = set()
    for one in found:
        if one.column in seen:
            raise Unreadable("the column is chosen for two things", column=one.column, mend="Choose it once.")
        seen.add(one.column)
    return tuple(found)


def factor(unit: str, group: str, fuel_lb_per_gal: float = AVGAS_LB_PER_US_GALLON) -> Factor:
    """(scale, offset) that turn a unit of the file into the canonical one.

    >>> scale, offset = factor("C", "cht")
    >>> round(100 * scale + offset)
    212
    """
    if unit in ("kg/h", "lb/h"):
        return (LB_PER_KG if unit == "kg/h" else 1.0) / fuel_lb_per_gal, 0.0
    if group == "airspeed":
        return {"kt": 1.0, "km/h": 1 / KM_PER_NAUTICAL_MILE, "mph": KM_PER_STATUTE_MILE / KM_PER_NAUTICAL_MILE}[
            unit
        ], 0.0
    if unit == "psi" and group == "manifold_pressure":
        return to_canonical(6.894757293168, "kPa", Kind.PRESSURE_MANIFOLD), 0.0
    kind = _KINDS.get(group)
    if kind is None:
        return 1.0, 0.0
    try:
        offset = to_canonical(0.0, unit, kind)
        # The scale as it is written in the table of units: a difference of two conversions would round it.
        scale = 1.8 if kind is Kind.TEMPERATURE and offset else to_canonical(1.0, unit, kind) - offset
    except BadQuantity as error:
        raise Unreadable(f"the unit “{unit}” does not fit {group}", mend="Choose the unit again.") from error
    return scale, offset


@dataclass(frozen=True)
class Units:
    """The unit of each group that was left open, and what to say about it. `weak`: groups that could be otherwise."""

    units: Mapping[str, str]
    notes: tuple[str, ...]
    weak: tuple[str, ...]


def _top(columns: Mapping[str, Floats], wanted: Iterable[Wanted], group: str, share: float = 97.0) -> float:
    """A high value of a group, by the median of its probes."""
    tops = []
    for one in wanted:
        if one.group == group:
            values = columns[one.column]
            values = values[np.isfinite(values) & (np.abs(values) < 5000.0)]
            if len(values):
                tops.append(float(np.percentile(values, share)))
    return float(np.median(tops)) if tops else float("nan")


def judged(
    columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], rated_hp: Mapping[str, float] | None = None
) -> Units:
    """Units from magnitudes, for every group of which there are columns, whatever the mapping says of it.

    Parameters
    ----------
    columns : values as in the file, by name of the column.
    rated_hp : rated power of each engine [hp], where known; it tells the units of fuel flow.
    """
    units: dict[str, str] = {}
    notes: list[str] = []
    weak: list[str] = []
    groups = {one.group for one in wanted}

    egt, cht, tit, oil = (_top(columns, wanted, group) for group in ("egt", "cht", "tit", "oil_temp"))
    hot = max((one for one in (egt, tit) if np.isfinite(one)), default=float("nan"))
    votes = (2.0 if hot > 1000 else -2.0 if hot > 420 else 0.0) if np.isfinite(hot) else 0.0
    if np.isfinite(cht):
        votes += 1.0 if cht > 260 else -1.0 if cht < 190 else 0.0
    if np.isfinite(oil):
        votes += 1.0 if oil > 135 else -1.0 if oil < 115 else 0.0
    for group in ("egt", "tit", "cht", "oil_temp"):
        if group in groups:
            own = {"egt": egt, "tit": tit, "cht": cht, "oil_temp": oil}[group]
            line = {"egt": 1000.0, "tit": 1000.0, "cht": 260.0, "oil_temp": 130.0}[group]
            units[group] = ("F" if votes > 0 else "C") if votes else ("F" if own > line else "C")
            if abs(votes) < 2:
                weak.append(group)
    if "oat" in groups:
        units["oat"], sure = _air(columns, wanted, "F" if votes > 0 else "C")
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
        units["alt"], sure = _height(columns, wanted, units.get("manifold_pressure", "inHg"))
        if not sure:
            weak.append("alt")
    if "airspeed" in groups:
        top = _top(columns, wanted, "airspeed")
        units["airspeed"] = "km/h" if top > 220 else "kt"
        if 150 < top < 320:
            weak.append("airspeed")
    if "fuel_flow" in groups:
        units["fuel_flow"], note = _fuel(columns, wanted, rated_hp or {})
        weak.append("fuel_flow")
        notes.append(note)
    return Units(units, tuple(notes), tuple(weak))


def _column(columns: Mapping[str, Floats], wanted: Iterable[Wanted], group: str) -> Floats | None:
    return next((columns[one.column] for one in wanted if one.group == group), None)


def _air(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], of_engine: str) -> tuple[str, bool]:
    """Outside air: over 50 it can't be degC, under -30 it can't well be degF; between, as the engine's temperatures."""
    top = _top(columns, wanted, "oat")
    low = _top(columns, wanted, "oat", 3.0)
    if top > 50:
        return "F", True
    if low < -15:
        return "C", True
    return of_engine, False


def _height(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], pressure_unit: str) -> tuple[str, bool]:
    """Feet or metres, from the pressure with the engine stopped, else from the fastest climb."""
    height = _column(columns, wanted, "alt")
    rpm, pressure = _column(columns, wanted, "rpm"), _column(columns, wanted, "manifold_pressure")
    if height is None:
        return "ft", False
    if rpm is not None and pressure is not None:
        scale, _none = factor(pressure_unit, "manifold_pressure")
        still = (rpm < 50) & np.isfinite(pressure) & np.isfinite(height)
        if still.sum() >= 3:
            read, at = float(np.median(pressure[still])) * scale, float(np.median(height[still]))
            # Altitude of a pressure in the standard atmosphere: ICAO Doc 7488, 1993 edition.
            implied = 145_366.45 * (1 - (max(read, 1.0) / 29.9213) ** 0.190284)
            as_feet, as_metres = abs(implied - at), abs(implied - at / 0.3048)
            if abs(as_feet - as_metres) > 600:
                return ("ft" if as_feet < as_metres else "m"), True
    good = height[np.isfinite(height)]
    rise = float(np.percentile(good, 98) - np.percentile(good, 2)) if len(good) else 0.0
    return ("ft", rise > 6000 or rise < 30) if rise > 2200 else ("ft", False)


def _fuel(columns: Mapping[str, Floats], wanted: tuple[Wanted, ...], rated_hp: Mapping[str, float]) -> tuple[str, str]:
    """Gallons, litres or kilograms an hour: the one whose greatest flow best fits the engine's power."""
    top = _top(columns, wanted, "fuel_flow", 99.0)
    engines = {one.engine for one in wanted if one.group == "fuel_flow"}
    powers = [rated_hp[one] for one in engines if one in rated_hp]
    if powers:
        # Full throttle, full rich near the ground burns about 0.095 gal/h for each hp (common practice, no source).
        wants = 0.095 * float(np.mean(powers))
    else:
        heads = max(
            (sum(one.group == "cht" and one.engine == engine for one in wanted) for engine in engines), default=0
        )
        wants = 24.0 if heads >= 6 else 14.0
    sizes = {unit: factor(unit, "fuel_flow")[0] for unit in ("gph", "L/h", "kg/h")}
    if not np.isfinite(top) or top <= 0:
        return "gph", "Fuel flow was read as gallons an hour; there was no flow to tell by."
    unit = min(sizes, key=lambda one: abs(np.log(top * sizes[one] / wants)))
    word = {"gph": "gallons", "L/h": "litres", "kg/h": "kilograms"}[unit]
    why = "of the engine's power" if powers else "of its number of cylinders"
    return unit, f"The unit of fuel flow was not given; read as {word} an hour, which fits an engine {why} best."
