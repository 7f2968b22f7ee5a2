"""What a technician types for each kind of inspection: refused, doubted, or taken, always where it was typed."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

import pytest

from breakin.entries import InspectionEntry, parse_inspection
from breakin.entries.inspection_reading import About, RecheckItem
from shop.errors import Refusal

NOW = datetime(2026, 6, 15, 18, tzinfo=UTC)
ABOUT = About(
    cylinders=4,
    ff_low_gph=15.2,
    ff_high_gph=16.8,
    compensates=True,
    boosted=False,
    recheck=(RecheckItem("cylinder base nuts", 300, 360),),
)
PRESSED = {"1": 74, "2": 72, "3": 75, "4": 70}


def read(
    kind: str, results: dict[str, Any], *, units: str = "us", about: About = ABOUT, **more: Any
) -> InspectionEntry:
    raw = {"client_id": str(uuid.uuid4()), "kind": kind, "result": "normal", "results": results, **more}
    return parse_inspection(raw, units=units, zone="UTC", now=NOW, about=about)


def compression(**more: Any) -> dict[str, Any]:
    return {"input_psi": 80, "readings": PRESSED, **more}


REFUSED: list[tuple[str, str, dict[str, Any], str, str]] = [
    ("a cylinder the engine has not", "compression", compression(readings={**PRESSED, "5": 70}), "results.readings.5",
     "4 cylinders"),
    ("more than the input", "compression", compression(readings={**PRESSED, "2": 81}), "results.readings.2",
     "more than"),
    ("orifice over the input", "compression", compression(orifice_psi=81), "results.orifice_psi", "more than"),
    ("no such sound", "compression", compression(leak_heard={"1": "nowhere"}), "results.leak_heard.1", "not one of"),
    ("a grade of 4", "borescope", {"grades": {"1": 4}}, "results.grades.1", "0 to 3"),
    ("a sign of our own", "borescope", {"grades": {"1": 0}, "signs": {"1": ["shiny"]}}, "results.signs.1",
     "not one of"),
    ("an analysis without metals", "oil_analysis", {"hours_on_oil": 10}, "results.ppm", "at least one"),
    ("too much iron to be true", "oil_analysis", {"ppm": {"fe": 5001}}, "results.ppm.fe", "0 to 5000"),
    ("a leak without its grade", "leak", {"spots": [{"where": "seal"}]}, "results.spots.0.grade", "How wet"),
    ("an item without a name", "torque", {"items": [{"found": "300"}]}, "results.items.0.item", "Which item"),
    ("a tool past its date", "torque", {"tool_until": "2026-06-14"}, "results.tool_until", "calibration"),
    ("a gauge past its date", "fuel_flow", {"full_gph": 16, "gauge_until": "2026-06-14"}, "results.gauge_until",
     "calibration"),
    ("a set-up without its flow", "fuel_flow", {"idle_gph": 2}, "results.full_gph", "missing"),
    ("baffles without how they stand now", "baffle", {"found_seals": "gaps"}, "results.left_seals", "stand now"),
    ("timing without the data plate", "timing", {"set_left": 25}, "results.plate_deg", "data plate"),
    ("timing that was not set", "timing", {"plate_deg": 25, "found_left": 27}, "results.set_left", "at least one"),
    ("timing after the dead centre", "timing", {"plate_deg": 25, "set_left": -3}, "results.set_left", "0 to 60"),
    ("a run-up without its rpm", "static_rpm", {"found_rpm": 2200}, "results.left_rpm", "missing"),
    ("limits that cross", "static_rpm", {"low_rpm": 2400, "high_rpm": 2250, "left_rpm": 2300}, "results.high_rpm",
     "below the lowest"),
    ("rpm no engine turns", "static_rpm", {"left_rpm": 12000}, "results.left_rpm", "500 to 6500"),
    ("full throttle that was not read", "induction", {"ambient": 29}, "results.left_map", "missing"),
    ("a leak without its place", "induction", {"left_map": 28.5, "leak": "mended"}, "results.where", "Where"),
    ("a pressure of the deep sea", "induction", {"left_map": 71}, "results.left_map", "70"),
    ("an amount of our own", "oil_filter", {"opened": True, "material": "fuzz", "amount": "lots"}, "results.amount",
     "not one of"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "results", "field", "words"), [c[1:] for c in REFUSED], ids=[c[0] for c in REFUSED])
def test_what_cannot_be_is_refused_in_its_field(kind: str, results: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        read(kind, results, drain_fill={"filled": 7, "oil_kind": "mineral"}) if kind == "oil_filter" else read(
            kind, results
        )
    assert any(p.field == field and words in p.message for p in refused.value.problems), refused.value.problems


DOUBTED: list[tuple[str, str, dict[str, Any], str]] = [
    ("input far from 80", "compression", compression(input_psi=77), "results.input_psi"),
    ("under 60 of 80", "compression", compression(readings={**PRESSED, "2": 59}), "results.readings.2"),
    ("a cylinder left out", "compression", compression(readings={"1": 74, "2": 72, "3": 75}), "results.readings"),
    ("grade 2", "borescope", {"grades": {"1": 0, "2": 2, "3": 0, "4": 0}}, "results.grades.2"),
    ("iron over 150 ppm", "oil_analysis", {"ppm": {"fe": 151}}, "results.ppm.fe"),
    ("torque outside its list", "torque", {"items": [{"item": "Cylinder base nuts", "found": "299"}]},
     "results.items.0.found"),
    ("left under the band", "fuel_flow", {"full_gph": 15.1}, "results.full_gph"),
    ("timing off the data plate", "timing", {"plate_deg": 25, "set_left": 26.1}, "results.set_left"),
    ("a data plate of 41 degrees", "timing", {"plate_deg": 41, "set_left": 40}, "results.plate_deg"),
    ("static rpm under its limit", "static_rpm", {"low_rpm": 2250, "high_rpm": 2400, "left_rpm": 2249},
     "results.left_rpm"),
    ("static rpm over its limit", "static_rpm", {"low_rpm": 2250, "high_rpm": 2400, "left_rpm": 2401},
     "results.left_rpm"),
    ("a large drop", "static_rpm", {"left_rpm": 2300, "drop_left": 176, "drop_right": 150}, "results.drop_left"),
    ("two drops far apart", "static_rpm", {"left_rpm": 2300, "drop_left": 60, "drop_right": 111},
     "results.drop_right"),
    ("full throttle under the air outside", "induction", {"ambient": 29.2, "left_map": 27.6}, "results.left_map"),
    ("the same by the stopped gauge", "induction", {"stopped_map": 29.2, "left_map": 27.6}, "results.left_map"),
    ("the gauge reads too high", "induction", {"ambient": 29.2, "stopped_map": 30.2, "left_map": 28.6},
     "results.left_map"),
    ("tachometer far out", "instruments", {"rpm_error": 60}, "results.rpm_error"),
]  # fmt: skip
TAKEN: list[tuple[str, str, dict[str, Any]]] = [
    ("input of 78", "compression", compression(input_psi=78, readings={**PRESSED})),
    ("60 of 80", "compression", compression(readings={**PRESSED, "2": 60})),
    ("grade 1", "borescope", {"grades": {"1": 0, "2": 1, "3": 0, "4": 0}}),
    ("iron of 150 ppm", "oil_analysis", {"ppm": {"fe": 150}}),
    ("torque within its list", "torque", {"items": [{"item": "Cylinder base nuts", "found": "300"}]}),
    ("timing a degree off", "timing", {"plate_deg": 25, "set_left": 26, "set_right": 24}),
    ("static rpm at its limits", "static_rpm", {"low_rpm": 2250, "high_rpm": 2400, "left_rpm": 2250}),
    ("drops 50 apart", "static_rpm", {"left_rpm": 2300, "drop_left": 60, "drop_right": 110}),
    ("full throttle near the air outside", "induction", {"ambient": 29.2, "left_map": 27.7}),
    ("the gauge reads too low", "induction", {"ambient": 29.2, "stopped_map": 28.4, "left_map": 27.2}),
    ("an item that is on no list", "torque", {"items": [{"item": "spinner screws", "found": "9999"}]}),
    ("left at the edge of the band", "fuel_flow", {"full_gph": 15.2}),
    ("low because the field is high", "fuel_flow", {"full_gph": 13.0, "density_altitude": "6000"}),
]


@pytest.mark.parametrize(
    ("kind", "results", "field"), [case[1:] for case in DOUBTED], ids=[case[0] for case in DOUBTED]
)
def test_what_is_unusual_is_asked_about_and_kept(kind: str, results: dict[str, Any], field: str) -> None:
    assert [problem.field for problem in read(kind, results).warnings] == [field]
    sure = read(kind, results, confirmed=[field], confirmed_why={field: "measured_twice"})
    assert not sure.warnings
    assert sure.results == read(kind, results).results
    assert sure.typed[f"sure.{field}"] == ["measured_twice", ""]


@pytest.mark.parametrize(("kind", "results"), [case[1:] for case in TAKEN], ids=[case[0] for case in TAKEN])
def test_what_is_usual_is_taken_without_a_question(kind: str, results: dict[str, Any]) -> None:
    assert not read(kind, results).warnings


def test_without_knowing_the_engine_nothing_is_asked_of_its_cylinders_or_band() -> None:
    assert not read("compression", compression(readings={"1": 74}), about=About()).warnings
    assert not read("fuel_flow", {"full_gph": 9}, about=About()).warnings
    assert not read("induction", {"ambient": 29, "left_map": 25}, about=About()).warnings


@pytest.mark.parametrize(
    ("kind", "results"),
    [
        ("baffle", {"left_seals": "gaps"}),
        ("induction", {"left_map": 28.5, "leak": "not_mended", "where": "gasket no. 2"}),
    ],
)
def test_what_was_left_wrong_is_never_called_normal(kind: str, results: dict[str, Any]) -> None:
    with pytest.raises(Refusal, match="choose “watch” or worse"):
        read(kind, results)
    assert read(kind, results, result="watch").result == "watch"


def test_a_reason_of_our_own_is_no_reason() -> None:
    with pytest.raises(Refusal, match="measured_twice"):
        read(
            "borescope", {"grades": {"1": 2}}, confirmed=["results.grades.1"], confirmed_why={"results.grades.1": "so"}
        )


def test_pressure_in_bar_and_with_a_comma_is_kept_as_typed() -> None:
    typed = {number: {"value": "5,0", "unit": "bar"} for number in "1234"}
    entry = read("compression", {"input_psi": {"value": "5,5", "unit": "bar"}, "readings": typed}, units="si")
    assert entry.results["readings"]["1"] == pytest.approx(72.52, abs=0.01)
    assert entry.typed["results.readings.1"] == ["5,0", "bar"]


def test_a_filter_of_an_earlier_change_is_told_without_oil() -> None:
    seen = {"opened": True, "material": "fuzz", "oil_changed": False}
    assert read("oil_filter", seen).oil == ()
    with pytest.raises(Refusal, match="closes only with"):
        read("oil_filter", {**seen, "oil_changed": True})


@pytest.mark.parametrize(
    ("spot", "results", "verdict", "taken"),
    [
        ({"grade": 2}, {}, "normal", False),
        ({"grade": 2}, {}, "watch", True),
        ({"grade": 1}, {}, "normal", True),
        ({"grade": 3, "fixed": "yes"}, {}, "normal", True),
        ({"grade": 3}, {"action": "new gasket"}, "normal", True),
        ({"grade": 3, "fixed": "no"}, {"action": "new gasket"}, "normal", False),
        ({"grade": 1, "what": "fuel"}, {}, "watch", False),
        ({"grade": 1, "what": "fuel"}, {}, "stop", True),
        ({"grade": 0, "what": "exhaust"}, {}, "normal", True),
        ({"grade": 1, "what": "exhaust", "fixed": "yes"}, {}, "normal", True),
    ],
)
def test_a_leak_sets_the_mildest_verdict(
    spot: dict[str, Any], results: dict[str, Any], verdict: str, taken: bool
) -> None:
    found = {"spots": [{"where": "seal", **spot}], **results}
    if taken:
        assert read("leak", found, result=verdict).result == verdict
    else:
        with pytest.raises(Refusal) as refused:
            read("leak", found, result=verdict)
        assert [problem.field for problem in refused.value.problems] == ["result"]
