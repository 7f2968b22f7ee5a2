"""Probes that cannot be believed, head temperatures, and leaning to the first peak."""

import numpy as np
import pytest

from breakin.calc.recording import EngineSpec, analyse_flight
from tests.calc.recording.flown import LEAN_S, SCHEDULE, flight, spec

SPECS = {"1": EngineSpec.from_dict(spec())}


def analysed(samples):
    return analyse_flight(samples, SPECS, SCHEDULE).engines["1"]


def broken(samples, name, change):
    values = samples.columns[name].copy()
    change(values)
    return analysed(samples.changed(**{name: values}))


@pytest.fixture(scope="module")
def samples():
    return flight().samples


@pytest.fixture(scope="module")
def good(samples):
    return analysed(samples)


def test_a_good_engine_has_no_bad_probe(good):
    assert good.bad_sensors == ()
    assert None not in good.cht_climb_peak_degf + good.cht_turnover_s + good.cht_drop_max_degf_min


@pytest.mark.parametrize("shows", [-40.0, 999.0, np.nan])
@pytest.mark.parametrize("begins", [0, 2000])
def test_an_open_head_probe_is_rejected_and_its_figures_are_not_known(samples, shows, begins):
    def change(values):
        values[begins:] = shows

    engine = broken(samples, "cht_1_3_degf", change)
    assert [one.sensor for one in engine.bad_sensors] == ["cht3"]
    assert engine.cht_climb_peak_degf[2] is None
    assert engine.cht_turnover_s[2] is None
    assert engine.cht_drop_max_degf_min[2] is None
    assert None not in engine.cht_climb_peak_degf[:2]


@pytest.mark.parametrize("name", ["cht_1_2_degf", "egt_1_4_degf"])
def test_a_probe_that_stands_still_while_its_siblings_move_is_stuck(samples, name):
    def change(values):
        values[2000:] = values[2000]

    engine = broken(samples, name, change)
    assert [one.sensor for one in engine.bad_sensors] == [f"{name[:3]}{name[6]}"]
    assert "stuck" in engine.bad_sensors[0].why


def test_a_head_that_stands_still_in_steady_cruise_with_its_siblings_is_not_stuck(samples):
    def change(values):
        values[1800:2600] = np.median(values[1800:2600])

    assert broken(samples, "cht_1_2_degf", change).bad_sensors == ()


@pytest.mark.parametrize(("name", "far"), [("cht_1_1_degf", 60.0), ("egt_1_2_degf", -300.0)])
def test_a_probe_that_jumps_to_and_fro_is_rejected(samples, name, far):
    def change(values):
        values[2000:4000:250] += far

    assert [one.sensor for one in broken(samples, name, change).bad_sensors] == [f"{name[:3]}{name[6]}"]


def test_one_wild_value_does_not_condemn_a_probe(samples, good):
    def change(values):
        values[2000] += 80

    engine = broken(samples, "cht_1_1_degf", change)
    assert engine.bad_sensors == ()
    assert engine.cht_max_degf == good.cht_max_degf


@pytest.mark.parametrize(("name", "far"), [("cht_1_1_degf", 40.0), ("egt_1_2_degf", -150.0)])
def test_a_probe_that_jumps_once_and_stays_there_is_rejected(samples, name, far):
    def change(values):
        values[2500:] += far

    engine = broken(samples, name, change)
    assert [one.sensor for one in engine.bad_sensors] == [f"{name[:3]}{name[6]}"]
    assert "stayed there" in engine.bad_sensors[0].why


def test_all_heads_together_falling_at_once_condemns_none(samples):
    columns = {name: values.copy() for name, values in samples.columns.items() if name.startswith("cht")}
    for values in columns.values():
        values[2500:] += 40
    assert analysed(samples.changed(**columns)).bad_sensors == ()


def test_climb_peak_and_turn_over_are_those_of_the_metal_not_of_the_noise(good):
    quiet = flight(seed=9)
    again = analysed(quiet.samples)
    for one, other in zip(good.cht_climb_peak_degf, again.cht_climb_peak_degf, strict=True):
        assert one == pytest.approx(other, abs=0.7)
    for one, other in zip(good.cht_turnover_s, again.cht_turnover_s, strict=True):
        assert one == pytest.approx(other, abs=35)


@pytest.mark.parametrize("step_s", [1, 2, 6])
def test_a_head_that_loses_50_degf_in_a_minute_reads_50_degf_a_minute(step_s):
    # The line itself is published (maker's site, SI 1094D: 50 degF a minute at most).
    made = flight(step_s=step_s)
    t = made.samples.t
    falling = np.interp(t, [0, 2000, 2120, 6000], [300, 400, 300, 300])
    columns = {f"cht_1_{number}_degf": falling + number for number in range(1, 5)}
    engine = analysed(made.samples.changed(**columns))
    assert engine.cht_drop_max_degf_min == pytest.approx((50.0,) * 4, abs=1.2)


def test_heads_at_every_thousand_feet_of_the_first_climb(good):
    assert [feet for feet, _hot in good.climb_cht_degf] == [1000.0, 2000.0, 3000.0]
    assert good.cht_falling_by_3000 in ("yes", "no")
    low = analysed(flight().samples.without("alt"))
    assert low.climb_cht_degf == ()
    assert low.cht_falling_by_3000 == "not observed"


def test_the_hot_cylinder_is_named_against_the_mean_of_its_mates(samples):
    def change(values):
        values[:] += 30

    number, over, degf = broken(samples, "cht_1_2_degf", change).hot_cylinder
    assert number == 2
    # The others are 6 degF apart; cylinder 2 is 4 degF under their mean by itself.
    assert over == pytest.approx(30 - 4, abs=1)
    assert degf == pytest.approx(np.mean(samples.columns["cht_1_2_degf"][1150:4490]) + 30, abs=4)


def test_leaning_to_the_first_peak_is_found_with_its_cylinder(good):
    assert len(good.leanings) == 1
    assert good.leanings[0].first_cylinder == 1
    assert LEAN_S[0] < good.leanings[0].t <= LEAN_S[1]


@pytest.mark.parametrize("first", [2, 3, 4])
def test_the_leanest_cylinder_peaks_first_whichever_it_is(samples, first):
    names = [f"egt_1_{number}_degf" for number in range(1, 5)]
    swapped = dict(zip(names, (samples.columns[name] for name in names), strict=True))
    swapped[names[0]], swapped[names[first - 1]] = swapped[names[first - 1]], swapped[names[0]]
    assert [one.first_cylinder for one in analysed(samples.changed(**swapped)).leanings] == [first]


def test_leaning_is_found_by_the_exhaust_alone_where_fuel_flow_is_missing(samples):
    assert [one.first_cylinder for one in analysed(samples.without("ff_")).leanings] == [1]


def test_pulled_through_to_lean_of_peak_it_is_found_too():
    leanings = analysed(flight(lean_of_peak=True).samples).leanings
    assert [one.first_cylinder for one in leanings] == [1]


def test_level_off_and_changes_of_power_are_no_leaning():
    assert analysed(flight(leaned=False).samples).leanings == ()


def test_leaned_but_not_to_the_peak_is_no_first_peak():
    # Just richer than where the leanest of the four has its peak.
    assert analysed(flight(leanest=0.935).samples).leanings == ()
    assert len(analysed(flight(leanest=0.880).samples).leanings) == 1


def test_an_exhaust_that_rises_in_one_step_is_a_change_of_power_not_of_mixture():
    samples = flight(leaned=False).samples
    t = samples.t
    step = 90 * (1 - np.exp(-np.maximum(t - 1500, 0) / 4)) - 90 * (1 - np.exp(-np.maximum(t - 1620, 0) / 4))
    slow = np.interp(t, [1400, 1500, 1560, 1620], [0, 90, 90, 0])
    less = np.interp(t, [1495, 1500, 1618, 1624], [1, 0.93, 0.93, 1])
    for way, found in ((step, 0), (slow, 1)):
        exhaust = {name: v + way for name, v in samples.columns.items() if name.startswith("egt")}
        got = analysed(samples.changed(ff_1_gph=samples.columns["ff_1_gph"] * less, **exhaust)).leanings
        assert len(got) == found


def test_without_exhaust_probes_no_leaning_is_claimed(samples):
    assert analysed(samples.without("egt")).leanings == ()
