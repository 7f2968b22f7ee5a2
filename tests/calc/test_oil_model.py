"""The level filter against closed forms worked by hand, and the fixed points it starts from."""

import math

import numpy as np
import pytest

from breakin.calc.errors import OutOfRange
from breakin.calc.oil.answers import quantiles, settling_time
from breakin.calc.oil.events import story_of
from breakin.calc.oil.log import read_log
from breakin.calc.oil.model import (
    MODEL_QT_PER_SQRT_H,
    Added,
    Fill,
    Reading,
    Run,
    closed_form_rest,
    filtered,
    step,
)
from breakin.calc.oil.particles import DIMENSIONS, Engines, engines_at, kind_shares, normal_points, prior_points
from breakin.calc.oil.prior import BUILT_IN, partial_prior, prior_of


def engines(**values: float) -> Engines:
    """One engine: steady, without breather loss, settling far below; changed by name."""
    usual = {"plateau": 0.1, "above": 1e-9, "decay": 3.0, "tail": 0.0, "onset": 1e3, "slope": 1e-9, "rise": 50.0}
    usual |= {"below": -50.0, "breather": 0.02, "noise": 0.2}
    return Engines(**{name: np.array([value]) for name, value in {**usual, **values}.items()})


@pytest.mark.parametrize("level", [5.0, 6.0, 6.1, 6.4, 8.0])
@pytest.mark.parametrize("rate", [0.02, 0.2, 0.8])
@pytest.mark.parametrize("hours", [0.1, 1.0, 2.5])
def test_a_step_over_the_settling_level_is_the_closed_form(level, rate, hours):
    one = {name: np.array([value]) for name, value in {"m": level, "v": 0.04, "s": 6.0, "k": 0.4}.items()}
    left = np.exp(-one["k"] * hours)
    found, var = step(one["m"], one["v"], one["s"], np.array([rate * hours]), left, hours, one["k"])
    assert found[0] == pytest.approx(closed_form_rest(level, 6.0, rate, 0.4, hours), abs=1e-9)
    nudged = closed_form_rest(level + 1e-6, 6.0, rate, 0.4, hours) - closed_form_rest(
        level - 1e-6, 6.0, rate, 0.4, hours
    )
    assert math.sqrt(var[0] / 0.04) == pytest.approx(nudged / 2e-6, abs=1e-3)


def test_the_closed_form_agrees_with_many_small_steps():
    level, hours, parts = 7.5, 6.0, 60_000
    for _ in range(parts):
        level -= hours / parts * (0.2 + 0.4 * max(0.0, level - 6.0))
    assert closed_form_rest(7.5, 6.0, 0.2, 0.4, hours) == pytest.approx(level, abs=1e-4)


def test_without_breather_and_odd_readings_the_filter_is_the_kalman_filter_in_closed_form():
    """A random walk with known drift, read three times: mean and variance by the textbook's recursion."""
    calm = prior_of({"hot_after": 0.0, "hot_before": 0.0, "typing": 0.0, "unlogged": 0.0, "first_run_drop": 0.0})
    grid = np.array([0.0, 1.0, 2.0, 3.0])
    readings = [5.8, 5.9, 5.6]
    events: list = [Fill(6.0, 0.2)]
    for place, level in enumerate(readings):
        events += [Run(place), Reading(level, None, 0.25, False, False, place, 0.0)]
        if place == 1:
            events.append(Added(1.0, 0.03))
    found = filtered(events, grid, engines(), 8.0, calm)
    mean, var, log_likelihood = 6.0, 0.04, 0.0
    noise = 0.2**2 + 0.25**2 / 12
    for place, level in enumerate(readings):
        mean, var = mean - 0.1, var + MODEL_QT_PER_SQRT_H**2
        log_likelihood += -0.5 * math.log(var + noise) - 0.5 * (level - mean) ** 2 / (var + noise)
        gain = var / (var + noise)
        mean, var = mean + gain * (level - mean), (1 - gain) * var
        if place == 1:
            mean, var = mean + 1.0, var + 0.03**2
    assert found.mean[0] == pytest.approx(mean, abs=1e-6)
    assert found.var[0] == pytest.approx(var, abs=1e-6)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, abs=1e-6)


def test_a_reading_a_quart_low_moves_the_level_less_than_a_quarter_quart_does():
    def moved(low: float) -> float:
        events: list = [Fill(6.0, 0.2), Run(0), Reading(5.9 - low, None, 0.25, True, False, 0, 1.0)]
        return 5.9 - float(filtered(events, np.array([0.0, 1.0]), engines(), 8.0, BUILT_IN).mean[0])

    assert 0 < moved(1.25) < moved(0.25)


def test_a_level_a_quart_and_a_half_high_is_taken_for_an_addition_once_it_stays():
    events: list = [Fill(6.0, 0.2)]
    for place in range(4):
        events += [Run(place), Reading(7.4 - 0.1 * place, None, 0.25, False, False, place, place + 1.0)]
    found = filtered(events, np.arange(5.0), engines(), 8.0, BUILT_IN)
    assert found.mean[0] == pytest.approx(7.1, abs=0.15)


def test_the_loss_of_an_engine_is_the_integral_of_its_rate():
    one = engines(above=0.5, tail=0.3, onset=4.0, slope=0.03, rise=0.1)
    hours = np.linspace(0, 12, 24_001)
    rates = np.array([one.rate(hour)[0] for hour in hours])
    by_hand = float(np.sum((rates[1:] + rates[:-1]) / 2) * (hours[1] - hours[0]))
    assert one.lost(np.array([12.0]))[0, 0] == pytest.approx(by_hand, abs=1e-5)


@pytest.mark.parametrize("tail", [0.0, 0.3])
def test_at_the_settling_time_the_falling_part_has_come_down_to_the_band(tail):
    one = engines(above=0.6, tail=tail)
    when = settling_time(one, np.array([0.05]))[0]
    assert one.rate(when)[0] - one.plateau[0] == pytest.approx(0.05, abs=1e-4)


def test_an_engine_that_starts_inside_the_band_is_settled_from_the_start():
    assert settling_time(engines(above=0.02), np.array([0.05]))[0] == 0.0


def test_weighted_quantiles_of_equal_weights_are_the_ordinary_ones():
    values = np.arange(1000.0)
    assert quantiles(values[::-1], np.full(1000, 1e-3), [0.05, 0.5, 0.95]) == pytest.approx([49.5, 499.5, 949.5], abs=1)


def test_the_fixed_points_are_standard_normal_and_even_in_every_dimension():
    points = normal_points(1024)
    assert points.shape == (1024, DIMENSIONS)
    assert np.abs(points.mean(axis=0)).max() < 0.03
    assert np.abs(points.std(axis=0) - 1).max() < 0.03
    assert np.abs(np.corrcoef(points.T) - np.eye(DIMENSIONS)).max() < 0.1


def test_engines_drawn_from_the_prior_decay_as_their_finish_says():
    z, kinds = prior_points()
    assert kind_shares(BUILT_IN).sum() == pytest.approx(1.0)
    medians = {
        name: np.median(engines_at(z, kinds, BUILT_IN, BUILT_IN.finish(name)).decay) for name in ("steel", "chrome")
    }
    assert 2.8 < medians["steel"] < 3.4
    assert medians["chrome"] > 2 * medians["steel"]


def test_the_prior_of_a_partial_job_returns_to_the_loss_before_it():
    partial = partial_prior(0.12, 1 / 6)
    assert partial.finish("steel").plateau_qt_h == 0.12
    assert partial.above_qt_h < BUILT_IN.above_qt_h / 5
    assert "before" in partial.name


@pytest.mark.parametrize(("before", "share"), [(0.0, 0.5), (float("nan"), 0.5), (0.1, 0.0), (0.1, 1.5)])
def test_an_impossible_partial_job_is_refused(before, share):
    with pytest.raises(OutOfRange):
        partial_prior(before, share)


@pytest.mark.parametrize("doubt", [-0.01, float("nan"), float("inf")])
def test_an_impossible_doubt_of_the_loss_before_is_refused(doubt):
    with pytest.raises(OutOfRange):
        partial_prior(0.1, 0.5, u_qt_h=doubt)


def test_a_number_that_the_prior_does_not_have_is_refused_by_name():
    with pytest.raises(OutOfRange, match="colour"):
        prior_of({"colour": 1.0})


def test_only_the_first_reading_after_the_first_run_of_a_fill_may_miss_what_filter_and_cooler_took():
    read = read_log(
        {
            "capacity": 8,
            "entries": [
                {"kind": "change", "hours": 0.0, "fill": 7.0},
                {"kind": "reading", "hours": 0.0, "level": 7.0},
                {"kind": "reading", "hours": 1.0, "level": 6.0},
                {"kind": "reading", "hours": 1.0, "level": 6.0},
                {"kind": "reading", "hours": 2.0, "level": 6.0},
            ],
        }
    )
    events = story_of(read, BUILT_IN).events
    assert [event.first_run for event in events if isinstance(event, Reading)] == [False, True, False, False]


def test_a_drop_of_eight_tenths_on_the_first_run_is_taken_more_readily_than_later():
    def level(first_run: bool) -> float:
        events: list = [Fill(6.0, 0.1), Run(0), Reading(5.1, None, 0.25, False, first_run, 0, 1.0)]
        return float(filtered(events, np.array([0.0, 1.0]), engines(), 8.0, BUILT_IN).mean[0])

    assert level(True) < level(False) - 0.15
