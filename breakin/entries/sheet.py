"""Reads a JSON-like entry field by field and collects every problem, so that a person mends them in one go."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from uuid import UUID

from breakin.calc.errors import CalcError
from breakin.calc.said import Number, Said, fixed, said, sentences
from breakin.calc.units import Kind, Quantity, display_unit, from_canonical, parse, to_canonical, unit_name, written
from breakin.entries.ranges import Range
from shop.errors import Problem, Refusal
from shop.facts import Absent

_YES = frozenset({"yes", "true", "on", "1", "y"})
_NO = frozenset({"no", "false", "off", "0", "n"})
_LONGEST_NUMBER = 40
_WHOLE = re.compile(r"-?[0-9]{1,19}")


@dataclass
class Findings:
    """What is wrong or doubtful in the whole entry."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    confirmed: frozenset[str] = frozenset()


def empty(value: Any) -> bool:
    """Nothing typed. Zero and False are values, and so is a set of fields."""
    if isinstance(value, Mapping):
        return set(value) <= {"value", "unit"} and empty(value.get("value"))
    return value is None or (isinstance(value, str) and not value.strip())


class Sheet:
    """One level of an entry: the entry itself, one of its engines, one block.

    Reading a field never raises; `refuse_if_wrong` does, once, with all problems.
    """

    def __init__(self, raw: Any, *, units: str, path: str = "", parent: Sheet | None = None, own_typed: bool = False):
        self.found: Findings = parent.found if parent else Findings()
        self.path = path
        self.units = units
        self.used: set[str] = set()
        shares = parent is not None and not own_typed
        self.typed: dict[str, list[str]] = parent.typed if parent and shares else {}
        self.absent: dict[str, str] = parent.absent if parent and shares else {}
        self._typed_path = path if shares else ""
        self.raw: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {}
        if not isinstance(raw, Mapping):
            self.problem("", said("This is not a set of named fields."))

    # --- what is wrong ------------------------------------------------------------------------------------------

    def at(self, name: str) -> str:
        return ".".join(part for part in (self.path, name) if part)

    def problem(self, name: str, message: str) -> None:
        self.found.problems.append(Problem(self.at(name), message))

    def ask(self, name: str, message: str) -> None:
        """Are you sure? Not asked where the sender has confirmed the field."""
        if self.at(name) not in self.found.confirmed:
            self.found.warnings.append(Problem(self.at(name), message))

    def refuse_if_wrong(self) -> None:
        if self.found.problems:
            raise Refusal(self.found.problems)

    def only(self, *more: str) -> None:
        """Every other key is a spelling mistake, and what stands under it would be lost."""
        for name in self.raw:
            if name not in self.used and name not in more:
                what = said("“{name}” is not a field here. Check its spelling.", name=str(name)[:40])
                self.problem(str(name)[:40], what)

    # --- reading ------------------------------------------------------------------------------------------------

    def get(self, name: str) -> Any:
        """The raw value of a field; None where nothing was typed or where it is marked absent."""
        self.used.add(name)
        value = self.raw.get(name)
        if empty(value):
            return None
        if isinstance(value, Mapping) and "absent" in value:
            word = str(value["absent"])
            if word in Absent.values:
                self.absent[self._kept(name)] = word
            else:
                reasons = "not_observed, not_applicable"
                what = said("“{word}” is not a reason for an empty field. Use {reasons}.", word=word, reasons=reasons)
                self.problem(name, what)
            return None
        return value

    def given(self, name: str) -> bool:
        return not empty(self.raw.get(name))

    def need(self, name: str, label: str, mend: str) -> bool:
        """Was it given? If not, and nothing else is wrong with it, that is a problem."""
        if self.given(name) and not (isinstance(self.raw[name], Mapping) and "absent" in self.raw[name]):
            return True
        self.problem(name, said("{label} is missing. {mend}", label=label, mend=mend))
        return False

    def quantity(self, name: str, what: Range) -> float | None:
        """A measured value in its canonical unit, checked against its ranges."""
        value = self.get(name)
        if value is None:
            return None
        try:
            read = self._read(value, what)
        except CalcError as error:
            self.problem(name, about(what.label, sentences(error.what, error.mend)))
            return None
        self.keep(name, read.typed_text, read.typed_unit)
        return self._in_range(name, read, what)

    def whole(self, name: str, label: str, low: int, high: int) -> int | None:
        value = self.get(name)
        if value is None:
            return None
        text = str(value).strip()
        if isinstance(value, bool) or not _WHOLE.fullmatch(text) or not low <= int(text) <= high:
            what = said(
                "“{text}” is not a whole number from {low} to {high}. Type it in digits.",
                text=text[:40],
                low=fixed(low, 0),
                high=fixed(high, 0),
            )
            self.problem(name, about(label, what))
            return None
        self.keep(name, text, "")
        return int(text)

    def choice(self, name: str, label: str, choices: Sequence[str]) -> str:
        value = self.get(name)
        if value is None:
            return ""
        if value in choices:
            return str(value)
        what = said(
            "“{text}” is not one of {choices}. Choose one of these.", text=str(value)[:40], choices=", ".join(choices)
        )
        self.problem(name, about(label, what))
        return ""

    def flag(self, name: str, label: str) -> bool | None:
        value = self.get(name)
        if value is None or isinstance(value, bool):
            return value
        word = str(value).strip().casefold()
        if word in _YES | _NO:
            return word in _YES
        what = said("“{text}” is neither yes nor no. Choose one, or leave it empty.", text=str(value)[:40])
        self.problem(name, about(label, what))
        return None

    def text(self, name: str, label: str, longest: int) -> str:
        value = self.get(name)
        if value is None:
            return ""
        text = str(value).strip()
        if len(text) > longest:
            what = said(
                "{characters} characters are too long. Keep it under {longest}.",
                characters=fixed(len(text), 0),
                longest=fixed(longest, 0),
            )
            self.problem(name, about(label, what))
            return ""
        if any(char == "\x00" or "\ud800" <= char <= "\udfff" for char in text):
            self.problem(name, about(label, said("it holds a character that cannot be kept. Type it again.")))
            return ""
        return text

    def uuid(self, name: str, label: str) -> UUID | None:
        value = self.get(name)
        if value is None:
            return None
        try:
            return value if isinstance(value, UUID) else UUID(str(value))
        except ValueError:
            what = said("“{text}” is not an identifier. Send a UUID.", text=str(value)[:40])
            self.problem(name, about(label, what))
            return None

    def rows(self, name: str, label: str, most: int) -> list[Any]:
        value = self.get(name)
        if value is None:
            return []
        if isinstance(value, str | bytes | Mapping) or not isinstance(value, Sequence):
            self.problem(name, about(label, said("this must be a list.")))
            return []
        if len(value) > most:
            what = said(
                "{count} are too many. At most {most} are taken.", count=fixed(len(value), 0), most=fixed(most, 0)
            )
            self.problem(name, about(label, what))
            return []
        return list(value)

    def child(self, name: str, raw: Any, *, own_typed: bool = False) -> Sheet:
        return Sheet(raw, units=self.units, path=self.at(name), parent=self, own_typed=own_typed)

    def keep(self, name: str, text: str, unit: str) -> None:
        self.typed[self._kept(name)] = [text, unit]

    def confirmed_as_typed(self) -> dict[str, list[str]]:
        """What was typed, with the fields that the sender confirmed."""
        confirmed = {"confirmed": [", ".join(sorted(self.found.confirmed)), ""]} if self.found.confirmed else {}
        return {**self.typed, **confirmed}

    def _kept(self, name: str) -> str:
        return ".".join(part for part in (self._typed_path, name) if part)

    def _read(self, value: Any, what: Range) -> Quantity:
        unit = display_unit(what.kind, self.units)
        if isinstance(value, Mapping):
            unit = unit_name(str(value.get("unit") or unit), what.kind)
            value = value.get("value")
        if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
            raise CalcError(said("this is not a number."), mend=said("Type a number."))
        if not isinstance(value, str):
            number = float(value)
            return Quantity(to_canonical(number, unit, what.kind), f"{value}", unit_name(unit, what.kind))
        if len(value) > _LONGEST_NUMBER:
            what_is_wrong = said("“{text}…” is too long for a number.", text=value[:_LONGEST_NUMBER])
            raise CalcError(what_is_wrong, mend=said("Type the number alone."))
        if what.kind is Kind.MINUTES and ":" in value:
            hours = parse(value, "h", Kind.HOURS)
            return Quantity(hours.value * 60, value, hours.typed_unit)
        return parse(value, unit, what.kind)

    def _in_range(self, name: str, read: Quantity, what: Range) -> float | None:
        unit = {"h:mm": "h" if what.kind is Kind.HOURS else "min"}.get(read.typed_unit, read.typed_unit)
        typed = (
            said("“{text}”", text=read.typed_text)
            if read.typed_text.strip()[-1:].isalpha()
            else said("“{text}” {unit}", text=read.typed_text, unit=written(unit))
        )
        if not math.isfinite(read.value) or not what.low - 1e-9 <= read.value <= what.high + 1e-9:
            span = _span(what.low, what.high, unit, what.kind)
            outside = said("{typed} is outside {span}. {mend}", typed=typed, span=span, mend=what.mend)
            self.problem(name, about(what.label, outside))
            return None
        low = what.low if what.usual_low is None else what.usual_low
        high = what.high if what.usual_high is None else what.usual_high
        if not low <= read.value <= high:
            usual = _span(low, high, unit, what.kind)
            unusual = said("{typed} is outside the usual {span}. Is it right?", typed=typed, span=usual)
            self.ask(name, about(what.label, unusual))
        return read.value


def about(label: str, what: str) -> Said:
    """What is wrong, behind the name of its field."""
    return said("{label}: {what}", label=label, what=what)


def _span(low: float, high: float, unit: str, kind: Kind) -> Said:
    first, last = from_canonical(low, unit, kind), from_canonical(high, unit, kind)
    return said("{low} to {high} {unit}", low=_plain(first), high=_plain(last), unit=written(unit))


def _plain(value: float) -> Number:
    """At most two decimals, no exponent."""
    digits = next((places for places in (0, 1) if abs(round(value, places) - round(value, 2)) < 1e-9), 2)
    return fixed(value, digits)
