"""What the forms of inspections are made of: fields with their place in the raw entry, and sections of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django import forms

from breakin.entries.inspection_reading import About
from reports.forms.fields import ChoiceChips, Steps

YES_NO = (("yes", "yes"), ("no", "no"))
SHUTDOWN = (("<10", "under 10 min"), ("10-30", "10 to 30 min"), ("30-120", "30 min to 2 h"), ("overnight", "overnight"))
QUARTS = Steps("0.25", "0")


@dataclass(frozen=True)
class Place:
    """A field: its posted name, its path in the raw entry, and the field itself."""

    name: str
    path: tuple[str, ...]
    field: forms.Field


@dataclass(frozen=True)
class Section:
    """Fields that are answered together. `grid` sets them beside one another."""

    heading: str
    places: tuple[Place, ...]
    grid: bool = False
    hint: str = ""


@dataclass(frozen=True)
class Shape:
    """What the form depends on: the reader's units, the engine, how many rows of places or items it has."""

    units: str
    about: About
    rows: int


def result_at(name: str, field: forms.Field, *path: str) -> Place:
    return Place(name, ("results", *(path or (name,))), field)


def oil_at(part: str, name: str, field: forms.Field) -> Place:
    return Place(name, (part, name), field)


def graded(words: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return tuple((str(grade), word) for grade, word in enumerate(words))


def choice(label: str, choices: Sequence[tuple[str, str]], hint: str = "") -> forms.Field:
    return ChoiceChips(label=label, choices=choices, help_text=hint)
