"""What every form of the shop's acts has in common: reading typed values, asking back, errors at their fields."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, ClassVar, TypeVar, cast
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy

from breakin.entries.moments import check_past
from breakin.entries.moments import local as local_moment
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.saying import spoken
from reports.forms.flight import clock_words
from shop.errors import Problem
from shop.forms import BookForm
from shop.models import Person

T = TypeVar("T")

NOBODY = gettext_lazy(
    "This login belongs to no person, so it can't sign for an act of the shop. Give it a person first."
)


class ActForm(BookForm):
    """A form whose values are read by the parser of entries, so that what it refuses comes back as it was typed.

    `read` takes the values out of the sheet. `asked` holds what is possible but unusual and not yet confirmed: nothing
    is done before it is empty. `places` says at which field of the form a problem of the service is shown.
    """

    places: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, units: str, zone: str, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units, self.zone, self.now = units, zone, now
        self.asked: list[Problem] = []
        self.on_page: dict[str, Any] = {}
        self.ask_for()

    def ask_for(self) -> None:
        """Add the fields."""
        raise NotImplementedError

    def read(self, sheet: Sheet) -> None:
        """Take the typed values out of the sheet and keep them on the form."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        sheet = Sheet(typed, units=self.units)
        confirmed = cast("Any", self.data).getlist("confirmed") if hasattr(self.data, "getlist") else []
        sheet.found.confirmed = frozenset(confirmed)
        self.read(sheet)
        self.refuse(sheet.found.problems)
        asked = () if self.errors else sheet.found.warnings
        self.asked = [Problem(each.field, spoken(each.message, self.units)) for each in asked]
        return typed

    @property
    def hidden(self) -> list[tuple[str, Any]]:
        """Name and value of each hidden field. What the page shows now goes before what was posted."""
        return [(field.name, self.on_page.get(field.name, field.value())) for field in self.hidden_fields()]

    def refuse(self, problems: Iterable[Problem]) -> None:
        """Put every problem at its field; one about something that isn't here stands on top."""
        for problem in problems:
            name = self.place_of(problem.field)
            shown = name in self.fields and not self[name].is_hidden
            self.add_error(name if shown else None, spoken(problem.message, self.units))

    def place_of(self, field: str) -> str:
        return self.places.get(field, field)

    # --- fields that many acts have --------------------------------------------------------------------------------

    def moment(self, name: str, label: str) -> None:
        """A date and a time on the reader's own clock: `name_date` and `name_time`."""
        self.fields[f"{name}_date"] = day_field(f"{label}, date")
        self.fields[f"{name}_time"] = forms.CharField(
            label="Time",
            required=False,
            max_length=12,
            help_text=clock_words(self.zone),
            widget=forms.TimeInput(attrs={"type": "time"}),
        )

    def reason(self, label: str, help_text: str = "") -> None:
        self.fields["reason"] = forms.CharField(
            label=label,
            help_text=help_text,
            max_length=400,
            required=False,
            widget=forms.Textarea(attrs={"rows": 2}),
        )

    def read_moment(self, sheet: Sheet, name: str, label: str) -> datetime | None:
        """The moment that was typed; a problem in the sheet where there is none."""
        parts = (f"{name}_date", f"{name}_time")
        if not any(sheet.given(part) for part in parts):
            sheet.problem(parts[0], f"{label}: the date is missing. Write it like 2026-11-24.")
            return None
        at = local_moment(sheet, *parts, label, self.zone)
        if at is not None:
            check_past(sheet, parts[0], label, at, self.zone, self.now)
        return at


def day_field(label: str, help_text: str = "") -> forms.Field:
    widget = forms.DateInput(attrs={"type": "date"})
    return forms.CharField(label=label, help_text=help_text, max_length=20, required=False, widget=widget)


def text_field(label: str, longest: int, help_text: str = "", *, rows: int = 0) -> forms.Field:
    widget = forms.Textarea(attrs={"rows": rows}) if rows else forms.TextInput()
    return forms.CharField(label=label, help_text=help_text, max_length=longest, required=False, widget=widget)


def person_field(label: str, roles: Iterable[str], help_text: str = "") -> forms.Field:
    """One of the people who hold one of these roles in the shop today."""
    held = Person.objects.filter(shop_roles__role__in=list(roles), shop_roles__until__isnull=True)
    people = held.order_by("name", "id").distinct()
    return forms.ModelChoiceField(people, label=label, help_text=help_text, required=False, empty_label="not named")


def read_day(sheet: Sheet, name: str, label: str, *, needed: bool = True) -> date | None:
    value = sheet.get(name)
    if value is None:
        if needed:
            sheet.problem(name, f"{label}: the date is missing. Write it like 2026-11-24.")
        return None
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        sheet.problem(name, f"{label}: “{str(value)[:40]}” is not a date. Write it like 2026-11-24.")
        return None


def read_needed(sheet: Sheet, name: str, what: Range, mend: str) -> float | None:
    """A measured value that has to be there."""
    return sheet.quantity(name, what) if sheet.need(name, what.label, mend) else None


def read_decimal(sheet: Sheet, name: str, label: str, low: float, high: float) -> float | None:
    """A number without a unit, with a decimal point or comma."""
    value = sheet.get(name)
    if value is None:
        return None
    try:
        number = float(str(value).strip().replace(",", "."))
    except ValueError:
        number = float("nan")
    if not low <= number <= high:
        sheet.problem(name, f"{label}: “{str(value)[:40]}” is not a number from {low:g} to {high:g}. Check it.")
        return None
    return number


def had(value: T | None) -> T:
    """A value that every valid form has."""
    assert value is not None  # noqa: S101
    return value


def start_of(name: str, now: datetime, zone: str) -> dict[str, str]:
    """What the fields of a moment begin with: now, on the reader's clock."""
    local = now.astimezone(ZoneInfo(zone))
    return {f"{name}_date": f"{local:%Y-%m-%d}", f"{name}_time": f"{local:%H:%M}"}
