"""Forms about the paper of a build: a run in the test cell, preservation, the close-out, taking it up again."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any, ClassVar

from django import forms

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import OilKind
from breakin.services import builds
from engines.models import Build, BuildEvent, CellRun, Preservation
from reports.acts.base import ActForm, day_field, had, read_day, read_needed, text_field
from reports.forms.fields import NumberField, QuantityField
from shop.forms import Chips
from shop.models import Person

CELL_MINUTES = Range("Minutes in the cell", Kind.MINUTES, 0.1, 1200, 10, 300, "Give minutes, or h:mm.")
CELL_OIL = Range("Oil used", Kind.VOLUME, 0, 20, 0, 3)
CELL_CHT = Range("Hottest head", Kind.TEMPERATURE, 50, 600, 250, 500)
_STEP = re.compile(r"^\s*(\d{3,4})\s*(?:rpm)?[\s,;:x×]+(\d{1,3}(?:[.,]\d)?)\s*(?:min)?\s*$")
CLOSED, INCOMPLETE = "closed", "incomplete"


class CellForm(ActForm):
    """A run in the test cell."""

    def __init__(self, *args: Any, build: Build, **kwargs: Any) -> None:
        self.build = build
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["run_on"] = day_field("Run on")
        self.fields["minutes"] = NumberField(label="Minutes in the cell", unit="min", help_text="The whole run.")
        self.fields["steps"] = text_field(
            "Steps", 2000, "One a line: rpm, then minutes. For example: 1200 10. Empty if not noted.", rows=4
        )
        self.fields["oil_kind"] = forms.ChoiceField(
            label="Kind of oil in the cell", choices=OilKind.choices, required=False, widget=Chips
        )
        self.fields["oil_used_qt"] = QuantityField(
            Kind.VOLUME, self.units, label="Oil used", help_text="Kept and shown; it never counts for an oil rate."
        )
        self.fields["cht_max_degf"] = QuantityField(Kind.TEMPERATURE, self.units, label="Highest head temperature")
        self.fields["note"] = text_field("Note", 4000, "Leaks, filter, pressures.", rows=3)

    def read(self, sheet: Sheet) -> None:
        self.run_on = read_day(sheet, "run_on", "Run on")
        self.minutes = read_needed(sheet, "minutes", CELL_MINUTES, "Give minutes, or h:mm.")
        self.steps = _read_steps(sheet)
        self.oil_used = sheet.quantity("oil_used_qt", CELL_OIL)
        self.cht_max = sheet.quantity("cht_max_degf", CELL_CHT)
        if self.run_on and self.minutes and self.build.cell_runs.filter(run_on=self.run_on, minutes=self.minutes):
            sheet.ask(
                "run_on", f"A run of {self.minutes:g} min on {self.run_on} is in the book already. Is it another?"
            )


def cell_from(form: CellForm, by: Person, now: datetime) -> CellRun:
    return builds.record_cell_run(
        by=by,
        build=form.build,
        run_on=had(form.run_on),
        minutes=had(form.minutes),
        steps=form.steps,
        oil_kind=form.cleaned_data["oil_kind"],
        oil_used_qt=form.oil_used,
        cht_max_degf=form.cht_max,
        note=form.cleaned_data["note"],
        now=now,
    )


def _read_steps(sheet: Sheet) -> list[tuple[float, float]]:
    steps = []
    for line in sheet.text("steps", "Steps", 2000).splitlines():
        if not line.strip():
            continue
        found = _STEP.match(line)
        if found is None:
            sheet.problem(
                "steps", f"“{line.strip()[:40]}” is not rpm and minutes. Write one step a line, like 1200 10."
            )
            return []
        steps.append((float(found[1]), float(found[2].replace(",", "."))))
    return steps


class PreserveForm(ActForm):
    """The engine is preserved, until a day."""

    def __init__(self, *args: Any, build: Build, **kwargs: Any) -> None:
        self.build = build
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["preserved_on"] = day_field("Preserved on")
        self.fields["expires_on"] = day_field("Good until", "What the preservative's or the maker's instruction says.")
        self.fields["preservative"] = text_field("Preservative", 80)
        self.fields["note"] = text_field("Note", 4000, "Plugs, humidity, where it stands.", rows=2)

    def read(self, sheet: Sheet) -> None:
        self.preserved_on = read_day(sheet, "preserved_on", "Preserved on")
        self.expires_on = read_day(sheet, "expires_on", "Good until")
        if self.preserved_on is None or self.expires_on is None:
            return
        if self.build.preservations.filter(preserved_on=self.preserved_on, expires_on=self.expires_on).exists():
            sheet.problem("preserved_on", "This preservation is in the book already, with the same two days.")


def preserve_from(form: PreserveForm, by: Person, now: datetime) -> Preservation:
    typed = form.cleaned_data
    return builds.preserve(
        by=by,
        build=form.build,
        preserved_on=had(form.preserved_on),
        expires_on=had(form.expires_on),
        preservative=typed["preservative"],
        note=typed["note"],
        now=now,
    )


class CloseForm(ActForm):
    """The end of a break-in. `lacking` is how many things the review still asks for."""

    places: ClassVar[dict[str, str]] = {"at": "reason"}

    def __init__(self, *args: Any, build: Build, lacking: int, **kwargs: Any) -> None:
        self.build, self.lacking = build, lacking
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["how"] = forms.ChoiceField(
            label="How does it end?",
            choices=(
                (CLOSED, "closed out: the criteria were reviewed"),
                (INCOMPLETE, "closed incomplete: sold abroad, removed, or no answer"),
            ),
            required=False,
            widget=Chips(attrs={"class": "chips--column"}),
        )
        self.reason("Why is it closed?", "In a few words, with what decided it.")
        if self.lacking:
            self.fields["seen"] = forms.BooleanField(
                label="I have read what is lacking, and close it out with that reservation", required=False
            )

    def read(self, sheet: Sheet) -> None:
        sheet.need("how", "How it ends", "Choose one of the two.")
        sheet.need("reason", "The reason", "Say in a few words why it is closed.")
        if sheet.raw.get("how") == CLOSED and self.lacking and not sheet.raw.get("seen"):
            sheet.problem(
                "seen", "The review still lacks something. Read the list above; to close out all the same, set this."
            )


def close_from(form: CloseForm, by: Person, now: datetime) -> BuildEvent:
    act = builds.close_out if form.cleaned_data["how"] == CLOSED else builds.close_incomplete
    return act(by=by, build=form.build, reason=form.cleaned_data["reason"], now=now)


class ReopenForm(ActForm):
    """Taking a closed break-in up again."""

    def ask_for(self) -> None:
        self.reason("Why is it taken up again?", "In a few words, with what was seen.")

    def read(self, sheet: Sheet) -> None:
        sheet.need("reason", "The reason", "Say in a few words why it is taken up again.")


def reopen_from(form: ReopenForm, build: Build, by: Person, now: datetime) -> BuildEvent:
    return builds.reopen(by=by, build=build, reason=form.cleaned_data["reason"], now=now)
