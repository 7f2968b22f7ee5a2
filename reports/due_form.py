"""The form that completes a due item: the fields of the inspection that closes it, handed on as typed."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from breakin.calc.units import Kind
from breakin.calc.inspection import COUNTS, MATERIALS
from breakin.entries.inspection_oil import MAGNET
from breakin.entries.oil import BELLY_WORDS
from breakin.models import DueItem, OilKind
from engines.models import InspectionKind, InspectionResult
from reports.forms.fields import NumberField, QuantityField, Steps
from shop.errors import Problem
from shop.forms import BookForm, Chips

YES_NO = (("yes", "yes"), ("no", "no"))
SHUTDOWN = (("<10", "under 10 min"), ("10-30", "10 to 30 min"), ("30-120", "30 min to 2 h"), ("overnight", "overnight"))
VERDICTS = tuple(InspectionResult.choices)
# A due item's kind -> the inspection that closes it. What is missing here is closed by a flight or an answer.
CLOSED_BY: dict[str, InspectionKind] = {
    "oil_reading": InspectionKind.OIL_CHECK,
    "oil_check": InspectionKind.OIL_CHECK,
    "follow_up": InspectionKind.OIL_CHECK,
    "oil_filter": InspectionKind.OIL_FILTER,
    "leak": InspectionKind.LEAK,
    "fuel_flow": InspectionKind.FUEL_FLOW,
    "preservation": InspectionKind.PRESERVATION,
}


@dataclass(frozen=True)
class AskedItem:
    """A due item as a page lists it; `closable` where an inspection closes it."""

    item: DueItem
    closable: bool

    @classmethod
    def of(cls, item: DueItem) -> AskedItem:
        return cls(item, inspection_for(item) is not None)


def inspection_for(item: DueItem) -> InspectionKind | None:
    """The inspection that closes this item, or None when something else does."""
    return CLOSED_BY.get(item.kind)


@dataclass(frozen=True)
class Named:
    """Where a field goes in the raw entry: under "reading", "drain_fill", "results", or at its top ("")."""

    part: str
    name: str


class DueForm(BookForm):
    """The head and foot that every inspection has; `fields_of` puts the fields of its kind between."""

    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)
    local_date = forms.CharField(
        label="Done on", max_length=20, widget=forms.DateInput(attrs={"type": "date"}), required=False
    )
    local_time = forms.CharField(
        label="At", max_length=12, widget=forms.TimeInput(attrs={"type": "time"}), required=False
    )

    def __init__(self, kind: InspectionKind, units: str, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        self.places: dict[str, Named] = {}
        for part, name, field in fields_of(kind, units):
            self.fields[name] = field
            self.places[name] = Named(part, name)
        if kind != InspectionKind.OIL_CHECK:
            self._add("", "result", _choice("Verdict", VERDICTS))
        self._add("", "note", forms.CharField(label="Note", required=False, max_length=4000, widget=_note()))

    def _add(self, part: str, name: str, field: forms.Field) -> None:
        self.fields[name] = field
        self.places[name] = Named(part, name)

    def raw(self, confirmed: Sequence[str]) -> dict[str, Any]:
        """What was typed, in the shape that `parse_inspection` reads. Fields left empty are left out."""
        raw: dict[str, Any] = {"client_id": self.cleaned_data["client_id"], "kind": self.kind.value}
        raw |= {name: self.cleaned_data[name] for name in ("local_date", "local_time") if self.cleaned_data.get(name)}
        if confirmed:
            raw["confirmed"] = list(confirmed)
        for place in self.places.values():
            value = self.cleaned_data.get(place.name)
            if value in (None, ""):
                continue
            target = raw.setdefault(place.part, {}) if place.part else raw
            target[place.name] = value
        if self.kind == InspectionKind.LEAK:
            _gather_spot(raw)
        return raw

    def refuse(self, problems: Sequence[Problem]) -> None:
        """Put every problem at its field; one about a field that isn't here stands on top."""
        for problem in problems:
            name = problem.field.rsplit(".", 1)[-1]
            self.add_error(
                _ALIASES.get(name, name) if _ALIASES.get(name, name) in self.fields else None, problem.message
            )


_ALIASES = {
    "happened_at": "local_date",
    "grade": "spot_grade",
    "where": "spot_where",
    "drain_fill": "filled",
    "reading": "level",
}


def _gather_spot(raw: dict[str, Any]) -> None:
    """The form asks for the worst place; the entry holds a list of places."""
    results = raw.setdefault("results", {})
    where, grade = results.pop("spot_where", None), results.pop("spot_grade", None)
    if where or grade:
        results["spots"] = [{"where": where or "", "grade": grade}]


def start(now: datetime, zone: str) -> dict[str, str]:
    """What a new form begins with."""
    local = now.astimezone(ZoneInfo(zone))
    return {"client_id": str(uuid.uuid4()), "local_date": f"{local:%Y-%m-%d}", "local_time": f"{local:%H:%M}"}


def fields_of(kind: InspectionKind, units: str) -> list[tuple[str, str, forms.Field]]:
    """(part of the entry, name, field) of one kind of inspection, in the order of doing it."""
    return _FIELDS[kind](units)


def _oil_check(units: str) -> list[tuple[str, str, forms.Field]]:
    return [
        (
            "reading",
            "level",
            QuantityField(Kind.VOLUME, units, label="Oil level on the stick", steps=Steps("0.25", "0")),
        ),
        ("reading", "minutes_since_shutdown", _choice("Read how long after shutdown", SHUTDOWN)),
        ("reading", "level_ground", _choice("Standing on level ground", YES_NO)),
        ("reading", "wiped_twice", _choice("Stick wiped and read twice", YES_NO)),
        ("reading", "belly_oil", _choice("Oil on belly or cowl", tuple((word, word) for word in BELLY_WORDS))),
        ("results", "seen", _text("What was seen", 400)),
    ]


def _oil_filter(units: str) -> list[tuple[str, str, forms.Field]]:
    return [
        (
            "drain_fill",
            "drained",
            QuantityField(Kind.VOLUME, units, label="Drained, by weight or measure", steps=Steps("0.25", "0")),
        ),
        ("drain_fill", "filled", QuantityField(Kind.VOLUME, units, label="Filled", steps=Steps("0.25", "0"))),
        ("drain_fill", "oil_kind", _choice("Kind of oil filled", tuple(OilKind.choices))),
        ("drain_fill", "brand", _text("Brand and grade", 80)),
        ("drain_fill", "filter_changed", _choice("Filter changed", YES_NO)),
        ("results", "opened", _choice("Filter cut open, or screen looked at", YES_NO)),
        ("results", "material", _choice("What was in it", _words(MATERIALS))),
        ("results", "count", _choice("How many", _words(COUNTS))),
        ("results", "longest_mm", NumberField(label="Longest piece", unit="mm")),
        ("results", "magnet", _choice("Magnet", _words(MAGNET))),
    ]


def _leak(units: str) -> list[tuple[str, str, forms.Field]]:
    grades = (("0", "dry"), ("1", "film"), ("2", "drips"), ("3", "streaming"))
    return [
        ("results", "spot_where", _text("Worst place", 80)),
        ("results", "spot_grade", _choice("How wet there", grades)),
        ("results", "torque_done", _choice("Torque rechecked, items by the maker", YES_NO)),
        ("results", "cleaned", _choice("Cleaned", YES_NO)),
        ("results", "cause", _text("Cause", 400)),
        ("results", "action", _text("What was done", 400)),
    ]


def _fuel_flow(units: str) -> list[tuple[str, str, forms.Field]]:
    return [
        ("results", "found_full_gph", QuantityField(Kind.FUEL_FLOW, units, label="Full-throttle fuel flow as found")),
        ("results", "full_gph", QuantityField(Kind.FUEL_FLOW, units, label="Full-throttle fuel flow as left")),
        ("results", "idle_gph", QuantityField(Kind.FUEL_FLOW, units, label="Idle fuel flow as left")),
        ("results", "gauge", _text("Gauge used", 80)),
        ("results", "gauge_until", _day("Gauge calibrated until")),
    ]


def _preservation(units: str) -> list[tuple[str, str, forms.Field]]:
    return [
        ("results", "expires_on", _day("Preserved until")),
        ("results", "preservative", _text("Preservative", 80)),
        ("results", "humidity_ok", _choice("Humidity plugs in order", YES_NO)),
    ]


_FIELDS = {
    InspectionKind.OIL_CHECK: _oil_check,
    InspectionKind.OIL_FILTER: _oil_filter,
    InspectionKind.LEAK: _leak,
    InspectionKind.FUEL_FLOW: _fuel_flow,
    InspectionKind.PRESERVATION: _preservation,
}


def _choice(label: str, choices: Sequence[tuple[str, str]]) -> forms.Field:
    return forms.ChoiceField(label=label, choices=choices, required=False, widget=Chips)


def _text(label: str, longest: int) -> forms.Field:
    return forms.CharField(label=label, max_length=longest, required=False)


def _day(label: str) -> forms.Field:
    return forms.CharField(label=label, max_length=20, required=False, widget=forms.DateInput(attrs={"type": "date"}))


def _note() -> forms.Textarea:
    return forms.Textarea(attrs={"rows": 3})


def _words(names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name.replace("_", " ").replace("non metal", "non-metal")) for name in names)
