"""The settings on the next-flight card: the verdict's own power, the other way round."""

import itertools
from typing import Any

import pytest

from breakin.calc.card import (
    Air,
    Instruments,
    achievable_percent,
    asked_rpm,
    column,
    day,
    days,
    instead,
    lowest_sensible_ft,
    reach,
    setting,
)
from breakin.calc.errors import OutOfRange
from breakin.calc.power import max_percent_power, percent_power
from tests.calc.test_charts import PRINTED, chart

STANDARD = Air("standard", 0.0)
PLANNED = {"TAV-4C": 2700, "TAV-4E": 2450, "VRN-6B": 2400, "VRN-6D": 2500, "PL-6G": 2500, "VRN-6T": 2400}


@pytest.mark.parametrize(("name", "rpm", "percent", "pressures"), PRINTED)
def test_the_card_says_the_printed_rows(name, rpm, percent, pressures):
    for altitude, pressure in zip((2000, 4000), pressures, strict=True):
        assert setting(chart(name), percent, altitude, STANDARD, rpm=rpm).map_inhg == pytest.approx(pressure, abs=0.1)


@pytest.mark.parametrize(
    ("altitude", "rpm", "percent"),
    [(2000, 2490, 75), (4000, 2560, 75), (6000, 2630, 75), (2000, 2370, 65), (4000, 2430, 65), (6000, 2490, 65)],
)
def test_the_card_of_a_fixed_pitch_propeller_says_the_printed_engine_speed(altitude, rpm, percent):
    said = setting(chart("TAV-4C"), percent, altitude, STANDARD, rpm=0)
    assert said.rpm == pytest.approx(rpm, abs=1)
    assert said.map_inhg is None


@pytest.mark.parametrize("name", PLANNED)
def test_what_the_card_says_is_credited_as_what_it_asked_for(name):
    fitted = chart(name)
    reads = Instruments(rpm=40.0, map_inhg=0.0 if fitted.kind == "fixed_pitch" else -0.6)
    said = [
        row
        for air in days(day(600.0, 81.0))
        for row in column(fitted, air, rpm=PLANNED[name], instruments=reads, cap_ft=8000.0).settings
    ]
    assert sum(row.rpm is not None for row in said) >= 12
    for row in said:
        if row.rpm is None:
            assert row.why
            continue
        flown = percent_power(
            fitted,
            rpm=row.rpm - reads.rpm,
            map_inhg=None if row.map_inhg is None else row.map_inhg - reads.map_inhg,
            pressure_altitude_ft=row.altitude_ft,
            oat_degf=row.oat_degf,
        )
        assert flown.pct == pytest.approx(row.pct, abs=0.1)


def known(value: Any) -> Any:
    """What the card is expected to know."""
    assert value is not None
    return value


def test_hotter_air_asks_for_more_manifold_pressure_and_more_power_for_more():
    fitted = chart("VRN-6D")
    by_heat = [known(setting(fitted, 65, 2000, Air("", by), rpm=2500).map_inhg) for by in (-36, -18, 0, 18, 36)]
    by_power = [known(setting(fitted, pct, 2000, STANDARD, rpm=2500).map_inhg) for pct in (60, 65, 70, 75)]
    for row in (by_heat, by_power):
        assert all(less < more for less, more in itertools.pairwise(row))


@pytest.mark.parametrize("name", ["TAV-4E", "VRN-6B", "VRN-6D", "PL-6G"])
def test_75_percent_is_had_to_between_4000_and_6000_ft_and_no_higher(name):
    fitted, rpm = chart(name), PLANNED[name]
    found = reach(fitted, 75, STANDARD, rpm=rpm)
    highest_ft = known(found.highest_ft)
    assert 4000 < highest_ft < 6000
    assert not found.capped
    for off, had in ((-5, True), (5, False)):
        best = max_percent_power(fitted, pressure_altitude_ft=highest_ft + off, oat_degf=None, rpm=rpm)
        assert (best > 75) is had
    cold, standard, hot = (reach(fitted, 75, air, rpm=rpm).highest_ft for air in days())
    assert known(cold) > known(standard) > (hot or 0)


def test_a_turbocharged_engine_is_held_to_the_altitude_cap():
    found = reach(chart("VRN-6T"), 75, STANDARD, rpm=2400, cap_ft=8000.0)
    assert (found.highest_ft, found.capped) == (8000.0, True)
    held = column(chart("VRN-6T"), STANDARD, rpm=2400, cap_ft=3000.0).settings
    assert {row.altitude_ft for row in held} == {2000.0, 3000.0}


def test_a_fixed_pitch_table_is_not_carried_above_its_last_row():
    found = reach(chart("TAV-4C"), 65, STANDARD, rpm=0)
    assert (found.highest_ft, found.capped) == (6000.0, True)


def test_what_lies_below_the_chart_is_refused_in_words():
    said = setting(chart("VRN-6D"), 5, 2000, STANDARD, rpm=2500)
    assert said.map_inhg is None
    assert "chart" in said.why


def test_a_high_hot_field_is_not_achievable_and_says_what_would_do():
    fitted, today = chart("VRN-6D"), day(6480.0, 88.0)
    found = known(instead(fitted, today, field_ft=6480.0, rpm=2500))
    assert found.best_pct < 72
    assert reach(fitted, 75, today, rpm=2500, lowest_ft=7980.0).highest_ft is None

    def best(altitude, oat, rpm):
        return max_percent_power(fitted, pressure_altitude_ft=altitude, oat_degf=oat, rpm=rpm)

    lower = found.field_ft + 1500.0
    assert best(lower, today.at(lower), 2500) == pytest.approx(72, abs=0.01)
    for remedy, had in (
        (found.rpm, lambda: best(7980.0, today.at(7980.0), found.rpm)),
        (found.oat_degf, lambda: best(7980.0, found.oat_degf, 2500)),
    ):
        assert remedy is None or had() == pytest.approx(72, abs=0.01)


def test_a_little_too_hot_is_mended_by_a_cooler_hour_or_more_engine_speed():
    fitted = chart("VRN-6D")
    top = known(reach(fitted, 72, STANDARD, rpm=2500).highest_ft) - 1500.0
    found = known(instead(fitted, Air("today", 9.0), field_ft=top, rpm=2500))
    assert found.oat_degf == pytest.approx(STANDARD.at(top + 1500.0), abs=0.1)
    assert 2500 < found.rpm <= 2700
    assert 0 < found.field_ft < top


def test_a_low_cool_field_needs_nothing_else():
    assert instead(chart("VRN-6D"), STANDARD, field_ft=600.0, rpm=2500) is None


def test_a_plan_off_the_chart_is_refused():
    with pytest.raises(OutOfRange, match="rpm"):
        reach(chart("VRN-6D"), 75, STANDARD, rpm=3500)


def test_a_fixed_pitch_propeller_may_turn_up_to_rated_whatever_rpm_the_plan_names():
    def best(name, rpm):
        return achievable_percent(chart(name), pressure_altitude_ft=5000.0, oat_degf=None, planned_rpm=rpm)

    assert setting(chart("TAV-4C"), 75, 5000, STANDARD, rpm=2000).rpm is not None
    assert best("TAV-4C", 2000) > 75
    assert best("TAV-4C", 2000) == best("TAV-4C", 2700)
    assert best("TAV-4E", 2300) < best("TAV-4E", 2700)


@pytest.mark.parametrize("name", PLANNED)
def test_where_the_verdict_says_achievable_the_card_has_a_setting_and_elsewhere_none(name):
    fitted, rpm = chart(name), PLANNED[name]
    seen = set()
    for altitude in (1000.0, 3000.0, 5000.0, 6000.0):
        for air in days(Air("today", 54.0)):
            best = achievable_percent(fitted, pressure_altitude_ft=altitude, oat_degf=air.at(altitude), planned_rpm=rpm)
            said = setting(fitted, 75, altitude, air, rpm=rpm)
            assert (best >= 75) is (said.rpm is not None), (altitude, air)
            seen.add(best >= 75)
    assert seen == {True} if name == "VRN-6T" else {True, False}


def test_rows_begin_1000_ft_above_the_field_and_the_highest_looks_from_1500_ft_above_it():
    fitted = chart("VRN-6D")

    def heights(field_ft):
        found = column(fitted, STANDARD, rpm=2500, percents=(65.0,), field_ft=field_ft)
        return found.reach[0].highest_ft, [row.altitude_ft for row in found.settings]

    highest, rows = heights(600.0)
    assert rows == [2000.0, 4000.0, highest]
    assert heights(1200.0)[1] == [4000.0, pytest.approx(highest)]
    assert heights(3500.0)[1] == [pytest.approx(highest)]
    assert lowest_sensible_ft(highest - 1499.0) > highest
    assert heights(highest - 1501.0)[0] == pytest.approx(highest)
    assert heights(highest - 1499.0) == (None, [])


def test_a_plan_without_an_engine_speed_asks_for_one_that_can_be_set_and_read():
    assert asked_rpm((None, 2450.0, 2300.0), 2700.0) == 2450.0
    assert [asked_rpm((), rated) for rated in (2575.0, 2700.0)] == [2400.0, 2500.0]
