"""The analysis answers whatever channels there are, however short or odd the recording is; it never raises."""

import dataclasses
import itertools
import json
import math

import numpy as np
import pytest

from breakin.calc.recording import EngineSpec, analyse_flight, power_series
from breakin.calc.recording.result import as_json
from tests.calc.recording.flown import SCHEDULE, Samples, flight, spec

SPECS = {"1": EngineSpec.from_dict(spec())}
PARTS = ("rpm_", "map_", "ff_", "cht_", "egt_", "oat", "alt_", "ias_")


@pytest.fixture(scope="module")
def coarse():
    return flight(step_s=6).samples


def told(flight_result):
    """JSON without NaN or infinity, which no JSON column takes."""
    text = json.dumps(as_json(flight_result), allow_nan=False)
    assert text
    for engine in flight_result.engines.values():
        for span in engine.minutes.values():
            assert 0 <= span.least <= span.central <= span.most or span.central == 0
        for piece in engine.pieces:
            assert piece.t1 >= piece.t0
            assert piece.pct is None or math.isfinite(piece.pct)
    return flight_result


SOME = [c for n in (0, 1, 2, 6, 7, 8) for c in itertools.combinations(PARTS, n)]


@pytest.mark.parametrize("missing", SOME, ids="-".join)
def test_any_channels_may_be_missing(coarse, missing):
    got = told(analyse_flight(coarse.without(*missing), SPECS, SCHEDULE))
    engine = got.engines["1"]
    by_chart = "rpm_" not in missing and "map_" not in missing
    knows_power = by_chart or "ff_" not in missing
    flown = any(piece.pct is not None for piece in engine.pieces)
    assert flown == (knows_power and bool(engine.pieces))
    if not {"alt_", "ias_"} <= set(missing):
        assert 70 < engine.airborne_min < 80
    assert (engine.takeoff.fuel_flow_gph is None) or "ff_" not in missing


@pytest.mark.parametrize(
    "name", ["rpm_1", "map_1_inhg", "ff_1_gph", "cht_1_1_degf", "egt_1_1_degf", "oat_degf", "alt_ft"]
)
@pytest.mark.parametrize("value", [np.nan, np.inf, -999.0, 1e12])
def test_a_channel_without_sense_is_as_one_that_is_missing(coarse, name, value):
    told(analyse_flight(coarse.changed(**{name: np.full(len(coarse.t), value)}), SPECS, SCHEDULE))


@pytest.mark.parametrize("rows", [0, 1, 2, 3, 5, 20])
def test_very_short_recordings(coarse, rows):
    short = Samples({name: v[300 : 300 + rows] for name, v in coarse.columns.items()}, coarse.t[300 : 300 + rows], 6.0)
    told(analyse_flight(short, SPECS, SCHEDULE))
    assert len(power_series(short, SPECS, SCHEDULE)["1"][0]) == rows


@pytest.mark.parametrize(("first", "last"), list(itertools.pairwise(range(0, 5400, 180))))
def test_any_stretch_of_a_flight_can_be_a_recording(first, last):
    told(analyse_flight(flight().samples.only(first, last), SPECS, SCHEDULE))


def test_an_engine_that_was_never_started():
    got = told(analyse_flight(flight().samples.only(0, 25), SPECS, SCHEDULE))
    assert got.events == {}
    assert got.engines["1"].run_min == 0
    assert got.engines["1"].airborne_min == 0


def test_a_ground_run_has_minutes_on_the_ground_and_no_pieces():
    got = told(analyse_flight(flight().samples.only(0, 400), SPECS, SCHEDULE))
    engine = got.engines["1"]
    assert set(got.events) == {"engine_start", "runup_start", "runup_end"}
    assert engine.pieces == ()
    assert engine.airborne_min == 0
    assert engine.run_min == pytest.approx(370 / 60, abs=0.1)
    assert engine.minutes["75"].most == 0
    assert any("did not leave the ground" in note for note in got.notes)


def test_an_aborted_take_off_is_no_flight():
    samples = flight().samples
    t = samples.t
    columns = {name: values[:600].copy() for name, values in samples.columns.items()}
    columns["alt_ft"][:] = 1200
    columns["ias_kt"] = np.interp(t[:600], [420, 440, 455], [0, 45, 0])
    columns["rpm_1"][440:] = 1000
    columns["map_1_inhg"][440:] = 12
    got = told(analyse_flight(Samples(columns, t[:600], 1.0), SPECS, SCHEDULE))
    assert got.engines["1"].airborne_min == 0
    assert "liftoff" not in got.events


def test_a_recording_that_begins_in_the_air_and_one_that_ends_there():
    late = told(analyse_flight(flight().samples.only(1500, 5300), SPECS, SCHEDULE))
    assert "liftoff" not in late.events
    assert late.engines["1"].ground_before_min is None
    assert late.engines["1"].airborne_min == pytest.approx((5000 - 1500) / 60, abs=0.3)
    assert any("began in the air" in note for note in late.notes)
    early = told(analyse_flight(flight().samples.only(0, 3000), SPECS, SCHEDULE))
    assert "touchdown" not in early.events
    assert early.engines["1"].ground_after_min is None
    assert early.engines["1"].airborne_min == pytest.approx((3000 - 447) / 60, abs=0.3)


def test_only_the_right_engine_can_be_recorded(coarse):
    right = flight(step_s=6, side="2").samples
    got = told(analyse_flight(right, {"2": EngineSpec.from_dict(spec())}, SCHEDULE))
    assert set(got.engines) == {"2"}
    assert got.split_pct is None
    # An engine that the file says nothing of is not made up.
    other = told(analyse_flight(right, SPECS, SCHEDULE)).engines["1"]
    assert all(piece.pct is None for piece in other.pieces)


def test_a_gap_in_the_middle_counts_as_time_flown():
    samples = flight().samples
    keep = (samples.t < 2000) | (samples.t > 2300)
    gap = Samples({name: v[keep] for name, v in samples.columns.items()}, samples.t[keep], 1.0)
    whole, cut = (analyse_flight(one, SPECS, SCHEDULE).engines["1"] for one in (samples, gap))
    assert cut.airborne_min == pytest.approx(whole.airborne_min, abs=0.1)
    assert cut.minutes["75"].central == pytest.approx(whole.minutes["75"].central, abs=0.3)


def test_a_type_sheet_with_hardly_anything_on_it(coarse):
    bare = EngineSpec.from_dict({})
    engine = told(analyse_flight(coarse, {"1": bare}, SCHEDULE)).engines["1"]
    assert all(piece.pct is None for piece in engine.pieces)
    assert engine.cylinders == 4
    fuel_only = EngineSpec.from_dict({"rated_hp": 200})
    engine = told(analyse_flight(coarse, {"1": fuel_only}, SCHEDULE)).engines["1"]
    assert any(piece.pct for piece in engine.pieces)
    assert any("0.46" in note for note in engine.notes)


def test_a_single_head_probe_is_taken_as_it_is(coarse):
    one = coarse.without("cht_1_2", "cht_1_3", "cht_1_4")
    engine = told(analyse_flight(one, SPECS, SCHEDULE)).engines["1"]
    assert len(engine.cht_climb_peak_degf) == 1
    assert engine.hot_cylinder is None


def test_results_are_frozen():
    got = analyse_flight(flight().samples.only(0, 25), SPECS, SCHEDULE)
    with pytest.raises(dataclasses.FrozenInstanceError):
        got.sample_s = 2.0  # type: ignore[misc]
