"""A recording beside what was typed: which of the two counts, and what becomes of its doubt."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from breakin.calc.recording.result import Span, as_json, engine_flight_of
from breakin.calc.said import degf
from breakin.detail_power import credit_detail
from breakin.judgement import judge
from breakin.picture.picture import Picture
from breakin.picture.recorded import Told, sessions_min
from breakin.record import BlockFacts
from tests.breakin.recorded import FIRST, HALF, SECOND, TAKEOFF, engine, piece, recorded, with_engine
from tests.breakin.records import HOUR_1, HOUR_2, SEAT, after, block, good_build, record, run, with_type

STATED = {"blocks": (BlockFacts(order=1, duration_min=60.0, stated_band="75"),)}


def picture(*runs: Any, **more: Any) -> Picture:
    return Picture(record(*runs, **more), after(5))


def credit(*runs: Any, **more: Any) -> Any:
    return picture(*runs, **more).power.credit


def test_a_recording_replaces_what_was_stated() -> None:
    shown = picture(recorded(1, (40.0, 75.0), (20.0, 55.0), told=STATED))
    found = shown.power.credit
    assert found is not None
    assert found.hour_1.target_75.central == 40
    assert (found.hour_1.target_75.stated, found.hour_1.target_75.measured) == (0, 40)
    assert [one.source for one in shown.power.replaced] == ["stated"]


def test_what_was_stated_counts_where_the_recording_tells_no_power() -> None:
    blind = recorded(1, (60.0, None), told=STATED)
    found = credit(blind)
    assert found.hour_1.target_75.stated == 60
    assert picture(blind).power.replaced == ()


def test_stated_and_recorded_flights_add_up() -> None:
    found = credit(run(1, 0.5, airborne_min=30.0, blocks=(block(30),)), recorded(2, (30.0, 75.0)))
    assert found.hour_1.target_75.central == 60
    assert (found.hour_1.target_75.stated, found.hour_1.target_75.measured) == (30, 30)


@pytest.mark.parametrize(
    ("runs", "verdict"),
    [
        ((recorded(1, *FIRST), recorded(2, *SECOND)), "met (measured)"),
        ((run(1, blocks=HOUR_1), recorded(2, *SECOND)), "met (stated)"),
        ((run(1, blocks=HOUR_1), run(2, blocks=HOUR_2)), "met (stated)"),
        (tuple(recorded(day, (60.0, 50.0)) for day in range(1, 5)), "missed"),
        ((recorded(1, *FIRST), recorded(2, (160.0, 75.0))), "partly"),
        (tuple(recorded(day, (60.0, None), told={"blocks": ()}) for day in range(1, 5)), "not known"),
        ((recorded(1, (60.0, 72.5)), recorded(2, *SECOND)), "undecided"),
    ],
)
def test_the_verdict_in_a_word_is_the_boards_word(runs: Any, verdict: str) -> None:
    found = judge(record(*runs), after(6))
    assert found.board["first_two_word"] == verdict
    assert found.detail["credit"]["first_two"]["verdict"] == verdict


def test_the_verdict_names_the_flights_that_made_it() -> None:
    flights = (recorded(1, *FIRST), recorded(2, *SECOND), recorded(3, *HALF))
    told = judge(record(*flights), after(6)).detail["credit"]["first_two"]
    assert told["flights"] == [str(one.root) for one in flights[:2]]


def test_power_that_could_not_be_had_at_a_recorded_field_is_not_the_pilots_miss() -> None:
    high = replace(TAKEOFF, pressure_altitude_ft=7500.0, oat_degf=95.0)
    flights = [recorded(day, (60.0, 69.0), takeoff=high) for day in range(1, 5)]
    assert credit(*flights).first_two == "not achievable"


def test_the_span_of_a_recording_is_the_least_and_most_of_its_stage() -> None:
    wide = {"75": Span(60.0, 20.0, 60.0), "65": Span(0.0, 0.0, 0.0)}
    minutes = credit(recorded(1, (40.0, 73.0), (20.0, 78.0), minutes=wide)).hour_1.target_75
    assert (minutes.least, minutes.central, minutes.most) == pytest.approx((20, 60, 60))


def test_unsteady_minutes_earn_nothing_and_are_shown_so() -> None:
    shown = picture(recorded(1, piece(9, 75.0), (51.0, 50.0)))
    assert shown.power.credit is not None
    assert shown.power.credit.hour_1.target_75.central == 0
    assert credit_detail(shown, None)["blocks"][0]["steady"] is False


@pytest.mark.parametrize(("engine_above", "earned"), [(None, 20.0), (10.0, 50.0), (0.0, 60.0)])
def test_minutes_above_the_cooling_altitude_come_from_the_recording(engine_above: float | None, earned: float) -> None:
    low, high = piece(20, 75.0, pressure_altitude_ft=6000.0), piece(40, 75.0, pressure_altitude_ft=9000.0)
    flown = record(recorded(1, low, high, above_cap_min=engine_above))
    turbo = with_type(flown, induction="turbocharged", altitude_cap_ft=8000.0)
    found = Picture(turbo, after(5)).power.credit
    assert found is not None
    assert found.hour_1.target_75.central == pytest.approx(earned)
    assert Picture(flown, after(5)).power.credit.hour_1.target_75.central == 60  # type: ignore[union-attr]


def test_a_recorder_switched_on_in_the_air_leaves_minutes_of_unknown_power() -> None:
    late = recorded(1, (40.0, 75.0), told={"airborne_min": 60.0}, ground_before_min=None)
    blocks_ = picture(late).power.blocks
    assert [(one.duration_min, one.pct) for one in blocks_] == [(20.0, None), (40.0, 75.0)]
    whole = recorded(1, (40.0, 75.0), told={"airborne_min": 60.0})
    assert [one.duration_min for one in picture(whole).power.blocks] == [40.0]


def test_a_recorder_switched_off_in_the_air_leaves_them_at_the_end() -> None:
    early = recorded(1, (40.0, 75.0), told={"airborne_min": 60.0}, ground_after_min=None)
    assert [one.pct for one in picture(early).power.blocks] == [75.0, None]


def test_changes_are_those_between_settings_that_were_held() -> None:
    flown = recorded(3, (30.0, 75.0), piece(1, 70.0), (30.0, 65.0), piece(1, 69.0), (30.0, 75.0))
    found = credit(recorded(1, *FIRST), recorded(2, *SECOND), flown)
    assert found.later.changes == 2
    detail = credit_detail(picture(recorded(1, *FIRST), recorded(2, *SECOND), flown), None)
    assert detail["stages"][2]["alternation_held"] is True


@pytest.mark.parametrize(
    ("before", "after_", "sessions"), [(8.0, 2.0, (8.0, 2.0)), (None, 2.0, (6.0, 2.0)), (None, None, (6.0, 3.0))]
)
def test_recorded_minutes_on_the_ground_go_before_typed_ones(
    before: float | None, after_: float | None, sessions: tuple[float, ...]
) -> None:
    flown = recorded(1, *FIRST, ground_before_min=before, ground_after_min=after_)
    assert sessions_min(flown) == sessions
    assert picture(flown).clock.ground_min == sum(sessions)


def test_a_recorded_ground_run_is_one_session() -> None:
    ground = run(1, 0.0, kind="ground_run", airborne_min=0.0, ground_before_min=10.0, ground_after_min=None)
    found = replace(engine(()), run_min=24.0, ground_before_min=None, ground_after_min=None)
    assert sessions_min(replace(ground, recorded=with_engine(ground, found))) == (24.0,)


def test_a_recording_is_good_evidence_whatever_the_grade_of_the_log() -> None:
    share = judge(record(recorded(1, *FIRST, told={"grade": "D"}), run(2, grade="D")), after(6)).board["evidence_share"]
    assert share == 0.5


def test_typed_and_recorded_keep_their_origin() -> None:
    told = Told(405.0, 421.0)
    assert (told.value, told.highest, told.lowest, told.grade) == (421.0, 421.0, 405.0, "recorded")
    assert told.words(degf) == "421 °F recorded, 405 °F typed"
    assert Told(405.0).grade == "typed"
    assert Told().value is None


def test_the_detail_holds_pieces_spans_and_what_they_replaced_and_is_plain_json() -> None:
    flown = recorded(1, (40.0, 75.0), (20.0, 55.0), told=STATED, suspect="fuel flow reads high")
    found = judge(record(flown), after(5)).detail["credit"]
    assert [(one["source"], one["counted"]) for one in found["blocks"]] == [
        ("recording", True), ("recording", True), ("stated", False),
    ]  # fmt: skip
    assert found["recordings"][0]["suspect"] == "fuel flow reads high"
    assert found["recordings"][0]["minutes"]["75"]["central"] == 40
    assert found["blocks"][0]["recording"] == 7
    json.dumps(found)


def test_the_last_head_of_the_board_is_the_recorded_one() -> None:
    found = judge(record(recorded(1, *FIRST, cht_max_degf=421.0, told={"cht_max_degf": 405.0})), after(5))
    assert found.board["cht_max_degf"] == 421.0
    flight = found.detail["heat"]["flights"][0]
    assert (flight["cht_typed_degf"], flight["cht_recorded_degf"], flight["cht_cylinder"]) == (405.0, 421.0, 3)


def heads(day: float, degf: float) -> Any:
    return recorded(
        day,
        piece(60, 75.0, cht_degf=(degf,) * 4),
        cht_cruise_std_degf=(degf,) * 4,
        cht_cruise_pct=75.0,
        cht_climb_peak_degf=(degf + 20.0, None, degf, degf),
    )


def test_heads_that_run_cooler_than_in_the_first_hour_are_a_good_sign_that_closes_nothing() -> None:
    cooler = record(heads(1, 400.0), heads(2, 398.0), heads(3, 375.0), heads(4, 375.0))
    found = judge(cooler, after(6))
    seating = found.detail["heat"]["seating"]
    assert seating["sign"] is True
    assert (seating["change_degf"], seating["cylinders"]) == (-25.0, [1, 2, 3, 4])
    assert found.detail["heat"]["flights"][0]["climb_peak_degf"] == [420.0, None, 400.0, 400.0]
    plain = judge(record(*(replace(one, recorded=None) for one in cooler.runs)), after(6))
    assert found.phase == plain.phase
    assert next(row for row in found.detail["rules"] if row["rule"] == "E9")["answer"] == "met"


def test_a_record_with_a_recording_has_a_digest_of_its_own() -> None:
    one = record(recorded(1, *FIRST))
    assert one.digest() != record(replace(one.runs[0], recorded=None)).digest()
    again = engine_flight_of(json.loads(json.dumps(as_json(one.runs[0].recorded.engine))))  # type: ignore[union-attr]
    restored = replace(one.runs[0], recorded=replace(one.runs[0].recorded, engine=again))  # type: ignore[type-var]
    assert judge(record(restored), after(5)).detail == judge(one, after(5)).detail


def test_a_build_without_recordings_is_judged_as_before() -> None:
    found = judge(good_build(10), after(22))
    assert found.detail["credit"]["recordings"] == []
    assert found.detail["heat"]["seating"]["rows"] == []
    assert {one["source"] for one in found.detail["credit"]["blocks"]} == {"typed"}
    assert all(one["counted"] for one in found.detail["credit"]["blocks"])


@pytest.mark.parametrize(("seat", "higher"), [("left", "left"), ("right", "right")])
def test_the_higher_engine_is_named_by_the_seat_it_sits_in(seat: str, higher: str) -> None:
    flight = run(1)
    told = with_engine(flight, engine((piece(60, 75.0),)), other=engine((piece(60, 70.0),)))
    shown = picture(replace(flight, recorded=told), installations=(replace(SEAT, position=seat),))
    assert f"{higher} engine higher" in shown.power.splits[0][1].reasons[0]


def test_the_altitude_for_cooling_is_the_plans_before_the_types() -> None:
    flown = record(recorded(1, piece(60, 75.0, pressure_altitude_ft=9000.0)))
    turbo = with_type(flown, induction="turbocharged", altitude_cap_ft=8000.0)
    plan = turbo.plan
    assert plan is not None
    higher = replace(plan, stages=tuple(replace(one, altitude_max_ft=10_000.0) for one in plan.stages))
    assert Picture(turbo, after(5)).power.credit.hour_1.target_75.central == 0  # type: ignore[union-attr]
    allowed = Picture(replace(turbo, plan=higher), after(5)).power.credit
    assert allowed is not None
    assert allowed.hour_1.target_75.central == 60


def test_what_lies_between_two_settings_is_one_row_and_a_climb_and_a_descent_are_each_one() -> None:
    climb, top = piece(3, 90.0, phase="climb"), piece(1, 80.0, phase="climb")
    down, slow = piece(4, 60.0, phase="descent"), piece(2, 45.0, phase="approach")
    way, late = piece(0.5, 78.0), piece(0.5, 70.0)
    flown = recorded(1, climb, top, way, (30.0, 75.0), late, (30.0, 65.0), down, slow)
    rows = [(one["label"], one["duration_min"]) for one in credit_detail(picture(flown), None)["blocks"]]
    assert rows == [
        ("climb", 4.5), ("target-75", 30.0), ("between", 0.5), ("target-65", 30.0), ("between", 4.0), ("light", 2.0)
    ]  # fmt: skip
    told = credit_detail(picture(flown), None)["blocks"][0]
    assert told["pct"] == pytest.approx((3 * 90 + 80 + 0.5 * 78) / 4.5, abs=0.01)
    assert picture(flown).power.credit.hour_1.airborne_min == pytest.approx(71.0)  # type: ignore[union-attr]
