"""Measured values in sentences, and all that :mod:`breakin.calc.sentence` has: what most of the book imports.

>>> said("The oil level rose by {rise}.", rise=qt(0.75))
'The oil level rose by 0.75 qt.'
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakin.calc.sentence import (
    ENGLISH,
    MADE_AGAIN,
    US,
    Day,
    Number,
    Said,
    Tongue,
    Value,
    Values,
    fixed,
    joined,
    msgid,
    number,
    percent,
    said,
    sentences,
)
from breakin.calc.units import Kind, display_unit, from_canonical, written

__all__ = [
    "ENGLISH", "US", "Day", "Measure", "Number", "Said", "Tongue", "Value", "Values", "ddegf", "degf", "fixed", "gph",
    "inhg", "joined", "msgid", "number", "percent", "psi", "qt", "qt_h", "said", "sentences",
]  # fmt: skip

# Decimals of a unit against those of the US unit it stands for: as fine as that, and no finer than instruments are.
_FINER = {"hPa": -1, "bar": 2}


@dataclass(frozen=True)
class Measure:
    """A number that each reader gets in his own unit.

    value : in the canonical unit of its kind. digits : decimals in that unit; None for as few as it has. per : what
    follows the unit ("/h"). bare : without the unit, where the next number names it. signed : with its sign, also
    above 0.
    """

    value: float
    kind: Kind
    digits: int | None
    per: str = ""
    bare: bool = False
    signed: bool = False

    def text(self, units: str, tongue: Tongue) -> str:
        unit = display_unit(self.kind, units)
        digits = 2 if self.digits is None else max(0, self.digits + _FINER.get(unit, 0))
        plain = f"{from_canonical(self.value, unit, self.kind):{'+' if self.signed else ''}.{digits}f}"
        shown = tongue.number(plain.rstrip("0").rstrip(".") if self.digits is None else plain)
        return shown if self.bare else f"{shown} {written(unit)}{self.per}"

    def to_dict(self) -> dict[str, Any]:
        kept = {"measure": self.value, "kind": self.kind.value, "digits": self.digits, "per": self.per}
        kept |= {name: True for name in ("bare", "signed") if getattr(self, name)}
        return {name: each for name, each in kept.items() if each != ""}

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Measure:
        more = {name: kept[name] for name in ("per", "bare", "signed") if name in kept}
        return cls(kept["measure"], Kind(kept["kind"]), kept["digits"], **more)


MADE_AGAIN["measure"] = Measure.from_dict


def qt(value: float, digits: int | None = 2, *, bare: bool = False) -> Measure:
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
