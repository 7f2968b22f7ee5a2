"""The fields of each kind of inspection, in the order of doing it, and where each stands in the raw entry."""

from __future__ import annotations

from collections.abc import Callable

from django import forms

from breakin.calc.units import Kind
from breakin.entries.inspection_oil import METALS
from breakin.entries.inspection_reading import About
from breakin.entries.oil import BELLY_WORDS
from breakin.models import OilKind
from engines.models import InspectionKind
from reports.acts.base import day_field, text_field
from reports.forms.fields import NumberField, QuantityField, Steps
from reports.inspect import fields_setup
from reports.inspect.parts import QUARTS, SHUTDOWN, YES_NO, Section, Shape, choice, graded, oil_at, result_at
from reports.inspect.telling import GRADES_OF_BORE, GRADES_OF_BREATHER, GRADES_OF_LEAK, choices_of
from reports.quantities import quantity
from shop.forms import CheckChips


def sections_of(kind: str, shape: Shape) -> tuple[Section, ...]:
    """The sections of one kind."""
    return tuple(_FIELDS[kind](shape))


def _cylinders(shape: Shape) -> range:
    return range(1, (shape.about.cylinders or 4) + 1)


def _oil_check(shape: Shape) -> list[Section]:
    return [
        Section(
            "Dipstick",
            (
                oil_at(
                    "reading",
                    "level",
                    QuantityField(Kind.VOLUME, shape.units, label="Oil level on the stick", steps=QUARTS),
                ),
                oil_at("reading", "minutes_since_shutdown", choice("Read how long after shutdown", SHUTDOWN)),
                oil_at("reading", "level_ground", choice("Standing on level ground", YES_NO)),
                oil_at("reading", "wiped_twice", choice("Stick wiped and read twice", YES_NO)),
                oil_at("reading", "belly_oil", choice("Oil on belly or cowl", tuple((w, w) for w in BELLY_WORDS))),
                result_at("seen", text_field("What was seen", 400)),
            ),
        )
    ]


def _oil_filter(shape: Shape) -> list[Section]:
    def volume(label: str) -> forms.Field:
        return QuantityField(Kind.VOLUME, shape.units, label=label, steps=QUARTS)

    return [
        Section(
            "Filter and screen",
            (
                result_at("opened", choice("Filter cut open, or screen looked at", YES_NO)),
                result_at(
                    "material", choice("What was in it", choices_of("material"), "The gravest of what was seen.")
                ),
                result_at("count", choice("How many", choices_of("count"))),
                result_at("longest_mm", NumberField(label="Longest piece", unit="mm", steps=Steps("0.5", "0"))),
                result_at("amount", choice("How much in all", choices_of("amount"))),
                result_at("magnet", choice("Magnet", choices_of("magnet"))),
                result_at("screen", choice("Suction screen", choices_of("screen"))),
            ),
        ),
        Section(
            "Oil",
            (
                result_at(
                    "oil_changed",
                    choice("Oil changed with it", YES_NO, "No: the filter of an earlier change was cut open today."),
                ),
                oil_at("drain_fill", "drained", volume("Drained, by weight or measure")),
                oil_at("drain_fill", "filled", volume("Filled")),
                oil_at(
                    "drain_fill",
                    "oil_kind",
                    choice("Kind of oil filled", tuple((value, str(label)) for value, label in OilKind.choices)),
                ),
                oil_at("drain_fill", "brand", text_field("Brand and grade", 80)),
                oil_at("drain_fill", "filter_changed", choice("Filter changed", YES_NO)),
            ),
        ),
    ]


def _leak(shape: Shape) -> list[Section]:
    found = []
    for row in range(1, shape.rows + 1):
        at = ("spots", str(row - 1))
        places = (
            result_at(f"spot_{row}_where", text_field("Where", 80), *at, "where"),
            result_at(f"spot_{row}_what", choice("What leaks", choices_of("what")), *at, "what"),
            result_at(f"spot_{row}_grade", choice("How wet", graded(GRADES_OF_LEAK)), *at, "grade"),
            result_at(f"spot_{row}_fixed", choice("Fixed", YES_NO), *at, "fixed"),
        )
        found.append(Section(f"Place {row}", places, grid=True))
    rest = (
        result_at("breather", choice("Oil at the breather", graded(GRADES_OF_BREATHER))),
        result_at("cleaned", choice("Cleaned", YES_NO)),
        result_at("dye", choice("Dye used", YES_NO)),
        result_at("torque_done", choice("Torque rechecked, items by the maker", YES_NO)),
        result_at("cause", text_field("Cause", 400)),
        result_at("action", text_field("What was done", 400)),
    )
    hint = "No leak: leave the places empty and say so with the verdict."
    return [Section(found[0].heading, found[0].places, grid=True, hint=hint), *found[1:], Section("Then", rest)]


def _compression(shape: Shape) -> list[Section]:
    def psi(label: str, steps: Steps, hint: str = "") -> forms.Field:
        return QuantityField(Kind.OIL_PRESSURE, shape.units, label=label, steps=steps, help_text=hint)

    first = (
        result_at("input_psi", psi("Input pressure", Steps("1", "0", start="80"))),
        result_at(
            "orifice_psi", psi("Master orifice today", Steps("1", "0"), "The reading of the calibrated orifice.")
        ),
        result_at("hot", choice("Engine hot", YES_NO)),
        result_at("tester", text_field("Tester, its number", 80)),
    )
    each = tuple(
        Section(
            f"Cylinder {number}",
            (
                result_at(
                    f"readings_{number}",
                    psi(f"Reading no. {number}", Steps("1", "0", start="70")),
                    "readings",
                    str(number),
                ),
                result_at(
                    f"leak_heard_{number}",
                    choice(f"Leak heard at, no. {number}", choices_of("leak_heard")),
                    "leak_heard",
                    str(number),
                ),
            ),
            grid=True,
        )
        for number in _cylinders(shape)
    )
    return [Section("Set-up", first, grid=True), *each]


def _borescope(shape: Shape) -> list[Section]:
    def signs(number: int) -> forms.Field:
        return forms.MultipleChoiceField(
            label=f"Seen, no. {number}", choices=choices_of("signs"), required=False, widget=CheckChips
        )

    return [
        Section(
            f"Cylinder {number}",
            (
                result_at(
                    f"grades_{number}",
                    choice(f"Grade no. {number}", graded(GRADES_OF_BORE)),
                    "grades",
                    str(number),
                ),
                result_at(f"signs_{number}", signs(number), "signs", str(number)),
                result_at(f"seen_{number}", text_field(f"In words, no. {number}", 200), "seen", str(number)),
            ),
        )
        for number in _cylinders(shape)
    ]


def _oil_analysis(shape: Shape) -> list[Section]:
    first = (
        result_at("lab_reference", text_field("Laboratory's reference", 80)),
        result_at("hours_on_oil", NumberField(label="Hours on this oil", unit="h")),
    )
    metals = tuple(
        result_at(f"ppm_{name}", NumberField(label=METAL_WORDS[name], unit="ppm"), "ppm", name) for name in METALS
    )
    rest = (
        result_at("viscosity_cst", NumberField(label="Viscosity at 100 °C", unit="cSt")),
        result_at("fuel_pct", NumberField(label="Fuel in the oil", unit="%")),
        result_at("water", choice("Water found", YES_NO)),
        result_at("coarse_metal", choice("Coarse metal found", YES_NO)),
    )
    hint = "The first two samples of a fresh engine are its baseline; high figures are usual and judge nothing."
    return [
        Section("Sample", first, grid=True),
        Section("Metals", metals, grid=True, hint=hint),
        Section("Oil", rest, grid=True),
    ]


METAL_WORDS = {
    "fe": "Iron, Fe", "cr": "Chromium, Cr", "ni": "Nickel, Ni", "al": "Aluminium, Al", "cu": "Copper, Cu",
    "si": "Silicon, Si", "pb": "Lead, Pb", "sn": "Tin, Sn",
}  # fmt: skip


def _torque(shape: Shape) -> list[Section]:
    limits = shape.about.recheck
    rows = []
    for row in range(1, shape.rows + 1):
        at = ("items", str(row - 1))
        listed = limits[row - 1] if row <= len(limits) else None
        told = ""
        if listed is not None and listed.low is not None and listed.high is not None:
            told = f"By the list {listed.low:g} to {listed.high:g} {listed.unit}."
        places = (
            result_at(f"item_{row}_item", text_field("Item", 120), *at, "item"),
            result_at(f"item_{row}_found", text_field("Found", 120, told), *at, "found"),
            result_at(f"item_{row}_set", text_field("Set to", 120), *at, "set"),
            result_at(f"item_{row}_mark", choice("Mark applied", YES_NO), *at, "mark"),
        )
        rows.append(Section(listed.item if listed else f"Item {row}", places, grid=True))
    tool = (
        result_at("tool", text_field("Torque tool, its number", 80)),
        result_at("tool_until", day_field("Tool calibrated until", "A tool past its date is refused: measure again.")),
    )
    return [Section("Tool", tool, grid=True), *rows]


def _fuel_flow(shape: Shape) -> list[Section]:
    def flow(label: str, hint: str = "") -> forms.Field:
        return QuantityField(Kind.FUEL_FLOW, shape.units, label=label, help_text=hint)

    altitude = QuantityField(Kind.ALTITUDE, shape.units, label="Density altitude")
    return [
        Section(
            "Gauge",
            (
                result_at("gauge", text_field("Gauge used, its number", 80)),
                result_at("gauge_until", day_field("Gauge calibrated until")),
                result_at("density_altitude", altitude),
            ),
            grid=True,
        ),
        Section(
            "Full throttle",
            (result_at("found_full_gph", flow("As found")), result_at("full_gph", flow("As left"))),
            grid=True,
            hint=band_words(shape.about, shape.units),
        ),
        Section(
            "Idle", (result_at("found_idle_gph", flow("As found")), result_at("idle_gph", flow("As left"))), grid=True
        ),
    ]


def band_words(about: About, units: str) -> str:
    """The type's band of full-throttle fuel flow, in a sentence."""
    if about.ff_low_gph is None:
        return "The type has no band on record; go by the maker's current instructions."
    low, high = quantity(about.ff_low_gph, "fuel_flow", units), quantity(about.ff_high_gph, "fuel_flow", units)
    band = f"{low} to {high}" if about.ff_high_gph is not None else f"from {low}"
    follows = ""
    if about.compensates is not None:
        follows = (
            "; it follows air density, so give the density altitude"
            if about.compensates
            else "; it does not follow air density and is compared as read"
        )
    return f"Band of the type: {band}{follows}."


def _instruments(shape: Shape) -> list[Section]:
    error = QuantityField(Kind.PRESSURE_MANIFOLD, shape.units, label="Manifold gauge reads over by")
    return [
        Section(
            "Errors",
            (
                result_at("rpm_error", NumberField(label="Tachometer reads over by", unit="rpm")),
                result_at("map_error", error),
                result_at("ff_error_pct", NumberField(label="Fuel-flow gauge reads over by", unit="%")),
                result_at("seen", text_field("What was seen", 400)),
            ),
            hint="Negative where the instrument reads too little.",
        )
    ]


def _preservation(shape: Shape) -> list[Section]:
    return [
        Section(
            "Preservation",
            (
                result_at("expires_on", day_field("Preserved until")),
                result_at("preservative", text_field("Preservative", 80)),
                result_at("humidity_ok", choice("Humidity plugs in order", YES_NO)),
            ),
        )
    ]


_FIELDS: dict[str, Callable[[Shape], list[Section]]] = {
    InspectionKind.OIL_CHECK: _oil_check,
    InspectionKind.OIL_FILTER: _oil_filter,
    InspectionKind.LEAK: _leak,
    InspectionKind.COMPRESSION: _compression,
    InspectionKind.BORESCOPE: _borescope,
    InspectionKind.OIL_ANALYSIS: _oil_analysis,
    InspectionKind.TORQUE: _torque,
    InspectionKind.FUEL_FLOW: _fuel_flow,
    InspectionKind.INSTRUMENTS: _instruments,
    InspectionKind.PRESERVATION: _preservation,
    InspectionKind.BAFFLE: fields_setup.baffle,
    InspectionKind.TIMING: fields_setup.timing,
    InspectionKind.STATIC_RPM: fields_setup.static_rpm,
    InspectionKind.INDUCTION: fields_setup.induction,
}
