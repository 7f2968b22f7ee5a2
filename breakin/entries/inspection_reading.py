"""Small readers that the kinds of inspection share, and what is known of the engine that is looked at."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from breakin.calc.units import written
from breakin.entries.sheet import Sheet

MOST_CYLINDERS = 24


@dataclass(frozen=True)
class RecheckItem:
    """One line of the recheck list of an engine type; low and high in `unit`, None where the maker gives none."""

    item: str
    low: float | None = None
    high: float | None = None
    unit: str = "lbf·in"


@dataclass(frozen=True)
class About:
    """What is known of the engine beforehand, so that a value can be doubted. None = not known, nothing is asked.

    cylinders : count. ff_low_gph, ff_high_gph : the type's band at full throttle. compensates : whether its fuel flow
    follows density. boosted : whether a compressor feeds it. recheck : the list of its type.
    """

    cylinders: int | None = None
    ff_low_gph: float | None = None
    ff_high_gph: float | None = None
    compensates: bool | None = None
    boosted: bool | None = None
    recheck: tuple[RecheckItem, ...] = ()


Reader = Callable[[Sheet, date, About], dict[str, Any]]


@dataclass(frozen=True)
class Plain:
    """A number in a unit that has no other in use here: outside the hard range refused, outside the usual one asked."""

    label: str
    low: float
    high: float
    unit: str
    usual_low: float | None = None
    usual_high: float | None = None


def number(sheet: Sheet, name: str, what: Plain) -> float | None:
    value = sheet.get(name)
    if value is None:
        return None
    text = str(value).strip()
    try:
        read = float(text.replace(",", "."))
    except ValueError:
        read = float("nan")
    unit = f" {written(what.unit)}" if what.unit else ""
    if not what.low <= read <= what.high:
        sheet.problem(
            name, f"{what.label}: “{text[:20]}” is not a number from {what.low:g} to {what.high:g}{unit}. Check it."
        )
        return None
    low = what.low if what.usual_low is None else what.usual_low
    high = what.high if what.usual_high is None else what.usual_high
    if not low <= read <= high:
        sheet.ask(name, f"{what.label}: {text[:20]}{unit} is outside the usual {low:g} to {high:g}{unit}. Is it right?")
    sheet.keep(name, text, what.unit)
    return read


def by_cylinder(sheet: Sheet, name: str, about: About, read: Callable[[Sheet, str], Any]) -> dict[str, Any]:
    """Values under cylinder numbers; the numbers are those that the engine has."""
    value = sheet.get(name)
    if value is None:
        return {}
    child = sheet.child(name, value)
    most = about.cylinders or MOST_CYLINDERS
    found: dict[str, Any] = {}
    for key in child.raw:
        text = str(key)[:10]
        if not text.isdecimal() or not 1 <= int(text[:3]) <= MOST_CYLINDERS:
            child.problem(text, f"“{text}” is not a cylinder number.")
            continue
        if int(text) > most:
            child.problem(text, f"This engine has {most} cylinders, so there is no number {text}. Check the engine.")
            continue
        each = read(child, str(key))
        if each is not None and each != []:
            found[str(int(text))] = each
    return dict(sorted(found.items(), key=lambda item: int(item[0])))


def all_cylinders(sheet: Sheet, name: str, about: About, found: Mapping[str, Any], what: str) -> None:
    """Ask where some cylinders have no value."""
    missing = [str(each) for each in range(1, (about.cylinders or 0) + 1) if str(each) not in found]
    if found and missing:
        which = f"cylinder {missing[0]} has" if len(missing) == 1 else f"cylinders {', '.join(missing)} have"
        sheet.ask(name, f"{which.capitalize()} no {what}. Is that right?")


def day(sheet: Sheet, name: str, label: str) -> date | None:
    value = sheet.get(name)
    if value is None:
        return None
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        sheet.problem(name, f"{label}: “{str(value)[:20]}” is not a date. Write it like 2026-11-24.")
        return None


def calibrated(sheet: Sheet, name: str, what: str, on: date) -> str:
    """The day until which a tool is calibrated. With an expired tool nothing was measured."""
    until = day(sheet, name, f"{what} calibrated until")
    if until is not None and until < on:
        sheet.problem(name, f"The calibration of {what} ended on {until}. Measure again with a calibrated one.")
    return until.isoformat() if until else ""


def words(sheet: Sheet, name: str, label: str, choices: tuple[str, ...]) -> list[str]:
    """Some of a few words."""
    value = sheet.get(name)
    if value is None:
        return []
    given = [value] if isinstance(value, str) else list(value) if isinstance(value, list | tuple) else []
    wrong = [str(each)[:30] for each in given if each not in choices]
    if wrong or not given:
        sheet.problem(name, f"{label}: “{', '.join(wrong)}” is not one of {', '.join(choices)}. Choose from these.")
        return []
    return [each for each in choices if each in given]
