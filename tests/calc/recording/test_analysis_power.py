"""Percent power of a recording: two ways, put together by their doubt, and which instrument is wrong."""

import numpy as np
import pytest

from breakin.calc.chart import Chart
from breakin.calc.percent import percent_power
from breakin.calc.recording import EngineSpec, analyse_flight
from breakin.calc.recording.mixture import PEAK_OVER_BEST, power_of_mixture
from breakin.calc.recording.spec import Plan
from tests.calc.recording.flown import RATED_HP, SCHEDULE, flight, spec

SPECS = {"1": EngineSpec.from_dict(spec())}


def analysed(samples, **more):
    specs = {"1": EngineSpec.from_dict(spec(**more))} if more else SPECS
    return analyse_flight(samples, specs, SCHEDULE).engines["1"]


def steady(engine, band="75"):
    return next(one for one in engine.pieces if one.steady and (not band or one.band == band))


def true(flown, piece):
    return flown.pct[int(piece.t0) : int(piece.t1)].mean()


def test_a_typed_reading_and_a_recording_go_by_the_same_chart():
    # Best-power mixture, so that nothing but the chart is compared.
    piece = steady(analysed(flight(leaned=True).samples), "65")
    chart = SPECS["1"].chart
    assert chart is not None
    typed = percent_power(
        chart,
        rpm=piece.rpm,
        map_inhg=piece.map_inhg,
        pressure_altitude_ft=piece.pressure_altitude_ft,
        oat_degf=piece.oat_degf,
    )
    assert piece.chart_pct == pytest.approx(typed.pct, abs=0.15)


def test_both_powers_are_there_and_agree_on_a_good_engine():
    flown = flight()
    engine = analysed(flown.samples)
    piece = steady(engine)
    assert piece.chart_pct == pytest.approx(true(flown, piece), abs=0.5)
    assert piece.fuel_pct == pytest.approx(true(flown, piece), abs=1.2)
    assert engine.disagree == ()
    assert engine.pieces_apart == 0
    assert engine.chart_minus_fuel_pct == pytest.approx(0, abs=1)
    assert "manifold pressure and engine speed" in piece.method
    assert "fuel flow with a mixture factor agrees within" in piece.method


def test_lean_of_peak_power_falls_although_manifold_pressure_does_not():
    flown = flight(lean_of_peak=True)
    engine = analysed(flown.samples)
    piece = next(one for one in engine.pieces if one.steady)
    after = flown.pct[1400:2600].mean()
    assert after < 65
    pct = analyse_flight(flown.samples, SPECS, SCHEDULE).engines["1"].pieces
    long = max(pct, key=lambda one: one.t1 - one.t0)
    assert long.pct == pytest.approx(true(flown, long), abs=1.5)
    assert piece.pct == pytest.approx(true(flown, piece), abs=1.5)


def test_lean_of_peak_is_told_by_exhaust_and_heads_where_fuel_flow_is_missing():
    flown = flight(lean_of_peak=True)
    engine = analysed(flown.samples.without("ff_"))
    assert any("lean of peak" in note for note in engine.notes)
    long = max(engine.pieces, key=lambda one: one.t1 - one.t0)
    assert long.pct == pytest.approx(true(flown, long), abs=3)
    # Leaned and made rich again is not that.
    assert not any("lean of peak" in note for note in analysed(flight().samples.without("ff_")).notes)


@pytest.mark.parametrize("bias", [-2.2, 2.0])
def test_a_biased_manifold_pressure_is_found_by_the_static_check_named_and_put_right(bias):
    flown = flight(map_bias=bias)
    engine = analysed(flown.samples)
    assert engine.disagree == ("manifold_pressure",)
    assert "engine stopped" in engine.suspect
    assert engine.takeoff.static_map_error_inhg == pytest.approx(bias, abs=0.1)
    piece = next(one for one in engine.pieces if one.steady)
    assert piece.pct == pytest.approx(true(flown, piece), abs=1.5)
    assert any("corrected" in note for note in engine.notes)


@pytest.mark.parametrize("factor", [0.82, 1.2])
def test_a_biased_fuel_flow_is_named_where_manifold_pressure_was_right_with_the_engine_stopped(factor):
    flown = flight(fuel_factor=factor)
    engine = analysed(flown.samples)
    assert engine.disagree == ("fuel_flow",)
    assert "manifold pressure was right" in engine.suspect
    piece = steady(engine, "")
    assert piece.pct == pytest.approx(true(flown, piece), abs=1.0)


def test_without_a_static_check_nobody_says_which_of_the_two_is_wrong():
    samples = flight(fuel_factor=0.8).samples
    no_stop = samples.only(100, 5150)
    engine = analysed(no_stop)
    assert set(engine.disagree) == {"fuel_flow", "manifold_pressure"}
    assert engine.suspect == ""
    wide, usual = steady(engine, ""), steady(analysed(flight().samples), "")
    assert wide.sigma > 3 * usual.sigma


def test_the_static_check_waits_until_the_manifold_has_filled():
    # Nothing before the start, and a few seconds after the stop.
    samples = flight(map_bias=0.2).samples.only(100, 5218)
    assert analysed(samples).takeoff.static_map_error_inhg == pytest.approx(0.2, abs=0.3)


def test_a_gauge_known_to_be_off_is_put_right_without_being_called_wrong():
    flown = flight(map_bias=1.5)
    engine = analysed(flown.samples, map_error_inhg=1.5)
    assert engine.disagree == ()
    assert steady(engine).pct == pytest.approx(true(flown, steady(engine)), abs=1)


def test_power_from_fuel_flow_alone_is_less_certain_and_says_so():
    flown = flight()
    engine = analysed(flown.samples.without("map_"))
    piece = next(one for one in engine.pieces if one.phase == "cruise" and one.minutes > 20)
    assert piece.chart_pct is None
    assert piece.pct == pytest.approx(true(flown, piece), abs=3)
    assert piece.sigma > steady(analysed(flown.samples)).sigma
    assert engine.method.startswith("power by fuel flow")


def test_without_chart_and_fuel_power_is_not_known_and_nothing_is_made_up():
    engine = analysed(flight().samples.without("map_", "ff_"))
    assert all(one.pct is None and one.band == "" and not one.undecided for one in engine.pieces)
    assert "75" not in engine.minutes
    assert "cannot be told" in engine.method


def test_the_cold_engine_stands_in_for_a_missing_air_temperature():
    flown = flight(oat_above_standard=35.0)
    engine = analysed(flown.samples.without("oat"))
    piece = next(one for one in engine.pieces if one.steady)
    assert piece.pct == pytest.approx(true(flown, piece), abs=1.0)
    assert any("cold exhaust" in note for note in engine.notes)
    # With the exhaust missing too only a standard day is left: power comes out too high on a hot day, and is doubted.
    blind = analysed(flown.samples.without("oat", "egt"))
    other = next(one for one in blind.pieces if one.steady)
    assert other.pct > true(flown, other) + 1.5
    assert other.sigma > piece.sigma + 0.3
    assert any("standard day" in note for note in blind.notes)


def test_the_stopped_engine_and_the_cooling_air_stand_in_for_a_missing_altitude():
    flown = flight()
    engine = analysed(flown.samples.without("alt"))
    piece = next(one for one in engine.pieces if one.steady)
    assert piece.pct == pytest.approx(true(flown, piece), abs=1.0)
    assert any("Altitude was not recorded" in note for note in engine.notes)


FIXED_PITCH = {
    "points": [
        {"pressure_altitude_ft": altitude, "rpm": rpm, "pct": pct}
        for altitude, rpm, pct in ((2000, 2500, 73), (6000, 2500, 65), (2000, 2300, 57), (6000, 2300, 51))
    ]
}


def test_a_fixed_pitch_engine_without_manifold_pressure_goes_by_speed_and_density():
    engine = analysed(flight().samples.without("map_"), fixed_pitch=FIXED_PITCH, chart_sea_level=None)
    piece = next(one for one in engine.pieces if one.phase == "cruise" and one.minutes > 20)
    chart = Chart.from_dict(
        {"kind": "fixed_pitch", "source": "test", "revision": "1", **FIXED_PITCH}, rated_hp=RATED_HP
    )
    typed = percent_power(
        chart,
        rpm=piece.rpm,
        map_inhg=None,
        pressure_altitude_ft=piece.pressure_altitude_ft,
        oat_degf=piece.oat_degf,
    )
    # The propeller takes what its speed says: leaning does not come in once more.
    assert piece.chart_pct == pytest.approx(typed.pct, abs=0.3)
    assert "engine speed and density" in engine.method


def test_a_turbocharged_chart_holds_on_a_standard_day_up_to_its_critical_altitude():
    flown = flight(oat_above_standard=0.0)
    held = analysed(flown.samples, turbo=True, critical_altitude_ft=16000.0)
    piece = max(held.pieces, key=lambda one: one.t1 - one.t0)
    sea_level = 100 / 200 * 200 * (piece.rpm / 2700) ** 0.9 * (piece.map_inhg - 5.0) / 23.8
    assert piece.chart_pct == pytest.approx(sea_level, abs=0.6)
    # With nothing but the sea-level chart, air colder than its 59 degF is denser at the same pressure.
    alone = analysed(flown.samples, turbo=True)
    assert alone.pieces[0].chart_pct is not None
    other = max(alone.pieces, key=lambda one: one.t1 - one.t0)
    assert other.chart_pct == pytest.approx(sea_level * np.sqrt(518.67 / (other.oat_degf + 459.67)), abs=0.6)
    assert other.sigma > piece.sigma


@pytest.mark.parametrize(("mixture", "power"), [(1.0, 1.0), (PEAK_OVER_BEST, 0.965), (0.9, 0.971), (1.12, 0.987)])
def test_power_falls_from_best_power_on_both_sides(mixture, power):
    # About 96 % at peak exhaust temperature: common practice, no source.
    assert float(power_of_mixture(np.asarray(mixture))) == pytest.approx(power, abs=0.002)


def test_leaner_than_peak_power_follows_the_fuel():
    lean = np.asarray([0.80, 0.72, 0.64])
    assert np.ptp(power_of_mixture(lean) / lean) < 1e-9
    around = np.asarray([0.8094, 0.8095, 0.8096])
    assert np.ptp(np.diff(power_of_mixture(around))) < 1e-6


def test_exact_credit_bands_go_before_the_tolerance():
    plan = Plan.from_dict({"tol": 3.0, "credit": {"75": [72, 85], "65": [62, 68]}, "low": 60})
    assert plan.band_of(84.0) == "75"
    assert Plan.from_dict({"tol": 3.0, "low": 60}).band_of(84.0) == ""
    assert plan.edge_distance(71.0) == 1.0
