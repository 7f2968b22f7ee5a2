"""What each kind of inspection measures, and which verdict its findings call for at least.

Ranges and lines are common practice of the trade without a published source; the maker's own instructions come first.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from engines.models import InspectionKind, InspectionResult

MATERIALS = ("none", "fuzz", "flake", "sliver", "chunk", "non_metal")
COUNTS = ("none", "few", "many")
MAGNET = ("not_done", "nothing", "fuzz", "pieces")
LEAK_HEARD = ("none", "intake", "exhaust", "breather")
LONG_SLIVER_MM = 2.0
LONG_FLAKE_MM = 1.0
METALS = ("fe", "cr", "ni", "al", "cu", "si", "pb", "sn")

_FLOW = Range("Fuel flow", Kind.FUEL_FLOW, 0.1, 400)
_ALTITUDE = Range("Density altitude", Kind.ALTITUDE, -6000, 30_000)
_PSI = Range("Pressure", Kind.OIL_PRESSURE, 0, 100)
_MAP = Range("Error of the manifold gauge", Kind.PRESSURE_MANIFOLD, -10, 10)


def _number(sheet: Sheet, name: str, label: str, low: float, high: float, unit: str) -> float | None:
    """A number in a unit that has no other in use here."""
    value = sheet.get(name)
    if value is None:
        return None
    text = str(value).strip()
    try:
        read = float(text.replace(",", "."))
    except ValueError:
        read = float("nan")
    if not low <= read <= high:
        sheet.problem(name, f"{label}: “{text[:20]}” is not a number from {low:g} to {high:g} {unit}. Check it.")
        return None
    sheet.keep(name, text, unit)
    return read


def _by_cylinder(sheet: Sheet, name: str, read: Callable[[Sheet, str], Any]) -> dict[str, Any]:
    value = sheet.get(name)
    if value is None:
        return {}
    child = sheet.child(name, value)
    found: dict[str, Any] = {}
    for number in child.raw:
        if not str(number).isdecimal() or not 1 <= int(str(number)[:3]) <= 24:
            child.problem(str(number)[:10], f"“{str(number)[:10]}” is not a cylinder number.")
            continue
        each = read(child, str(number))
        if each is not None:
            found[str(number)] = each
    return found


def _day(sheet: Sheet, name: str, label: str) -> date | None:
    value = sheet.get(name)
    if value is None:
        return None
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        sheet.problem(name, f"{label}: “{str(value)[:20]}” is not a date. Write it like 2026-11-24.")
        return None


def _calibrated(sheet: Sheet, name: str, what: str, on: date) -> str:
    """The day until which a tool is calibrated. With an expired tool nothing was measured."""
    until = _day(sheet, name, f"{what} calibrated until")
    if until is not None and until < on:
        sheet.problem(name, f"The calibration of {what} ended on {until}. Measure again with a calibrated one.")
    return until.isoformat() if until else ""


def oil_check(sheet: Sheet, on: date) -> dict[str, Any]:
    return {"seen": sheet.text("seen", "What was seen", 400)}


def oil_filter(sheet: Sheet, on: date) -> dict[str, Any]:
    opened = sheet.flag("opened", "Filter or screen opened")
    if opened is None:
        sheet.problem("opened", "Was the filter cut open, or the screen looked at? Say yes or no.")
    material = sheet.choice("material", "Material", MATERIALS)
    if opened and not material:
        sheet.problem("material", f"What was in it? Choose one of {', '.join(MATERIALS)}.")
    if opened is False and material:
        sheet.problem(
            "material", "The filter was not opened, so no material can be named. Clear it, or say it was opened."
        )
    return {
        "opened": opened,
        "magnet": sheet.choice("magnet", "Magnet", MAGNET),
        "material": material,
        "count": sheet.choice("count", "How many", COUNTS),
        "longest_mm": _number(sheet, "longest_mm", "Longest piece", 0, 100, "mm"),
        "screen_ok": sheet.flag("screen_ok", "Suction screen clean"),
    }


def leak(sheet: Sheet, on: date) -> dict[str, Any]:
    spots = []
    for index, row in enumerate(sheet.rows("spots", "Places", 40)):
        child = sheet.child(f"spots.{index}", row)
        spots.append(
            {
                "where": child.text("where", "Place", 80),
                "grade": child.whole("grade", "Grade (0 dry to 3 streaming)", 0, 3),
            }
        )
        child.only()
    return {
        "spots": spots,
        "torque_done": sheet.flag("torque_done", "Torque rechecked"),
        "cleaned": sheet.flag("cleaned", "Cleaned"),
        "dye": sheet.flag("dye", "Dye used"),
        "cause": sheet.text("cause", "Cause", 400),
        "action": sheet.text("action", "What was done", 400),
    }


def compression(sheet: Sheet, on: date) -> dict[str, Any]:
    supply = sheet.quantity("input_psi", _PSI)
    readings = _by_cylinder(sheet, "readings", lambda child, number: child.quantity(number, _PSI))
    if not readings:
        sheet.problem("readings", "Give the reading of each cylinder.")
    if supply is None and readings:
        sheet.problem("input_psi", "The input pressure is missing. Usually it is 80 psi.")
    for number, psi in readings.items():
        if supply is not None and psi > supply + 0.5:
            sheet.problem(f"readings.{number}", f"{psi:g} psi is more than the input, {supply:g} psi. Check both.")
    return {
        "input_psi": supply,
        "readings": readings,
        "orifice_psi": sheet.quantity("orifice_psi", _PSI),
        "hot": sheet.flag("hot", "Engine hot"),
        "leak_heard": _by_cylinder(
            sheet, "leak_heard", lambda child, number: child.choice(number, "Leak heard at", LEAK_HEARD) or None
        ),
        "tester": sheet.text("tester", "Tester", 80),
    }


def borescope(sheet: Sheet, on: date) -> dict[str, Any]:
    grades = _by_cylinder(sheet, "grades", lambda child, number: child.whole(number, "Grade (0 to 3)", 0, 3))
    if not grades:
        sheet.problem("grades", "Give a grade from 0 to 3 for each cylinder looked at.")
    return {
        "grades": grades,
        "seen": _by_cylinder(sheet, "seen", lambda child, number: child.text(number, "What was seen", 200) or None),
    }


def oil_analysis(sheet: Sheet, on: date) -> dict[str, Any]:
    ppm_sheet = sheet.child("ppm", sheet.get("ppm") or {})
    ppm = {name: _number(ppm_sheet, name, name.title(), 0, 5000, "ppm") for name in METALS}
    ppm_sheet.only()
    return {
        "lab_reference": sheet.text("lab_reference", "Reference of the laboratory", 80),
        "hours_on_oil": _number(sheet, "hours_on_oil", "Hours on this oil", 0, 1000, "h"),
        "ppm": {name: value for name, value in ppm.items() if value is not None},
        "fuel_pct": _number(sheet, "fuel_pct", "Fuel in the oil", 0, 100, "%"),
        "water": sheet.flag("water", "Water found"),
    }


def torque(sheet: Sheet, on: date) -> dict[str, Any]:
    items = []
    for index, row in enumerate(sheet.rows("items", "Items", 100)):
        child = sheet.child(f"items.{index}", row)
        items.append({name: child.text(name, name.title(), 120) for name in ("item", "found", "set")})
        child.only()
    return {
        "items": items,
        "tool": sheet.text("tool", "Tool", 80),
        "tool_until": _calibrated(sheet, "tool_until", "the torque tool", on),
    }


def fuel_flow(sheet: Sheet, on: date) -> dict[str, Any]:
    full = sheet.quantity("full_gph", _FLOW)
    if full is None:
        sheet.problem("full_gph", "The full-throttle fuel flow after the set-up is missing.")
    return {
        "idle_gph": sheet.quantity("idle_gph", _FLOW),
        "full_gph": full,
        "found_full_gph": sheet.quantity("found_full_gph", _FLOW),
        "density_altitude_ft": sheet.quantity("density_altitude", _ALTITUDE),
        "gauge": sheet.text("gauge", "Gauge", 80),
        "gauge_until": _calibrated(sheet, "gauge_until", "the gauge", on),
    }


def instruments(sheet: Sheet, on: date) -> dict[str, Any]:
    return {
        "rpm_error": _number(sheet, "rpm_error", "Error of the tachometer", -500, 500, "rpm"),
        "map_error_inhg": sheet.quantity("map_error", _MAP),
        "ff_error_pct": _number(sheet, "ff_error_pct", "Error of the fuel-flow gauge", -50, 50, "%"),
        "seen": sheet.text("seen", "What was seen", 400),
    }


def preservation(sheet: Sheet, on: date) -> dict[str, Any]:
    until = _day(sheet, "expires_on", "Preserved until")
    if until is None:
        if not sheet.given("expires_on"):
            sheet.problem("expires_on", "Until which day does the preservation hold?")
    elif until < on:
        sheet.problem("expires_on", f"{until} lies before the day it was preserved. Check the year.")
    return {
        "expires_on": until.isoformat() if until else "",
        "preservative": sheet.text("preservative", "Preservative", 80),
        "humidity_ok": sheet.flag("humidity_ok", "Humidity plugs in order"),
    }


READERS: dict[str, Callable[[Sheet, date], dict[str, Any]]] = {
    InspectionKind.OIL_CHECK: oil_check,
    InspectionKind.OIL_FILTER: oil_filter,
    InspectionKind.LEAK: leak,
    InspectionKind.COMPRESSION: compression,
    InspectionKind.BORESCOPE: borescope,
    InspectionKind.OIL_ANALYSIS: oil_analysis,
    InspectionKind.TORQUE: torque,
    InspectionKind.FUEL_FLOW: fuel_flow,
    InspectionKind.INSTRUMENTS: instruments,
    InspectionKind.PRESERVATION: preservation,
}


def least_result(kind: str, results: dict[str, Any]) -> tuple[str, str]:
    """The mildest verdict that these findings allow, and the sentence why."""
    normal, watch, stop = InspectionResult.NORMAL.value, InspectionResult.WATCH.value, InspectionResult.STOP.value
    if kind == InspectionKind.OIL_FILTER:
        material, longest = results.get("material"), results.get("longest_mm") or 0.0
        if material == "chunk":
            return stop, "A chunk of metal in the filter is a Stop."
        if material == "sliver" and longest > LONG_SLIVER_MM:
            return stop, f"A sliver of {longest:g} mm is a Stop (over {LONG_SLIVER_MM:g} mm)."
        if material in ("sliver", "flake") and longest >= LONG_FLAKE_MM:
            return watch, f"A {material} of {longest:g} mm is to be looked at soon (from {LONG_FLAKE_MM:g} mm)."
    if kind == InspectionKind.LEAK:
        worst = max((spot["grade"] or 0 for spot in results.get("spots", [])), default=0)
        if worst == 3 and not results.get("action"):
            return watch, "Something streams and nothing was done about it."
    return normal, ""
