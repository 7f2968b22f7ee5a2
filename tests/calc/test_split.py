import pytest

from breakin.calc.errors import OutOfRange
from breakin.calc.plan import SplitBlock, TimedSetting, split, split_timed


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


def timed(pct, minutes=60.0, start=0.0, manifold=24.0, rpm=2450.0):
    return TimedSetting(start * 60.0, (start + minutes) * 60.0, pct, manifold, rpm)


@pytest.mark.parametrize(("mean", "code"), [(3.0, "even"), (3.1, "note"), (-3.1, "note")])
def test_a_recording_is_judged_by_its_mean_over_cruise(mean, code):
    # A moment in which one lever was moved and the other not yet does not count.
    left = [timed(75), timed(65, 20, 60)]
    result = split_timed(left, [timed(75), timed(65, 20, 60)], mean_pct=mean, over_min=0.0)
    assert result.code == code
    assert result.worst_pct == mean
    if code == "note":
        assert ("left" if mean > 0 else "right") in result.reasons[0]


@pytest.mark.parametrize(("over", "code"), [(10.0, "even"), (10.1, "call")])
def test_minutes_far_apart_come_from_the_recording(over, code):
    assert split_timed([timed(75)], [timed(75)], mean_pct=0.0, over_min=over).code == code


def test_a_minute_between_two_settings_is_no_split():
    left, right = [timed(75, 30), timed(65, 30, 30)], [timed(75, 31), timed(65, 29, 31)]
    assert split_timed(left, right, mean_pct=0.2, over_min=1.0).code == "even"


def test_manifold_and_rpm_of_a_recording_are_compared_as_well():
    assert split_timed([timed(75)], [timed(75, manifold=23.4)], mean_pct=0.0, over_min=0.0).code == "note"
    assert split_timed([timed(75)], [timed(75, rpm=2424.0)], mean_pct=0.0, over_min=0.0).code == "note"
    assert split_timed([timed(75)], [timed(75, rpm=2425.0)], mean_pct=0.0, over_min=0.0).code == "even"


def test_two_engines_that_never_cruised_together_are_not_observed():
    assert split_timed([timed(75, 10)], [timed(75, 10, 20)]).code == "not observed"
