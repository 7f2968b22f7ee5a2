import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.atmosphere import (
    density_altitude_ft,
    density_ratio,
    pressure_altitude_ft,
    standard_pressure_inhg,
    standard_temperature_degf,
)
from breakin.calc.errors import BadQuantity, MissingData, OutOfRange


def anything(value: Any) -> Any:
    """A value that the type checker would not let through."""
    return value


QUIET = settings(max_examples=60, deadline=None, derandomize=True)


def test_a_scalar_gives_a_float_and_an_array_an_array():
    assert isinstance(density_ratio(0.0, 59.0), float)
    assert density_ratio(np.array([0.0, 5000.0]), np.array([59.0, 41.17])).shape == (2,)
    assert density_ratio(np.array([]), np.array([])).shape == (0,)
    assert density_ratio(np.array([0.0, 5000.0]), anything(59.0)).shape == (2,)


def test_not_observed_stays_not_observed():
    assert math.isnan(density_ratio(5000.0, math.nan))
    assert np.isnan(density_ratio(np.array([math.nan, 0.0]), np.array([59.0, 59.0]))).tolist() == [True, False]


@pytest.mark.parametrize(
    ("call", "error", "tells"),
    [
        (lambda: density_ratio(40000.0, 59.0), OutOfRange, "pressure altitude: 40,000 ft"),
        (lambda: density_ratio(np.array([0.0, -3000.0]), anything(59.0)), OutOfRange, "element 1"),
        (lambda: density_ratio(0.0, 400.0), OutOfRange, "outside air temperature"),
        (lambda: pressure_altitude_ft(0.0, 1013.0), OutOfRange, "1013.25 hPa is 29.92 inHg"),
        (lambda: pressure_altitude_ft(anything(None), 29.92), MissingData, "elevation: not observed"),
        (lambda: density_altitude_ft(anything("high"), 59.0), BadQuantity, "not a number"),
        (lambda: standard_temperature_degf(math.inf), OutOfRange, "pressure altitude"),
        (lambda: standard_pressure_inhg(-2001.0), OutOfRange, "-2,000 to 36,089"),
    ],
)
def test_impossible_inputs_are_refused_by_name(call, error, tells):
    with pytest.raises(error) as refused:
        call()
    assert tells in str(refused.value)


@pytest.mark.parametrize("altitude", [-2000.0, 36089.0])
def test_both_ends_of_the_range_are_allowed(altitude):
    assert standard_pressure_inhg(altitude) > 0


@QUIET
@given(st.floats(-1500, 20000))
def test_on_a_standard_day_density_altitude_is_pressure_altitude(altitude):
    assert density_altitude_ft(altitude, standard_temperature_degf(altitude)) == pytest.approx(altitude, abs=0.01)


@QUIET
@given(st.floats(0, 15000), st.floats(0, 100), st.floats(1, 40))
def test_warmer_air_is_thinner(altitude, oat, warmer):
    assert density_ratio(altitude, oat + warmer) < density_ratio(altitude, oat)


@QUIET
@given(st.floats(-1000, 10000), st.floats(28.0, 31.0))
def test_a_lower_setting_is_a_higher_pressure_altitude(elevation, setting):
    assert pressure_altitude_ft(elevation, setting - 0.1) > pressure_altitude_ft(elevation, setting)
