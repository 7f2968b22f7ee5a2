"""Units: exact definitions, and the trap of a temperature difference.

Source: 1 ft = 0.3048 m, 1 US gal = 231 cubic inches, 1 imperial gallon = 4.54609 L (exact definitions, published);
1 inHg = 33.8638866667 hPa and 1 hp = 745.7 W, SFTE, Technical Handbook, 2013, section 1 (published). Head-temperature
limits in both scales: Lycoming O-360 Operator's Manual, page 3-6, 435 degF (224 degC), 400 degF (205 degC) (published).
METAR row KSFO, A3006 (secondary).
"""

import pytest

from breakin.calc.atmosphere import pressure_altitude_ft
from breakin.calc.units import Kind, from_canonical, to_canonical

ROWS = [
    (1, "L", Kind.VOLUME, 1.0566882, 1e-7),
    (1, "imp qt", Kind.VOLUME, 1.2009499, 1e-7),
    (1, "gal", Kind.VOLUME, 4.0, 1e-12),
    (1013.25, "hPa", Kind.PRESSURE_ALTIMETER, 29.92126, 1e-5),
    (1, "m", Kind.ALTITUDE, 3.2808399, 1e-7),
    (3.785411784, "L/h", Kind.FUEL_FLOW, 1.0, 1e-12),
    (1, "kW", Kind.POWER, 1000 / 745.7, 1e-9),
    (205, "degC", Kind.TEMPERATURE, 401.0, 1e-9),
    (90, "min", Kind.HOURS, 1.5, 1e-12),
]


@pytest.mark.parametrize(("value", "unit", "kind", "canonical", "tolerance"), ROWS)
def test_conversion(value, unit, kind, canonical, tolerance):
    assert to_canonical(value, unit, kind) == pytest.approx(canonical, abs=tolerance)


def test_one_quart_is_57_75_cubic_inches():
    assert from_canonical(1.0, "L", Kind.VOLUME) == pytest.approx(57.75 * 2.54**3 / 1000, rel=1e-12)


@pytest.mark.parametrize(("degf", "degc"), [(435, 223.9), (400, 204.4), (500, 260.0), (475, 246.1)])
def test_head_temperature_limits_in_celsius(degf, degc):
    assert from_canonical(degf, "degC", Kind.TEMPERATURE) == pytest.approx(degc, abs=0.06)


def test_a_difference_of_100_degf_is_55_6_degc_and_a_level_of_100_degf_is_37_8():
    assert from_canonical(100, "degC", Kind.TEMPERATURE_DIFFERENCE) == pytest.approx(55.56, abs=0.01)
    assert from_canonical(100, "degC", Kind.TEMPERATURE) == pytest.approx(37.78, abs=0.01)


def test_a_weather_report_end_to_end():
    # A3006 at a field of 13 ft: 1017.95 hPa, pressure altitude -115 ft (derived).
    assert from_canonical(30.06, "hPa", Kind.PRESSURE_ALTIMETER) == pytest.approx(1017.95, abs=0.01)
    assert pressure_altitude_ft(13.0, 30.06) == pytest.approx(-115, abs=2)
