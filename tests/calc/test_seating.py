"""The early sign of seating. The sign itself is common practice without a published source; what is checked here is
that only like is compared with like, and that the uncertainty is that of the flights behind it.
"""

import math

import pytest

from breakin.calc.seating import FLIGHT_SIGMA_DEGF, HeadsOfFlight, excess_degf, seating_of


def flight(key, hours, *heads, pct=75.0):
    return HeadsOfFlight(key, hours, heads, pct)


FIRST = flight("a", 0.0, 400.0, 410.0, 405.0, 405.0)


def later(drop, hours=3.0, **more):
    return flight("b", hours, *(head - drop for head in FIRST.heads_degf), **more)


@pytest.mark.parametrize(("drop", "sign"), [(19.9, False), (20.0, True), (35.0, True), (-5.0, False)])
def test_20_degrees_down_is_the_sign(drop, sign):
    seen = seating_of([FIRST, later(drop)], [1, 2, 3, 4])
    assert seen.sign is sign
    assert seen.change_degf == pytest.approx(-drop)


def test_its_doubt_is_that_of_the_flights_compared():
    one = seating_of([FIRST, later(25)], [1, 2, 3, 4])
    assert one.sigma_degf == pytest.approx(FLIGHT_SIGMA_DEGF * math.sqrt(2))
    two = seating_of([FIRST, later(25), flight("c", 5.0, 380, 390, 385, 385)], [1, 2, 3, 4])
    assert two.sigma_degf == pytest.approx(FLIGHT_SIGMA_DEGF * math.sqrt(1.5))


def test_the_last_two_flights_speak_so_that_one_cold_day_is_no_sign():
    cold = flight("c", 5.0, *(head - 30 for head in FIRST.heads_degf))
    assert seating_of([FIRST, later(0), cold], [1, 2, 3, 4]).sign is False


def test_heads_are_compared_at_equal_power():
    # 3 % less power cools a head by about 6 degF: that is not the rings.
    seen = seating_of([FIRST, later(22, pct=72.0)], [1, 2, 3, 4])
    assert seen.change_degf == pytest.approx(-16.0)
    assert seen.sign is False
    assert seen.sigma_degf is not None
    assert seen.sigma_degf > FLIGHT_SIGMA_DEGF * math.sqrt(2)


@pytest.mark.parametrize(("pct", "known"), [(70.0, True), (69.9, False), (80.1, False)])
def test_power_more_than_5_percent_away_is_not_compared(pct, known):
    seen = seating_of([FIRST, later(30, pct=pct)], [1, 2, 3, 4])
    assert (seen.sign is not None) is known
    assert seen.why_not or known


def test_only_disturbed_cylinders_that_every_flight_shows_are_compared():
    seen = seating_of([FIRST, flight("b", 3.0, 400.0, None, 360.0, 405.0)], [2, 3])
    assert seen.cylinders == (3,)
    assert seen.change_degf == pytest.approx(-45.0)


def test_without_the_first_hour_there_is_nothing_to_compare_with():
    seen = seating_of([later(0, hours=1.0), later(30, hours=4.0)], [1, 2])
    assert seen.sign is None
    assert "first hour" in seen.why_not


def test_a_probe_that_nobody_has_gives_no_answer():
    assert seating_of([FIRST, later(30)], [5]).sign is None
    assert seating_of([], [1]).sign is None


def test_a_first_hour_in_two_flights_is_their_mean():
    half = flight("a2", 0.6, 390.0, 400.0, 395.0, 395.0)
    seen = seating_of([FIRST, half, later(25)], [1, 2, 3, 4])
    assert seen.change_degf == pytest.approx(-20.0)
    assert [row.change_degf is None for row in seen.rows] == [True, True, False]


def test_excess_is_against_the_mean_of_the_mates():
    assert excess_degf((430.0, 380.0, 380.0, 380.0))[1] == pytest.approx(50.0)
    assert excess_degf((430.0, None)) == {}
