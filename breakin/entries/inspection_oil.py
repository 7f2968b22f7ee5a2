"""What came out with the oil: the oil check, filter and screen, the laboratory's analysis."""

from __future__ import annotations

from datetime import date
from typing import Any

from breakin.calc.inspection import AMOUNTS, COUNTS, MATERIALS
from breakin.entries.inspection_reading import About, Plain, number
from breakin.entries.sheet import Sheet

MAGNET = ("not_done", "nothing", "fuzz", "pieces")
SCREEN = ("not_fitted", "not_opened", "clean", "metal")
METALS = ("fe", "cr", "ni", "al", "cu", "si", "pb", "sn")
FE_FIRST_PPM = 150.0

_LONGEST = Plain("Longest piece", 0, 100, "mm")
_HOURS_ON_OIL = Plain("Hours on this oil", 0, 1000, "h", 2, 100)
_PPM = {name: Plain(name.title(), 0, 5000, "ppm", None, FE_FIRST_PPM if name == "fe" else None) for name in METALS}
_VISCOSITY = Plain("Viscosity at 100 °C", 1, 60, "cSt", 8, 25)
_FUEL = Plain("Fuel in the oil", 0, 100, "%", 0, 3)


def oil_check(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    return {"seen": sheet.text("seen", "What was seen", 400)}


def oil_filter(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
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
    longest = number(sheet, "longest_mm", _LONGEST)
    if opened and material in ("flake", "sliver") and longest is None and not sheet.given("longest_mm"):
        sheet.ask("longest_mm", f"A {material} is judged by its length, and none is given. Go on without it?")
    return {
        "opened": opened,
        "oil_changed": sheet.flag("oil_changed", "Oil changed"),
        "magnet": sheet.choice("magnet", "Magnet", MAGNET),
        "material": material,
        "count": sheet.choice("count", "How many", COUNTS),
        "amount": sheet.choice("amount", "How much in all", AMOUNTS),
        "longest_mm": longest,
        "screen": sheet.choice("screen", "Suction screen", SCREEN),
    }


def oil_analysis(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    ppm_sheet = sheet.child("ppm", sheet.get("ppm") or {})
    ppm = {name: number(ppm_sheet, name, _PPM[name]) for name in METALS}
    ppm_sheet.only()
    known = {name: value for name, value in ppm.items() if value is not None}
    if not known and not ppm_sheet.found.problems:
        sheet.problem("ppm", "Give the metals that the laboratory reports, in ppm; at least one.")
    return {
        "lab_reference": sheet.text("lab_reference", "Reference of the laboratory", 80),
        "hours_on_oil": number(sheet, "hours_on_oil", _HOURS_ON_OIL),
        "ppm": known,
        "viscosity_cst": number(sheet, "viscosity_cst", _VISCOSITY),
        "fuel_pct": number(sheet, "fuel_pct", _FUEL),
        "water": sheet.flag("water", "Water found"),
        "coarse_metal": sheet.flag("coarse_metal", "Coarse metal found"),
    }
