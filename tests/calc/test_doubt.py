"""The doubt of a recording's power, given to the settings nearest to an edge. Own method, so the checks are its own
promises: sums, order, bounds.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.doubt import Held, spread

UPPER = (72.0, 85.0)


def told(held, central, least, most):
    return spread(held, UPPER, central_min=central, least_min=least, most_min=most)


def test_without_doubt_each_setting_stands_where_its_power_lies():
    assert told([Held(30, 75, 1.2), Held(20, 65, 1.2)], 30, 30, 30) == [(1.0, 1.0), (0.0, 0.0)]


def test_the_setting_nearest_to_an_edge_gives_way_first():
    shares = told([Held(30, 75, 1.2), Held(30, 72.5, 1.2)], 60, 30, 60)
    assert shares == [(1.0, 1.0), (0.0, 1.0)]


def test_a_setting_gives_way_in_part_where_the_span_says_so():
    shares = told([Held(40, 73, 1.2)], 40, 30, 40)
    assert shares[0] == pytest.approx((0.75, 1.0))


def test_what_may_lie_in_the_band_as_well_is_taken_from_the_nearest_outside():
    shares = told([Held(30, 71.5, 1.2), Held(30, 69, 1.2)], 0, 0, 30)
    assert shares == [(0.0, 1.0), (0.0, 0.0)]


def test_a_setting_far_from_any_edge_is_not_in_doubt():
    assert told([Held(60, 78, 1.0)], 60, 0, 60) == [(1.0, 1.0)]
    assert told([Held(60, 50, 1.0)], 0, 0, 60) == [(0.0, 0.0)]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.floats(1, 60), st.floats(40, 95), st.floats(0.1, 4)), min_size=1, max_size=8),
    st.floats(0, 60),
    st.floats(0, 60),
)
def test_least_and_most_never_cross_and_never_give_more_doubt_than_was_told(rows, loss, gain):
    held = [Held(*row) for row in rows]
    central = sum(one.minutes for one in held if UPPER[0] <= one.pct <= UPPER[1])
    shares = told(held, central, central - loss, central + gain)
    least = sum(one.minutes * share[0] for one, share in zip(held, shares, strict=True))
    most = sum(one.minutes * share[1] for one, share in zip(held, shares, strict=True))
    assert all(0 <= low <= high <= 1 for low, high in shares)
    assert central - loss - 1e-9 <= least <= central + 1e-9
    assert central - 1e-9 <= most <= central + gain + 1e-9
