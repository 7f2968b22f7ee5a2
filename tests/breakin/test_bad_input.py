"""Bad input: each refusal says what is wrong, in which field, and how to mend it; all are told at once."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakin.entries import FlightEntry, parse_flight, parse_inspection, parse_oil
from shop.errors import Problem, Refusal

NOW = datetime(2026, 6, 15, 18, 0, tzinfo=UTC)
ID = "7b0e7a2e-54a1-4b7a-9e5f-0b4a2b1d0002"


def refused_flight(units: str = "us", **changed: Any) -> tuple[Problem, ...]:
    engine = {"engine_id": 1, "meter_start": "100", "meter_end": "101.2", **changed.pop("engine", {})}
    raw = {"client_id": ID, "ended_at": "2026-06-15T15:00", "airborne": "72", "engines": [engine], **changed}
    kept = {name: value for name, value in raw.items() if value != "-"}
    with pytest.raises(Refusal) as refused:
        parse_flight(kept, units=units, zone="UTC", now=NOW)
    return refused.value.problems


def refused_oil(**changed: Any) -> tuple[Problem, ...]:
    raw = {"client_id": ID, "engine_id": 1, "kind": "reading", "level": "7.5", **changed}
    kept = {name: value for name, value in raw.items() if value != "-"}
    with pytest.raises(Refusal) as refused:
        parse_oil(kept, units="us", zone="UTC", now=NOW)
    return refused.value.problems


BLOCK = {"duration": 30}
FLIGHT_CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("no identifier", {"client_id": "-"}, "client_id", "Open the form anew"),
    ("future flight", {"ended_at": "2026-06-15T18:11"}, "ended_at", "lies in the future"),
    ("wrong century", {"ended_at": "0206-06-15T15:00"}, "ended_at", "Check the year"),
    ("no date", {"ended_at": "yesterday"}, "ended_at", "is not a date and time"),
    ("no end", {"ended_at": "-"}, "ended_at", "When was the flight over"),
    ("unknown zone", {"zone": "Moon/Base"}, "zone", "is not a time zone name"),
    ("landing before take-off", {"takeoff": "14:52", "landing": "13:40"}, "landing", "lies before take-off"),
    ("airborne and clock differ", {"takeoff": "13:40", "landing": "15:00"}, "airborne", "Mend one of them"),
    ("longer than block time", {"off_block": "14:00", "on_block": "15:00"}, "airborne", "longer than block time"),
    ("no airborne time", {"airborne": "-"}, "airborne", "is missing"),
    ("airborne not observed", {"airborne": {"absent": "not_observed"}}, "airborne", "Estimate it"),
    ("too long", {"airborne": "15:00"}, "airborne", "outside 0 to 840 min"),
    ("negative", {"airborne": "-5"}, "airborne", "outside 0 to 840 min"),
    ("no airborne on a flight", {"airborne": "0"}, "airborne", "ground run only"),
    ("airborne ground run", {"kind": "ground_run"}, "airborne", "has no airborne time"),
    ("unknown unit", {"airborne": "72 furlongs"}, "airborne", "Use one of: min, h"),
    ("not a number", {"ground_before": "a while"}, "ground_before", "is not a number"),
    ("altimeter in the wrong unit", {"altimeter": "1013"}, "altimeter", "28 to 31.2 inHg"),
    ("elevation", {"field_elevation": "20000"}, "field_elevation", "-1500 to 14500 ft"),
    ("too warm", {"oat_ground": "150"}, "oat_ground", "-76 to 140 °F"),
    ("unknown kind", {"kind": "joyride"}, "kind", "is not one of"),
    ("unknown chip", {"chips": ["sparks"]}, "chips", "is not one of"),
    ("contradicting chips", {"chips": ["none", "smoke"]}, "chips", "can't both be"),
    ("half a landing", {"landings": "1.5"}, "landings", "whole number"),
    ("misspelt key", {"airbourne": "72"}, "airbourne", "Check its spelling"),
    ("no engine", {"engines": "-"}, "engines", "Which engine ran"),
    ("engine twice", {"engines": [{"engine_id": 1}, {"engine_id": 1}]}, "engines.1.engine_id", "given twice"),
    ("meter backwards", {"engine": {"meter_end": "99.8"}}, "engines.0.meter_end", "runs backwards"),
    ("meter jumped", {"engine": {"meter_end": "115"}}, "engines.0.meter_end", "14 h are the most"),
    ("longer than Hobbs", {"engine": {"meter_kind": "hobbs", "meter_end": "101"}}, "engines.0.meter_end", "only moved"),
    ("comma of thousands", {"engine": {"meter_end": "1,234"}}, "engines.0.meter_end", "Write 1234 or 1.234"),
    ("rpm", {"engine": {"takeoff_rpm": "270"}}, "engines.0.takeoff_rpm", "500 to 6500 rpm"),
    ("degC typed as degF", {"engine": {"cht_max": "40"}}, "engines.0.cht_max", "50 to 600 °F"),
    ("climb height", {"engine": {"climb_cht": {"top": 390}}}, "engines.0.climb_cht.top", "500 to 20000 ft"),
    ("hot climb", {"engine": {"cht_max": 400, "climb_cht": {"2000": 410}}}, "engines.0.cht_max", "Mend one"),
    ("no minutes", {"engine": {"blocks": [{}]}}, "engines.0.blocks.0.duration", "is missing"),
    ("block manifold", {"engine": {"blocks": [{**BLOCK, "map": 245}]}}, "engines.0.blocks.0.map", "8 to 70 inHg"),
    ("pct", {"engine": {"blocks": [{**BLOCK, "claimed_pct": "most"}]}}, "engines.0.blocks.0.claimed_pct", "75"),
    ("more blocks", {"engine": {"blocks": [BLOCK] * 3}}, "engines.0.blocks", "add up to 90 min"),
    ("both", {"engine": {"as_on_card": True, "blocks": [BLOCK]}}, "engines.0.as_on_card", "can't both be"),
    ("oil of another engine", {"engine": {"oil": [{"kind": "none_added", "engine_id": 2}]}},
     "engines.0.oil.0.engine_id", "names"),
    ("not a list", {"engine": {"blocks": "30 min"}}, "engines.0.blocks", "must be a list"),
    ("not fields", {"engines": ["left"]}, "engines.0", "named fields"),
    ("unknown absence", {"oat_ground": {"absent": "forgot"}}, "oat_ground", "not_observed"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "field", "words"), [case[1:] for case in FLIGHT_CASES], ids=[c[0] for c in FLIGHT_CASES]
)
def test_a_flight_is_refused_in_its_field_with_how_to_mend_it(changed: dict[str, Any], field: str, words: str) -> None:
    problems = [problem for problem in refused_flight(**dict(changed)) if problem.field == field]
    assert problems, "the field is not named"
    assert any(words in problem.message for problem in problems), problems


OIL_CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("no engine", {"engine_id": "-"}, "engine_id", "Choose it"),
    ("no kind", {"kind": "-"}, "kind", "Choose one of"),
    ("no level", {"level": "-"}, "level", "what the dipstick shows"),
    ("negative level", {"level": "-1"}, "level", "0 to 62 qt"),
    ("wrong unit", {"level": "7.5 psi"}, "level", "Use one of: qt, L"),
    ("level in mL", {"level": {"value": 7.5, "unit": "barrel"}}, "level", "Use one of"),
    ("addition without kind of oil", {"kind": "addition", "level": "-", "amount": "1"}, "oil_kind", "is missing"),
    ("addition without amount", {"kind": "addition", "level": "-", "oil_kind": "ad"}, "amount", "How much"),
    ("nothing added", {"kind": "addition", "level": "-", "amount": "0", "oil_kind": "ad"}, "amount", "0.01 to 62 qt"),
    ("count without container", {"kind": "addition", "level": "-", "count": 1, "oil_kind": "ad"}, "container", "Which"),
    ("none added with an amount", {"kind": "none_added", "level": "-", "amount": "1"}, "amount", "can't both be"),
    ("fill not given", {"kind": "drain_fill", "level": "-", "oil_kind": "ad"}, "filled", "is missing"),
    ("level beside an addition", {"kind": "addition", "amount": 1, "oil_kind": "ad"}, "level", "event of its own"),
    ("belly", {"belly_oil": "9"}, "belly_oil", "0 to 3"),
    ("neither yes nor no", {"level_ground": "maybe"}, "level_ground", "neither yes nor no"),
    ("future", {"happened_at": "2026-06-15T19:00"}, "happened_at", "lies in the future"),
    ("identifier", {"client_id": "tap-3"}, "client_id", "is not an identifier"),
]


@pytest.mark.parametrize(("changed", "field", "words"), [case[1:] for case in OIL_CASES], ids=[c[0] for c in OIL_CASES])
def test_an_oil_event_is_refused_in_its_field(changed: dict[str, Any], field: str, words: str) -> None:
    problems = [problem for problem in refused_oil(**changed) if problem.field == field]
    assert any(words in problem.message for problem in problems), problems


INSPECTION_CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("no verdict", {"kind": "leak"}, "result", "What is the verdict"),
    ("filter not said", {"kind": "oil_filter", "result": "normal"}, "results.opened", "Say yes or no"),
    ("oil change without oil", {"kind": "oil_filter", "result": "normal"}, "drain_fill", "Enter it"),
    ("oil check without reading", {"kind": "oil_check"}, "reading", "Enter it"),
    ("over input", {"kind": "compression", "result": "normal",
                   "results": {"input_psi": 80, "readings": {"1": 82}}}, "results.readings.1", "more than"),
    ("no such cylinder", {"kind": "borescope", "result": "normal", "results": {"grades": {"rear": 1}}},
     "results.grades.rear", "not a cylinder"),
    ("tool out of calibration", {"kind": "torque", "result": "normal", "happened_at": "2026-06-10T10:00",
                                 "results": {"tool_until": "2026-06-09"}}, "results.tool_until", "calibration"),
    ("misspelt result", {"kind": "leak", "result": "normal", "results": {"spot": []}}, "results.spot", "spelling"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "field", "words"), [c[1:] for c in INSPECTION_CASES], ids=[c[0] for c in INSPECTION_CASES]
)
def test_an_inspection_is_refused_in_its_field(changed: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        parse_inspection({"client_id": ID, **changed}, units="us", zone="UTC", now=NOW)
    assert any(p.field == field and words in p.message for p in refused.value.problems), refused.value.problems


def test_a_tool_calibrated_to_the_day_is_taken() -> None:
    raw = {"client_id": ID, "kind": "torque", "result": "normal", "happened_at": "2026-06-10T10:00"}
    entry = parse_inspection({**raw, "results": {"tool_until": "2026-06-10"}}, units="us", zone="UTC", now=NOW)
    assert entry.results["tool_until"] == "2026-06-10"


def test_a_flight_ten_minutes_ahead_of_our_clock_is_taken() -> None:
    raw = {"client_id": ID, "ended_at": "2026-06-15T18:10", "airborne": "72", "engines": [{"engine_id": 1}]}
    assert parse_flight(raw, units="us", zone="UTC", now=NOW).ended_at > NOW


def test_every_problem_is_told_at_once() -> None:
    problems = refused_flight(airborne="much", altimeter="99", engine={"cht_max": "9000", "oil": [{"kind": "reading"}]})
    assert {problem.field for problem in problems} == {
        "airborne", "altimeter", "engines.0.cht_max", "engines.0.oil.0.level",
    }  # fmt: skip


def test_the_range_is_told_in_the_unit_that_was_typed() -> None:
    (problem,) = refused_flight("si", engine={"cht_max": "900"})
    assert "10 to 315.56 °C" in problem.message


@pytest.mark.parametrize(
    "value", [True, [1], math.nan, math.inf, "1e3", "١٢", "7" * 60, {"value": None, "unit": 3, "x": 1}]
)
def test_no_odd_value_becomes_a_number(value: Any) -> None:
    raw = {"client_id": ID, "engine_id": 1, "kind": "reading", "level": value}
    with pytest.raises(Refusal) as refused:
        parse_oil(raw, units="us", zone="UTC", now=NOW)
    assert {problem.field for problem in refused.value.problems} == {"level"}


json_like = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
FIELDS = st.sampled_from(
    [
        "client_id",
        "ended_at",
        "local_date",
        "local_time",
        "airborne",
        "kind",
        "engines",
        "chips",
        "note",
        "zone",
        "confirmed",
        "takeoff",
        "landing",
        "pilot_id",
    ]
)
ENGINE_FIELDS = st.sampled_from(
    ["engine_id", "meter_end", "blocks", "climb_cht", "oil", "meters", "as_on_card", "cht_max", "meter_kind"]
)


@given(
    st.dictionaries(FIELDS, json_like, max_size=5),
    st.dictionaries(ENGINE_FIELDS, json_like, max_size=4),
)
def test_whatever_is_sent_is_understood_or_refused(fields: dict[str, Any], engine: dict[str, Any]) -> None:
    raw = {
        "client_id": ID,
        "ended_at": "2026-06-15T15:00",
        "airborne": 60,
        "engines": [{"engine_id": 1, **engine}],
        **fields,
    }
    entry = _parsed(raw)
    assert entry is None or 0 <= entry.airborne_min <= 840


def _parsed(raw: dict[str, Any]) -> FlightEntry | None:
    try:
        return parse_flight(raw, units="us", zone="UTC", now=NOW)
    except Refusal:
        return None
