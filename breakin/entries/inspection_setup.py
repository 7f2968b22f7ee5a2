"""How the engine is set up and fed with air, as found and as left: baffles, ignition timing, run-up, manifold pressure.

What each pair of numbers is held against is typed beside it, from the data plate or the airframe's data: the book knows
no figure of any maker.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from breakin.calc.inspection import DROPS_APART_RPM, TIMING_OFF_DEG, UNDER_AMBIENT_INHG
from breakin.calc.units import Kind
from breakin.entries.inspection_reading import About, Plain, calibrated, number
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet

SEALS = ("tight", "gaps", "torn", "missing")
COWL_FLAPS = ("none_fitted", "full", "not_full")
ALTERNATE_AIR = ("none_fitted", "closes", "leaks")
INDUCTION = ("none", "mended", "not_mended")

_TIMING = Plain("Ignition timing", 0, 60, "°", 10, 40)
_STATIC = Plain("Static rpm", 500, 6500, "rpm", 1800, 3000)
_IDLE = Plain("Idle rpm", 200, 3000, "rpm", 500, 1000)
_DROP = Plain("Drop on one ignition", 0, 1000, "rpm", 0, 175)
_AIR = Range("Manifold gauge with the engine stopped", Kind.PRESSURE_MANIFOLD, 8, 33, 20, 31.5)
_OUTSIDE = Range("Pressure of the air outside", Kind.PRESSURE_MANIFOLD, 8, 33, 20, 31.5)
_FULL = Range("Full-throttle manifold pressure", Kind.PRESSURE_MANIFOLD, 8, 70, 18, 46)


def baffle(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    left = sheet.choice("left_seals", "Baffle seals as left", SEALS)
    if not left and not sheet.given("left_seals"):
        sheet.problem("left_seals", "How do the baffle seals stand now? Choose one from tight to missing.")
    return {
        "found_seals": sheet.choice("found_seals", "Baffle seals as found", SEALS),
        "left_seals": left,
        "where": sheet.text("where", "Where air gets by", 200),
        "between": sheet.flag("between", "Baffles between the cylinders in place"),
        "inlets_free": sheet.flag("inlets_free", "Inlets and fins free"),
        "cowl_flaps": sheet.choice("cowl_flaps", "Cowl flaps", COWL_FLAPS),
        "action": sheet.text("action", "What was done", 400),
    }


def timing(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    plate = number(sheet, "plate_deg", _TIMING)
    if plate is None and not sheet.given("plate_deg"):
        sheet.problem("plate_deg", "What does the engine's data plate say? Timing is held against it.")
    left = {name: number(sheet, name, _TIMING) for name in ("set_left", "set_right")}
    if not any(sheet.given(name) for name in left):
        sheet.problem("set_left", "To what is the ignition timed now? Give at least one of the two.")
    for name, degrees in left.items():
        if plate is not None and degrees is not None and round(abs(degrees - plate), 3) > TIMING_OFF_DEG:
            sheet.ask(name, f"Left at {degrees:g}°, the data plate says {plate:g}°. Is it right?")
    return {
        "plate_deg": plate,
        "found_left": number(sheet, "found_left", _TIMING),
        "found_right": number(sheet, "found_right", _TIMING),
        **left,
        "tool": sheet.text("tool", "Tool", 80),
        "action": sheet.text("action", "What was done", 400),
    }


def static_rpm(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    low, high = number(sheet, "low_rpm", _STATIC), number(sheet, "high_rpm", _STATIC)
    if low is not None and high is not None and low > high:
        sheet.problem("high_rpm", f"The highest static rpm, {high:g}, is below the lowest, {low:g}. Check both.")
    left = number(sheet, "left_rpm", _STATIC)
    if left is None and not sheet.given("left_rpm"):
        sheet.problem("left_rpm", "The static rpm as left is missing.")
    if left is not None and (left < (low or left) or left > (high or left)):
        sheet.ask("left_rpm", f"{left:g} rpm is outside the limits of the airframe's data. Is it right?")
    drops = {name: number(sheet, name, _DROP) for name in ("drop_left", "drop_right")}
    both = [drop for drop in drops.values() if drop is not None]
    if len(both) == 2 and abs(both[0] - both[1]) > DROPS_APART_RPM:
        sheet.ask("drop_right", f"The two drops are {abs(both[0] - both[1]):g} rpm apart. Is it right?")
    return {
        "low_rpm": low,
        "high_rpm": high,
        "found_rpm": number(sheet, "found_rpm", _STATIC),
        "left_rpm": left,
        "idle_rpm": number(sheet, "idle_rpm", _IDLE),
        **drops,
        "into_wind": sheet.flag("into_wind", "Into wind"),
        "action": sheet.text("action", "What was done", 400),
    }


def induction(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    outside, stopped = sheet.quantity("ambient", _OUTSIDE), sheet.quantity("stopped_map", _AIR)
    left = sheet.quantity("left_map", _FULL)
    if left is None and not sheet.given("left_map"):
        sheet.problem("left_map", "The full-throttle manifold pressure as left is missing.")
    under = under_ambient_inhg(outside, stopped, left)
    if about.boosted is False and under is not None and round(under, 2) > UNDER_AMBIENT_INHG:
        sheet.ask("left_map", f"Left {under:.1f} inHg under the air outside: more than {UNDER_AMBIENT_INHG:g}. Right?")
    leak = sheet.choice("leak", "Leak in the intake", INDUCTION)
    if leak in ("mended", "not_mended") and not sheet.given("where"):
        sheet.problem("where", "Where was the leak?")
    return {
        "ambient_inhg": outside,
        "stopped_map_inhg": stopped,
        "found_map_inhg": sheet.quantity("found_map", _FULL),
        "left_map_inhg": left,
        "alternate_air": sheet.choice("alternate_air", "Alternate air", ALTERNATE_AIR),
        "leak": leak,
        "where": sheet.text("where", "Where", 200),
        "gauge": sheet.text("gauge", "Gauge", 80),
        "gauge_until": calibrated(sheet, "gauge_until", "the gauge", on),
        "action": sheet.text("action", "What was done", 400),
    }


def under_ambient_inhg(outside: float | None, stopped: float | None, left: float | None) -> float | None:
    """How far full throttle stays under the air outside, the gauge's own error taken off [inHg]; None: not known.

    With the engine stopped the gauge shows the air outside; the difference is its error.
    """
    air = outside if outside is not None else stopped
    if air is None or left is None:
        return None
    error = stopped - outside if stopped is not None and outside is not None else 0.0
    return air - (left - error)
