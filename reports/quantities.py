"""Quantities as text in the reader's units, for page objects and templates. Nothing known reads "not known"."""

from __future__ import annotations

from math import floor, isfinite, log10

from django.utils.translation import gettext as _

from breakin.calc.units import NARROW_SPACE, Kind, display_unit, from_canonical, show
from breakin.calc.units import written as unit_written
from shop import written

NOT_KNOWN = "not known"  # as the shop's side says it; `not_known` in the language of the page
PLUS_MINUS = "\u202f±\u202f"

_KINDS: dict[str, Kind] = {
    "volume": Kind.VOLUME,
    "temperature": Kind.TEMPERATURE,
    "difference": Kind.TEMPERATURE_DIFFERENCE,
    "manifold": Kind.PRESSURE_MANIFOLD,
    "altimeter": Kind.PRESSURE_ALTIMETER,
    "oil_pressure": Kind.OIL_PRESSURE,
    "fuel_flow": Kind.FUEL_FLOW,
    "altitude": Kind.ALTITUDE,
    "rpm": Kind.SPEED_RPM,
    "hours": Kind.HOURS,
    "minutes": Kind.MINUTES,
    "power": Kind.POWER,
    "ground_speed": Kind.GROUND_SPEED,
}


def quantity(value: float | None, kind: str, units: str, decimals: int | None = None) -> str:
    """A canonical value with its unit, "7.8 L"; "not known" for nothing.

    `kind` is one of volume, temperature, difference, manifold, altimeter, oil_pressure, fuel_flow, altitude, rpm,
    hours, minutes, power, ground_speed. Raises KeyError for another.
    """
    return not_known() if value is None else shown(show(value, _KINDS[kind], units, decimals))


def not_known() -> str:
    return _("not known")


def shown(text: str) -> str:
    """A number with its unit behind it, with the decimal mark of the language."""
    digits, space, name = text.partition(NARROW_SPACE)
    return f"{written.digits(digits)}{space}{name}"


def unit(kind: str, units: str) -> str:
    """The unit in which the reader sees this kind, as printed: "qt", "°C"."""
    return unit_written(display_unit(_KINDS[kind], units))


def in_units(value: float, kind: str, units: str) -> float:
    """The bare number in the reader's unit, for plots."""
    return from_canonical(value, display_unit(_KINDS[kind], units), _KINDS[kind])


def oil_rate(value: float | None, u: float | None, units: str) -> str:
    """A loss of oil with its one-sigma uncertainty, "0.11 ± 0.04 qt/h", both to the same place.

    value, u : float or None [qt/h].
    """
    if value is None:
        return not_known()
    name = f"{unit('volume', units)}/h"
    rate = in_units(value, "volume", units)
    if u is None or not isfinite(u):
        return _("%(rate)s, uncertainty not known") % {"rate": f"{written.number(rate, 2)}{NARROW_SPACE}{name}"}
    doubt = in_units(u, "volume", units)
    places = _places(doubt)
    return f"{written.number(rate, places)}{PLUS_MINUS}{written.number(doubt, places)}{NARROW_SPACE}{name}"


def accepted_rate(value: float, units: str) -> str:
    """A loss of oil that is set down and has no uncertainty, "0.23 qt/h"."""
    return f"{written.number(in_units(value, 'volume', units), 2)}{NARROW_SPACE}{unit('volume', units)}/h"


def level(value: float | None, u: float | None, units: str) -> str:
    """A dipstick level with its one-sigma uncertainty, "8.25 ± 0.15 qt"; without the latter if not known."""
    if value is None:
        return not_known()
    name = unit("volume", units)
    level_there = written.number(in_units(value, "volume", units), 2)
    if u is None:
        return f"{level_there}{NARROW_SPACE}{name}"
    return f"{level_there}{PLUS_MINUS}{written.number(in_units(u, 'volume', units), 2)}{NARROW_SPACE}{name}"


def hours_of(hours: float, low: float | None, high: float | None) -> str:
    """Hours run against the hours expected: "13.5 h of 8 to 12 h"."""
    run = f"{written.number(hours, 1)}{NARROW_SPACE}h"
    expected = expected_hours(low, high)
    return f"{run} {expected}" if expected else run


def expected_hours(low: float | None, high: float | None) -> str:
    """The hours expected, "of 8 to 12 h"; nothing where no plan says so."""
    if low is None or high is None:
        return ""
    return f"of {low:g}{NARROW_SPACE}h" if low == high else f"of {low:g} to {high:g}{NARROW_SPACE}h"


def minutes_text(minutes: float | None) -> str:
    """Minutes as people say them: "45 min", "1 h 05 min"."""
    if minutes is None:
        return NOT_KNOWN
    whole = round(minutes)
    if whole < 60:
        return f"{whole}{NARROW_SPACE}min"
    return f"{whole // 60}{NARROW_SPACE}h {whole % 60:02d}{NARROW_SPACE}min"


def share(value: float | None) -> str:
    """A share of one in whole percent, "85 %"."""
    return not_known() if value is None else f"{value * 100:.0f}{NARROW_SPACE}%"


def _places(doubt: float) -> int:
    if doubt <= 0:
        return 2
    power = floor(log10(doubt))
    leading = int(doubt / 10**power + 1e-9)
    return max(1, min(4, -power + (1 if leading == 1 else 0)))
