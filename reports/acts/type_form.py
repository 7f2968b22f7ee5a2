"""The form that enters an engine type or its next revision, with its power chart as it was pasted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from django import forms

from breakin.calc.units import Kind
from breakin.entries.chart_grid import FIXED_PITCH, GRID, LINE, MAP_RPM, ReadChart, read_chart
from breakin.entries.chart_text import as_pasted
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.services.engine_types import enter_type, revise_type
from engines.models import Cooling, EngineType, EngineTypeRevision, FuelSystem, Induction, PropControl
from reports.acts.base import day_field, read_day, text_field
from reports.acts.look import LookForm
from reports.acts.type_fields import CRITICAL, LAYOUTS, MEASURED, MOST_CYLINDERS, MOST_IN_TWO_ROWS, PLAIN
from reports.acts.type_reading import check_together, read_map, read_plain, read_recheck
from reports.forms.fields import NumberField, QuantityField
from shop.forms import Chips
from shop.models import Person

NO_CHART = "none"
YES, NO = "yes", "no"
_CHOICES: tuple[tuple[str, str, Any, str], ...] = (
    ("layout", "Layout", LAYOUTS, ""),
    ("induction", "Induction", Induction.choices, ""),
    ("fuel_system", "Fuel system", FuelSystem.choices, ""),
    ("prop_control", "Propeller", PropControl.choices, ""),
    ("cooling", "Cooling", Cooling.choices, ""),
)
_NAMES = (*(each.name for each in PLAIN), *(each.name for each in MEASURED))
_RECHECK = "One a line: what, then from, to and unit where the maker gives them. For example: Magneto timing; 24; 26; °"


class TypeForm(LookForm):
    """The numbers of a type. `values` is what a valid form asks to keep, `chart` what was made of the pasted chart."""

    groups = (
        ("The type", ("maker", "designation", "layout", "cylinders", "numbering", "cylinder_map")),
        ("Where the numbers come from", ("source", "source_date")),
        ("Power", (
            "displacement_cuin", "compression_ratio", "rated_hp", "rated_rpm", "max_continuous_hp",
            "max_continuous_rpm", "engine_turns_per_prop_turn", "induction", "max_map_inhg", "altitude_cap_ft",
            "prop_control", "cooling", "log_only",
        )),
        ("Fuel", (
            "fuel_system", "fuel_flow_compensates", "takeoff_ff_low_gph", "takeoff_ff_high_gph", "takeoff_ff_at",
            "bsfc_best_power_lb_hp_h", "fuel_lb_per_gal",
        )),
        ("Oil", (
            "dry_sump", "sump_full_qt", "sump_usable_qt", "sump_min_qt", "settle_qt", "oil_ceiling_qt_h",
            "oil_temp_min_degf", "oil_temp_normal_degf", "oil_temp_max_degf", "oil_press_idle_min_psi",
            "oil_press_min_psi", "oil_press_normal_psi", "oil_press_max_psi",
        )),
        ("Heat", ("cht_watch_degf", "cht_limit_degf", "cht_limit_source", "cht_limit_source_date", "tit_limit_degf")),
        ("The maker's recheck list", ("recheck",)),
        ("Power chart", (
            "chart_kind", "chart_source", "chart_revision", "percent", GRID, "line_is_last", LINE,
            "critical_altitude_ft",
        )),
        ("", ("unusual_reason",)),
    )  # fmt: skip
    places: ClassVar[dict[str, str]] = {"chart": GRID}
    salt = "the numbers of an engine type"

    def __init__(self, *args: Any, kind: EngineType | None, newest: EngineTypeRevision | None, **kwargs: Any) -> None:
        self.kind, self.newest = kind, newest
        self.chart: ReadChart | None = None
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        super().ask_for()
        self.on_page["after"] = self.newest.number if self.newest else 0
        self.fields["after"] = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)
        if self.kind is None:
            self.fields["maker"] = text_field("Maker", 80)
            self.fields["designation"] = text_field("Designation", 40, "Exactly as on the data plate.")
        for name, label, choices, hint in _CHOICES:
            self.fields[name] = forms.ChoiceField(
                label=label, choices=choices, help_text=hint, required=False, widget=Chips
            )
        self.fields["cylinders"] = NumberField(label="Cylinders")
        self.fields["numbering"] = text_field("Where no. 1 sits", 120, "Seen from the pilot's seat; makers differ.")
        self.fields["cylinder_map"] = text_field(
            "Map of the cylinders", 200, "Rows from the front back, each from left to right, a dash for a gap. "
            "For example 2 1, and 4 3 on the next line. Empty: the build sheet draws no places.", rows=3,
        )  # fmt: skip
        self.fields["source"] = text_field("Document and revision", 600, rows=2)
        self.fields["source_date"] = day_field("Date of that revision")
        for plain in PLAIN:
            self.fields[plain.name] = NumberField(label=plain.label, unit=plain.unit, help_text=plain.help)
        for each in MEASURED:
            self.fields[each.name] = QuantityField(
                each.what.kind, self.units, label=each.what.label, help_text=each.help
            )
        self.fields["fuel_flow_compensates"] = forms.ChoiceField(
            label="Does full-throttle fuel flow follow air density?", required=False, widget=Chips,
            choices=(("", "not known"), (YES, "yes"), (NO, "no")),
        )  # fmt: skip
        self.fields["takeoff_ff_at"] = text_field("The band holds at", 120, "Rpm, MP, density altitude.")
        self.fields["dry_sump"] = forms.BooleanField(label="Dry sump", required=False)
        self.fields["log_only"] = forms.BooleanField(
            label="Log only: outside the standard rules, nothing is judged", required=False
        )
        self.fields["cht_limit_source"] = text_field("Document of the maker's limit", 200)
        self.fields["cht_limit_source_date"] = day_field("Date of its revision")
        self.fields["recheck"] = text_field("Items", 4000, _RECHECK, rows=3)
        self._ask_for_chart()
        self.fields["unusual_reason"] = text_field(
            "Why is the unusual right?", 400, "Only where you are asked about a value.", rows=2
        )

    def _ask_for_chart(self) -> None:
        self.fields["chart_kind"] = forms.ChoiceField(
            label="The chart is for", required=False, widget=Chips, choices=(
                (MAP_RPM, "rpm and manifold pressure"), (FIXED_PITCH, "fixed pitch: rpm at altitudes"),
                (NO_CHART, "no chart: percent power stays unknown"),
            ),
        )  # fmt: skip
        self.fields["chart_source"] = text_field("Document of the chart", 400)
        self.fields["chart_revision"] = text_field("Its revision and date", 80)
        self.fields["percent"] = forms.BooleanField(
            label="The grid holds percent of rated power, not hp", required=False
        )
        self.fields[GRID] = text_field(
            "The chart, pasted from a spreadsheet", 40_000,
            "Either a grid at sea level, manifold pressures across and speeds down, or a list with the headings rpm, "
            "MP, hp. For fixed pitch: a list with altitude, rpm, %. Tabs, semicolons or commas; a decimal comma is "
            "read where it does not separate.", rows=12,
        )  # fmt: skip
        self.fields["line_is_last"] = forms.BooleanField(
            label="The highest pressure of the grid is full throttle", required=False
        )
        self.fields[LINE] = text_field(
            "Full-throttle line at sea level", 10_000, "A list with rpm, MP, hp. Not for fixed pitch.", rows=5
        )
        self.fields["critical_altitude_ft"] = QuantityField(
            Kind.ALTITUDE, self.units, label=CRITICAL.label, help_text="Up to which a turbocharger holds the pressure."
        )

    # --- reading ----------------------------------------------------------------------------------------------------

    def read(self, sheet: Sheet) -> None:
        confirmed, sheet.found.confirmed = sheet.found.confirmed, frozenset()
        self.values = self._numbers(sheet)
        self._chart(sheet)
        asked = list(sheet.found.warnings)
        sheet.found.warnings = [each for each in asked if each.field not in confirmed]
        self.unusual = [each.message for each in asked if each.field in confirmed]
        reason = sheet.text("unusual_reason", "Why is the unusual right?", 400)
        if self.unusual and not reason:
            sheet.problem("unusual_reason", "Say in a few words why what is unusual is right. It is kept with it.")
        self.values |= {"unusual": self.unusual, "unusual_reason": reason if self.unusual else ""}

    def _numbers(self, sheet: Sheet) -> dict[str, Any]:
        values: dict[str, Any] = {}
        if self.kind is None:
            sheet.need("maker", "The maker", "Type it as on the data plate.")
            sheet.need("designation", "The designation", "Type it exactly as on the data plate, no guess.")
        sheet.need("source", "The document", "Name the document and its revision that these numbers come from.")
        values["source"] = sheet.text("source", "Document", 600)
        values["source_date"] = read_day(sheet, "source_date", "Date of that revision")
        for name, label, choices, _ in _CHOICES:
            sheet.need(name, label, "Choose it.")
            values[name] = sheet.choice(name, label, [value for value, _ in choices])
        for plain in PLAIN:
            if plain.needed:
                sheet.need(plain.name, plain.label, "Take it from the document.")
            values[plain.name] = read_plain(sheet, plain)
        values["fuel_lb_per_gal"] = values["fuel_lb_per_gal"] or 6.0
        for each in MEASURED:
            if each.needed:
                sheet.need(each.name, each.what.label, "Take it from the document.")
            values[each.name] = sheet.quantity(each.name, each.what)
        values["cylinders"] = self._cylinders(sheet, values["layout"])
        values["numbering"] = sheet.text("numbering", "Where no. 1 sits", 120)
        values["cylinder_map"] = read_map(sheet, values["cylinders"])
        values["fuel_flow_compensates"] = sheet.flag("fuel_flow_compensates", "Fuel flow follows density")
        values["takeoff_ff_at"] = sheet.text("takeoff_ff_at", "The band holds at", 120)
        values |= {name: bool(sheet.raw.get(name)) for name in ("dry_sump", "log_only")}
        values["recheck"] = read_recheck(sheet)
        self._limit_source(sheet, values)
        check_together(sheet, values)
        return values

    def _cylinders(self, sheet: Sheet, layout: str) -> int | None:
        most = MOST_IN_TWO_ROWS if layout == "twin-row radial" else MOST_CYLINDERS
        sheet.need("cylinders", "The number of cylinders", "Type it in digits.")
        count = sheet.whole("cylinders", "Cylinders", 1, most)
        if count is not None and count not in (4, 6):
            sheet.ask("cylinders", f"Cylinders: {count} is outside the usual 4 or 6. Is it right?")
        return count

    def _limit_source(self, sheet: Sheet, values: dict[str, Any]) -> None:
        values["cht_limit_source"] = sheet.text("cht_limit_source", "Document of the maker's limit", 200)
        values["cht_limit_source_date"] = None
        if sheet.given("cht_limit_degf") or sheet.given("cht_limit_source"):
            sheet.need(
                "cht_limit_source", "The document of the maker's limit", "A limit without its document is a guess."
            )
            values["cht_limit_source_date"] = read_day(sheet, "cht_limit_source_date", "Date of its revision")

    def _chart(self, sheet: Sheet) -> None:
        self.values["chart"] = None
        kind = sheet.choice("chart_kind", "The chart is for", (MAP_RPM, FIXED_PITCH, NO_CHART))
        if not kind:
            sheet.problem("chart_kind", "Which kind of chart is it? Choose “no chart” where there is none.")
        grid, line = (str(self.data.get(name) or "") for name in (GRID, LINE))
        if kind == NO_CHART and (grid.strip() or line.strip()):
            sheet.problem("chart_kind", "A chart was pasted below. Say what it is for, or empty it.")
        critical = sheet.quantity("critical_altitude_ft", CRITICAL)
        if kind not in (MAP_RPM, FIXED_PITCH):
            return
        sheet.need("chart_source", "The document of the chart", "It is printed beside every figure that comes from it.")
        sheet.need("chart_revision", "The chart's revision and date", "A chart without its revision can't be compared.")
        rated = self.values["rated_hp"]
        if rated is None:
            return  # said at its field: without it no percent and no line of doubt
        self.chart = read_chart(
            kind, grid, line=line, line_is_last=bool(sheet.raw.get("line_is_last")),
            percent=bool(sheet.raw.get("percent")), rated_hp=rated, rated_rpm=self.values["rated_rpm"],
            critical_altitude_ft=critical, source=sheet.text("chart_source", "Document of the chart", 400),
            revision=sheet.text("chart_revision", "Its revision and date", 80),
        )  # fmt: skip
        for problem in self.chart.problems:
            sheet.problem(problem.field, problem.message)
        if self.chart.doubts and not self.chart.problems:
            number = len(self.chart.doubts)
            points = "one point leaves its" if number == 1 else f"{number} points leave their"
            sheet.ask(
                GRID, f"Power chart: {points} neighbours, as ringed above. Does it stand in the document like this?"
            )
        self.values["chart"] = self.chart.stored

    def asks_for(self) -> Any:
        named = [self.cleaned_data.get("maker"), self.cleaned_data.get("designation")]
        return [self.kind.pk if self.kind else named, self.on_page["after"], sorted(self.values.items())]


def keep_from(form: TypeForm, by: Person, now: datetime) -> EngineTypeRevision:
    """Keep the revision of a valid form.

    Raises
    ------
    Refusal : see `breakin.services.engine_types`.
    """
    typed = form.cleaned_data
    if form.kind is None:
        return enter_type(by=by, maker=typed["maker"], designation=typed["designation"], values=form.values, now=now)
    after = int(typed["after"]) if str(typed.get("after") or "").isdigit() else 0
    return revise_type(by=by, engine_type=form.kind, values=form.values, after=after, now=now)


def as_it_is(revision: EngineTypeRevision | None) -> dict[str, Any]:
    """What the form begins with: the newest numbers, the chart as text that reads back as itself."""
    if revision is None:
        return {"layout": "opposed", "induction": Induction.NATURAL, "cooling": Cooling.AIR, "line_is_last": True}
    kept = (*_NAMES, "source", "source_date", "layout", "induction", "fuel_system", "prop_control", "cooling",
            "cylinders", "numbering", "takeoff_ff_at", "dry_sump", "log_only", "cht_limit_source",
            "cht_limit_source_date", "unusual_reason")  # fmt: skip
    start = {name: getattr(revision, name) for name in kept}
    start |= {each.name: _digits(start[each.name]) for each in PLAIN}
    for each in MEASURED:
        if start[each.name] is not None:
            start[each.name] = {"value": _digits(start[each.name]), "unit": _canonical(each.what)}
    follows = revision.fuel_flow_compensates
    start["fuel_flow_compensates"] = "" if follows is None else YES if follows else NO
    start["cylinder_map"] = "\n".join(
        " ".join("-" if number is None else str(number) for number in row) for row in revision.mapped_rows
    )
    start["recheck"] = "\n".join(
        "; ".join(str(row[name]) for name in ("item", "low", "high", "unit") if row.get(name) not in (None, ""))
        for row in revision.recheck if isinstance(row, dict) and row.get("item")
    )  # fmt: skip
    return start | _chart_as_it_is(revision.chart)


def _chart_as_it_is(chart: Mapping[str, Any] | None) -> dict[str, Any]:
    if not chart:
        return {"chart_kind": NO_CHART}
    grid, line = as_pasted(chart)
    critical = chart.get("critical_altitude_ft")
    return {
        "chart_kind": chart.get("kind"), "chart_source": chart.get("source"), "chart_revision": chart.get("revision"),
        GRID: grid, LINE: line,
        "critical_altitude_ft": None if critical is None else {"value": _digits(critical), "unit": "ft"},
    }  # fmt: skip


def _digits(value: Any) -> Any:
    return f"{value:.10g}" if isinstance(value, int | float) else value


def _canonical(what: Range) -> str:
    return {
        Kind.TEMPERATURE: "degF", Kind.OIL_PRESSURE: "psi", Kind.VOLUME: "qt", Kind.FUEL_FLOW: "gal/h",
        Kind.PRESSURE_MANIFOLD: "inHg", Kind.ALTITUDE: "ft",
    }[what.kind]  # fmt: skip
