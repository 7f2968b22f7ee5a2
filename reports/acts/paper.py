"""Forms about the paper of a build: a run in the test cell, preservation."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from django import forms

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import OilKind
from breakin.services import builds
from engines.models import Build, CellRun, Preservation
from reports.acts.base import ActForm, day_field, had, read_day, read_needed, text_field
from reports.forms.fields import NumberField, QuantityField
from shop.forms import Chips
from shop.models import Person

CELL_MINUTES = Range("Minutes in the cell", Kind.MINUTES, 0.1, 1200, 10, 300, "Give minutes, or h:mm.")
CELL_OIL = Range("Oil used", Kind.VOLUME, 0, 20, 0, 3)
CELL_FF = Range("Full-throttle fuel flow", Kind.FUEL_FLOW, 0.1, 400, 3, 60)
CELL_CHT = Range("Hottest head", Kind.TEMPERATURE, 50, 600, 250, 500)
_STEP = re.compile(r"^\s*(\d{3,4})\s*(?:rpm)?[\s,;:x×]+(\d{1,3}(?:[.,]\d)?)\s*(?:min)?\s*$")


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
        self.fields["full_throttle_ff_gph"] = QuantityField(
            Kind.FUEL_FLOW, self.units, label="Fuel flow at full throttle"
        )
        self.fields["leaks"] = text_field("Leaks", 400, "Where, or “none”. Empty if nobody looked.")
        self.fields["note"] = text_field("Note", 4000, "Filter, pressures.", rows=3)

    def read(self, sheet: Sheet) -> None:
        self.run_on = read_day(sheet, "run_on", "Run on")
        self.minutes = read_needed(sheet, "minutes", CELL_MINUTES, "Give minutes, or h:mm.")
        self.steps = _read_steps(sheet)
        self.oil_used = sheet.quantity("oil_used_qt", CELL_OIL)
        self.cht_max = sheet.quantity("cht_max_degf", CELL_CHT)
        self.full_ff = sheet.quantity("full_throttle_ff_gph", CELL_FF)
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
        full_throttle_ff_gph=form.full_ff,
        leaks=form.cleaned_data["leaks"],
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
