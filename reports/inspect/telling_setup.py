"""What baffle, timing, run-up and manifold-pressure checks found, value by value."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reports.inspect.telling import Said, flag_of, measured_of, number_of, text_of, word_of


def baffle(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        word_of("seals", results, "Seals as found", "found_seals"),
        word_of("seals", results, "Seals as left", "left_seals"),
        text_of("where", results, "Air gets by"),
        flag_of("between", results, "Baffles between the cylinders in place"),
        flag_of("inlets_free", results, "Inlets and fins free"),
        word_of("cowl_flaps", results, "Cowl flaps"),
        text_of("action", results, "Done"),
    ]


def timing(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        number_of("plate_deg", results, "By the data plate", "°"),
        number_of("found_left", results, "Left as found", "°"),
        number_of("set_left", results, "Left as left", "°"),
        number_of("found_right", results, "Right as found", "°"),
        number_of("set_right", results, "Right as left", "°"),
        text_of("tool", results, "Tool"),
        text_of("action", results, "Done"),
    ]


def static_rpm(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        number_of("found_rpm", results, "Static rpm as found", "rpm"),
        number_of("left_rpm", results, "Static rpm as left", "rpm"),
        number_of("low_rpm", results, "Lowest by the airframe's data", "rpm"),
        number_of("high_rpm", results, "Highest by the airframe's data", "rpm"),
        number_of("idle_rpm", results, "Idle", "rpm"),
        number_of("drop_left", results, "Drop on the left ignition", "rpm", worse=1),
        number_of("drop_right", results, "Drop on the right ignition", "rpm", worse=1),
        flag_of("into_wind", results, "Into wind"),
        text_of("action", results, "Done"),
    ]


def induction(results: Mapping[str, Any], units: str) -> list[Said]:
    pressures = (
        ("found_map", "Full throttle as found"),
        ("left_map", "Full throttle as left"),
        ("stopped_map", "With the engine stopped"),
        ("ambient", "Air outside"),
    )
    return [
        *(measured_of(name, results.get(f"{name}_inhg"), label, "manifold", units) for name, label in pressures),
        word_of("alternate_air", results, "Alternate air"),
        word_of("leak", results, "Leak in the intake"),
        text_of("where", results, "Where"),
        text_of("gauge", results, "Gauge"),
        text_of("gauge_until", results, "Gauge calibrated until"),
        text_of("action", results, "Done"),
    ]
