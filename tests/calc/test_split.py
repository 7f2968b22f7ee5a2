import pytest

from breakin.calc.errors import OutOfRange
from breakin.calc.plan import SplitBlock, split


def test_even_power_is_even():
    result = split([SplitBlock(60, 75, 24.2, 2500)], [SplitBlock(60, 74, 24.0, 2510)])
    assert result.code == "even"
    assert result.reasons == ()
    assert result.compared_min == 60


@pytest.mark.parametrize(
    ("right", "tells"),
    [
        (SplitBlock(60, 71), "4 % of rated power"),
        (SplitBlock(60, 75, 23.5), "0.7 inHg"),
        (SplitBlock(60, 75, 24.2, 2460), "40 rpm"),
    ],
)
def test_a_small_split_is_a_note_with_its_numbers(right, tells):
    result = split([SplitBlock(60, 75, 24.2, 2500)], [right])
    assert result.code == "note"
    assert tells in result.reasons[0]


@pytest.mark.parametrize(("minutes", "code"), [(10, "note"), (11, "call")])
def test_more_than_6_percent_for_more_than_10_minutes_is_a_call(minutes, code):
    left = [SplitBlock(minutes, 75), SplitBlock(60, 75)]
    right = [SplitBlock(minutes, 66), SplitBlock(60, 75)]
    result = split(left, right)
    assert result.code == code
    assert result.worst_pct == 9
    assert result.minutes_over_call == minutes


def test_settings_changed_at_different_times_are_compared_minute_by_minute():
    result = split([SplitBlock(30, 75), SplitBlock(30, 65)], [SplitBlock(20, 75), SplitBlock(40, 65)])
    assert result.minutes_over_call == 10
    assert result.worst_pct == 10


def test_one_engine_without_readings_is_not_observed():
    assert split([SplitBlock(60, 75)], [SplitBlock(60)]).code == "not observed"
    assert split([SplitBlock(60, 75)], []).code == "not observed"


def test_a_block_without_minutes_is_refused():
    with pytest.raises(OutOfRange, match="right engine, block 1"):
        split([SplitBlock(60, 75)], [SplitBlock(0, 75)])
