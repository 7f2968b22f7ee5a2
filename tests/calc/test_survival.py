import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import BadQuantity, MissingData
from breakin.calc.survival import kaplan_meier


def test_at_a_tie_events_come_before_censorings():
    result = kaplan_meier([6, 6], [True, False])
    assert result.at_risk == (2,)
    assert result.survival == (0.5,)


def test_without_events_the_median_is_not_reached():
    result = kaplan_meier([5, 9], [False, False])
    assert result.times == ()
    assert result.median is None
    assert result.survival_at(8) == 1.0


def test_beyond_the_last_running_engine_nothing_is_known():
    result = kaplan_meier([5, 9], [True, False])
    assert result.survival_at(9) == 0.5
    assert result.survival_at(9.1) is None
    with pytest.raises(BadQuantity, match="up to 9"):
        result.restricted_mean(20)


def test_an_engine_entered_late_counts_from_then_only():
    result = kaplan_meier([5, 9, 12], [True, True, True], entry=[0, 6, 0])
    assert result.at_risk == (2, 2, 1)


@pytest.mark.parametrize(
    ("durations", "observed", "tells"),
    [([5, float("nan")], [True, True], "engine 2"), ([0], [True], "engine 1"), ([5], [True, False], "length")],
)
def test_impossible_times_are_refused(durations, observed, tells):
    with pytest.raises(BadQuantity, match=tells):
        kaplan_meier(durations, observed)


def test_nobody_is_refused():
    with pytest.raises(MissingData, match="no engine"):
        kaplan_meier([], [])


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=25))
def test_survival_never_rises_and_order_does_not_matter(rows):
    result = kaplan_meier([time for time, _ in rows], [seen for _, seen in rows])
    assert list(result.survival) == sorted(result.survival, reverse=True)
    backwards = kaplan_meier([time for time, _ in rows[::-1]], [seen for _, seen in rows[::-1]])
    assert backwards == result
    for low, share, high in zip(result.lower, result.survival, result.upper, strict=True):
        assert (low is None) == (high is None) == (share == 0)
        assert low is None or high is None or low <= share <= high
