"""The form that copies or revises a plan template: every number of a plan, with its unit and what it does."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any, ClassVar

from django import forms

from breakin.calc.inspection import COUNTS
from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import OilKind, PlanTemplate, StageKind
from breakin.plan_templates import SOURCE
from breakin.services.plan_templates import BANDS, POWER_STAGES, check_template, save_template
from reports.acts.base import read_decimal, text_field
from reports.acts.look import LookForm
from reports.forms.fields import NumberField, QuantityField
from shop.forms import Chips
from shop.models import Person

DOCUMENT, PRACTICE = "document", "practice"
# Chunks are a Stop in any number, so no table allows for them.
MATERIALS = (("fuzz", "fine fuzz"), ("non_metal", "no metal"), ("flake", "flakes"), ("sliver", "slivers"))
# name, label, unit, from, to, help
NUMBERS: tuple[tuple[str, str, str, float, float, str], ...] = (
    ("band_75_low", "75 % band, from", "%", 40, 100, "Minutes within it count as high power."),
    ("band_75_high", "75 % band, to", "%", 40, 100, ""),
    ("band_65_low", "65 % band, from", "%", 40, 100, "Minutes within it count as the lower power."),
    ("band_65_high", "65 % band, to", "%", 40, 100, ""),
    ("low", "Light running below", "%", 30, 80, "Airborne minutes below it glaze rather than seat."),
    ("expected_low_h", "Expected hours, from", "h", 0, 400, "Used where the hours do not follow from the finish."),
    ("expected_high_h", "Expected hours, to", "h", 0, 400, ""),
    ("minimum_h", "Review not before", "h", 0, 400, ""),
    ("ground_note_min", "Ground running: note above", "min", 0, 180, "Minutes of one build in all."),
    ("ground_call_min", "Ground running: call above", "min", 0, 180, ""),
    ("first_oil_from_h", "First oil and filter, not before", "h", 0.5, 100, ""),
    ("first_oil_h", "First oil and filter", "h", 0.5, 100, ""),
    ("first_oil_until_h", "First oil and filter, at the latest", "h", 0.5, 100, ""),
    ("first_check_h", "Compression and bores are not judged before", "h", 0, 400, ""),
)  # fmt: skip
RATES = (("accept_qt_h", "Accepted loss"), ("watch_qt_h", "Watch rate"), ("alarm_qt_h", "Alarm rate"))
LISTS = (
    ("follow_up_h", "Follow-ups after close-out, hours", 1, 2000, "Separated by commas, for example 10, 25, 50."),
    ("follow_up_days", "or days, whichever come first", 1, 2000, "One for each, or empty."),
    ("idle_days", "Days without a flight: nudge, chase, call, manager", 1, 365, "Four, for example 10, 14, 21, 30."),
)
_STAGE_TEXTS = (
    ("mixture", "Mixture"), ("cowl_flaps", "Cowl flaps"), ("aboard", "Who may be aboard"), ("advice", "Advice"),
)  # fmt: skip
CAPPED = (StageKind.HOUR_1, StageKind.HOUR_2)
CLIMB_TO = Range("Climb to", Kind.ALTITUDE, 300, 30_000, 1000, 12_000)
HIGHEST = Range("Highest altitude", Kind.ALTITUDE, 500, 30_000, 2000, 18_000)
_MINUTES = re.compile(r"^(\d{1,3})(?:\s*(?:min\s*)?(?:at|@|x|:)\s*|\s+(?:min\s+)?)(\d{2})\s*%?$", re.IGNORECASE)
_MOST_MINUTES = 400


class TemplateForm(LookForm):
    """`values` is what a valid form asks to keep. The name is asked for a copy only."""

    salt = "a plan template"
    groups = (
        ("The template", ("name", "variant")),
        ("What it follows", ("source_kind", "source", "source_revision")),
        ("Power", ("band_75_low", "band_75_high", "band_65_low", "band_65_high", "low")),
        ("Hours", ("hours_by_finish", "expected_low_h", "expected_high_h", "minimum_h")),
        ("Oil", ("oil_kind", "rates_by_type", *(name for name, _ in RATES))),
        ("Ground running", ("ground_note_min", "ground_call_min")),
        ("First oil change, and looks", (
            "first_oil_from_h", "first_oil_h", "first_oil_until_h", "first_check_h",
            *(f"filter_{name}" for name, _ in MATERIALS),
        )),
        ("Follow-ups and idle days", tuple(name for name, *_ in LISTS)),
    )  # fmt: skip
    places: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, origin: PlanTemplate, copy: bool, **kwargs: Any) -> None:
        self.origin, self.copy = origin, copy
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        super().ask_for()
        self.on_page["after"] = 0 if self.copy else self.origin.revision
        self.fields["after"] = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)
        if self.copy:
            self.fields["name"] = text_field("Name", 80, "What it is for, as it is offered when a plan is issued.")
        self.fields["variant"] = text_field("For", 40, "For example: constant speed, fixed pitch, turbo, partial.")
        self.fields["source_kind"] = forms.ChoiceField(
            label="It follows", required=False, widget=Chips,
            choices=((DOCUMENT, "a document, named below"), (PRACTICE, "common practice, no source")),
        )  # fmt: skip
        self.fields["source"] = text_field("Document", 400, "The maker's or the supplier's instruction.", rows=2)
        self.fields["source_revision"] = text_field("Its revision and date", 80)
        for name, label, unit, _, _, hint in NUMBERS:
            self.fields[name] = NumberField(label=label, unit=unit, help_text=hint)
        self.fields["hours_by_finish"] = forms.BooleanField(
            label="The hours follow from the slowest finish fitted", required=False
        )
        self.fields["rates_by_type"] = forms.BooleanField(label="The rates follow from the engine type", required=False)
        self.fields["oil_kind"] = forms.ChoiceField(
            label="Kind of oil", choices=OilKind.choices, required=False, widget=Chips
        )
        for name, label in RATES:
            hint = "In one hour; used where the rates do not follow from the type." if name == "accept_qt_h" else ""
            self.fields[name] = QuantityField(Kind.VOLUME, self.units, label=f"{label}, an hour", help_text=hint)
        for name, label in MATERIALS:
            self.fields[f"filter_{name}"] = forms.ChoiceField(
                label=f"Most {label} in a filter", required=False,
                choices=[("", "no line"), *((count, count) for count in COUNTS)],
                help_text="None is 0, few 1 to 5, some 6 to 15, many more." if name == "fuzz" else "",
            )  # fmt: skip
        for name, label, _, _, hint in LISTS:
            self.fields[name] = text_field(label, 80, hint)
        for kind in StageKind:
            self.fields |= self._stage_fields(kind)

    def _stage_fields(self, kind: StageKind) -> dict[str, forms.Field]:
        fields: dict[str, forms.Field] = {}
        if kind in POWER_STAGES:
            fields["minutes"] = text_field("Minutes", 200, "Like 60 at 75, or 15 at 75, 15 at 65.")
            if kind in CAPPED:
                fields["cap_h"] = NumberField(label="Ends in any case at", unit="h", help_text="Break-in hours.")
            fields["rpm"] = NumberField(label="Planned rpm", unit="rpm", help_text="Empty: not planned.")
            fields["altitude_max_ft"] = QuantityField(
                Kind.ALTITUDE, self.units, label="Highest altitude", help_text="For power or cooling. Empty: no limit."
            )
        if kind == StageKind.CLIMB:
            fields["climb_to_ft"] = QuantityField(Kind.ALTITUDE, self.units, label="Climb to")
            fields["climb_reference"] = forms.ChoiceField(
                label="That height is", required=False, widget=Chips,
                choices=(("field", "above the field"), ("sea", "above sea level")),
            )  # fmt: skip
        for name, label in _STAGE_TEXTS:
            if name != "mixture" or kind != StageKind.GROUND:
                fields[name] = text_field(label, 600, rows=2)
        return {f"s_{kind.value}_{name}": field for name, field in fields.items()}

    def stages(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """(heading, fields) of each stage in the order of a plan."""
        for kind in StageKind:
            yield (
                str(kind.label).capitalize(),
                [self[name] for name in self.fields if name.startswith(f"s_{kind.value}_")],
            )

    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The groups without the stages, which stand under headings of their own."""
        return [(str(heading), fields) for heading, fields in self.grouped() if heading]

    # --- reading ----------------------------------------------------------------------------------------------------

    def read(self, sheet: Sheet) -> None:
        if self.copy:
            sheet.need("name", "The name", "Say what the template is for.")
        sheet.need("variant", "What it is for", "For example: constant speed.")
        numbers = {name: _number(sheet, name, label, unit, low, high) for name, label, unit, low, high, _ in NUMBERS}
        bands = {band: [numbers.pop(f"band_{band}_low"), numbers.pop(f"band_{band}_high")] for band in BANDS}
        self.values: dict[str, Any] = {
            "variant": sheet.text("variant", "For", 40),
            **self._source(sheet),
            "credit": bands,
            **numbers,
            **{name: bool(sheet.raw.get(name)) for name in ("hours_by_finish", "rates_by_type")},
            **{name: self._rate(sheet, name, label) for name, label in RATES},
            "oil_kind": sheet.choice("oil_kind", "Kind of oil", OilKind.values),
            **{name: _list(sheet, name, label, low, high) for name, label, low, high, _ in LISTS},
            "filter_table": {
                name: str(sheet.raw[f"filter_{name}"]) for name, _ in MATERIALS if sheet.raw.get(f"filter_{name}")
            },
            "stages": [self._stage(sheet, kind) for kind in StageKind],
        }
        sheet.need("oil_kind", "The kind of oil", "Choose it.")
        if not sheet.found.problems:
            sheet.found.problems += check_template(self.values)

    def _source(self, sheet: Sheet) -> dict[str, str]:
        kind = sheet.choice("source_kind", "It follows", (DOCUMENT, PRACTICE))
        source, revision = sheet.text("source", "Document", 400), sheet.text("source_revision", "Its revision", 80)
        if not kind:
            sheet.problem("source_kind", "Which document does it follow? Name it, or say openly that there is none.")
        elif kind == DOCUMENT:
            sheet.need("source", "The document", "Name it, or say that it is common practice without a source.")
            sheet.need("source_revision", "Its revision and date", "It changes with time.")
        elif source:
            sheet.problem("source_kind", "A document is named below. Choose it, or empty the field.")
        if kind == PRACTICE:
            return {"source": SOURCE, "source_revision": revision or "shop template"}
        return {"source": source, "source_revision": revision}

    def _rate(self, sheet: Sheet, name: str, label: str) -> float | None:
        sheet.need(name, label, "Type it; it is used where the rates do not follow from the type.")
        return sheet.quantity(name, Range(f"{label} of oil in one hour", Kind.VOLUME, 0, 10, 0.02, 3))

    def _stage(self, sheet: Sheet, kind: StageKind) -> dict[str, Any]:
        at = f"s_{kind.value}_"
        stage: dict[str, Any] = {
            "kind": kind.value, "minutes": [], "cap_h": None, "rpm": None, "climb_to_ft": None,
            "climb_reference": "field", "altitude_max_ft": None, "mixture": "",
        }  # fmt: skip
        stage |= {name: sheet.text(at + name, label, 600) for name, label in _STAGE_TEXTS if at + name in self.fields}
        where = str(kind.label).capitalize()
        if kind in POWER_STAGES:
            stage["minutes"] = _minutes(sheet, at + "minutes", where)
            stage["rpm"] = read_decimal(sheet, at + "rpm", f"{where}, planned rpm", 500, 6500)
            stage["altitude_max_ft"] = sheet.quantity(at + "altitude_max_ft", HIGHEST)
        if kind in CAPPED:
            stage["cap_h"] = read_decimal(sheet, at + "cap_h", f"{where}, ends in any case at, in hours", 0.5, 50)
        if kind == StageKind.CLIMB:
            stage["climb_to_ft"] = sheet.quantity(at + "climb_to_ft", CLIMB_TO)
            stage["climb_reference"] = (
                sheet.choice(at + "climb_reference", "That height is", ("field", "sea")) or "field"
            )
        return stage

    def asks_for(self) -> Any:
        return [self.origin.pk, self.copy, self.cleaned_data.get("name"), sorted(self.values.items())]


def keep_from(form: TemplateForm, by: Person, now: datetime) -> PlanTemplate:
    """Keep the template of a valid form.

    Raises
    ------
    Refusal : see `save_template`.
    """
    typed = form.cleaned_data
    name = typed["name"] if form.copy else form.origin.name
    after = int(typed["after"]) if str(typed.get("after") or "").isdigit() else 0
    return save_template(by=by, name=name, values=form.values, copied_from=form.origin, after=after, now=now)


def as_it_is(template: PlanTemplate) -> dict[str, Any]:
    """What the form begins with."""
    practice = template.source.startswith(SOURCE[:30])
    start: dict[str, Any] = {
        "variant": template.variant, "source_kind": PRACTICE if practice else DOCUMENT,
        "source": "" if practice else template.source, "source_revision": template.source_revision,
        "oil_kind": template.oil_kind, "hours_by_finish": template.hours_by_finish,
        "rates_by_type": template.rates_by_type,
    }  # fmt: skip
    for band in BANDS:
        low, high = template.credit[band]
        start |= {f"band_{band}_low": f"{low:g}", f"band_{band}_high": f"{high:g}"}
    start |= {name: f"{getattr(template, name):g}" for name, *_ in NUMBERS if not name.startswith("band_")}
    start |= {name: {"value": f"{getattr(template, name):g}", "unit": "qt"} for name, _ in RATES}
    start |= {name: ", ".join(f"{each:g}" for each in getattr(template, name)) for name, *_ in LISTS}
    start |= {f"filter_{name}": template.filter_table.get(name, "") for name, _ in MATERIALS}
    for stage in template.stages:
        start |= {f"s_{stage['kind']}_{name}": value for name, value in _stage_as_it_is(stage).items()}
    return start


def _stage_as_it_is(stage: dict[str, Any]) -> dict[str, Any]:
    shown: dict[str, Any] = {name: stage.get(name, "") for name, _ in _STAGE_TEXTS}
    shown |= {name: f"{stage[name]:g}" for name in ("cap_h", "rpm") if stage.get(name) is not None}
    for name in ("climb_to_ft", "altitude_max_ft"):
        if stage.get(name) is not None:
            shown[name] = {"value": f"{stage[name]:g}", "unit": "ft"}
    shown["climb_reference"] = stage.get("climb_reference") or "field"
    shown["minutes"] = minutes_words(stage.get("minutes") or [])
    return shown


def minutes_words(minutes: Any) -> str:
    """ "15 at 75, 15 at 65", as the form reads it back."""
    return ", ".join(f"{length:g} at {band}" for length, band in minutes)


def _number(sheet: Sheet, name: str, label: str, unit: str, low: float, high: float) -> float:
    sheet.need(name, label, f"Type a number from {low:g} to {high:g} {unit}.")
    return read_decimal(sheet, name, f"{label}, {unit}", low, high) or 0.0


def _list(sheet: Sheet, name: str, label: str, low: float, high: float) -> list[float]:
    found: list[float] = []
    for part in sheet.text(name, label, 80).replace(";", ",").split(","):
        if not part.strip():
            continue
        try:
            number = float(part)
        except ValueError:
            number = float("nan")
        if not low <= number <= high:
            sheet.problem(name, f"{label}: “{part.strip()[:20]}” is not a number from {low:g} to {high:g}. Check it.")
            return []
        found.append(int(number) if number.is_integer() else number)
    return found


def _minutes(sheet: Sheet, name: str, where: str) -> list[list[Any]]:
    found: list[list[Any]] = []
    for part in re.split(r"[,;\n]", sheet.text(name, "Minutes", 200)):
        if not part.strip():
            continue
        read = _MINUTES.match(part.strip())
        if read is None or read[2] not in BANDS or not 0 < int(read[1]) <= _MOST_MINUTES:
            sheet.problem(
                name, f"{where}: “{part.strip()[:30]}” is not minutes at 75 or at 65. Write it like 15 at 75, 15 at 65."
            )
            return []
        found.append([int(read[1]), read[2]])
    return found
