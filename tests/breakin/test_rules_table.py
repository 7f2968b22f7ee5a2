"""Each rule on both sides of its line: one row just inside, one just outside, one without what it needs.

The lines are those of the invented type and plan of tests/breakin/records.py, or common practice of the trade without a
published source. The ceiling of O4 follows the published formula, checked in tests/reference.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from breakin.doubles import with_runs
from breakin.picture.picture import Picture
from breakin.record import BuildRecord
from breakin.rules import RULES, SAFETY
from breakin.rules.base import CALL, NEEDS, NOTE, STOP, WATCH
from tests.breakin.closing_cases import CLOSING_CASES
from tests.breakin.inspection_cases import INSPECTION_CASES
from tests.breakin.oil_cases import OIL_CASES
from tests.breakin.recorded_cases import RECORDED_CASES
from tests.breakin.records import (
    AT_65,
    HALVES,
    HOUR_1,
    HOUR_2,
    LIGHT,
    Case,
    added,
    after,
    block,
    blocks,
    checked,
    level,
    metered,
    record,
    root,
    run,
    with_plan,
    with_type,
)

HIGH_FIELD: dict[str, Any] = {"field_elevation_ft": 6480.0, "altimeter_inhg": 29.92, "oat_ground_degf": 36.0}


def flown(**more: Any) -> BuildRecord:
    return record(run(1, **more))


def replaced(one: BuildRecord, **more: Any) -> BuildRecord:
    """The first run of a record with something else about it."""
    return with_runs(one, (replace(one.runs[0], **more), *one.runs[1:]))


def later(hours: float, **more: Any) -> BuildRecord:
    """A second flight that starts after so many hours."""
    return record(run(1, hours), run(2, 1.0, **more))


def short_hops(ground_min: float, *, apart: float = 0.1, before_h: float = 0.0) -> BuildRecord:
    """Three short flights, some minutes on the ground before each and none after."""
    earlier = [run(1, before_h)] if before_h else []
    hops = [run(3 + at * apart, 0.5, ground_before_min=ground_min, ground_after_min=0.0) for at in range(3)]
    return record(*earlier, *hops)


def twice(**more: Any) -> BuildRecord:
    return record(run(1, 6.0), run(2, **more), run(3, **more))


def untold(flow: float) -> BuildRecord:
    """A compensated system, on a day whose temperature nobody wrote down."""
    return with_type(flown(takeoff_ff_gph=flow, oat_ground_degf=None), fuel_flow_compensates=True)


COMPENSATED = with_type(flown(takeoff_ff_gph=12.3, **HIGH_FIELD), fuel_flow_compensates=True)
UNKNOWN_KIND = with_type(flown(takeoff_ff_gph=12.3, **HIGH_FIELD), fuel_flow_compensates=None)
SHOP_RUN = flown(kind="ground_run", airborne_min=0.0, ground_before_min=24.0)
UNKNOWN_LOW_DOWN = with_type(flown(takeoff_ff_gph=12.3), fuel_flow_compensates=None)
BEFORE_BELOW = level(1, 3.5, when="before", order=0, minutes_since_shutdown=600.0)

CASES: list[Case] = [
    # Full-throttle fuel flow against 15.0 to 17.0 gal/h.
    ("flow at the low edge is in band", "E1", flown(takeoff_ff_gph=15.0), []),
    ("flow 1 % low asks for a call", "E1", flown(takeoff_ff_gph=14.85), [CALL]),
    ("flow 2 % low still asks for a call", "E1", flown(takeoff_ff_gph=14.70), [CALL]),
    ("flow 2.1 % low stops", "E1", flown(takeoff_ff_gph=14.68), [STOP]),
    ("flow 5 % high is taken", "E1", flown(takeoff_ff_gph=17.85), []),
    ("flow 5.1 % high asks for a call", "E1", flown(takeoff_ff_gph=17.87), [CALL]),
    ("raw flow that looks low is in band once compensated flow is corrected", "E1", COMPENSATED, []),
    ("an uncompensated system is compared as read", "E1", with_type(COMPENSATED, fuel_flow_compensates=False), [STOP]),
    ("an unknown system high up does not stop by itself", "E1", UNKNOWN_KIND, [CALL]),
    ("temperature not told, flow low on any day: stops", "E1", untold(12.0), [STOP]),
    ("temperature not told, flow in doubt: asks for a call", "E1", untold(13.0), [CALL]),
    (
        "an unknown system high up stops when the heads agree",
        "E1",
        with_runs(UNKNOWN_KIND, (replace(UNKNOWN_KIND.runs[0], cht_max_degf=431.0),)),
        [STOP],
    ),
    (
        "an unknown system low down stops",
        "E1",
        with_type(flown(takeoff_ff_gph=12.3), fuel_flow_compensates=None),
        [STOP],
    ),
    # Head temperature: watch 420, limit 500 degF.
    ("a head at the limit is over the watch line, not the limit", "E2", flown(cht_max_degf=500.0), [WATCH]),
    ("a head over the limit stops", "E2", flown(cht_max_degf=501.0), [STOP]),
    ("a head at the watch line is expected early", "E2", flown(cht_max_degf=420.0), [NOTE]),
    ("400 is not yet warm", "E2", flown(cht_max_degf=400.0), []),
    ("the same 415 after 3 h is below the watch line", "E2", later(3.0, cht_max_degf=415.0), []),
    ("over the watch line under 5 min is noted", "E2", flown(cht_max_degf=425.0, cht_over_watch="under_5"), [NOTE]),
    (
        "over it for longer asks for a call",
        "E2",
        flown(cht_max_degf=425.0, cht_over_watch="longer"),
        [CALL],
    ),
    ("2 min level over the watch line are taken", "E2", flown(blocks=(block(2, cht_max_degf=425.0),)), []),
    ("3 min level over the watch line ask for a call", "E2", flown(blocks=(block(3, cht_max_degf=425.0),)), [CALL]),
    ("401 in cruise after 5 h is watched", "E2", later(5.0, cht_cruise_mean_degf=401.0), [WATCH]),
    ("401 in cruise before 5 h is not", "E2", later(4.9, cht_cruise_mean_degf=401.0), []),
    ("401 in cruise twice asks for a call", "E2", twice(cht_cruise_mean_degf=401.0), [WATCH, CALL]),
    # Coming down by 3,000 ft.
    ("heads that come down are fine", "E3", flown(cht_falling_by_3000="yes", cht_max_degf=419.0), []),
    ("heads that do not come down ask for a call", "E3", flown(cht_falling_by_3000="no", cht_max_degf=420.0), [CALL]),
    ("not coming down and over 420 stops", "E3", flown(cht_falling_by_3000="no", cht_max_degf=421.0), [STOP]),
    (
        "temperatures noted in the climb speak when the pilot did not look",
        "E3",
        flown(cht_falling_by_3000="not_looked", climb_cht_degf=((2000.0, 424.0), (3000.0, 441.0))),
        [STOP],
    ),
    # Oil pressure 50 psi in flight, 20 at idle; oil 245 degF at most.
    ("pressure at the minimum is taken", "E5", flown(oil_press_min_psi=50.0, oil_press_idle_psi=20.0), []),
    ("pressure under the minimum stops", "E5", flown(oil_press_min_psi=49.0), [STOP]),
    ("idle pressure under its minimum stops", "E5", flown(oil_press_idle_psi=19.0), [STOP]),
    ("oil at the maximum is taken", "E5", flown(oil_temp_max_degf=245.0), []),
    ("oil over the maximum stops", "E5", flown(oil_temp_max_degf=246.0), [STOP]),
    ("oil that stays at 140 after the first hour is watched", "E5", flown(hours=1.2, oil_temp_max_degf=140.0), [WATCH]),
    ("oil at 140 within the first hour is not", "E5", flown(hours=1.0, oil_temp_max_degf=140.0), []),
    # The pilot's words.
    ("nothing unusual is fine", "E6", flown(chips=("none",)), []),
    ("rough running asks for a call", "E6", flown(chips=("rough",)), [CALL]),
    ("low power on take-off stops", "E6", flown(chips=("rough", "low_power")), [CALL, STOP]),
    ("oil seen asks for a call", "E6", flown(chips=("oil_seen",)), [CALL]),
    ("oil on the windscreen stops", "E6", flown(chips=("windscreen",)), [STOP]),
    ("a propeller strike stops, on the ground as well", "E6", replaced(SHOP_RUN, chips=("strike",)), [STOP]),
    # Ground minutes: 10 and 20 in the first 5 h.
    ("10 min on the ground are taken", "E7", flown(ground_before_min=10.0), []),
    ("11 min on the ground are noted", "E7", flown(ground_before_min=11.0), [NOTE]),
    ("20 min on the ground are noted", "E7", flown(ground_before_min=20.0), [NOTE]),
    ("21 min on the ground ask for a call", "E7", flown(ground_before_min=21.0), [CALL]),
    (
        "a ground run of the shop counts",
        "E7",
        flown(kind="ground_run", airborne_min=0.0, ground_before_min=24.0),
        [CALL],
    ),
    ("after 5 h ground minutes are no longer asked", "E7", later(5.0, ground_before_min=40.0), []),
    # Ground minutes of one day: 20 in all, over more than one run.
    ("three short flights with 21 min on the ground in one day are watched", "E10", short_hops(7.0), [WATCH]),
    ("three short flights with 18 min on the ground in one day are taken", "E10", short_hops(6.0), []),
    ("the same minutes on three days are taken", "E10", short_hops(7.0, apart=1.0), []),
    ("one flight alone is no hot restart", "E10", flown(ground_before_min=12.0, ground_after_min=12.0), []),
    ("a day with one long session has its call already", "E10", record(run(1), run(1.1, ground_before_min=25.0)), []),
    ("after 5 h a day on the ground is no longer asked", "E10", short_hops(7.0, before_h=5.0), []),
    # Clocks.
    ("a meter that follows on is fine", "H4", record(metered(10.0, 11.2, 1), metered(11.2, 12.4, 2)), []),
    ("an hour between readings is taken", "H4", record(metered(10.0, 11.2, 1), metered(12.2, 13.4, 2)), []),
    (
        "2.1 h between readings ran unlogged",
        "H4",
        record(metered(10.0, 11.2, 1), metered(13.3, 14.5, 2)),
        [WATCH],
    ),
    ("a meter that went back asks for a call", "H4", record(metered(10.0, 11.2, 1), metered(9.0, 10.2, 2)), [CALL]),
    ("one entry of one flight is fine", "H1", flown(), []),
    ("two entries of one flight are noted", "H1", with_runs(flown(), (run(1), run(1, root=root("again")))), [NOTE]),
    # Light running and the verdict of the first two hours.
    ("10 min light in the first two hours are taken", "P4", flown(blocks=blocks((50, 24.66), (20, LIGHT))), []),
    (
        "11 min light in them ask for a call",
        "P4",
        flown(blocks=blocks((49, 24.66), (21, LIGHT))),
        [CALL],
    ),
    (
        "first two hours flown as planned are fine",
        "P4",
        record(run(1, blocks=HOUR_1), run(2, blocks=HOUR_2), run(3, blocks=HALVES)),
        [],
    ),
    (
        "first two hours without 75 % are missed",
        "P4",
        record(*(run(d, blocks=blocks((60, AT_65))) for d in (1, 2, 3, 4))),
        [CALL],
    ),
    ("full power near sea level could be had", "P5", flown(), []),
    ("a high field on a hot day could not give it", "P5", flown(**{**HIGH_FIELD, "oat_ground_degf": 95.0}), [NOTE]),
    # What a technician found.
    ("a normal filter is fine", "I1", record(run(1), inspections=(checked(1),)), []),
    ("a filter to watch is watched", "I1", record(run(1), inspections=(checked(1, result="watch"),)), [WATCH]),
    ("a filter that stops, stops", "I1", record(run(1), inspections=(checked(1, result="stop"),)), [STOP]),
    # Twins.
    ("even power is fine", "P6", flown(blocks=HOUR_1, other_blocks=HOUR_1, other_side="right"), []),
    ("1 inHg apart is noted", "P6", flown(blocks=HOUR_1, other_blocks=blocks((60, 23.9)), other_side="right"), [NOTE]),
    (
        "far apart for more than 10 min asks for a call",
        "P6",
        flown(blocks=HOUR_1, other_blocks=blocks((60, 21.0)), other_side="right"),
        [CALL],
    ),
    ("a flight that was made under the minimum asks for a call", "O9", record(run(1), oil=(BEFORE_BELOW,)), [CALL]),
    ("under the minimum and not flown is fine", "O9", record(oil=(BEFORE_BELOW,)), []),
    (
        "under the minimum, filled, then flown is fine",
        "O9",
        record(run(1), oil=(BEFORE_BELOW, added(1, when="before"))),
        [],
    ),
    *INSPECTION_CASES,
    *OIL_CASES,
    *RECORDED_CASES,
    *CLOSING_CASES,
]


def ask(one: BuildRecord, rule: str) -> Any:
    return RULES[rule].ask(Picture(one, after(5)))


@pytest.mark.parametrize(("sentence", "rule", "facts", "severities"), CASES, ids=[case[0] for case in CASES])
def test_each_rule_on_both_sides_of_its_line(
    sentence: str, rule: str, facts: BuildRecord, severities: list[int]
) -> None:
    said = ask(facts, rule)
    assert [hit.severity for hit in said.hits] == severities
    assert said.word != "met" or not severities or max(severities) < WATCH
    assert all(hit.text and hit.source and hit.occurrence for hit in said.hits)


@pytest.mark.parametrize("rule", [one for one in RULES.values() if one.needs], ids=lambda one: one.id)
def test_a_rule_that_lacks_what_it_needs_says_not_observed(rule: Any) -> None:
    said = rule.ask(Picture(record(plan=None), after(5)))
    assert said.word == "not observed"
    assert not said.hits
    assert said.text


def test_every_rule_with_a_severity_has_a_case_that_is_met_and_one_that_is_not() -> None:
    hitting = {rule for _, rule, _, severities in CASES if severities}
    clean = {rule for _, rule, _, severities in CASES if not severities}
    wanted = {one.id for one in RULES.values() if one.severity != "none"}
    assert wanted <= clean
    assert wanted <= hitting


def test_every_need_is_named_by_a_rule() -> None:
    named = {need for one in RULES.values() for need in one.needs}
    assert named == set(NEEDS)


def test_a_type_outside_the_standard_rules_gets_no_verdict() -> None:
    hot = with_type(flown(cht_max_degf=600.0, takeoff_ff_gph=5.0), log_only=True)
    judged = [one for one in RULES.values() if not one.judges_log_only]
    assert all(one.ask(Picture(hot, after(5))).word == "not applicable" for one in judged)
    assert ask(with_type(flown(chips=("low_power",)), log_only=True), "E6").hits


def test_safety_rules_are_those_that_can_stop_an_aircraft_at_once() -> None:
    assert {one.id for one in SAFETY} == {
        "E1",
        "E2",
        "E3",
        "E4",
        "E5",
        "E6",
        "E7",
        "E8",
        "I1",
        "I2",
        "I7",
        "O7",
        "O8",
        "O9",
    }


def test_a_rule_never_enters_the_registry_twice() -> None:
    from breakin.rules.base import rule

    with pytest.raises(ValueError, match="E1"):
        rule("E1", version=2, severity="none", title="again", text="again")(lambda picture: None)  # type: ignore[arg-type, return-value]


def test_a_stop_has_an_occurrence_of_its_own() -> None:
    call = ask(flown(takeoff_ff_gph=14.8), "E1").hits[0]
    stop = ask(flown(takeoff_ff_gph=14.0), "E1").hits[0]
    assert call.occurrence == stop.occurrence
    assert call.key != stop.key


def test_occurrences_are_made_from_roots_and_survive_a_correction() -> None:
    one = flown(cht_max_degf=505.0)
    corrected = with_runs(one, (replace(one.runs[0], cht_max_degf=510.0, grade="C"),))
    assert ask(one, "E2").hits[0].key == ask(corrected, "E2").hits[0].key


def test_limits_of_the_plan_overrule_the_usual_ones() -> None:
    strict = with_plan(flown(ground_before_min=9.0), ground_note_min=5.0, ground_call_min=8.0)
    assert [hit.severity for hit in ask(strict, "E7").hits] == [CALL]
