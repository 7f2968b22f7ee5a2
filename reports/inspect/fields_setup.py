"""The fields of baffle, timing, run-up and manifold-pressure checks: as found beside as left."""

from __future__ import annotations

from django import forms

from breakin.calc.units import Kind
from reports.acts.base import day_field, text_field
from reports.forms.fields import NumberField, QuantityField
from reports.inspect.parts import YES_NO, Section, Shape, choice, result_at
from reports.inspect.telling import choices_of

BY_AIRFRAME = "By the airframe's data, with this propeller."


def baffle(shape: Shape) -> list[Section]:
    return [
        Section(
            "Seals",
            (
                result_at("found_seals", choice("As found", choices_of("seals"))),
                result_at("left_seals", choice("As left", choices_of("seals"))),
                result_at("where", text_field("Where air gets by", 200)),
            ),
            hint="Look from inside with a light outside, cowls on: every gap takes air from the cylinders.",
        ),
        Section(
            "Air",
            (
                result_at("between", choice("Baffles between the cylinders in place", YES_NO)),
                result_at("inlets_free", choice("Inlets and fins free", YES_NO)),
                result_at("cowl_flaps", choice("Cowl flaps", choices_of("cowl_flaps"))),
                result_at("action", text_field("What was done", 400)),
            ),
        ),
    ]


def timing(shape: Shape) -> list[Section]:
    def degrees(label: str, hint: str = "") -> forms.Field:
        return NumberField(label=label, unit="°", help_text=hint)

    return [
        Section(
            "By the data plate",
            (
                result_at("plate_deg", degrees("Before top dead centre", "From the plate on this engine.")),
                result_at("tool", text_field("Timing tool", 80)),
            ),
            grid=True,
        ),
        Section(
            "Left ignition",
            (result_at("found_left", degrees("As found")), result_at("set_left", degrees("As left"))),
            grid=True,
        ),
        Section(
            "Right ignition",
            (result_at("found_right", degrees("As found")), result_at("set_right", degrees("As left"))),
            grid=True,
        ),
        Section("Then", (result_at("action", text_field("What was done", 400)),)),
    ]


def static_rpm(shape: Shape) -> list[Section]:
    def rpm(label: str, hint: str = "") -> forms.Field:
        return NumberField(label=label, unit="rpm", help_text=hint)

    return [
        Section(
            "Static rpm at full throttle",
            (
                result_at("low_rpm", rpm("Not under", BY_AIRFRAME)),
                result_at("high_rpm", rpm("Not over", BY_AIRFRAME)),
                result_at("found_rpm", rpm("As found")),
                result_at("left_rpm", rpm("As left")),
                result_at("into_wind", choice("Into wind", YES_NO)),
            ),
            grid=True,
            hint="Short, into wind, cowls on: ground minutes are a budget. Enter them as a ground run.",
        ),
        Section(
            "Idle and ignition",
            (
                result_at("idle_rpm", rpm("Idle")),
                result_at("drop_left", rpm("Drop on the left ignition alone")),
                result_at("drop_right", rpm("Drop on the right ignition alone")),
                result_at("action", text_field("What was done", 400)),
            ),
            grid=True,
        ),
    ]


def induction(shape: Shape) -> list[Section]:
    def pressure(label: str, hint: str = "") -> forms.Field:
        return QuantityField(Kind.PRESSURE_MANIFOLD, shape.units, label=label, help_text=hint)

    return [
        Section(
            "Engine stopped",
            (
                result_at(
                    "ambient", pressure("Air outside", "From a barometer at the field, not brought to sea level.")
                ),
                result_at("stopped_map", pressure("The manifold gauge shows")),
                result_at("gauge", text_field("Gauge used, its number", 80)),
                result_at("gauge_until", day_field("Gauge calibrated until")),
            ),
            grid=True,
        ),
        Section(
            "Full throttle",
            (result_at("found_map", pressure("As found")), result_at("left_map", pressure("As left"))),
            grid=True,
        ),
        Section(
            "Intake",
            (
                result_at("alternate_air", choice("Alternate air", choices_of("alternate_air"))),
                result_at("leak", choice("Leak in the intake", choices_of("leak"))),
                result_at("where", text_field("Where", 200)),
                result_at("action", text_field("What was done", 400)),
            ),
        ),
    ]
