from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import BadQuantity, OutOfRange
from breakin.calc.plan import Bands, BlockPower, FlightPower, accumulate, classify, schedule

BANDS = Bands()


def block(minutes: float, pct: float | None, **more: Any) -> BlockPower:
    more.setdefault("source", "recording")
    return BlockPower(minutes, pct=pct, sigma=more.pop("sigma", 1.0 if pct is not None else None), **more)


def flight(name: str, *blocks: BlockPower, airborne: float | None = None, ground: float = 5.0) -> FlightPower:
    return FlightPower(name, ord(name[0]), airborne or sum(b.duration_min for b in blocks), ground, blocks)


def hour_2(source: str = "recording") -> list[BlockPower]:
    return [block(15, pct, source=source) for pct in (75, 65, 75, 65)]


def test_a_textbook_first_two_hours_is_met_by_measurement():
    credit = accumulate([flight("a", block(60, 75)), flight("b", *hour_2())], BANDS)
    assert credit.first_two == "met (measured)"
    assert credit.final
    assert not credit.undecided
    assert (credit.hour_1.ended, credit.hour_2.ended) == ("credit", "credit")
    assert credit.hour_2.changes == 3


def test_as_on_the_card_is_met_as_stated():
    stated = [BlockPower(60, source="stated", stated_band=75)]
    then = [BlockPower(15, source="stated", stated_band=band) for band in (75, 65, 75, 65)]
    credit = accumulate([flight("a", *stated), flight("b", *then)], BANDS)
    assert credit.first_two == "met (stated)"
    assert credit.hour_1.target_75.stated == 60
    assert credit.hour_1.target_75.measured == 0


def test_numbers_that_a_pilot_wrote_down_are_his_statement():
    credit = accumulate([flight("a", block(60, 75, source="typed")), flight("b", *hour_2("typed"))], BANDS)
    assert credit.first_two == "met (stated)"
    assert credit.hour_1.target_75.stated == 60


def test_one_typed_hour_keeps_the_verdict_from_being_measured():
    credit = accumulate([flight("a", block(60, 75)), flight("b", *hour_2("typed"))], BANDS)
    assert credit.first_two == "met (stated)"


def test_hour_1_may_be_flown_in_two_pieces():
    credit = accumulate([flight("a", block(30, 75)), flight("b", block(28, 75)), flight("c", *hour_2())], BANDS)
    assert credit.hour_1.target_75.central == 58
    assert credit.first_two == "met (measured)"


def test_one_long_setting_gives_hour_1_its_sixty_minutes_and_hour_2_the_rest():
    credit = accumulate([flight("a", block(40, 74), block(50, 77.5))], BANDS)
    assert credit.hour_1.target_75.central == pytest.approx(60)
    assert credit.hour_2.target_75.central == pytest.approx(30)


@pytest.mark.parametrize(("minutes", "met"), [(54, False), (55, True)])
def test_55_minutes_are_asked_for(minutes, met):
    assert accumulate([flight("a", block(minutes, 75))], BANDS).hour_1.met is met


def test_hour_1_with_a_change_every_ten_minutes_is_not_met():
    busy = [block(12, pct) for pct in (74, 77.5, 74, 77.5, 74)]
    assert accumulate([flight("a", *busy)], BANDS).hour_1.changes == 4
    assert not accumulate([flight("a", *busy)], BANDS).hour_1.met
    calm = [block(20, pct) for pct in (74, 77.5, 74)]
    assert accumulate([flight("a", *calm)], BANDS).hour_1.met


def test_two_hours_at_constant_power_leave_hour_2_without_changes():
    credit = accumulate([flight("a", block(215, 75))], BANDS)
    assert credit.hour_1.met
    assert not credit.hour_2.met
    assert credit.final
    assert credit.first_two == "partly"


def test_circuits_at_half_power_miss_the_first_two_hours():
    light = [flight(name, block(60, 50)) for name in "abcd"]
    credit = accumulate(light, BANDS)
    assert credit.first_two == "missed"
    assert credit.final
    assert credit.hour_1.ended == "cap"
    # Two flights lie in the first two hours; the last ten minutes of each are its landing.
    assert credit.light_first_two_min == pytest.approx(100)


def test_volume_after_the_cap_does_not_make_good_what_was_missed():
    flights = [flight(name, block(60, 50)) for name in "abcd"] + [flight("e", block(200, 75))]
    credit = accumulate(flights, BANDS)
    assert credit.first_two == "missed"
    assert credit.later.target_75.central == 200


def test_power_that_could_not_be_had_is_not_the_pilots_miss():
    high = [flight(name, block(60, 69, sigma=0.5, band_achievable=False)) for name in "abcd"]
    assert accumulate(high, BANDS).first_two == "not achievable"


def test_minutes_without_power_are_not_known_rather_than_missed():
    credit = accumulate([flight(name, airborne=60.0) for name in "abcd"], BANDS)
    assert credit.first_two == "not known"
    assert credit.final
    assert credit.hour_1.unknown_min == 120


def test_verdict_is_open_while_the_stages_run():
    credit = accumulate([flight("a", block(40, 75))], BANDS)
    assert credit.first_two == "not known"
    assert not credit.final
    assert "not over yet" in credit.reasons[-1]


def test_no_flights_at_all_is_an_answer():
    credit = accumulate([], BANDS)
    assert credit.first_two == "not known"
    assert credit.later_share is None
    assert credit.light_share is None


def test_a_setting_near_the_edge_that_decides_is_undecided():
    near = accumulate([flight("a", block(60, 72.5, sigma=2.0)), flight("b", *hour_2())], BANDS)
    assert near.first_two == "met (measured)"
    assert near.undecided
    assert "72" in near.reasons[-1]
    clear = accumulate([flight("a", block(60, 75.5, sigma=2.0)), flight("b", *hour_2())], BANDS)
    assert not clear.undecided


def test_a_setting_near_the_edge_that_changes_nothing_is_decided():
    credit = accumulate([flight("a", block(12, 72.5, sigma=2.0), block(60, 75)), flight("b", *hour_2())], BANDS)
    assert not credit.undecided


def test_least_and_most_stand_beside_the_central_minutes():
    credit = accumulate([flight("a", block(30, 73, sigma=2.0), block(30, 71, sigma=2.0))], BANDS)
    minutes = credit.hour_1.target_75
    assert (minutes.least, minutes.central, minutes.most) == (0, 30, 60)


def test_a_setting_held_for_less_than_ten_minutes_earns_nothing():
    assert accumulate([flight("a", block(9, 75), block(51, 55))], BANDS).hour_1.target_75.central == 0
    together = accumulate([flight("a", block(6, 75), block(6, 76))], BANDS)
    assert together.hour_1.target_75.central == 12


def test_unsteady_power_earns_nothing():
    assert accumulate([flight("a", block(60, 75, steady=False))], BANDS).hour_1.target_75.central == 0


def test_high_counts_as_75_and_climb_power_does_not():
    assert accumulate([flight("a", block(60, 82))], BANDS).hour_1.met
    assert not accumulate([flight("a", block(60, 95))], BANDS).hour_1.met


def test_ground_minutes_are_the_longest_session_of_the_first_two_hours():
    flights = [FlightPower("g", 0, 0, 24), flight("a", block(60, 75), ground=8), flight("b", *hour_2(), ground=9)]
    late = flight("c", block(60, 75), ground=40)
    credit = accumulate([*flights, late], BANDS)
    assert (credit.ground_session_first_two_min, credit.ground_session_flight) == (24, "g")


def test_later_share_and_alternation():
    first = [flight("a", block(60, 75)), flight("b", *hour_2())]
    later = flight("c", block(30, 75), block(30, 65), block(30, 75), block(30, 70))
    credit = accumulate([*first, later], BANDS)
    assert credit.later_share == pytest.approx(0.75)
    assert credit.later_changes_per_h == pytest.approx(1.5)


def test_run_hours_of_the_basis_clock_decide_the_cap():
    slow_clock = FlightPower("a", 1, 125, 5, (block(125, 50),), run_h=1.9)
    assert accumulate([slow_clock], BANDS).hour_1.ended is None
    assert accumulate([flight("a", block(125, 50))], BANDS).hour_1.ended == "cap"


@pytest.mark.parametrize(
    ("flights", "tells"),
    [
        ([flight("a", block(0, 75), airborne=10.0)], "flight a"),
        ([flight("a", block(60, 75), airborne=40.0)], "60 min in 40"),
        ([FlightPower("a", 1, -5, 0)], "below 0"),
    ],
)
def test_impossible_minutes_are_refused(flights, tells):
    with pytest.raises(OutOfRange, match=tells):
        accumulate(flights, BANDS)


def test_unknown_band_and_caps_out_of_order_are_refused():
    with pytest.raises(BadQuantity, match="75 or 65"):
        accumulate([flight("a", BlockPower(20, stated_band=70))], BANDS)
    with pytest.raises(OutOfRange, match="stage caps"):
        accumulate([], BANDS, cap_hour_1_h=4, cap_hour_2_h=3)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.lists(
        st.lists(st.tuples(st.floats(1, 70), st.one_of(st.none(), st.floats(40, 95))), min_size=1, max_size=5),
        max_size=6,
    )
)
def test_every_airborne_minute_lands_in_exactly_one_stage(log):
    flights = [
        FlightPower(str(order), order, sum(m for m, _ in blocks), 5, tuple(block(m, p) for m, p in blocks))
        for order, blocks in enumerate(log)
    ]
    credit = accumulate(flights, BANDS)
    stages = (credit.hour_1, credit.hour_2, credit.later)
    assert sum(s.airborne_min for s in stages) == pytest.approx(sum(f.airborne_min for f in flights), abs=1e-4)
    for stage in stages:
        for minutes in (stage.target_75, stage.target_65):
            assert minutes.least <= minutes.central + 1e-6 <= minutes.most + 2e-6
            assert minutes.stated + minutes.measured == pytest.approx(minutes.central, abs=1e-6)


@pytest.mark.parametrize(
    ("pct", "label"),
    [
        (59.9, "light"), (60, "between"), (61.9, "between"), (62, "target-65"), (68, "target-65"), (68.1, "between"),
        (71.9, "between"), (72, "target-75"), (78, "target-75"), (78.1, "high"), (85, "high"), (85.1, "climb"),
    ],
)  # fmt: skip
def test_labels_at_both_sides_of_each_edge(pct, label):
    assert classify(pct, BANDS) == label


@pytest.mark.parametrize(
    "plan",
    [
        {},
        {"credit": {"75": [72, 85]}},
        {"credit": {"75": [72, 85], "65": [62]}},
        {"credit": {"75": [66, 85], "65": [62, 68]}},
        {"credit": {"75": [72, 85], "65": [62, 68]}, "low": 64},
    ],
)
def test_bands_that_are_missing_or_overlap_are_refused(plan):
    with pytest.raises((BadQuantity, OutOfRange), match="band"):
        Bands.from_plan(plan)


def test_one_function_makes_the_schedule_from_the_plans_bands():
    bands = Bands.from_plan({"credit": {"75": [72, 85], "65": [62, 68]}, "low": 60})
    first, second = (schedule(bands, phase, cht_limit_degf=460) for phase in ("hour1", "hour2"))
    assert first["constant"] is True
    assert first["bands"] == [75]
    assert "block_min" not in first
    assert (second["block_min"], second["block_tol_min"], second["tol"], second["low"]) == (15, 3, 3.0, 60.0)
    assert schedule(bands, "later", cht_limit_degf=460)["block_min"] == 30
    assert second["credit"] == {"75": [72.0, 85.0], "65": [62.0, 68.0]}
