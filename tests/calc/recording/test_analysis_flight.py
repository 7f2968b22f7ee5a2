"""One recorded flight from end to end: what happened when, the settings, minutes and plain figures."""

import itertools
import json

import numpy as np
import pytest

from breakin.calc.recording import EngineSpec, analyse_flight, power_series
from breakin.calc.recording.result import as_json, engine_flight_of
from tests.calc.recording.flown import END_S, EVENTS, SCHEDULE, flight, spec

SPECS = {"1": EngineSpec.from_dict(spec())}


@pytest.fixture(scope="module")
def flown():
    return flight()


@pytest.fixture(scope="module")
def engine(flown):
    return analyse_flight(flown.samples, SPECS, SCHEDULE).engines["1"]


@pytest.mark.parametrize(("step_s", "within_s"), [(1, 2.0), (3, 3.0), (6, 5.0)])
def test_events_are_found_to_the_second_or_to_half_a_step(step_s, within_s):
    got = analyse_flight(flight(step_s=step_s).samples, SPECS, SCHEDULE).events
    assert set(got) == set(EVENTS)
    for name, when in EVENTS.items():
        assert got[name] == pytest.approx(when, abs=within_s), name


def test_phases_follow_each_other_without_holes(flown):
    phases = analyse_flight(flown.samples, SPECS, SCHEDULE).phases
    assert phases[0].t0 == 0
    assert phases[-1].t1 == END_S
    assert all(one.t1 == other.t0 for one, other in itertools.pairwise(phases))
    assert [one.phase for one in phases] == [
        "off", "start", "runup", "taxi", "takeoff", "climb", "cruise", "descent", "landing", "taxi", "off",
    ]  # fmt: skip


def test_pieces_cover_the_airborne_time_without_holes(engine):
    pieces = engine.pieces
    assert pieces[0].t0 == pytest.approx(EVENTS["liftoff"], abs=2)
    assert pieces[-1].t1 == pytest.approx(EVENTS["touchdown"], abs=2)
    assert all(one.t1 == other.t0 for one, other in itertools.pairwise(pieces))
    assert sum(one.minutes for one in pieces) == pytest.approx(engine.airborne_min, abs=0.05)


def test_two_settings_are_two_steady_pieces_and_leaning_splits_neither(engine):
    steady = [one for one in engine.pieces if one.steady]
    assert [one.band for one in steady] == ["75", "65"]
    assert steady[0].t0 == pytest.approx(900, abs=12)
    assert steady[0].t1 == pytest.approx(2700, abs=5)
    assert engine.changes == 1


def test_percent_power_row_by_row_is_what_was_flown(flown):
    pct, sigma = power_series(flown.samples, SPECS, SCHEDULE)["1"]
    cruise = slice(1300, 4490)
    assert np.abs(pct - flown.pct)[cruise].mean() < 0.5
    assert ((sigma[cruise] > 0.5) & (sigma[cruise] < 3)).all()
    assert (pct[:25] == 0).all()


def test_minutes_in_the_bands_and_their_range(flown, engine):
    second = np.arange(len(flown.pct))
    air = (second >= EVENTS["liftoff"]) & (second < EVENTS["touchdown"])
    for name, low, high in (("75", 72, 85), ("65", 62, 68), ("light", -1, 60)):
        true = (air & (flown.pct >= low) & (flown.pct <= high)).sum() / 60
        span = engine.minutes[name]
        assert span.central == pytest.approx(true, abs=0.6), name
        assert span.least <= true <= span.most, name
        assert span.least <= span.central <= span.most, name


def test_a_setting_far_from_any_edge_has_a_narrow_range_and_one_at_an_edge_a_wide_one():
    far = flight(settings=((900, 2580.0, 24.0),)).samples
    near = flight(settings=((900, 2340.0, 24.0),)).samples
    spans = [analyse_flight(one, SPECS, SCHEDULE).engines["1"].minutes["75"] for one in (far, near)]
    assert spans[0].most - spans[0].least < 4
    assert spans[1].most - spans[1].least > 40


def test_a_piece_whose_centre_lies_within_its_doubt_of_an_edge_is_undecided():
    at_edge = analyse_flight(flight(settings=((900, 2340.0, 24.0),)).samples, SPECS, SCHEDULE).engines["1"]
    clear = analyse_flight(flight(settings=((900, 2580.0, 24.0),)).samples, SPECS, SCHEDULE).engines["1"]
    assert [one.undecided for one in at_edge.pieces if one.steady] == [True]
    assert [one.undecided for one in clear.pieces if one.steady] == [False]


def test_ground_and_airborne_minutes_add_up_to_the_run(engine):
    assert engine.run_min == pytest.approx((5200 - 30) / 60, abs=0.05)
    assert engine.ground_before_min == pytest.approx((447 - 30) / 60, abs=0.05)
    assert engine.ground_after_min == pytest.approx(200 / 60, abs=0.05)
    total = engine.airborne_min + engine.ground_before_min + engine.ground_after_min
    assert total == pytest.approx(engine.run_min, abs=0.01)
    assert engine.minutes["ground"].central == pytest.approx(engine.run_min - engine.airborne_min, abs=0.01)


def test_take_off_is_read_at_full_throttle_and_the_field_before_it(engine):
    takeoff = engine.takeoff
    assert takeoff.rpm == pytest.approx(2680, abs=5)
    assert takeoff.map_inhg == pytest.approx(0.965 * 28.63, abs=0.1)
    assert takeoff.pressure_altitude_ft == pytest.approx(1200, abs=5)
    assert takeoff.ambient_inhg == pytest.approx(28.65, abs=0.03)
    assert takeoff.static_map_error_inhg == pytest.approx(0, abs=0.05)
    assert takeoff.fuel_flow_gph == pytest.approx(16.35, abs=0.15)


def test_low_manifold_pressure_in_the_descent_counts_outside_the_last_five_minutes():
    settings = ((900, 2400.0, 24.0), (4400, 2400.0, 11.0))
    samples = flight(settings=settings).samples
    descent = samples.columns["map_1_inhg"].copy()
    descent[4400:5000] = 11.0
    low = analyse_flight(samples.changed(map_1_inhg=descent), SPECS, SCHEDULE).engines["1"].low_map_descent_min
    assert low == pytest.approx((5000 - 300 - 4400) / 60, abs=0.1)


def test_oil_and_turbine_figures(flown):
    turbine = np.where(flown.samples.t > 1000, 1500.0, 1000.0)
    more = {"1": EngineSpec.from_dict(spec(tit_limit_f=1490, altitude_cap_ft=5000, cht_watch_f=300))}
    engine = analyse_flight(flown.samples.changed(tit_1_degf=turbine), more, SCHEDULE).engines["1"]
    assert engine.tit_max_degf == 1500
    assert engine.tit_over_limit_min == pytest.approx((END_S - 1000) / 60, abs=0.1)
    assert engine.oil_press_min_psi == pytest.approx(63, abs=1.5)
    assert engine.oil_press_idle_psi == pytest.approx(38, abs=2)
    assert engine.above_cap_min == pytest.approx(30.3, abs=1)
    assert (engine.cht_over_watch_level_min or 0) > 20


def test_result_survives_json(engine):
    again = engine_flight_of(json.loads(json.dumps(as_json(engine))))
    assert again == engine


def test_split_is_engine_one_less_engine_two(flown):
    right = flight(side="2", settings=((900, 2400.0, 22.0), (2700, 2400.0, 19.0)), seed=4)
    both = flown.samples.changed(**{name: v for name, v in right.samples.columns.items() if "_2" in name})
    got = analyse_flight(both, {side: EngineSpec.from_dict(spec()) for side in "12"}, SCHEDULE)
    cruise = slice(900, 4500)
    assert got.split_pct == pytest.approx((flown.pct - right.pct)[cruise].mean(), abs=0.3)
    assert (got.split_over_min or 0) > 50
    assert set(got.engines) == {"1", "2"}


def test_nothing_is_brought_to_a_standard_day_without_air_temperature(flown, engine):
    assert all(len(one.cht_std_degf) == 4 for one in engine.pieces)
    # 20 degF warmer than standard: heads are 20 degF cooler on a standard day.
    steady = next(one for one in engine.pieces if one.steady)
    assert steady.cht_degf[0] - steady.cht_std_degf[0] == pytest.approx(20, abs=0.5)
    without = analyse_flight(flown.samples.without("oat"), SPECS, SCHEDULE).engines["1"]
    assert all(one.cht_std_degf == () for one in without.pieces)
    assert without.cht_cruise_std_degf == ()
