"""Thinned lines keep what one looks for in them: the extremes, the moments, the holes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakin.calc.recording.thin import envelope, thin, usual_gap, window

HOURS = np.arange(4 * 3600.0)


def wavy(seed: int = 0) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 1, HOURS.size)
    return 300 + 80 * np.sin(HOURS / 900) + noise


def test_a_spike_of_one_sample_survives_with_its_time() -> None:
    values = wavy()
    values[7003] = 612.5
    values[9001] = -3.0
    t, v = thin(HOURS, values, 400)
    assert (t[np.nanargmax(v)], np.nanmax(v)) == (7003, 612.5)
    assert (t[np.nanargmin(v)], np.nanmin(v)) == (9001, -3.0)
    assert t.size <= 400


def test_every_point_is_one_that_was_recorded_and_time_only_rises() -> None:
    values = wavy(1)
    t, v = thin(HOURS, values, 300)
    assert np.array_equal(v, values[t.astype(int)])
    assert np.all(np.diff(t) > 0)
    assert (t[0], t[-1]) == (HOURS[0], HOURS[-1])


def test_each_stretch_of_the_picture_reaches_as_high_and_as_low_as_the_whole_line() -> None:
    values = wavy(2)
    t, v = thin(HOURS, values, 2 * 120 + 2)
    for stretch in range(120):
        whole = values[stretch * 120 : stretch * 120 + 120]
        drawn = v[(t >= stretch * 120 - 1) & (t < stretch * 120 + 121)]
        assert drawn.max() >= whole.max()
        assert drawn.min() <= whole.min()


def test_moments_that_matter_are_kept() -> None:
    t, _ = thin(HOURS, wavy(3), 60, keep=[1234.4, 5000.0, -5.0, 10**6])
    assert {1234.0, 5000.0} <= set(t)


def test_a_short_line_is_given_whole() -> None:
    t, v = thin(HOURS[:50], wavy()[:50], 60)
    assert np.array_equal(t, HOURS[:50])
    assert np.array_equal(v, wavy()[:50])


def test_a_hole_breaks_the_line_at_its_own_edges() -> None:
    values = wavy(4)
    values[4000:4700] = np.nan
    t, v = thin(HOURS, values, 200, gap_s=10)
    (hole,) = np.flatnonzero(np.isnan(v))
    assert (t[hole - 1], t[hole + 1]) == (3999, 4700)


def test_a_gap_of_the_clock_breaks_it_too_and_a_channel_that_is_written_every_other_row_is_one_line() -> None:
    t = np.concatenate((HOURS[:600], HOURS[600:1200] + 900))
    values = np.where(np.arange(1200) % 2, np.nan, np.arange(1200.0))
    drawn_t, drawn = thin(t, values, 2000, gap_s=usual_gap(t))
    assert np.isnan(drawn).sum() == 1
    assert drawn_t[np.isnan(drawn)][0] == 1500


def test_a_channel_with_nothing_in_it_gives_nothing() -> None:
    t, v = thin(HOURS, np.full(HOURS.size, np.nan), 200)
    assert t.size == v.size == 0
    assert all(part.size == 0 for part in envelope(HOURS[:0], HOURS[:0], HOURS[:0], 20))


def test_many_short_holes_do_not_swell_the_line() -> None:
    values = wavy(5)
    values[np.arange(HOURS.size) % 40 < 20] = np.nan
    t, _ = thin(HOURS, values, 200, gap_s=10)
    assert t.size <= 500


def test_the_room_between_two_lines_holds_both_of_them() -> None:
    middle = wavy(6)
    t, low, high = envelope(HOURS, middle - 2, middle + 2, 100)
    assert t.size <= 101
    assert (t[0], t[-1]) == (HOURS[0], HOURS[-1])
    assert low.min() == (middle - 2).min()
    assert high.max() == (middle + 2).max()
    assert np.all(low < high)


def test_the_room_is_broken_where_the_lines_are() -> None:
    middle = wavy(7)
    middle[6000:8000] = np.nan
    t, low, high = envelope(HOURS, middle - 2, middle + 2, 100, gap_s=10)
    assert np.isnan(low).sum() == np.isnan(high).sum() == 1
    assert 5800 < t[np.isnan(low)][0] < 8200


def test_a_window_reaches_one_sample_beyond_its_edges() -> None:
    assert HOURS[window(HOURS, 99.5, 200.5)].tolist() == list(range(99, 202))
    assert HOURS[window(HOURS, -50, 10**6)].size == HOURS.size
    assert HOURS[window(HOURS, 10**6, 10**7)].tolist() == [HOURS[-1]]


@given(
    values=st.lists(st.one_of(st.floats(-1e4, 1e4), st.just(float("nan"))), max_size=300),
    most=st.integers(4, 80),
)
def test_extremes_hold_for_any_values(values: list[float], most: int) -> None:
    held = np.array(values, dtype=np.float64)
    t, v = thin(np.arange(float(held.size)), held, most, gap_s=3)
    finite = held[np.isfinite(held)]
    assert v[np.isfinite(v)].size <= max(most, 4) + 2 * (most // 8)
    if finite.size:
        assert np.nanmax(v) == finite.max()
        assert np.nanmin(v) == finite.min()
        assert np.isfinite(v[[0, -1]]).all()
    else:
        assert t.size == 0


def test_the_usual_gap_follows_the_sampling() -> None:
    assert usual_gap(np.arange(0.0, 600.0, 6.0)) == pytest.approx(30)
    assert usual_gap(HOURS) == pytest.approx(10)
    assert usual_gap(HOURS[:1]) == pytest.approx(10)
