"""What was measured and seen at the engine itself: leaks, compression, bores, torque, fuel flow, instruments."""

from __future__ import annotations

from datetime import date
from typing import Any

from breakin.calc.inspection import PASSING_SHARE, flow_at_sea_level_gph, loss_pct
from breakin.calc.units import Kind
from breakin.entries.inspection_reading import (
    About,
    Plain,
    RecheckItem,
    all_cylinders,
    by_cylinder,
    calibrated,
    day,
    number,
    words,
)
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet

LEAK_HEARD = ("none", "intake", "exhaust", "breather")
LEAKING = ("oil", "fuel", "exhaust", "coolant")
SIGNS = ("hatch", "scoring", "corrosion", "glaze", "valve_colour", "deposits", "oil_wet")
SPOTS = 12

_FLOW = Range("Fuel flow", Kind.FUEL_FLOW, 0.1, 400)
_ALTITUDE = Range("Density altitude", Kind.ALTITUDE, -6000, 30_000, -3000, 12_000)
_INPUT = Range("Input pressure", Kind.OIL_PRESSURE, 10, 100, 78, 82)
_PSI = Range("Pressure", Kind.OIL_PRESSURE, 0, 100)
_ORIFICE = Range("Master orifice", Kind.OIL_PRESSURE, 0, 100, 35, 75)
_MAP = Range("Error of the manifold gauge", Kind.PRESSURE_MANIFOLD, -10, 10, -1, 1)


def leak(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    spots = []
    for index, row in enumerate(sheet.rows("spots", "Places", 40)):
        child = sheet.child(f"spots.{index}", row)
        spots.append(
            {
                "where": child.text("where", "Place", 80),
                "what": child.choice("what", "What leaks", LEAKING),
                "grade": child.whole("grade", "Grade (0 dry to 3 streaming)", 0, 3),
                "fixed": child.flag("fixed", "Fixed"),
            }
        )
        if spots[-1]["grade"] is None and not child.given("grade"):
            child.problem("grade", "How wet is it there? Choose one from dry to streaming.")
        child.only()
    return {
        "spots": [{name: value for name, value in spot.items() if value not in (None, "")} for spot in spots],
        "breather": sheet.whole("breather", "Oil at the breather (0 dry to 3 heavy)", 0, 3),
        "torque_done": sheet.flag("torque_done", "Torque rechecked"),
        "cleaned": sheet.flag("cleaned", "Cleaned"),
        "dye": sheet.flag("dye", "Dye used"),
        "cause": sheet.text("cause", "Cause", 400),
        "action": sheet.text("action", "What was done", 400),
    }


def compression(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    supply = sheet.quantity("input_psi", _INPUT)
    readings = by_cylinder(sheet, "readings", about, lambda child, key: child.quantity(key, _PSI))
    if not readings:
        sheet.problem("readings", "Give the reading of each cylinder.")
    if supply is None and readings and not sheet.given("input_psi"):
        sheet.problem("input_psi", "The input pressure is missing. Usually it is 80 psi.")
    for key, psi in readings.items():
        if supply is not None and psi > supply + 0.5:
            sheet.problem(f"readings.{key}", f"{psi:g} psi is more than the input, {supply:g} psi. Check both.")
        elif supply is not None and psi < PASSING_SHARE * supply - 1e-9:
            lost = f"{psi:g} of {supply:g} psi, {loss_pct(psi, supply):.0f} % lost"
            sheet.ask(f"readings.{key}", f"Cylinder {key}: {lost}. Measured twice, hot, piston at top dead centre?")
    all_cylinders(sheet, "readings", about, readings, "reading")
    orifice = sheet.quantity("orifice_psi", _ORIFICE)
    if orifice is not None and supply is not None and orifice > supply:
        sheet.problem("orifice_psi", f"{orifice:g} psi is more than the input, {supply:g} psi. Check both.")
    return {
        "input_psi": supply,
        "readings": readings,
        "orifice_psi": orifice,
        "hot": sheet.flag("hot", "Engine hot"),
        "leak_heard": by_cylinder(
            sheet, "leak_heard", about, lambda child, key: child.choice(key, "Leak heard at", LEAK_HEARD) or None
        ),
        "tester": sheet.text("tester", "Tester", 80),
    }


def borescope(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    def grade(child: Sheet, key: str) -> int | None:
        read = child.whole(key, "Grade (0 to 3)", 0, 3)
        if read is not None and read > 1:
            child.ask(key, f"Cylinder {key}: grade {read} is more than a fresh bore usually shows. Is it right?")
        return read

    grades = by_cylinder(sheet, "grades", about, grade)
    if not grades:
        sheet.problem("grades", "Give a grade from 0 to 3 for each cylinder looked at.")
    all_cylinders(sheet, "grades", about, grades, "grade")
    return {
        "grades": grades,
        "signs": by_cylinder(sheet, "signs", about, lambda child, key: words(child, key, "What was seen", SIGNS)),
        "seen": by_cylinder(sheet, "seen", about, lambda child, key: child.text(key, "What was seen", 200) or None),
    }


def torque(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    listed = {each.item.casefold(): each for each in about.recheck}
    items = []
    for index, row in enumerate(sheet.rows("items", "Items", 100)):
        child = sheet.child(f"items.{index}", row)
        kept: dict[str, Any] = {name: child.text(name, name.title(), 120) for name in ("item", "found", "set")}
        kept["mark"] = child.flag("mark", "Mark applied")
        child.only()
        if not kept["item"]:
            child.problem("item", "Which item? Name it, or clear the row.")
        _ask_about_torque(child, kept, listed.get(kept["item"].casefold()))
        items.append({name: value for name, value in kept.items() if value not in (None, "")})
    return {
        "items": items,
        "tool": sheet.text("tool", "Tool", 80),
        "tool_until": calibrated(sheet, "tool_until", "the torque tool", on),
    }


def _ask_about_torque(sheet: Sheet, kept: dict[str, Any], listed: RecheckItem | None) -> None:
    """A number outside the limits that the type's list gives for this item."""
    if listed is None or listed.low is None or listed.high is None:
        return
    for name in ("found", "set"):
        try:
            value = float(str(kept[name]).replace(",", "."))
        except ValueError:
            continue
        if not listed.low <= value <= listed.high:
            limits = f"{listed.low:g} to {listed.high:g} {listed.unit}"
            sheet.ask(name, f"{listed.item}: {value:g} {listed.unit} is outside the {limits} of its list. Is it right?")


def fuel_flow(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    full = sheet.quantity("full_gph", _FLOW)
    if full is None and not sheet.given("full_gph"):
        sheet.problem("full_gph", "The full-throttle fuel flow after the set-up is missing.")
    altitude = sheet.quantity("density_altitude", _ALTITUDE)
    if full is not None and about.ff_low_gph is not None:
        compared = flow_at_sea_level_gph(full, altitude) if about.compensates and altitude is not None else full
        high = about.ff_high_gph if about.ff_high_gph is not None else compared
        if not about.ff_low_gph <= compared <= high:
            how = f"{full:.1f} gal/h" + (f", {compared:.1f} at sea level" if abs(compared - full) > 0.05 else "")
            band = (
                f"{about.ff_low_gph:g} to {high:g} gal/h" if about.ff_high_gph else f"from {about.ff_low_gph:g} gal/h"
            )
            sheet.ask("full_gph", f"Left at {how}: outside the type's band, {band}. Is it right?")
    return {
        "idle_gph": sheet.quantity("idle_gph", _FLOW),
        "full_gph": full,
        "found_full_gph": sheet.quantity("found_full_gph", _FLOW),
        "found_idle_gph": sheet.quantity("found_idle_gph", _FLOW),
        "density_altitude_ft": altitude,
        "gauge": sheet.text("gauge", "Gauge", 80),
        "gauge_until": calibrated(sheet, "gauge_until", "the gauge", on),
    }


def instruments(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    return {
        "rpm_error": number(sheet, "rpm_error", Plain("Error of the tachometer", -500, 500, "rpm", -50, 50)),
        "map_error_inhg": sheet.quantity("map_error", _MAP),
        "ff_error_pct": number(sheet, "ff_error_pct", Plain("Error of the fuel-flow gauge", -50, 50, "%", -5, 5)),
        "seen": sheet.text("seen", "What was seen", 400),
    }


def preservation(sheet: Sheet, on: date, about: About) -> dict[str, Any]:
    until = day(sheet, "expires_on", "Preserved until")
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
