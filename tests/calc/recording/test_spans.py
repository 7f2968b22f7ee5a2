"""Flights, ground runs and landings in a recording."""

from dataclasses import replace

import numpy as np
import pytest

from breakin.calc.recording import Found, flights_in
from breakin.calc.recording.table import Table
from tests.calc.recording.made import LEGS, joined, numbers

CANONICAL = {
    "rpm": "rpm_1", "map": "map_1_inhg", "flow": "ff_1_gph", "oil_temp": "oil_temp_1_degf", "oat": "oat_degf",
    "alt": "alt_ft", "airspeed": "ias_kt",
} | {f"cht{n}": f"cht_1_{n}_degf" for n in range(1, 5)}  # fmt: skip
BY = {
    "airspeed and altitude": (),
    "airspeed": ("alt_ft",),
    "altitude": ("ias_kt",),
    "power alone": ("alt_ft", "ias_kt"),
}


def table(flight, step=1.0, times=None, without=()):
    columns = {CANONICAL[key]: values for key, values in flight.items() if key in CANONICAL}
    n = len(flight["rpm"])
    return Table(
        columns={name: values for name, values in columns.items() if name not in without},
        t=np.arange(n) * step if times is None else times,
        row=np.arange(n),
        sample_s=step,
    )


def kinds(found):
    return [(one.kind, one.landings) for one in found]


@pytest.mark.parametrize("without", BY.values(), ids=BY)
@pytest.mark.parametrize("step", [1.0, 6.0])
class TestOnePiece:
    def test_a_flight(self, without, step):
        found = flights_in(table(numbers(LEGS["flight"], step), step, without=without))
        assert kinds(found) == [("flight", 1)]
        assert (found[0].first_row, found[0].end_row) == (0, len(numbers(LEGS["flight"], step)["rpm"]))

    def test_touch_and_go_is_one_flight_with_its_landings(self, without, step):
        ((kind, landings),) = kinds(flights_in(table(numbers(LEGS["touch_and_go"], step), step, without=without)))
        # Twelve seconds on the runway are two rows at six seconds: by airspeed alone they may be missed.
        least = 1 if step == 6.0 and without == ("alt_ft",) else 3
        assert kind == "flight"
        assert least <= landings <= 3

    def test_a_ground_run(self, without, step):
        assert kinds(flights_in(table(numbers(LEGS["ground_run"], step), step, without=without))) == [("ground_run", 0)]

    def test_a_long_run_at_full_throttle_against_the_brakes(self, without, step):
        run = numbers([("off", 30), ("taxi", 200), ("climb", 200), ("taxi", 200), ("off", 30)], step)
        run["alt"], run["airspeed"] = run["alt"] * 0 + 500, run["airspeed"] * 0
        (found,) = flights_in(table(run, step, without=without))
        if without == ("alt_ft", "ias_kt"):
            assert "less surely" in found.notes[0], "engine power alone can't tell it from a take-off"
        else:
            assert found.kind == "ground_run"


def test_an_aborted_take_off():
    assert kinds(flights_in(table(numbers(LEGS["aborted"])))) == [("aborted", 0)]


def test_an_aborted_take_off_before_a_flight_belongs_to_the_flight():
    flight = numbers([*LEGS["aborted"][:-1], *LEGS["flight"][1:]])
    assert kinds(flights_in(table(flight))) == [("flight", 1)]


def test_full_throttle_for_a_moment_without_airspeed_is_said_to_be_either():
    (found,) = flights_in(table(numbers(LEGS["aborted"]), without=("ias_kt",)))
    assert found.kind == "ground_run"
    assert "aborted take-off or a check at full throttle" in found.notes[0]


def test_less_certainty_is_said():
    by = {name: flights_in(table(numbers(LEGS["flight"]), without=without))[0].notes for name, without in BY.items()}
    assert by["airspeed and altitude"] == ()
    assert "less surely" in by["power alone"][0]
    assert "Airspeed was not recorded" in by["altitude"][0]
    assert "Altitude was not recorded" in by["airspeed"][0]


class TestSeveral:
    def test_flights_are_parted_by_a_stopped_engine(self):
        parts = [numbers(LEGS[kind]) for kind in ("flight", "ground_run", "touch_and_go")]
        pause = numbers([("off", 200)])
        whole = table(joined(parts[0], pause, parts[1], pause, parts[2]))
        found = flights_in(whole)
        assert kinds(found) == [("flight", 1), ("ground_run", 0), ("flight", 3)]
        assert found[0].first_row == 0
        assert found[-1].end_row == len(whole)
        assert [one.end_row for one in found[:-1]] == [one.first_row for one in found[1:]]

    def test_a_short_stop_does_not_part(self):
        short = joined(numbers(LEGS["flight"][:-1]), numbers([("off", 45)]), numbers(LEGS["flight"][1:]))
        assert kinds(flights_in(table(short))) == [("flight", 2)]

    def test_a_gap_with_a_colder_engine_parts_though_no_stop_was_recorded(self):
        first, second = numbers(LEGS["flight"][1:-1]), numbers(LEGS["flight"][1:-1])
        times = np.arange(2.0 * len(first["rpm"])) + np.repeat([0.0, 7200.0], len(first["rpm"]))
        assert len(flights_in(table(joined(first, second), times=times))) == 2

    def test_a_gap_in_flight_with_a_warm_engine_does_not_part(self):
        flight = numbers(LEGS["flight"])
        times = np.arange(len(flight["rpm"])) + np.where(np.arange(len(flight["rpm"])) > 1200, 900.0, 0.0)
        assert kinds(flights_in(table(flight, times=times))) == [("flight", 1)]

    def test_an_attempt_to_start_is_no_piece(self):
        attempt = numbers([("off", 30), ("taxi", 8), ("off", 300)])
        assert kinds(flights_in(table(joined(attempt, numbers(LEGS["flight"]))))) == [("flight", 1)]

    def test_an_engine_that_never_ran_gives_none(self):
        assert flights_in(table(numbers([("off", 300)]))) == ()


def test_rows_are_those_of_the_file():
    whole = table(numbers(LEGS["flight"]))
    shifted = replace(whole, row=whole.row + 1000)
    (found,) = flights_in(shifted)
    assert (found.first_row, found.end_row) == (1000, 1000 + len(whole))
    assert len(shifted.part(found.first_row, found.end_row)) == len(whole)


def test_one_engine_of_two_that_runs_makes_the_piece():
    flight = table(numbers(LEGS["flight"]))
    twin = replace(flight, columns={**flight.columns, "rpm_2": flight.columns["rpm_1"] * 0}, sides=("1", "2"))
    assert kinds(flights_in(twin)) == [("flight", 1)]


def test_blanks_and_single_wild_values_of_airspeed_change_nothing():
    flight = table(numbers(LEGS["flight"]))
    speed = flight.columns["ias_kt"].copy()
    speed[::9] = np.nan
    speed[[40, 1300]] = 180, 0
    assert kinds(flights_in(replace(flight, columns={**flight.columns, "ias_kt": speed}))) == [("flight", 1)]


def test_a_blocked_pitot_tube_leaves_altitude():
    flight = table(numbers(LEGS["flight"]))
    dead = {**flight.columns, "ias_kt": flight.columns["ias_kt"] * 0}
    assert kinds(flights_in(replace(flight, columns=dead))) == [("flight", 1)]


def test_what_is_found_is_plain():
    assert Found("flight", 0, 10, 1) == Found("flight", 0, 10, 1, ())
