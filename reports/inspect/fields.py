"""The fields of each kind of inspection, in the order of doing it, and where each stands in the raw entry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django import forms

from breakin.calc.units import Kind
from breakin.entries.inspection_oil import METALS
from breakin.entries.inspection_reading import About
from breakin.entries.oil import BELLY_WORDS
from breakin.models import OilKind
from engines.models import InspectionKind
from reports.acts.base import day_field, text_field
from reports.forms.fields import ChoiceChips, NumberField, QuantityField, Steps
from reports.inspect.words import GRADES_OF_BORE, GRADES_OF_BREATHER, GRADES_OF_LEAK, choices_of
from reports.quantities import quantity
from shop.forms import CheckChips

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


def sections_of(kind: str, shape: Shape) -> tuple[Section, ...]:
    """The sections of one kind."""
    return tuple(_FIELDS[kind](shape))


def _result(name: str, field: forms.Field, *path: str) -> Place:
    return Place(name, ("results", *(path or (name,))), field)


def _oil(part: str, name: str, field: forms.Field) -> Place:
    return Place(name, (part, name), field)


def _graded(words: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return tuple((str(grade), word) for grade, word in enumerate(words))


def _choice(label: str, choices: Sequence[tuple[str, str]], hint: str = "") -> forms.Field:
    return ChoiceChips(label=label, choices=choices, help_text=hint)


def _cylinders(shape: Shape) -> range:
    return range(1, (shape.about.cylinders or 4) + 1)


def _oil_check(shape: Shape) -> list[Section]:
    return [
        Section(
            "Dipstick",
            (
                _oil(
                    "reading",
                    "level",
                    QuantityField(Kind.VOLUME, shape.units, label="Oil level on the stick", steps=QUARTS),
                ),
                _oil("reading", "minutes_since_shutdown", _choice("Read how long after shutdown", SHUTDOWN)),
                _oil("reading", "level_ground", _choice("Standing on level ground", YES_NO)),
                _oil("reading", "wiped_twice", _choice("Stick wiped and read twice", YES_NO)),
                _oil("reading", "belly_oil", _choice("Oil on belly or cowl", tuple((w, w) for w in BELLY_WORDS))),
                _result("seen", text_field("What was seen", 400)),
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
                _result("opened", _choice("Filter cut open, or screen looked at", YES_NO)),
                _result("material", _choice("What was in it", choices_of("material"), "The gravest of what was seen.")),
                _result("count", _choice("How many", choices_of("count"))),
                _result("longest_mm", NumberField(label="Longest piece", unit="mm", steps=Steps("0.5", "0"))),
                _result("amount", _choice("How much in all", choices_of("amount"))),
                _result("magnet", _choice("Magnet", choices_of("magnet"))),
                _result("screen", _choice("Suction screen", choices_of("screen"))),
            ),
        ),
        Section(
            "Oil",
            (
                _result(
                    "oil_changed",
                    _choice("Oil changed with it", YES_NO, "No: the filter of an earlier change was cut open today."),
                ),
                _oil("drain_fill", "drained", volume("Drained, by weight or measure")),
                _oil("drain_fill", "filled", volume("Filled")),
                _oil("drain_fill", "oil_kind", _choice("Kind of oil filled", tuple(OilKind.choices))),
                _oil("drain_fill", "brand", text_field("Brand and grade", 80)),
                _oil("drain_fill", "filter_changed", _choice("Filter changed", YES_NO)),
            ),
        ),
    ]


def _leak(shape: Shape) -> list[Section]:
    found = []
    for row in range(1, shape.rows + 1):
        at = ("spots", str(row - 1))
        places = (
            _result(f"spot_{row}_where", text_field("Where", 80), *at, "where"),
            _result(f"spot_{row}_what", _choice("What leaks", choices_of("what")), *at, "what"),
            _result(f"spot_{row}_grade", _choice("How wet", _graded(GRADES_OF_LEAK)), *at, "grade"),
            _result(f"spot_{row}_fixed", _choice("Fixed", YES_NO), *at, "fixed"),
        )
        found.append(Section(f"Place {row}", places, grid=True))
    rest = (
        _result("breather", _choice("Oil at the breather", _graded(GRADES_OF_BREATHER))),
        _result("cleaned", _choice("Cleaned", YES_NO)),
        _result("dye", _choice("Dye used", YES_NO)),
        _result("torque_done", _choice("Torque rechecked, items by the maker", YES_NO)),
        _result("cause", text_field("Cause", 400)),
        _result("action", text_field("What was done", 400)),
    )
    hint = "No leak: leave the places empty and say so with the verdict."
    return [Section(found[0].heading, found[0].places, grid=True, hint=hint), *found[1:], Section("Then", rest)]


def _compression(shape: Shape) -> list[Section]:
    def psi(label: str, steps: Steps, hint: str = "") -> forms.Field:
        return QuantityField(Kind.OIL_PRESSURE, shape.units, label=label, steps=steps, help_text=hint)

    first = (
        _result("input_psi", psi("Input pressure", Steps("1", "0", start="80"))),
        _result("orifice_psi", psi("Master orifice today", Steps("1", "0"), "The reading of the calibrated orifice.")),
        _result("hot", _choice("Engine hot", YES_NO)),
        _result("tester", text_field("Tester, its number", 80)),
    )
    each = tuple(
        Section(
            f"Cylinder {number}",
            (
                _result(
                    f"readings_{number}",
                    psi(f"Reading no. {number}", Steps("1", "0", start="70")),
                    "readings",
                    str(number),
                ),
                _result(
                    f"leak_heard_{number}",
                    _choice(f"Leak heard at, no. {number}", choices_of("leak_heard")),
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
                _result(
                    f"grades_{number}",
                    _choice(f"Grade no. {number}", _graded(GRADES_OF_BORE)),
                    "grades",
                    str(number),
                ),
                _result(f"signs_{number}", signs(number), "signs", str(number)),
                _result(f"seen_{number}", text_field(f"In words, no. {number}", 200), "seen", str(number)),
            ),
        )
        for number in _cylinders(shape)
    ]


def _oil_analysis(shape: Shape) -> list[Section]:
    first = (
        _result("lab_reference", text_field("Laboratory's reference", 80)),
        _result("hours_on_oil", NumberField(label="Hours on this oil", unit="h")),
    )
    metals = tuple(
        _result(f"ppm_{name}", NumberField(label=METAL_WORDS[name], unit="ppm"), "ppm", name) for name in METALS
    )
    rest = (
        _result("viscosity_cst", NumberField(label="Viscosity at 100 °C", unit="cSt")),
        _result("fuel_pct", NumberField(label="Fuel in the oil", unit="%")),
        _result("water", _choice("Water found", YES_NO)),
        _result("coarse_metal", _choice("Coarse metal found", YES_NO)),
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
            _result(f"item_{row}_item", text_field("Item", 120), *at, "item"),
            _result(f"item_{row}_found", text_field("Found", 120, told), *at, "found"),
            _result(f"item_{row}_set", text_field("Set to", 120), *at, "set"),
            _result(f"item_{row}_mark", _choice("Mark applied", YES_NO), *at, "mark"),
        )
        rows.append(Section(listed.item if listed else f"Item {row}", places, grid=True))
    tool = (
        _result("tool", text_field("Torque tool, its number", 80)),
        _result("tool_until", day_field("Tool calibrated until", "A tool past its date is refused: measure again.")),
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
                _result("gauge", text_field("Gauge used, its number", 80)),
                _result("gauge_until", day_field("Gauge calibrated until")),
                _result("density_altitude", altitude),
            ),
            grid=True,
        ),
        Section(
            "Full throttle",
            (_result("found_full_gph", flow("As found")), _result("full_gph", flow("As left"))),
            grid=True,
            hint=band_words(shape.about, shape.units),
        ),
        Section("Idle", (_result("found_idle_gph", flow("As found")), _result("idle_gph", flow("As left"))), grid=True),
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
                _result("rpm_error", NumberField(label="Tachometer reads over by", unit="rpm")),
                _result("map_error", error),
                _result("ff_error_pct", NumberField(label="Fuel-flow gauge reads over by", unit="%")),
                _result("seen", text_field("What was seen", 400)),
            ),
            hint="Negative where the instrument reads too little.",
        )
    ]


def _preservation(shape: Shape) -> list[Section]:
    return [
        Section(
            "Preservation",
            (
                _result("expires_on", day_field("Preserved until")),
                _result("preservative", text_field("Preservative", 80)),
                _result("humidity_ok", _choice("Humidity plugs in order", YES_NO)),
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
}
