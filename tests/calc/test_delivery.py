"""The first two hours planned on paper: what fields, altitudes and the ferry would earn, and what would earn more.

The numbers asked for come from percent power and credit themselves, or from the rule on either side of its line.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from breakin.calc.atmosphere import standard_temperature_degf
from breakin.calc.chart import Chart
from breakin.calc.delivery import Delivery, can_have, deliver
from breakin.calc.delivery_flown import EXPECTED, HOT, STANDARD, PlannedEngine, PlannedFerry, PlannedHour
from breakin.calc.percent import max_percent_power
from breakin.calc.plan import Bands
from tests.calc.test_charts import FOLDER

RPM = 2500.0
HOME_FT = 620.0


def chart_of(name: str, hp: float) -> Chart:
    return Chart.from_dict(json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8")), rated_hp=hp)


NATURAL = PlannedEngine(chart_of("PL-6G", 300), RPM)
TURBO = PlannedEngine(chart_of("VRN-6T", 310), 2400.0, cap_ft=8000.0)
FIXED = PlannedEngine(chart_of("TAV-4C", 160), 2500.0)


def hours(field_ft: float = HOME_FT, altitude_ft: float = 3000.0, oat: float | None = None) -> list[PlannedHour]:
    return [PlannedHour(number, field_ft, altitude_ft, oat) for number in (1, 2)]


def planned(
    engine: PlannedEngine = NATURAL,
    ferry: PlannedFerry | None = None,
    flown: list[PlannedHour] | None = None,
) -> Delivery:
    return deliver(engine, flown or hours(), ferry, shop_field_ft=HOME_FT)


def changes(found: Delivery) -> dict[str, tuple[int, bool]]:
    return {advice.change: advice.outcome.rank for advice in found.advice}


class TestTheHours:
    def test_from_a_low_field_both_are_met_on_a_standard_and_on_a_hot_day_and_nothing_is_advised(self) -> None:
        found = planned()

        assert [name for name, _ in found.outcome.credits] == [STANDARD, HOT]
        assert found.outcome.met == (True, True)
        assert found.outcome.sure
        assert not found.advice
        assert found.ferry is None

    def test_the_power_is_that_of_percent_power_at_the_altitude_in_each_air(self) -> None:
        hour = planned(flown=hours(oat=80.0)).hours[0]

        off = 80.0 - standard_temperature_degf(HOME_FT)
        for had, above in zip(hour.had, (0.0, 36.0, off), strict=True):
            oat = standard_temperature_degf(3000.0) + above
            assert had.oat_degf == pytest.approx(oat)
            assert had.best == pytest.approx(
                max_percent_power(NATURAL.chart, pressure_altitude_ft=3000.0, oat_degf=oat, rpm=RPM)
            )
        assert [had.air.name for had in hour.had] == [STANDARD, HOT, EXPECTED]

    def test_75_percent_can_be_had_up_to_the_highest_altitude_and_no_higher(self) -> None:
        for had in planned().hours[0].had:
            assert had.reach.highest_ft is not None
            for feet, holds in ((-50.0, True), (50.0, False)):
                altitude = had.reach.highest_ft + feet
                best = max_percent_power(
                    NATURAL.chart, pressure_altitude_ft=altitude, oat_degf=had.air.at(altitude), rpm=RPM
                )
                assert (best >= 75.0) is holds

    def test_from_a_high_field_they_are_missed_and_the_shops_own_field_is_advised(self) -> None:
        found = planned(flown=hours(6480.0, 8500.0, 80.0))

        assert found.outcome.met == (False, False)
        assert changes(found)["shop field"] == (2, True)
        assert found.hours[0].instead is not None
        assert found.hours[0].instead.field_ft is not None
        assert found.hours[0].instead.field_ft < 6480.0

    def test_an_hour_that_is_only_planned_too_high_is_advised_to_be_flown_lower(self) -> None:
        found = planned(flown=hours(altitude_ft=9500.0))

        assert found.outcome.met == (False, False)
        lower = next(advice for advice in found.advice if advice.change == "lower hours")
        assert lower.outcome.rank == (2, True)
        assert lower.altitude_ft is not None
        tops = [had.reach.highest_ft for had in found.hours[0].had]
        assert lower.altitude_ft <= min(top for top in tops if top is not None)

    def test_an_altitude_below_the_lowest_sensible_one_is_said(self) -> None:
        low = planned(flown=hours(altitude_ft=2000.0)).hours[0]
        assert low.too_low
        assert not planned(flown=hours(altitude_ft=2120.0)).hours[0].too_low

    def test_above_the_altitude_for_cooling_75_percent_earns_nothing(self) -> None:
        assert planned(TURBO, flown=hours(altitude_ft=8000.0)).outcome.met == (True, True)
        above = planned(TURBO, flown=hours(altitude_ft=8500.0))
        assert above.hours[0].too_high
        assert above.outcome.met == (False, False)
        assert above.outcome.credits[0][1].hour_1.too_high_min > 0


def test_a_change_that_would_earn_no_more_is_not_advised() -> None:
    found = planned(ferry=PlannedFerry(30.0, 11_500.0, 0.0), flown=hours(altitude_ft=9500.0))
    assert changes(found) == {"lower hours": (2, True)}


class TestTheFerry:
    def test_flown_high_before_the_hours_it_uses_them_up(self) -> None:
        found = planned(ferry=PlannedFerry(240.0, 13_500.0, 0.0))

        assert found.outcome.met == (False, False)
        assert found.ferry is not None
        assert set(found.ferry.gives) == {"light"}
        assert found.ferry.climb_min == pytest.approx((13_500 - HOME_FT) / 500)
        assert found.ferry.cruise_min == pytest.approx(240 - found.ferry.climb_min)
        assert found.ferry.light_min[0] == pytest.approx(found.ferry.cruise_min - 10)
        assert min(credit.light_first_two_min for _, credit in found.outcome.credits) > 60

    def test_flown_high_between_them_it_costs_hour_2_alone(self) -> None:
        found = planned(ferry=PlannedFerry(240.0, 13_500.0, 1.0))

        assert found.outcome.met == (True, False)
        assert changes(found)["hours first"] == (2, True)

    def test_flown_high_after_both_it_costs_neither(self) -> None:
        found = planned(ferry=PlannedFerry(240.0, 13_500.0, 2.0))

        assert found.outcome.met == (True, True)
        assert not found.advice

    def test_flown_low_and_by_the_card_it_earns_both_hours_itself(self) -> None:
        assert planned(ferry=PlannedFerry(180.0, 3500.0, 0.0)).outcome.met == (True, True)
        high = planned(ferry=PlannedFerry(180.0, 11_500.0, 0.0))
        assert changes(high)["ferry low"] == (2, True)

    def test_an_hour_that_it_cuts_in_two_is_flown_in_two_parts(self) -> None:
        whole = planned(ferry=PlannedFerry(20.0, 3000.0, 0.0)).outcome.credits[0][1]
        cut = planned(ferry=PlannedFerry(20.0, 3000.0, 0.5)).outcome.credits[0][1]

        assert cut.hour_1.met
        assert len(cut.hour_1.flights) == 3  # half an hour, the ferry, and what is left of the sixty minutes
        assert len(whole.hour_1.flights) == 2
        assert cut.hour_1.target_75.central == pytest.approx(whole.hour_1.target_75.central)

    def test_it_leaves_from_the_field_of_the_last_hour_begun_before_it(self) -> None:
        first, second = PlannedHour(1, 620.0, 3000.0), PlannedHour(2, 2100.0, 4000.0)
        for after, field_ft in ((0.0, 620.0), (1.0, 620.0), (1.5, 2100.0), (2.0, 2100.0)):
            ferry = planned(ferry=PlannedFerry(60.0, 5100.0, after), flown=[first, second]).ferry
            assert ferry is not None
            assert ferry.climb_min == pytest.approx((5100.0 - field_ft) / 500), after

    def test_what_could_have_been_had_low_is_missed_and_what_could_not_is_not_achievable(self) -> None:
        missed = planned(ferry=PlannedFerry(240.0, 13_500.0, 0.0)).outcome.credits[0][1]
        assert (missed.first_two, missed.hour_1.unachievable_min) == ("missed", 0.0)
        high = planned(ferry=PlannedFerry(240.0, 13_500.0, 2.0), flown=hours(6480.0, 8500.0, 80.0))
        assert high.outcome.credits[0][1].first_two == "not achievable"

    def test_a_turbocharged_engine_makes_the_power_up_there_but_is_not_cooled(self) -> None:
        ferry = planned(TURBO, PlannedFerry(192.0, 15_500.0, 0.0))

        assert ferry.ferry is not None
        assert set(ferry.ferry.gives) == {"too high"}
        assert ferry.outcome.met == (False, False)
        assert ferry.ferry.light_min == (0.0, 0.0)

    def test_above_a_fixed_pitch_table_nothing_is_promised(self) -> None:
        ferry = planned(FIXED, PlannedFerry(120.0, 11_500.0, 2.0)).ferry

        assert ferry is not None
        assert {had.best for had in ferry.had} == {None}
        assert set(ferry.gives) == {"not known"}


class TestHowSure:
    @pytest.mark.parametrize(
        ("best", "said"),
        [(69.9, "no"), (70.1, "close"), (73.9, "close"), (74.1, "yes"), (None, "not known")],
    )
    def test_a_power_within_one_sigma_of_the_least_that_counts_is_too_close_to_say(
        self, best: float | None, said: str
    ) -> None:
        assert can_have(best, 72.0) == said

    def test_a_plan_whose_power_lies_at_the_edge_of_the_band_is_not_sure(self) -> None:
        top = planned().hours[0].had[1].reach.highest_ft
        assert top is not None
        near = planned(flown=hours(altitude_ft=top + 500.0))

        assert not near.outcome.sure
        assert near.advice, "a plan that is not sure is worth mending"


def test_the_bands_and_minutes_of_the_plan_decide() -> None:
    at = hours(altitude_ft=7000.0)
    strict = planned(flown=at)
    assert strict.outcome.met == (False, False)

    easy = replace(NATURAL, bands=Bands(upper=(66.0, 85.0), lower=(58.0, 64.0), low=55.0))
    assert planned(easy, flown=at).outcome.met[0]
    short = replace(NATURAL, hour_1=((30.0, "75"),))
    assert planned(short).outcome.met == (True, False), "hour 2's minutes make up for hour 1, and are missing there"
