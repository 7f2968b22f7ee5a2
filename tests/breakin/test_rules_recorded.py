"""What rules say of recordings beyond their lines: the words, the numbers, what is asked for and what closes it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from breakin.calc.recording.result import Span
from breakin.picture.picture import Picture
from breakin.record import BuildRecord, UnloggedRecorded
from breakin.rules import RULES
from tests.breakin.recorded import FIRST, HALF, TAKEOFF, piece, recorded
from tests.breakin.recorded_cases import apart
from tests.breakin.records import SEAT, after, block, blocks, checked, record, run, with_type


def ask(one: BuildRecord, rule: str, now: datetime | None = None) -> Any:
    return RULES[rule].ask(Picture(one, now or after(9)))


def test_a_disagreement_says_both_numbers_and_both_grades() -> None:
    hit = ask(record(recorded(1, *FIRST, told={"takeoff_ff_gph": 15.0, "grade": "C"})), "P0").hits[0]
    assert "15.0 gal/h as logged (grade C)" in hit.text
    assert "16.0 gal/h in the recording (grade A)" in hit.text
    assert hit.numbers == {"typed": 15.0, "recorded": 16.0, "unit": "gal/h"}


def test_stated_60_recorded_41() -> None:
    one = recorded(1, (41.0, 75.0), (19.0, 55.0), told={"blocks": blocks((60, 24.66))})
    hit = ask(record(one), "P0").hits[0]
    assert "60 min as logged" in hit.text
    assert "41 min in the recording" in hit.text


def test_minutes_in_a_band_are_those_that_the_recording_tells() -> None:
    doubt = {"75": Span(58.0, 30.0, 60.0), "65": Span(0.0, 0.0, 0.0)}
    one = recorded(1, (41.0, 75.0), (19.0, 71.0), told={"blocks": blocks((60, 24.66))}, minutes=doubt)
    assert ask(record(one), "P0").hits == ()


@pytest.mark.parametrize(("pct", "notes"), [(71.5, 0), (69.0, 1)])
def test_two_powers_either_side_of_an_edge_are_no_disagreement(pct: float, notes: int) -> None:
    # 75 ± 2 % by typed settings; the recording's doubt of 1.2 % reaches the edge of 72 from 71.5 and not from 69.
    near = {"blocks": (block(60),)}
    reach = 60.0 if pct + 1.2 >= 72 else 0.0
    doubt = {"75": Span(0.0, 0.0, reach), "65": Span(0.0, 0.0, 0.0)}
    assert len(ask(record(recorded(1, (60.0, pct), told=near, minutes=doubt)), "P0").hits) == notes


def test_a_flight_without_stated_settings_has_none_to_disagree_with() -> None:
    assert ask(record(recorded(1, (30.0, 75.0), (30.0, 65.0))), "P0").hits == ()


def test_each_disagreement_of_a_flight_is_found_once() -> None:
    wrong = {"takeoff_ff_gph": 10.0, "cht_max_degf": 300.0, "airborne_min": 90.0, "blocks": blocks((90, 24.66))}
    hits = ask(record(recorded(1, *FIRST, told=wrong)), "P0").hits
    assert len({hit.key for hit in hits}) == len(hits) == 4


def test_percent_power_names_its_method_and_the_suspect() -> None:
    told: dict[str, Any] = {"suspect": "Manifold pressure reads 1.1 inHg low.", "chart_minus_fuel_pct": -9.0}
    said = ask(record(recorded(1, *HALF, disagree=("manifold_pressure",), **told)), "P1")
    assert "chart and fuel flow" in said.text
    assert "The chart gives 9 % less." in said.hits[0].text
    assert "In doubt: Manifold pressure reads 1.1 inHg low." in said.hits[0].text


def test_full_throttle_says_what_was_typed_and_what_was_recorded() -> None:
    low = recorded(1, *FIRST, takeoff=replace(TAKEOFF, fuel_flow_gph=14.0), told={"takeoff_ff_gph": 16.0})
    text = ask(record(low), "E1").hits[0].text
    assert "14.0 gal/h" in text
    assert "from the recording, typed 16.0 gal/h" in text


def test_a_limit_is_judged_by_the_worse_of_the_two_and_says_so() -> None:
    hit = ask(record(recorded(1, *FIRST, cht_max_degf=495.0, told={"cht_max_degf": 505.0})), "E2").hits[0]
    assert "495 °F recorded, 505 °F typed" in hit.text


def test_cruise_after_five_hours_is_the_mean_of_the_hottest_head() -> None:
    warm = recorded(2, piece(60, 75.0, cht_degf=(380.0, 401.0, 380.0, None)))
    assert [hit.occurrence for hit in ask(record(run(1, 5.0), warm), "E2").hits] == [f"{warm.root}:cruise"]
    cool = recorded(2, piece(60, 75.0, cht_degf=(380.0, 400.0, 380.0, None)))
    assert ask(record(run(1, 5.0), cool), "E2").hits == ()


@pytest.mark.parametrize(("counts", "asked"), [((2,), 0), ((3,), 1), ((1, 1), 0), ((1, 2), 1), ((1, 0, 2), 1)])
def test_an_instrument_check_is_due_after_three_settings_apart(counts: tuple[int, ...], asked: int) -> None:
    found = ask(apart(*counts), "E8").asked
    assert [item.state for item in found] == ["due"] * asked
    assert all(item.kind == "instruments" for item in found)


def test_a_difference_that_the_mixture_explains_asks_for_no_check() -> None:
    rich = record(*(recorded(day, *HALF, pieces_apart=2, chart_minus_fuel_pct=-11.0) for day in (1, 2)))
    assert ask(rich, "E8").asked == ()


@pytest.mark.parametrize(("flights", "asked"), [(2, 0), (3, 1)])
def test_a_sensor_that_was_put_right_asks_for_a_check_at_the_third_flight(flights: int, asked: int) -> None:
    told: dict[str, Any] = {"disagree": ("manifold_pressure",), "suspect": "manifold pressure: wrong when stopped"}
    found = ask(record(*(recorded(day, *HALF, **told) for day in range(1, flights + 1))), "E8").asked
    assert len(found) == asked
    assert all("In doubt: manifold pressure: wrong when stopped." in item.text for item in found)


def test_only_an_instrument_check_closes_it_and_starts_the_count_anew() -> None:
    done = ask(apart(3, inspections=(checked(1, "instruments"),)), "E8").asked
    assert [(item.state, item.closed_by_kind) for item in done] == [("done", "inspection")]
    other = ask(apart(3, inspections=(checked(1, "fuel_flow"),)), "E8").asked
    assert [item.state for item in other] == ["due"]
    again = ask(apart(3, 2, inspections=(checked(1, "instruments"),)), "E8").asked
    assert [item.state for item in again] == ["done"]
    once_more = ask(apart(3, 2, 1, inspections=(checked(1, "instruments"),)), "E8").asked
    assert [item.state for item in once_more] == ["done", "due"]


def test_a_check_between_the_flights_starts_the_count_anew() -> None:
    assert ask(apart(2, 1, inspections=(checked(1, "instruments"),)), "E8").asked == ()


def test_known_errors_of_a_gauge_are_taken_off_once() -> None:
    reads_low = replace(SEAT, map_error_inhg=-1.5, rpm_error=-60.0)
    weak = recorded(1, *FIRST, takeoff=replace(TAKEOFF, map_inhg=27.0, rpm=2600.0))
    assert len(ask(record(weak), "E8").hits) == 2
    assert ask(record(weak, installations=(reads_low,)), "E8").hits == ()
    # What the stopped engine shows is the whole error: what stands on file is not taken off on top of it.
    stopped = recorded(1, *FIRST, takeoff=replace(TAKEOFF, map_inhg=27.0, static_map_error_inhg=-0.2))
    assert [hit.numbers["map_inhg"] for hit in ask(record(stopped, installations=(reads_low,)), "E8").hits] == [27.2]
    assert ask(record(run(1, takeoff_map_inhg=27.0), installations=(reads_low,)), "E8").hits == ()
    assert len(ask(record(run(1, takeoff_map_inhg=27.0)), "E8").hits) == 1


def test_a_fixed_pitch_propeller_leaves_nothing_to_judge_without_manifold_pressure() -> None:
    flown = record(recorded(1, *FIRST, takeoff=replace(TAKEOFF, map_inhg=None, rpm=2350.0)))
    assert ask(with_type(flown, prop_control="fixed"), "E8").word == "not observed"
    assert ask(flown, "E8").word == "not met"


def test_without_the_air_outside_manifold_pressure_is_not_judged() -> None:
    untold: dict[str, Any] = {"field_elevation_ft": None, "altimeter_inhg": None}
    assert ask(record(run(1, takeoff_map_inhg=20.0, **untold)), "E8").hits == ()


def test_a_descent_that_nobody_recorded_is_not_observed() -> None:
    assert ask(record(run(1)), "P7").word == "not observed"


def test_the_sign_of_seating_is_not_known_without_a_first_hour() -> None:
    warm = recorded(2, piece(60, 75.0, cht_degf=(380.0,) * 4), cht_cruise_std_degf=(380.0,) * 4, cht_cruise_pct=75.0)
    said = ask(record(run(1, 3.0), warm), "E9")
    assert said.word == "not known"
    assert "first hour" in said.text


SEEN = after(2)
UNLOGGED = UnloggedRecorded(31, SEEN - timedelta(hours=5), SEEN - timedelta(hours=4), "flight", 66.0, 58.0, SEEN)


@pytest.mark.parametrize(
    ("days", "step", "state"),
    [
        (0, "nudge", "due"),
        (2.99, "nudge", "due"),
        (3, "chase", "due"),
        (6.99, "chase", "due"),
        (7, "call", "late"),
        (13.99, "call", "late"),
        (14, "manager", "late"),
    ],
)
def test_a_recorded_flight_that_nobody_logged_is_asked_for(days: float, step: str, state: str) -> None:
    one = record(run(1), unlogged_recorded=(UNLOGGED,))
    item = ask(one, "N8", after(2 + days)).asked[0]
    assert (item.escalation, item.state, item.kind) == (step, state, "answer")
    assert "a flight of 66 min, 58 of them in the air" in item.text


def test_it_counts_from_the_day_the_file_was_seen_not_from_the_flight() -> None:
    old = UNLOGGED._replace(began_at=after(-30), ended_at=after(-30, 1))
    assert ask(record(run(1), unlogged_recorded=(old,)), "N8", after(2, 1)).asked[0].escalation == "nudge"
    unseen = old._replace(seen_at=None)
    assert ask(record(run(1), unlogged_recorded=(unseen,)), "N8", after(2, 1)).asked[0].escalation == "manager"


def test_a_flight_that_was_logged_is_asked_for_no_more() -> None:
    said = ask(record(run(1)), "N8")
    assert (said.word, said.asked) == ("met", ())


def test_a_build_that_is_not_in_break_in_is_not_asked() -> None:
    closed = record(run(1), unlogged_recorded=(UNLOGGED,), state="closed")
    assert ask(closed, "N8").word == "not applicable"
