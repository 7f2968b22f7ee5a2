"""The form of an inspection: everything typed is handed to the parser as it stands, and comes back with a sentence."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from breakin.entries.inspection import SURE
from engines.models import InspectionKind, InspectionResult
from reports.acts.base import person_field, text_field
from reports.forms import clock_change
from reports.forms.fields import ChoiceChips
from reports.forms.typed import text_of
from reports.inspect.fields import sections_of
from reports.inspect.parts import Place, Section, Shape
from shop.access import TECHNICIANS
from shop.errors import Problem
from shop.forms import BookForm
from shop.models import Person

SURE_WORDS = {
    "measured_twice": "measured twice",
    "as_found": "that is how it was found",
    "other_tool": "checked with another tool",
    "maker_allows": "the maker's instructions allow it",
}
ROWS, MORE_ROWS, MOST_ROWS = 4, 4, 40


@dataclass(frozen=True)
class Doubt:
    """A value that is possible but unusual, at its field. A reason holds for the one text it was given for."""

    name: str
    said: str
    typed: str

    @property
    def sure_name(self) -> str:
        return f"{self.name}_sure"

    @property
    def was_name(self) -> str:
        return f"{self.name}_was"

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        return tuple((each, SURE_WORDS[each]) for each in SURE)


class InspectionForm(BookForm):
    """Head and foot that every inspection has; `sections_of` puts the fields of its kind between.

    `doubts` holds, after `ask`, the questions that are still open, by the name of their field.
    """

    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)
    local_date = forms.CharField(
        label="Done on", max_length=20, widget=forms.DateInput(attrs={"type": "date"}), required=False
    )
    local_time = forms.CharField(
        label="At", max_length=12, widget=forms.TimeInput(attrs={"type": "time"}), required=False
    )

    def __init__(self, kind: str, shape: Shape, *args: Any, last: Mapping[str, str] | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.kind, self.shape = kind, shape
        self.sections = sections_of(kind, shape)
        self.doubts: dict[str, Doubt] = {}
        self.places: dict[str, Place] = {}
        for section in self.sections:
            for place in section.places:
                self._add(place, last or {})
        self.verdict = kind != InspectionKind.OIL_CHECK
        if self.verdict:
            self._add(Place("result", ("result",), ChoiceChips(label="Verdict", choices=InspectionResult.choices)), {})
        self._add(Place("note", ("note",), text_field("Note", 4000, rows=3)), {})
        for name, label in (("performed_by_id", "Done by"), ("inspector_id", "Inspector")):
            hint = (
                "Nobody chosen: whoever is signed in." if name == "performed_by_id" else "Where local law asks for one."
            )
            self._add(Place(name, (name,), person_field(label, TECHNICIANS, hint)), {})

    def _add(self, place: Place, last: Mapping[str, str]) -> None:
        if place.name in last:
            told = f"Last time: {last[place.name]}."
            place.field.help_text = f"{place.field.help_text} {told}".strip()
        self.fields[place.name] = place.field
        self.places[place.name] = place

    # --- the page ---------------------------------------------------------------------------------------------------

    @property
    def shown(self) -> list[tuple[Section, list[forms.BoundField]]]:
        """Each section with its fields."""
        return [(section, [self[place.name] for place in section.places]) for section in self.sections]

    @property
    def foot(self) -> list[forms.BoundField]:
        return [self[name] for name in ("result", "note") if name in self.fields]

    @property
    def people(self) -> list[forms.BoundField]:
        return [self[name] for name in ("performed_by_id", "inspector_id")]

    @property
    def more(self) -> list[forms.BoundField]:
        """Fields that a person who corrects answers too."""
        return [self["reason"]] if "reason" in self.fields else []

    # --- to the parser and back -------------------------------------------------------------------------------------

    def raw(self) -> tuple[dict[str, Any], dict[str, str]]:
        """What was typed, as `parse_inspection` reads it, and dotted path of the entry -> name of the field."""
        typed = self.cleaned_data
        raw: dict[str, Any] = {"client_id": typed["client_id"], "kind": self.kind}
        raw |= {name: typed[name] for name in ("local_date", "local_time", clock_change.NAME) if typed.get(name)}
        paths = {"happened_at": "local_date", "local_date": "local_date", "local_time": "local_time"} | {
            clock_change.NAME: clock_change.NAME
        }
        rows: dict[str, list[str]] = {}
        not_done = self._not_done()
        for place in self.places.values():
            value = typed.get(place.name)
            value = value.pk if isinstance(value, Person) else value
            if place.name in not_done:
                continue
            path = _closed_up(place.path, rows, filled=value not in (None, "", []))
            if path is None:
                continue
            for length in range(1, len(path) + 1):
                paths.setdefault(".".join(path[:length]), place.name)
            paths[".".join(path)] = place.name
            if value not in (None, "", []):
                _put(raw, path, value)
        return raw, paths

    def _not_done(self) -> frozenset[str]:
        """Items that the list put there and nobody looked at: no value beside them, and the name as the list has it."""
        listed = {f"item_{row}": each.item for row, each in enumerate(self.shape.about.recheck, start=1)}
        untouched = (
            row
            for row, item in listed.items()
            if self.cleaned_data.get(f"{row}_item") == item
            and not any(self.cleaned_data.get(f"{row}_{name}") for name in ("found", "set", "mark"))
        )
        return frozenset(f"{row}_{name}" for row in untouched for name in ("item", "found", "set", "mark"))

    def confirmed(self, data: Mapping[str, Any], paths: Mapping[str, str]) -> dict[str, Any]:
        """The unusual values that the person has given a reason for, as they stand now."""
        why = {
            path: str(data.get(f"{name}_sure"))
            for path, name in paths.items()
            if name in self.fields
            and data.get(f"{name}_sure") in SURE
            and data.get(f"{name}_was") == text_of(self.cleaned_data.get(name))
        }
        return {"confirmed": sorted(why), "confirmed_why": why} if why else {}

    def ask(self, warnings: Iterable[Problem], paths: Mapping[str, str]) -> bool:
        """Put every open question at its field; was there one?"""
        for problem in warnings:
            name = self._name_of(problem.field, paths)
            typed = text_of(self.cleaned_data.get(name))
            said = f"{self.doubts[name].said} {problem.message}" if name in self.doubts else problem.message
            self.doubts[name] = Doubt(name, said, typed)
        for name, doubt in self.doubts.items():
            self.add_error(name or None, f"{doubt.said} Mend it, or say below why it is right.")
        return bool(self.doubts)

    def refuse(self, problems: Sequence[Problem], paths: Mapping[str, str]) -> None:
        """Put every problem at its field; one about a field that isn't here stands on top."""
        for problem in problems:
            self.add_error(self._name_of(problem.field, paths) or None, problem.message)

    def _name_of(self, field: str, paths: Mapping[str, str]) -> str:
        """The field at a path, or at the nearest path above or below it."""
        parts = field.split(".")
        for length in range(len(parts), 0, -1):
            name = paths.get(".".join(parts[:length]), parts[0] if length == 1 else "")
            if name in self.fields and not self.fields[name].widget.is_hidden:
                return name
        return ""


def _closed_up(path: tuple[str, ...], rows: dict[str, list[str]], *, filled: bool) -> tuple[str, ...] | None:
    """A path with its row renumbered so that rows left empty leave no gap; None while its row is empty so far."""
    place = next((index for index, part in enumerate(path) if part.isdecimal() and path[index - 1] in _LISTS), None)
    if place is None:
        return path
    seen = rows.setdefault(path[place - 1], [])
    if path[place] not in seen:
        if not filled:
            return None
        seen.append(path[place])
    return (*path[:place], str(seen.index(path[place])), *path[place + 1 :])


_LISTS = frozenset({"spots", "items"})


def _put(raw: dict[str, Any], path: tuple[str, ...], value: Any) -> None:
    """Into sets of fields, and into lists where a part of the path is the number of a row."""
    at: Any = raw
    for part in path[:-1]:
        if isinstance(at, list):
            if len(at) == int(part):
                at.append({})
            at = at[int(part)]
        else:
            at = at.setdefault(part, [] if part in _LISTS else {})
    at[path[-1]] = value


def start(now: datetime, zone: str) -> dict[str, str]:
    """What a new form begins with."""
    local = now.astimezone(ZoneInfo(zone))
    return {"client_id": str(uuid.uuid4()), "local_date": f"{local:%Y-%m-%d}", "local_time": f"{local:%H:%M}"}
