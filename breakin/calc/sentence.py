"""Sentences that keep what they are made of, so that each reader gets them in his own language and units.

A :class:`Said` *is* its English text in US units: it is stored, searched, compared and sealed like any other text.
Beside that it carries the sentence with its gaps (the message) and what stands in them, from which the same sentence
is made again for another reader. Whoever glues it into an f-string gets plain English: join sentences with
:func:`sentences`, and give one to another as a value. Values with units stand in :mod:`breakin.calc.said`, from where
everything here can be had as well; what units themselves refuse is said with this module alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Protocol

US: Final = "us"
MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def english_day(on: date) -> str:
    """A day as English writes it: "4 Dec 2026". Not by strftime, whose months are those of the machine."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


@dataclass(frozen=True)
class Tongue:
    """How a language writes: its words for a message, its marks in numbers, its days."""

    translate: Callable[[str], str]
    decimal: str = "."
    thousands: str = ","
    percent: str = "%"
    day: Callable[[date], str] = english_day

    def number(self, text: str) -> str:
        """A number as English writes it, in the marks of this language."""
        marks: dict[str, str | int | None] = {".": self.decimal, ",": self.thousands, "%": self.percent}
        return text.translate(str.maketrans(marks))


def _as_it_stands(message: str) -> str:
    return message


ENGLISH: Final = Tongue(_as_it_stands)


class Shown(Protocol):
    """A value that each reader sees in his own way."""

    def text(self, units: str, tongue: Tongue) -> str: ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True)
class Number:
    """A bare number. form : as in Python's format strings; one that ends in % takes a share of one."""

    value: float
    form: str = "g"

    def text(self, units: str, tongue: Tongue) -> str:
        return tongue.number(f"{self.value:{self.form}}")

    def to_dict(self) -> dict[str, Any]:
        return {"number": self.value, "form": self.form}


@dataclass(frozen=True)
class Day:
    """A day of the calendar: kept as a date, read with the month's name of the reader's language."""

    on: date

    def __str__(self) -> str:
        return english_day(self.on)

    def text(self, units: str, tongue: Tongue) -> str:
        return tongue.day(self.on)

    def to_dict(self) -> dict[str, Any]:
        return {"day": self.on.isoformat()}


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
        except (KeyError, TypeError, AttributeError, IndexError, StopIteration, ValueError) as error:
            raise ValueError(f"{kept!r} is not a sentence that was kept: {error}") from error


Value = str | Shown  # a Said is a str
Values = dict[str, Value]


def _texts(values: Mapping[str, Value], units: str, tongue: Tongue) -> dict[str, str]:
    return {name: _text(value, units, tongue) for name, value in values.items()}


def _text(value: Value, units: str, tongue: Tongue) -> str:
    if isinstance(value, Said):
        return str(value) if tongue is ENGLISH and units == US else value.read(units, tongue)
    return value if isinstance(value, str) else value.text(units, tongue)


def _to_json(value: Value) -> Any:
    return str(value) if isinstance(value, str) and not isinstance(value, Said) else value.to_dict()


# The key by which a kept value is known, and how it is made again.
MADE_AGAIN: dict[str, Callable[[Mapping[str, Any]], Value]] = {
    "msgid": lambda kept: Said.from_dict(kept),
    "number": lambda kept: Number(kept["number"], kept["form"]),
    "day": lambda kept: Day(date.fromisoformat(kept["day"])),
}


def _from_json(kept: Any) -> Value:
    if isinstance(kept, str):
        return kept
    return next(make for key, make in MADE_AGAIN.items() if key in kept)(kept)


def said(msgid: str, /, **values: Value) -> Said:
    """A sentence to be translated: the message is a literal here, so that catalogues find it.

    >>> said("{hours} h run.", hours=fixed(13.5))
    '13.5 h run.'
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
