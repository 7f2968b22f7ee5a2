"""Reads what a form about an engine type holds beyond single measured values, and what has to fit together in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from breakin.entries.sheet import Sheet
from engines.models import Cooling, EngineTypeRevision
from reports.acts.base import read_decimal
from reports.acts.type_fields import FF_POSSIBLE, FF_USUAL, JUDGED_LAYOUTS, LABELS, RISING, Plain


def read_plain(sheet: Sheet, what: Plain) -> float | None:
    """A number in one unit, asked about where it is unusual."""
    before = len(sheet.found.problems)
    value = read_decimal(sheet, what.name, f"{what.label}, {what.unit}", what.low, what.high)
    if value is not None and len(sheet.found.problems) == before and what.usual:
        low, high = what.usual
        if not low <= value <= high:
            sheet.ask(
                what.name, f"{what.label}: {value:g} {what.unit} is outside the usual {low:g} to {high:g}. Is it right?"
            )
    return value


def check_together(sheet: Sheet, values: Mapping[str, Any]) -> None:
    """Pairs that rise, the fuel flow against the power, and what the standard rules are for."""
    for low, high in RISING:
        if values[low] is not None and values[high] is not None and values[low] > values[high]:
            sheet.problem(high, f"{LABELS[high]}: it is less than “{LABELS[low]}”. Mend one of them.")
    rated = values["rated_hp"]
    for name in ("takeoff_ff_low_gph", "takeoff_ff_high_gph"):
        flow = values[name]
        if flow is None or rated is None:
            continue
        low, high = (share * rated for share in FF_POSSIBLE)
        if not low <= flow <= high:
            sheet.problem(name, f"{LABELS[name]}: {flow:.1f} gal/h can't be for {rated:g} hp. Check it and its unit.")
        elif not FF_USUAL[0] * rated <= flow <= FF_USUAL[1] * rated:
            usual = f"{FF_USUAL[0] * rated:.1f} to {FF_USUAL[1] * rated:.1f} gal/h"
            sheet.ask(
                name, f"{LABELS[name]}: {flow:.1f} gal/h is outside the usual {usual} for {rated:g} hp. Is it right?"
            )
    if values["cooling"] in (Cooling.LIQUID, Cooling.MIXED) and not values["log_only"]:
        sheet.problem(
            "log_only", "An engine that is not air-cooled is outside the standard rules. Mark it as log only."
        )
    if values["layout"] and values["layout"] not in JUDGED_LAYOUTS and not values["log_only"]:
        sheet.ask(
            "layout", f"A {values['layout']} engine is outside the rows the rules were made for. Judge it all the same?"
        )


def read_map(sheet: Sheet, cylinders: int | None) -> list[list[int | None]] | None:
    """The places of the cylinders: rows from the front back, a dash for a gap."""
    text = sheet.text("cylinder_map", "Map of the cylinders", 200)
    if not text:
        return None
    rows = [line.replace(",", " ").split() for line in text.splitlines() if line.strip()]
    try:
        found = [[None if cell in "-–—" else int(cell) for cell in row] for row in rows]
    except ValueError:
        found = []
    if cylinders and (not found or not EngineTypeRevision(cylinders=cylinders, cylinder_map=found).mapped_rows):
        sheet.problem(
            "cylinder_map",
            f"Map of the cylinders: write each of the numbers 1 to {cylinders} once, rows of equal length from the "
            "front back, a dash for a gap.",
        )
        return None
    return found


def read_recheck(sheet: Sheet) -> list[dict[str, Any]]:
    """The maker's list, one item a line: what; from; to; unit."""
    rows: list[dict[str, Any]] = []
    for number, line in enumerate(sheet.text("recheck", "Items", 4000).splitlines(), 1):
        if not line.strip():
            continue
        item, *rest = [part.strip() for part in line.split(";")]
        numbers: list[float | None] = []
        for text in rest[:2]:
            try:
                numbers.append(float(text.replace(",", ".")) if text else None)
            except ValueError:
                sheet.problem("recheck", f"Line {number}: “{text[:40]}” is not a number. Write: what; from; to; unit.")
        low, high = [*numbers, None, None][:2]
        if not item or len(rest) > 3:
            sheet.problem("recheck", f"Line {number}: write it as: what; from; to; unit.")
        rows.append({"item": item, "low": low, "high": high, "unit": rest[2] if len(rest) > 2 else ""})
    return rows
