"""Units: what people type, what is kept inside, what they are shown.

Inside, every quantity is in one canonical unit: US quart, degF, delta-degF, inHg, psi, US gal/h, ft, rpm,
hours, minutes, hp, kt. Conversion happens at the edge only. A temperature *difference* is a kind of its own:
a level of 100 degF is 37.8 degC, a difference of 100 degF is 55.6 degC.

Sources of the constants: exact definitions (1 ft = 0.3048 m, 1 US gal = 231 cubic inches, 1 imperial gallon =
4.54609 L, 1 inch = 25.4 mm); 1 inHg = 33.8638866667 hPa and 1 hp = 745.7 W as in the unit tables of the Society
of Flight Test Engineers, Technical Handbook, 2013 edition, section 1.
"""

import math
import re
from dataclasses import dataclass
from enum import Enum

from breakin.calc.errors import BadQuantity, MissingData
from breakin.calc.sentence import said

LITRES_PER_US_GALLON = 3.785411784
LITRES_PER_US_QUART = LITRES_PER_US_GALLON / 4
LITRES_PER_IMPERIAL_GALLON = 4.54609
LITRES_PER_IMPERIAL_QUART = LITRES_PER_IMPERIAL_GALLON / 4
HPA_PER_INHG = 33.8638866667
KPA_PER_PSI = 6.894757293168
METRES_PER_FOOT = 0.3048
WATTS_PER_HP = 745.7

NARROW_SPACE = "\u202f"
MINUS = "\u2212"


class Kind(Enum):
    """What a number measures. The kind decides which units are accepted and how they convert."""

    VOLUME = "volume"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    PRESSURE_MANIFOLD = "manifold pressure"
    PRESSURE_ALTIMETER = "altimeter setting"
    OIL_PRESSURE = "oil pressure"
    FUEL_FLOW = "fuel flow"
    ALTITUDE = "altitude"
    SPEED_RPM = "engine speed"
    HOURS = "hours"
    MINUTES = "minutes"
    POWER = "power"
    GROUND_SPEED = "ground speed"


@dataclass(frozen=True)
class Quantity:
    """A value as understood and as typed.

    value : float - in the canonical unit of its kind.
    typed_text : str - exactly what was typed.
    typed_unit : str - the unit that was applied, by its full name.
    """

    value: float
    typed_text: str
    typed_unit: str


# canonical = typed * scale + offset. The first unit of each kind is the canonical one.
_PRESSURE_SMALL = {
    "inHg": (1.0, 0.0),
    "hPa": (1 / HPA_PER_INHG, 0.0),
    "mbar": (1 / HPA_PER_INHG, 0.0),
    "kPa": (10 / HPA_PER_INHG, 0.0),
    "mmHg": (1 / 25.4, 0.0),
}
_SCALES: dict[Kind, dict[str, tuple[float, float]]] = {
    Kind.VOLUME: {
        "qt": (1.0, 0.0),
        "L": (1 / LITRES_PER_US_QUART, 0.0),
        "mL": (0.001 / LITRES_PER_US_QUART, 0.0),
        "imp qt": (LITRES_PER_IMPERIAL_QUART / LITRES_PER_US_QUART, 0.0),
        "gal": (4.0, 0.0),
        "imp gal": (4 * LITRES_PER_IMPERIAL_QUART / LITRES_PER_US_QUART, 0.0),
    },
    Kind.TEMPERATURE: {"degF": (1.0, 0.0), "degC": (1.8, 32.0)},
    Kind.TEMPERATURE_DIFFERENCE: {"ddegF": (1.0, 0.0), "ddegC": (1.8, 0.0)},
    Kind.PRESSURE_MANIFOLD: _PRESSURE_SMALL,
    Kind.PRESSURE_ALTIMETER: _PRESSURE_SMALL,
    Kind.OIL_PRESSURE: {"psi": (1.0, 0.0), "bar": (100 / KPA_PER_PSI, 0.0), "kPa": (1 / KPA_PER_PSI, 0.0)},
    Kind.FUEL_FLOW: {
        "gal/h": (1.0, 0.0),
        "L/h": (1 / LITRES_PER_US_GALLON, 0.0),
        "imp gal/h": (LITRES_PER_IMPERIAL_GALLON / LITRES_PER_US_GALLON, 0.0),
    },
    Kind.ALTITUDE: {"ft": (1.0, 0.0), "m": (1 / METRES_PER_FOOT, 0.0)},
    Kind.SPEED_RPM: {"rpm": (1.0, 0.0)},
    Kind.HOURS: {"h": (1.0, 0.0), "min": (1 / 60, 0.0)},
    Kind.MINUTES: {"min": (1.0, 0.0), "h": (60.0, 0.0)},
    Kind.POWER: {"hp": (1.0, 0.0), "kW": (1000 / WATTS_PER_HP, 0.0)},
    # 1 nautical mile = 1,852 m, 1 statute mile = 5,280 ft (both exact).
    Kind.GROUND_SPEED: {"kt": (1.0, 0.0), "km/h": (1 / 1.852, 0.0), "mph": (5280 * METRES_PER_FOOT / 1852, 0.0)},
}

# Other ways of writing the same unit, compared without regard to case and blanks.
_ALIASES: dict[str, str] = {
    "usqt": "qt", "quart": "qt", "quarts": "qt", "usquart": "qt", "usquarts": "qt", "qts": "qt",
    "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L", "ltr": "L", "ml": "mL",
    "impqt": "imp qt", "impquart": "imp qt", "impquarts": "imp qt", "imperialquart": "imp qt",
    "imperialquarts": "imp qt", "ukqt": "imp qt", "imperialqt": "imp qt",
    "usgal": "gal", "gallon": "gal", "gallons": "gal", "impgal": "imp gal", "imperialgallon": "imp gal",
    "°f": "degF", "f": "degF", "fahrenheit": "degF", "°c": "degC", "c": "degC", "celsius": "degC",
    "inhg": "inHg", "\"hg": "inHg", "in.hg": "inHg", "inch": "inHg", "inches": "inHg",
    "hpa": "hPa", "mbar": "mbar", "mb": "mbar", "millibar": "mbar", "kpa": "kPa", "mmhg": "mmHg",
    "gph": "gal/h", "usgal/h": "gal/h", "gal/hr": "gal/h", "lph": "L/h", "l/hr": "L/h", "l/h": "L/h",
    "impgal/h": "imp gal/h", "foot": "ft", "feet": "ft", "'": "ft", "metre": "m", "metres": "m", "meter": "m",
    "meters": "m", "hour": "h", "hours": "h", "hr": "h", "hrs": "h", "mins": "min", "minute": "min",
    "minutes": "min", "1/min": "rpm", "r/min": "rpm", "kw": "kW", "bhp": "hp", "bars": "bar",
    "kts": "kt", "knot": "kt", "knots": "kt", "kn": "kt", "kmh": "km/h", "kph": "km/h",
}  # fmt: skip
_DIFFERENCE_OF = {"degf": "ddegF", "degc": "ddegC", "k": "ddegC", "kelvin": "ddegC"}

UNITS: dict[Kind, tuple[str, ...]] = {kind: tuple(scales) for kind, scales in _SCALES.items()}
CANONICAL: dict[Kind, str] = {kind: names[0] for kind, names in UNITS.items()}

_SI = {
    Kind.VOLUME: "L",
    Kind.TEMPERATURE: "degC",
    Kind.TEMPERATURE_DIFFERENCE: "ddegC",
    Kind.PRESSURE_MANIFOLD: "hPa",
    Kind.PRESSURE_ALTIMETER: "hPa",
    Kind.OIL_PRESSURE: "bar",
    Kind.FUEL_FLOW: "L/h",
    Kind.POWER: "kW",
}
# Mixed: what the cockpit instruments and the dipstick are marked in stays; the weather report and fuel are metric.
_MIXED = {
    Kind.TEMPERATURE: "degC",
    Kind.TEMPERATURE_DIFFERENCE: "ddegC",
    Kind.PRESSURE_ALTIMETER: "hPa",
    Kind.FUEL_FLOW: "L/h",
}
_SYSTEMS: dict[str, dict[Kind, str]] = {"us": {}, "si": _SI, "mixed": _MIXED}

_WRITTEN = {"degF": "°F", "degC": "°C", "ddegF": "°F", "ddegC": "°C"}
_DECIMALS = {
    "qt": 2, "imp qt": 2, "L": 2, "mL": 0, "gal": 2, "imp gal": 2, "degF": 0, "degC": 0, "ddegF": 0, "ddegC": 0,
    "inHg": 1, "hPa": 0, "mbar": 0, "kPa": 1, "mmHg": 0, "psi": 0, "bar": 1, "gal/h": 1, "L/h": 0,
    "imp gal/h": 1, "ft": 0, "m": 0, "rpm": 0, "h": 1, "min": 0, "hp": 0, "kW": 0, "kt": 0, "km/h": 0, "mph": 0,
}  # fmt: skip

_NUMBER_AND_UNIT = re.compile(r"^(?P<number>[+-]?[0-9.,:]+)\s*(?P<unit>.*)$", re.DOTALL)
_PLAIN_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)$")
_COMMA_AND_THREE = re.compile(r"^[+-]?(?!0,)\d{1,3},\d{3}$")
_H_MM = re.compile(r"^(?P<hours>\d+):(?P<minutes>[0-5]\d)$")


def unit_name(unit: str, kind: Kind) -> str:
    """The full name of a unit as typed, or a refusal that lists what is accepted.

    Parameters
    ----------
    unit : str - a unit in any of its usual spellings.
    kind : Kind

    Returns
    -------
    str - one of ``UNITS[kind]``.

    Raises
    ------
    BadQuantity : unknown unit, or a unit of another kind.

    >>> unit_name("Litres", Kind.VOLUME)
    'L'
    """
    scales = _SCALES[kind]
    if unit in scales:
        return unit
    squeezed = re.sub(r"[\s.Δ]+", "", unit).casefold()
    name = _ALIASES.get(squeezed, squeezed)
    if kind is Kind.TEMPERATURE_DIFFERENCE:
        name = _DIFFERENCE_OF.get(name.casefold(), name)
    for accepted in scales:
        if name == accepted or name.casefold() == accepted.casefold().replace(" ", ""):
            return accepted
    wanted = ", ".join(_WRITTEN.get(name, name) for name in scales)
    raise BadQuantity(
        said("the unit “{unit}” is not known here.", unit=unit),
        where=kind.value,
        mend=said("Use one of: {units}.", units=wanted),
    )


def _no_use(value: float) -> str:
    return said("{value} is not a number that can be used.", value=str(value))


def to_canonical(value: float, unit: str, kind: Kind) -> float:
    """A value in the canonical unit of its kind.

    Parameters
    ----------
    value : float [unit]
    unit : str - any accepted spelling.
    kind : Kind

    Returns
    -------
    float [canonical unit of the kind]

    Raises
    ------
    BadQuantity : NaN, infinite, or an unknown unit.

    >>> round(to_canonical(100, "degC", Kind.TEMPERATURE_DIFFERENCE))
    180
    """
    if not math.isfinite(value):
        raise BadQuantity(_no_use(value), where=kind.value, mend=said("Type a number."))
    scale, offset = _SCALES[kind][unit_name(unit, kind)]
    return value * scale + offset


def from_canonical(value: float, unit: str, kind: Kind) -> float:
    """A canonical value in another unit.

    Parameters
    ----------
    value : float [canonical unit of the kind]
    unit : str - any accepted spelling.
    kind : Kind

    Returns
    -------
    float [unit]

    Raises
    ------
    BadQuantity : NaN, infinite, or an unknown unit.

    >>> round(from_canonical(100, "degC", Kind.TEMPERATURE_DIFFERENCE), 1)
    55.6
    """
    if not math.isfinite(value):
        raise BadQuantity(_no_use(value), where=kind.value, mend=said("Type a number."))
    scale, offset = _SCALES[kind][unit_name(unit, kind)]
    return (value - offset) / scale


def parse(text: str, unit: str, kind: Kind) -> Quantity:
    """Read what a person typed.

    Accepts a decimal point or a decimal comma, ``h:mm`` for hours, and a unit behind the number, which overrules
    the unit given. One comma before exactly three digits ("1,234") could mean two things and is refused, except
    "0,234". Thousands separators and exponents are refused.

    Parameters
    ----------
    text : str - as typed.
    unit : str - the unit of the field, used when the text names none.
    kind : Kind

    Returns
    -------
    Quantity - value in the canonical unit, text and unit as typed.

    Raises
    ------
    MissingData : nothing typed.
    BadQuantity : not a number, ambiguous, or an unknown unit. The message says how to write it.

    >>> parse("0,5", "h", Kind.HOURS).value
    0.5
    >>> parse("1:30", "h", Kind.HOURS).value
    1.5
    >>> parse("1 imp qt", "qt", Kind.VOLUME).typed_unit
    'imp qt'
    """
    cleaned = re.sub(r"[\u00a0\u202f\u2009]", " ", text).replace(MINUS, "-").strip()
    if not cleaned:
        mend = said("Type a number, or mark it not observed.")
        raise MissingData(said("nothing was typed."), where=kind.value, mend=mend)
    found = _NUMBER_AND_UNIT.match(cleaned)
    if not found:
        mend = said("Type it in digits, for example 8.5.")
        raise BadQuantity(said("“{text}” is not a number.", text=text), where=kind.value, mend=mend)
    number, typed_unit = found["number"], found["unit"].strip()
    if kind is Kind.HOURS and ":" in number:
        return _hours_and_minutes(text, number, typed_unit)
    if typed_unit and typed_unit[0].isdigit():
        mend = said("Write it without spaces inside the number.")
        raise BadQuantity(said("“{text}” holds more than one number.", text=text), where=kind.value, mend=mend)
    name = unit_name(typed_unit or unit, kind)
    return Quantity(to_canonical(_number(text, number, kind), name, kind), text, name)


def _number(text: str, number: str, kind: Kind) -> float:
    if _COMMA_AND_THREE.match(number):
        whole, rest = number.split(",")
        both = {"large": f"{whole}{rest}", "small": f"{whole}.{rest}"}
        mend = said("Write {large} or {small}.", **both)
        what = said("“{text}” could be {small} or {large}.", text=text, **both)
        raise BadQuantity(what, where=kind.value, mend=mend)
    if not _PLAIN_NUMBER.match(number):
        mend = said("Use one decimal point or one decimal comma and no thousands separators.")
        raise BadQuantity(said("“{text}” is not a plain number.", text=text), where=kind.value, mend=mend)
    return float(number.replace(",", "."))


def _hours_and_minutes(text: str, number: str, typed_unit: str) -> Quantity:
    clock = _H_MM.match(number)
    if not clock or typed_unit.casefold() not in ("", "h", "hr", "hrs", "hours"):
        mend = said("Write hours and minutes as 1:30, minutes from 00 to 59.")
        raise BadQuantity(said("“{text}” is not hours and minutes.", text=text), where=Kind.HOURS.value, mend=mend)
    return Quantity(int(clock["hours"]) + int(clock["minutes"]) / 60, text, "h:mm")


def display_unit(kind: Kind, system: str) -> str:
    """The unit in which this person reads this kind.

    Parameters
    ----------
    kind : Kind
    system : str - "us", "si" or "mixed". Altitude stays in feet everywhere, as in aviation practice.

    Returns
    -------
    str - a unit name accepted by :func:`to_canonical`.

    Raises
    ------
    BadQuantity : unknown system.

    >>> display_unit(Kind.VOLUME, "si")
    'L'
    """
    if system not in _SYSTEMS:
        raise BadQuantity(f"“{system}” is not a system of units.", where="units", mend="Use us, si or mixed.")
    return _SYSTEMS[system].get(kind, CANONICAL[kind])


def written(unit: str) -> str:
    """A unit name as it is printed for a reader: "degF" as "°F".

    Parameters
    ----------
    unit : str - a name out of :data:`UNITS`.

    >>> written("ddegC")
    '°C'
    """
    return _WRITTEN.get(unit, unit)


def show(value: float, kind: Kind, system: str, decimals: int | None = None) -> str:
    """A canonical value as text with its unit, in the reader's units.

    Parameters
    ----------
    value : float [canonical unit of the kind]
    kind : Kind
    system : str - "us", "si" or "mixed".
    decimals : int or None - None takes the usual number for the unit.

    Returns
    -------
    str - number, narrow no-break space, unit.

    Raises
    ------
    BadQuantity : NaN or infinite, or unknown system.

    >>> show(10.0, Kind.VOLUME, "si")
    '9.46\u202fL'
    """
    unit = display_unit(kind, system)
    digits = decimals
    if digits is None:
        # An altimeter setting is read to a hundredth of an inch, manifold pressure to a tenth.
        digits = 2 if unit == "inHg" and kind is Kind.PRESSURE_ALTIMETER else _DECIMALS[unit]
    number = f"{from_canonical(value, unit, kind):.{digits}f}"
    if float(number) == 0:
        number = number.lstrip("-")
    return f"{number.replace('-', MINUS)}{NARROW_SPACE}{_WRITTEN.get(unit, unit)}"
