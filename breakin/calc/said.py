"""Sentences that keep what they are made of, so that each reader gets them in his own language and units.

A :class:`Said` *is* its English text in US units: it is stored, searched, compared and sealed like any other text.
Beside that it carries the sentence with its gaps (the message) and what stands in them, from which the same sentence
is made again for another reader. Whoever glues it into an f-string gets plain English: join sentences with
:func:`sentences`, and give one to another as a value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from breakin.calc.units import Kind, display_unit, from_canonical, written

US: Final = "us"
# Decimals of a unit against those of the US unit it stands for: as fine as that, and no finer than instruments are.
_FINER = {"hPa": -1, "bar": 2}


@dataclass(frozen=True)
class Tongue:
    """How a language writes: its words for a message, its marks in numbers, its days."""

    translate: Callable[[str], str]
    decimal: str = "."
    thousands: str = ","
    percent: str = "%"
    day: Callable[[date], str] = date.isoformat

    def number(self, text: str) -> str:
        """A number as English writes it, in the marks of this language."""
        marks: dict[str, str | int | None] = {".": self.decimal, ",": self.thousands, "%": self.percent}
        return text.translate(str.maketrans(marks))


def _as_it_stands(message: str) -> str:
    return message


ENGLISH: Final = Tongue(_as_it_stands)


@dataclass(frozen=True)
class Number:
    """A bare number. form : as in Python's format strings; one that ends in % takes a share of one."""

    value: float
    form: str = "g"

    def text(self, units: str, tongue: Tongue) -> str:
        return tongue.number(f"{self.value:{self.form}}")


@dataclass(frozen=True)
class Measure:
    """A number that each reader gets in his own unit.

    value : in the canonical unit of its kind. digits : decimals in that unit. per : what follows the unit ("/h").
    bare : without the unit, where the next number names it. signed : with its sign, also above 0.
    """

    value: float
    kind: Kind
    digits: int
    per: str = ""
    bare: bool = False
    signed: bool = False

    def text(self, units: str, tongue: Tongue) -> str:
        unit = display_unit(self.kind, units)
        digits = max(0, self.digits + _FINER.get(unit, 0))
        shown = tongue.number(f"{from_canonical(self.value, unit, self.kind):{'+' if self.signed else ''}.{digits}f}")
        return shown if self.bare else f"{shown} {written(unit)}{self.per}"


@dataclass(frozen=True)
class Day:
    """A day of the calendar."""

    on: date

    def text(self, units: str, tongue: Tongue) -> str:
        return tongue.day(self.on)


class Said(str):
    """A sentence, or a part of one: English text in US units, with the message and the values it was made from.

    msgid : the message with its gaps by name, "The level rose {rise}.". values : what stands in them: a Measure, a
    Number, a Day, another Said, or text that no language changes (a name, a registration).
    """

    msgid: str
    values: Mapping[str, Value]

    def __new__(cls, msgid: str, values: Mapping[str, Value] | None = None) -> Said:
        known = dict(values or {})
        gaps = known or "{" in msgid
        made = super().__new__(cls, msgid.format(**_texts(known, US, ENGLISH)) if gaps else msgid)
        made.msgid, made.values = msgid, known
        return made

    def __getnewargs__(self) -> tuple[str, dict[str, Value]]:  # type: ignore[override]
        return self.msgid, dict(self.values)

    def read(self, units: str, tongue: Tongue) -> str:
        """The sentence for one reader; in English where his language has no words for it, or wrong ones.

        Parameters
        ----------
        units : "us", "si" or "mixed".
        tongue : Tongue
        """
        if not self.values:
            return tongue.translate(self.msgid) if self.msgid else ""
        texts = _texts(self.values, units, tongue)
        try:
            return tongue.translate(self.msgid).format(**texts)
        except (KeyError, IndexError, ValueError):
            return self.msgid.format(**_texts(self.values, units, ENGLISH))

    def to_dict(self) -> dict[str, Any]:
        """As JSON keeps it."""
        kept: dict[str, Any] = {"msgid": self.msgid}
        if self.values:
            kept["values"] = {name: _to_json(value) for name, value in self.values.items()}
        return kept

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Said:
        """What :meth:`to_dict` kept.

        Raises
        ------
        ValueError : it is something else.
        """
        try:
            if not isinstance(kept["msgid"], str):
                raise TypeError("its message is no text")
            return cls(kept["msgid"], {name: _from_json(value) for name, value in kept.get("values", {}).items()})
        except (KeyError, TypeError, AttributeError, IndexError, ValueError) as error:
            raise ValueError(f"{kept!r} is not a sentence that was kept: {error}") from error


Value = str | Number | Measure | Day  # a Said is a str
Values = dict[str, Value]


def _texts(values: Mapping[str, Value], units: str, tongue: Tongue) -> dict[str, str]:
    return {name: _text(value, units, tongue) for name, value in values.items()}


def _text(value: Value, units: str, tongue: Tongue) -> str:
    if isinstance(value, Said):
        return str(value) if tongue is ENGLISH and units == US else value.read(units, tongue)
    return value if isinstance(value, str) else value.text(units, tongue)


def _to_json(value: Value) -> Any:
    match value:
        case Said():
            return value.to_dict()
        case str():
            return value
        case Number(number, form):
            return {"number": number, "form": form}
        case Day(on):
            return {"day": on.isoformat()}
        case Measure():
            kept = {"measure": value.value, "kind": value.kind.value, "digits": value.digits, "per": value.per}
            kept |= {name: True for name in ("bare", "signed") if getattr(value, name)}
            return {name: each for name, each in kept.items() if each != ""}


def _from_json(kept: Any) -> Value:
    if isinstance(kept, str):
        return kept
    if "msgid" in kept:
        return Said.from_dict(kept)
    if "number" in kept:
        return Number(kept["number"], kept["form"])
    if "day" in kept:
        return Day(date.fromisoformat(kept["day"]))
    more = {name: kept[name] for name in ("per", "bare", "signed") if name in kept}
    return Measure(kept["measure"], Kind(kept["kind"]), kept["digits"], **more)


def said(msgid: str, /, **values: Value) -> Said:
    """A sentence to be translated: the message is a literal here, so that catalogues find it.

    >>> said("The oil level rose by {rise}.", rise=qt(0.75))
    'The oil level rose by 0.75 qt.'
    """
    return Said(msgid, values)


def msgid(message: str) -> str:
    """A message whose gaps are filled later: marks it for the catalogues."""
    return message


def joined(parts: Iterable[str], between: str = " ") -> Said:
    """Parts after one another: no message of its own. Empty ones are left out."""
    kept: dict[str, Value] = {f"part_{place}": part for place, part in enumerate(part for part in parts if part)}
    return Said(between.join(f"{{{name}}}" for name in kept), kept)


def sentences(*parts: str) -> Said:
    """Sentences after one another."""
    return joined(parts)


def number(value: float, form: str = "g") -> Number:
    """A bare number, also from numpy."""
    return Number(value if isinstance(value, int) else float(value), form)


def percent(share: float, digits: int = 0) -> Number:
    """A share of one in percent, with its sign."""
    return Number(float(share), f".{digits}%")


def fixed(value: float, digits: int = 1) -> Number:
    """Hours, minutes, rpm, feet: their unit stands in the message, since every reader has the same."""
    return Number(float(value), f".{digits}f")


def qt(value: float, digits: int = 2, *, bare: bool = False) -> Measure:
    """Oil [US qt]."""
    return Measure(float(value), Kind.VOLUME, digits, bare=bare)


def qt_h(value: float, digits: int = 2, *, bare: bool = False) -> Measure:
    """Loss of oil [US qt/h]."""
    return Measure(float(value), Kind.VOLUME, digits, "/h", bare)


def degf(value: float, digits: int = 0, *, bare: bool = False) -> Measure:
    """A temperature [degF]."""
    return Measure(float(value), Kind.TEMPERATURE, digits, bare=bare)


def ddegf(value: float, digits: int = 0, *, bare: bool = False, signed: bool = False) -> Measure:
    """A difference of temperatures [degF]."""
    return Measure(float(value), Kind.TEMPERATURE_DIFFERENCE, digits, "", bare, signed)


def psi(value: float, digits: int = 0) -> Measure:
    """Oil pressure [psi]. Differential compression stays in psi everywhere: write that into the message."""
    return Measure(float(value), Kind.OIL_PRESSURE, digits)


def gph(value: float, digits: int = 1, *, bare: bool = False) -> Measure:
    """Fuel flow [US gal/h]."""
    return Measure(float(value), Kind.FUEL_FLOW, digits, bare=bare)


def inhg(value: float, digits: int = 1, *, bare: bool = False, signed: bool = False) -> Measure:
    """Manifold pressure [inHg]."""
    return Measure(float(value), Kind.PRESSURE_MANIFOLD, digits, "", bare, signed)
