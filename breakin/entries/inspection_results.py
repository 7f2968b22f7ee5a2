"""What each kind of inspection measures, and which verdict its findings call for at least.

One reader a kind. Ranges and lines are common practice of the trade without a published source; the maker's own
instructions come first.
"""

from __future__ import annotations

from typing import Any

from breakin.calc.inspection import DRIPS, LONG_FLAKE_MM, LONG_SLIVER_MM
from breakin.entries import inspection_engine as engine
from breakin.entries import inspection_oil as oil
from breakin.entries import inspection_setup as setup
from breakin.entries.inspection_reading import Reader
from engines.models import InspectionKind, InspectionResult

READERS: dict[str, Reader] = {
    InspectionKind.OIL_CHECK: oil.oil_check,
    InspectionKind.OIL_FILTER: oil.oil_filter,
    InspectionKind.LEAK: engine.leak,
    InspectionKind.COMPRESSION: engine.compression,
    InspectionKind.BORESCOPE: engine.borescope,
    InspectionKind.OIL_ANALYSIS: oil.oil_analysis,
    InspectionKind.TORQUE: engine.torque,
    InspectionKind.FUEL_FLOW: engine.fuel_flow,
    InspectionKind.INSTRUMENTS: engine.instruments,
    InspectionKind.PRESERVATION: engine.preservation,
    InspectionKind.BAFFLE: setup.baffle,
    InspectionKind.TIMING: setup.timing,
    InspectionKind.STATIC_RPM: setup.static_rpm,
    InspectionKind.INDUCTION: setup.induction,
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
        open_spots = [spot for spot in results.get("spots", []) if spot.get("grade") and not _fixed(spot, results)]
        burning = next((spot["what"] for spot in open_spots if spot.get("what") in ("fuel", "exhaust")), "")
        if burning:
            return stop, f"A leak of {burning} that was not fixed is a Stop."
        if any(spot["grade"] >= DRIPS for spot in open_spots):
            return watch, "Something drips or streams, and it was not fixed: the leak stays open."
    if kind == InspectionKind.BAFFLE and results.get("left_seals") in ("gaps", "torn", "missing"):
        return watch, "Air still gets past the baffle seals."
    if kind == InspectionKind.INDUCTION and results.get("leak") == "not_mended":
        return watch, "The leak in the intake was not mended."
    return normal, ""


def _fixed(spot: dict[str, Any], results: dict[str, Any]) -> bool:
    """Fixed by its own word; where none is given, by what was done in all."""
    return bool(spot.get("fixed", bool(results.get("action"))))
