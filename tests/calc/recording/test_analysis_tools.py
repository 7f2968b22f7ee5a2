"""The small tools of the analysis against plain loops, and the range of minutes against arithmetic."""

import numpy as np
import pytest

from breakin.calc.recording.edges import fraction, onset, onset_time
from breakin.calc.recording.minutes import Stock, band_minutes
from breakin.calc.recording.smooth import extreme, filled, median3, nanmean, nanmedian, running_mean, runs, shifted

NOISE = np.random.default_rng(3).normal(0, 1, 200)
HOLED = np.where(np.arange(200) % 17 == 0, np.nan, NOISE)


@pytest.mark.parametrize("rows", [1, 2, 5, 8, 31, 399, 1000])
@pytest.mark.parametrize("values", [NOISE, HOLED, np.stack([NOISE, HOLED], axis=1)], ids=["plain", "holed", "matrix"])
def test_running_mean_is_the_mean_of_the_window(values, rows):
    half = rows // 2
    wanted = np.stack([values[max(0, i - half) : i + half + 1].mean(axis=0) for i in range(len(values))])
    np.testing.assert_allclose(running_mean(values, rows), wanted, atol=1e-9)


@pytest.mark.parametrize(("before", "after"), [(0, 0), (1, 0), (0, 3), (5, 5), (40, 7), (500, 500)])
def test_running_extreme_is_that_of_the_window(before, after):
    for pick, plain in ((np.maximum, max), (np.minimum, min)):
        wanted = [plain(NOISE[max(0, i - before) : i + after + 1]) for i in range(len(NOISE))]
        np.testing.assert_array_equal(extreme(NOISE, before, after, pick), wanted)


def test_median_of_three_neighbours():
    wanted = [float(np.median(NOISE[i - 1 : i + 2])) for i in range(1, 199)]
    np.testing.assert_array_equal(median3(NOISE)[1:-1], wanted)
    assert len(median3(NOISE[:2])) == 2


def test_blanks_take_the_last_value_but_not_for_ever():
    values = np.array([np.nan, 1.0, np.nan, np.nan, np.nan, 5.0])
    np.testing.assert_array_equal(filled(values, 2), [np.nan, 1, 1, 1, np.nan, 5])
    both = filled(np.stack([values, values[::-1]], axis=1), 1)
    np.testing.assert_array_equal(both[:, 1], [5, 5, np.nan, np.nan, 1, 1])


@pytest.mark.parametrize("rows", [0, 3, -3, 500, -500])
def test_shifted_holds_the_end_values(rows):
    wanted = [NOISE[min(max(i + rows, 0), 199)] for i in range(200)]
    np.testing.assert_array_equal(shifted(NOISE, rows), wanted)


@pytest.mark.parametrize("size", [0, 1, 2, 3, 10, 11])
def test_median_and_mean_of_what_is_known(size):
    values = HOLED[:size]
    known = values[np.isfinite(values)]
    if len(known):
        assert nanmedian(values) == pytest.approx(np.median(known))
        assert nanmean(values) == pytest.approx(known.mean())
    else:
        assert np.isnan(nanmedian(values))
        assert np.isnan(nanmean(values))


def test_median_of_very_many_values_is_near_the_true_one():
    many = np.random.default_rng(4).normal(5, 1, 100_000)
    assert nanmedian(many) == pytest.approx(5, abs=0.1)


def test_runs_of_a_mask():
    assert runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert runs(np.zeros(0, dtype=bool)) == []


def test_a_step_begins_in_the_first_row_that_left_its_level():
    values = np.array([10.0, 10.0, 10.1, 14.0, 18.0, 20.0, 20.0])
    share = fraction(values, 10.0, 20.0)
    assert share is not None
    assert onset(share, 4, 0.06) == 3
    assert fraction(values, 10.0, 10.05) is None


def test_between_rows_a_step_is_laid_half_a_row_back():
    assert onset_time(np.array([0.0, 1.0, 2.0]), 1) == 1.0
    assert onset_time(np.array([0.0, 6.0, 12.0]), 1) == 3.5
    assert onset_time(np.array([0.0, 6.0]), 0) == 0.0


def held(pct, minutes=30.0):
    rows = int(minutes * 60)
    return Stock.of(np.full(rows, pct), np.ones(rows), np.ones(rows, dtype=bool))


@pytest.mark.parametrize(
    ("pct", "sigma", "least", "most"),
    [
        (78.0, 0.02, 30, 30),  # four sigma from the nearest edge
        (74.0, 0.02, 0, 30),  # 1.35 sigma over the lower edge
        (74.0, 0.01, 30, 30),  # 2.7 sigma over it
        (71.0, 0.02, 0, 30),  # out, but it may be in
        (66.0, 0.02, 0, 0),  # far under it
    ],
)
def test_the_range_follows_how_many_sigma_the_edge_is_away(pct, sigma, least, most):
    span = band_minutes(held(pct), 72.0, 85.0, sigma)
    assert span.central == (30 if 72 <= pct <= 85 else 0)
    assert span.least == pytest.approx(least, abs=2)
    assert span.most == pytest.approx(most, abs=2)
    assert 0 <= span.least <= span.central <= span.most <= 30


def test_minutes_below_a_line_take_everything_under_it():
    span = band_minutes(held(40.0), -np.inf, 60.0, 0.02)
    assert span.central == 30


def test_a_range_leaves_the_truth_out_of_few_flights():
    # Power off by one normal draw a flight, as the range assumes: about nine of ten ranges must hold even at an edge.
    rng = np.random.default_rng(5)
    sigma, missed = 0.02, 0
    for _ in range(400):
        true = rng.uniform(68, 78)
        read = true * (1 + rng.normal(0, sigma))
        span = band_minutes(held(read), 72.0, 85.0, sigma)
        minutes = 30.0 if 72 <= true <= 85 else 0.0
        missed += not span.least - 1e-9 <= minutes <= span.most + 1e-9
    assert missed / 400 < 0.08
