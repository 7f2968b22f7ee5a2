"""From a mapping of columns to canonical names and the factors of their units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakin.calc.errors import BadQuantity
from breakin.calc.recording.unreadable import Unreadable
from breakin.calc.units import Kind, to_canonical

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


def wanted_of(mapping: Mapping[str, Any], *, keep_position: bool = False) -> tuple[Wanted, ...]:
    """What a mapping asks for.

    Parameters
    ----------
    mapping : in the shape of the channel mapping: "time", "engines", "common", "units".
    keep_position : with the columns of latitude and longitude, which stand under "position".

    Raises
    ------
    Unreadable : a mapping of another shape, no engine channel, one column for two things, an unknown unit.
    """
    found: list[Wanted] = []

    def add(group: str, column: object, engine: str = "", cylinder: int = 0) -> None:
        if not isinstance(column, str):
            raise Unreadable(f"the mapping of {group} is not a name of a column", mend="Choose the column again.")
        unit = unit_of(str((mapping.get("units") or {}).get(column, "auto")), group) if group in GROUPS else "deg"
        if not unit:
            mend = f"Choose one of {', '.join(GROUPS[group])}."
            raise Unreadable(f"the unit “{mapping['units'][column]}” does not fit", column=column, mend=mend)
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
        for channel in ("latitude", "longitude") if keep_position else ():
            if (mapping.get("position") or {}).get(channel) is not None:
                add(channel, mapping["position"][channel])
    except (AttributeError, TypeError) as error:
        raise Unreadable("the mapping of columns has a wrong shape", mend="Choose the columns again.") from error
    if not any(one.engine for one in found):
        raise Unreadable("no column of an engine is chosen", mend="Choose at least engine speed.")
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
