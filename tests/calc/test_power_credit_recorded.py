"""Credit of recorded minutes: unsteady and too high earn nothing, settings are counted, the doubt is that of the file.

No published definition of power credit exists: the bands and minutes are the plan's.
"""

from typing import Any

import pytest

from breakin.calc.plan import Bands, BlockPower, FlightPower, accumulate

BANDS = Bands()


def block(minutes: float, pct: float | None, **more: Any) -> BlockPower:
    return BlockPower(minutes, pct, 1.2 if pct is not None else None, "recording", **more)


def between(minutes: float, pct: float) -> BlockPower:
    return block(minutes, pct, steady=False, setting=False)


def flight(name: str, *blocks: BlockPower) -> FlightPower:
    return FlightPower(name, ord(name[0]), sum(one.duration_min for one in blocks), 5.0, blocks)


HOUR_2 = [block(15, pct) for pct in (75, 65, 75, 65)]


def test_power_on_its_way_to_the_next_setting_is_no_change_of_its_own():
    flown = [block(30, 75), between(1, 70), block(30, 65), between(1, 69), block(30, 75)]
    first = [flight("a", block(60, 75)), flight("b", *HOUR_2)]
    assert accumulate([*first, flight("c", *flown)], BANDS).later.changes == 2


def test_the_climb_and_the_descent_are_no_changes():
    climb = block(6, 88, steady=False, setting=False)
    descent = block(8, 45, steady=False, setting=False)
    credit = accumulate([flight("a", climb, block(60, 75), descent)], BANDS)
    assert credit.hour_1.changes == 0
    assert credit.hour_1.met


def test_an_interruption_in_the_band_does_not_lend_its_minutes():
    broken = [block(6, 75, steady=False), block(6, 75)]
    assert accumulate([flight("a", *broken)], BANDS).hour_1.target_75.central == 0


@pytest.mark.parametrize(("high", "met"), [(5, True), (6, False)])
def test_minutes_above_the_altitude_for_cooling_earn_nothing(high, met):
    flown = [block(60 - high, 75), block(high, 75, too_high=True), block(30, 55)]
    credit = accumulate([flight("a", *flown)], BANDS)
    assert credit.hour_1.target_75.central == 60 - high
    assert credit.hour_1.too_high_min + credit.hour_2.too_high_min == high
    assert credit.hour_1.met is met
    assert any("altitude for cooling" in reason for reason in credit.reasons)


def test_too_high_is_no_reason_against_65_percent():
    first = flight("a", block(60, 75))
    credit = accumulate([first, flight("b", block(30, 65, too_high=True))], BANDS)
    assert credit.hour_2.target_65.central == 30


def test_least_and_most_of_a_recording_go_to_the_stages_as_they_were_told():
    shares = {"75": (0.5, 1.0), "65": (0.0, 0.0)}
    credit = accumulate([flight("a", block(60, 74, shares=shares))], BANDS)
    minutes = credit.hour_1.target_75
    assert (minutes.least, minutes.central, minutes.most) == (30, 60, 60)
    outside = {"75": (0.0, 0.25), "65": (0.0, 0.0)}
    minutes = accumulate([flight("a", block(60, 71, shares=outside))], BANDS).hour_1.target_75
    assert (minutes.least, minutes.central, minutes.most) == (0, 0, 15)


def test_stated_and_measured_minutes_stand_apart_and_add_up_over_flights():
    stated = FlightPower("a", 1, 30, 5, (BlockPower(30, source="stated", stated_band=75),))
    credit = accumulate([stated, flight("b", block(30, 75))], BANDS)
    minutes = credit.hour_1.target_75
    assert (minutes.central, minutes.stated, minutes.measured) == (60, 30, 30)


def test_met_in_part_by_a_statement_is_met_as_stated():
    stated = FlightPower("a", 1, 30, 5, (BlockPower(30, source="stated", stated_band=75),))
    credit = accumulate([stated, flight("b", block(30, 75)), flight("c", *HOUR_2)], BANDS)
    assert credit.first_two == "met (stated)"
    assert accumulate([flight("b", block(60, 75)), flight("c", *HOUR_2)], BANDS).first_two == "met (measured)"


def test_many_settings_near_an_edge_decide_together_where_none_does_alone():
    # Five quarters of an hour a little over the edge: any one of them can go, all of them can't.
    flown = [flight("a", *(block(15, 72.5) for _ in range(5))), flight("b", *HOUR_2)]
    credit = accumulate(flown, BANDS)
    assert credit.first_two == "met (measured)"
    assert credit.undecided
    assert credit.word == "undecided"
    assert "5 recorded settings" in credit.reasons[-1]
    assert "all a little less" in credit.reasons[-1]


def test_typed_settings_near_an_edge_are_not_moved_together():
    typed = tuple(BlockPower(15, 73.5, 2.0, "typed") for _ in range(6))
    hour_1 = FlightPower("a", 1, 90, 5, typed)
    second = FlightPower("b", 2, 60, 5, tuple(BlockPower(15, pct, 2.0, "typed") for pct in (76, 65, 76, 65)))
    assert not accumulate([hour_1, second], BANDS).undecided
    recorded = FlightPower("a", 1, 90, 5, tuple(BlockPower(15, 73.5, 2.0, "recording") for _ in range(6)))
    assert accumulate([recorded, second], BANDS).undecided


def test_a_verdict_that_no_doubt_turns_over_is_its_own_word():
    credit = accumulate([flight("a", block(60, 75)), flight("b", *HOUR_2)], BANDS)
    assert credit.word == credit.first_two == "met (measured)"


def test_an_open_verdict_is_not_called_undecided():
    credit = accumulate([flight("a", block(55, 72.5))], BANDS)
    assert not credit.final
    assert credit.word == "not known"
