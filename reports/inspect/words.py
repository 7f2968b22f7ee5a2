"""What an inspection found, value by value in the trade's words, and how it changed since the last of its kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from breakin.calc.inspection import loss_pct
from breakin.entries.inspection_oil import METALS
from engines.models import InspectionKind
from reports.inspect import telling_setup
from reports.inspect.telling import (
    GRADES_OF_BORE,
    GRADES_OF_BREATHER,
    GRADES_OF_LEAK,
    THIN,
    WORDS,
    Said,
    flag_of,
    measured_of,
    number_of,
    text_of,
    word_of,
)
from reports.quantities import quantity


@dataclass(frozen=True)
class Change:
    """A value beside the one of the last look: `word` is "worse", "better", "same", "new" or ""."""

    label: str
    before: str
    now: str
    said: str
    word: str


def said(kind: str, results: Mapping[str, Any], units: str) -> tuple[Said, ...]:
    """Everything that was found, in the order of the form. What was not told is left out."""
    teller = _TELLERS.get(kind)
    return tuple(each for each in (teller(results, units) if teller else ()) if each.text)


def _oil_check(results: Mapping[str, Any], units: str) -> list[Said]:
    return [text_of("seen", results, "Seen")]


def _oil_filter(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        flag_of("opened", results, "Cut open"),
        word_of("material", results, "In it"),
        word_of("count", results, "How many"),
        word_of("amount", results, "In all"),
        number_of("longest_mm", results, "Longest piece", "mm", worse=1),
        word_of("magnet", results, "Magnet"),
        word_of("screen", results, "Suction screen"),
    ]


def _leak(results: Mapping[str, Any], units: str) -> list[Said]:
    spots = results.get("spots") or []
    worst = max((spot.get("grade") or 0 for spot in spots), default=0)
    told = "; ".join(_spot(spot) for spot in spots)
    breather = results.get("breather")
    return [
        Said("spots", "Places", told),
        Said("worst", "Worst place", GRADES_OF_LEAK[worst] if spots else "no leak found", worst),
        Said("breather", "Breather", "" if breather is None else GRADES_OF_BREATHER[breather], breather),
        flag_of("cleaned", results, "Cleaned"),
        flag_of("dye", results, "Dye"),
        flag_of("torque_done", results, "Torque rechecked"),
        text_of("cause", results, "Cause"),
        text_of("action", results, "Done"),
    ]


def _spot(spot: Mapping[str, Any]) -> str:
    told = spot.get("fixed")
    fixed = "" if told is None else "fixed" if told else "not fixed"
    parts = (WORDS["what"].get(str(spot.get("what")), ""), GRADES_OF_LEAK[spot.get("grade") or 0], fixed)
    return f"{spot.get('where') or 'somewhere'}: {', '.join(part for part in parts if part)}"


def _compression(results: Mapping[str, Any], units: str) -> list[Said]:
    supply, hot = results.get("input_psi"), results.get("hot")
    told = []
    for number, psi in (results.get("readings") or {}).items():
        each = measured_of(f"readings_{number}", psi, f"No. {number}", "oil_pressure", units, worse=-1)
        lost = f", {loss_pct(psi, supply):.0f}{THIN}% lost" if supply else ""
        told.append(Said(each.key, each.label, f"{each.text}{lost}", each.rank, each.value, each.unit))
    heard = [
        Said(f"leak_heard_{number}", f"No. {number} heard at", WORDS["leak_heard"].get(where, where))
        for number, where in (results.get("leak_heard") or {}).items()
    ]
    return [
        *told,
        *heard,
        measured_of("input_psi", supply, "Input", "oil_pressure", units),
        measured_of("orifice_psi", results.get("orifice_psi"), "Master orifice", "oil_pressure", units),
        Said("hot", "Engine", "" if hot is None else "hot" if hot else "cold"),
        text_of("tester", results, "Tester"),
    ]


def _borescope(results: Mapping[str, Any], units: str) -> list[Said]:
    told = []
    signs, seen = results.get("signs") or {}, results.get("seen") or {}
    for number, grade in (results.get("grades") or {}).items():
        words = [WORDS["signs"].get(each, each) for each in signs.get(number, ())]
        text = ", ".join([GRADES_OF_BORE[grade].partition(",")[0], *words, *([seen[number]] if number in seen else [])])
        told.append(Said(f"grades_{number}", f"No. {number}", f"grade {text}", float(grade), float(grade), "grade"))
    return told


def _oil_analysis(results: Mapping[str, Any], units: str) -> list[Said]:
    ppm = results.get("ppm") or {}
    metals = [
        Said(f"ppm_{name}", name.title(), f"{ppm[name]:g}{THIN}ppm", None, float(ppm[name]), "ppm")
        for name in METALS
        if name in ppm
    ]
    return [
        *metals,
        number_of("hours_on_oil", results, "Hours on this oil", "h"),
        number_of("viscosity_cst", results, "Viscosity at 100\u202f°C", "cSt"),
        number_of("fuel_pct", results, "Fuel", "%", worse=1),
        flag_of("water", results, "Water"),
        flag_of("coarse_metal", results, "Coarse metal"),
        text_of("lab_reference", results, "Laboratory's reference"),
    ]


def _torque(results: Mapping[str, Any], units: str) -> list[Said]:
    told = []
    for row, item in enumerate(results.get("items") or []):
        parts = [f"found {item['found']}" if item.get("found") else "", f"set {item['set']}" if item.get("set") else ""]
        parts.append("mark applied" if item.get("mark") else "")
        told.append(
            Said(f"item_{row}", str(item.get("item")), ", ".join(part for part in parts if part) or "looked at")
        )
    return [*told, text_of("tool", results, "Tool"), text_of("tool_until", results, "Tool calibrated until")]


def _fuel_flow(results: Mapping[str, Any], units: str) -> list[Said]:
    flows = (
        ("found_full_gph", "Full throttle as found"),
        ("full_gph", "Full throttle as left"),
        ("found_idle_gph", "Idle as found"),
        ("idle_gph", "Idle as left"),
    )
    return [
        *(measured_of(name, results.get(name), label, "fuel_flow", units) for name, label in flows),
        measured_of("density_altitude", results.get("density_altitude_ft"), "Density altitude", "altitude", units),
        text_of("gauge", results, "Gauge"),
        text_of("gauge_until", results, "Gauge calibrated until"),
    ]


def _instruments(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        number_of("rpm_error", results, "Tachometer reads over by", "rpm"),
        measured_of("map_error", results.get("map_error_inhg"), "Manifold gauge reads over by", "manifold", units),
        number_of("ff_error_pct", results, "Fuel-flow gauge reads over by", "%"),
        text_of("seen", results, "Seen"),
    ]


def _preservation(results: Mapping[str, Any], units: str) -> list[Said]:
    return [
        text_of("expires_on", results, "Preserved until"),
        text_of("preservative", results, "Preservative"),
        flag_of("humidity_ok", results, "Humidity plugs in order"),
    ]


_TELLERS: dict[str, Callable[[Mapping[str, Any], str], list[Said]]] = {
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
    InspectionKind.BAFFLE: telling_setup.baffle,
    InspectionKind.TIMING: telling_setup.timing,
    InspectionKind.STATIC_RPM: telling_setup.static_rpm,
    InspectionKind.INDUCTION: telling_setup.induction,
}


def changes(before: tuple[Said, ...], now: tuple[Said, ...]) -> tuple[Change, ...]:
    """This look value by value beside the last one; what only the last one told comes at the end."""
    known = {each.key: each for each in before}
    told = [_change(known.pop(each.key, None), each) for each in now]
    return (*told, *(Change(each.label, each.text, "not told", "", "") for each in known.values()))


def _change(before: Said | None, now: Said) -> Change:
    if before is None:
        return Change(now.label, "not told", now.text, "", "new")
    if before.text == now.text:
        return Change(now.label, before.text, now.text, "the same", "same" if now.rank is not None else "")
    word = ""
    if before.rank is not None and now.rank is not None and before.rank != now.rank:
        word = "worse" if now.rank > before.rank else "better"
    moved = ""
    if before.value is not None and now.value is not None and before.unit == now.unit:
        step = now.value - before.value
        size = f"{abs(step):.3g}{THIN}{now.unit}" if now.unit != "grade" else f"{abs(step):.0f}"
        moved = f"{size} {'more' if step > 0 else 'less'}" if step else "the same"
    said_so = ", ".join(part for part in (moved, word) if part) or "changed"
    return Change(now.label, before.text, now.text, said_so, word)


def trend(found: tuple[Change, ...]) -> str:
    """One word for the whole: how this look stands to the last one."""
    words = {each.word for each in found}
    if "worse" in words:
        return "better and worse" if "better" in words else "worse"
    if "better" in words:
        return "better"
    if any(each.said not in ("", "the same") for each in found):
        return "changed"
    return "the same" if any(each.said for each in found) else "nothing to compare"


def in_short(kind: str, results: Mapping[str, Any], units: str) -> str:
    """One line for a table."""
    if kind == InspectionKind.COMPRESSION and results.get("readings"):
        worst = min(results["readings"], key=lambda number: results["readings"][number])
        low = quantity(results["readings"][worst], "oil_pressure", units)
        return f"lowest no. {worst}, {low} of {quantity(results.get('input_psi'), 'oil_pressure', units)}"
    if kind == InspectionKind.BORESCOPE and results.get("grades"):
        worst = max(results["grades"], key=lambda number: results["grades"][number])
        return f"worst no. {worst}, grade {results['grades'][worst]}"
    told = [each for each in said(kind, results, units) if each.key not in _LONG]
    if kind == InspectionKind.OIL_FILTER and results.get("opened"):
        seen = ("material", "count", "amount", "longest_mm")
        return ", ".join(each.text for each in told if each.key in seen)
    if kind == InspectionKind.TORQUE:
        return f"{len(results.get('items') or [])} items"
    return ", ".join(f"{_inside(each.label)} {each.text}" for each in told[:4])


def in_a_sentence(kind: str, results: Mapping[str, Any], units: str) -> str:
    """Everything that was found, as one sentence; empty for nothing."""
    found = said(kind, results, units)
    told = "; ".join(f"{_inside(each.label)} {each.text}" for each in found)
    return told[:1].upper() + told[1:] + "." if told else ""


def _inside(label: str) -> str:
    """A label inside a sentence; the sign of a metal keeps its capital."""
    return label if len(label) <= 2 else f"{label[:1].lower()}{label[1:]}"


_LONG = frozenset({"cause", "action", "seen", "lab_reference", "gauge", "gauge_until", "spots", "where", "tool"})
