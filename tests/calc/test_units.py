import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import BadQuantity, MissingData
from breakin.calc.units import UNITS, Kind, display_unit, from_canonical, parse, show, to_canonical

QUIET = settings(max_examples=60, deadline=None, derandomize=True)


@pytest.mark.parametrize(
    ("text", "unit", "kind", "value", "applied"),
    [
        ("8.5", "qt", Kind.VOLUME, 8.5, "qt"),
        ("8,5", "qt", Kind.VOLUME, 8.5, "qt"),
        ("0,5", "h", Kind.HOURS, 0.5, "h"),
        ("0,125", "h", Kind.HOURS, 0.125, "h"),
        ("1:30", "h", Kind.HOURS, 1.5, "h:mm"),
        ("0:06", "h", Kind.HOURS, 0.1, "h:mm"),
        ("8.5 qt", "L", Kind.VOLUME, 8.5, "qt"),
        ("1 L", "qt", Kind.VOLUME, 1.0566882, "L"),
        ("1l", "qt", Kind.VOLUME, 1.0566882, "L"),
        ("120 knots", "kt", Kind.GROUND_SPEED, 120.0, "kt"),
        ("222.24 km/h", "kt", Kind.GROUND_SPEED, 120.0, "km/h"),
        ("1 imp qt", "qt", Kind.VOLUME, 1.2009499, "imp qt"),
        ("500 mL", "qt", Kind.VOLUME, 0.5283441, "mL"),
        ("1013.25 hPa", "inHg", Kind.PRESSURE_ALTIMETER, 29.92126, "hPa"),
        ("38 °C", "degF", Kind.TEMPERATURE, 100.4, "degC"),
        ("-5", "degC", Kind.TEMPERATURE, 23.0, "degC"),
        ("\u22125", "degC", Kind.TEMPERATURE, 23.0, "degC"),
        ("38 C", "degF", Kind.TEMPERATURE_DIFFERENCE, 68.4, "ddegC"),
        ("24\u202fgph", "L/h", Kind.FUEL_FLOW, 24.0, "gal/h"),
        ("2450", "rpm", Kind.SPEED_RPM, 2450.0, "rpm"),
        ("0", "qt", Kind.VOLUME, 0.0, "qt"),
    ],
)
def test_what_people_type_is_understood(text, unit, kind, value, applied):
    quantity = parse(text, unit, kind)
    assert quantity.value == pytest.approx(value, abs=1e-5)
    assert (quantity.typed_text, quantity.typed_unit) == (text, applied)


@pytest.mark.parametrize(
    ("text", "kind", "tells"),
    [
        ("1,234", Kind.HOURS, "1234 or 1.234"),
        ("2,450", Kind.SPEED_RPM, "2450 or 2.450"),
        ("1,234.5", Kind.HOURS, "no thousands separators"),
        ("1.2.3", Kind.HOURS, "one decimal point"),
        ("2 450", Kind.SPEED_RPM, "without spaces"),
        ("1:75", Kind.HOURS, "minutes from 00 to 59"),
        ("1:30 min", Kind.HOURS, "1:30"),
        ("abc", Kind.HOURS, "digits"),
        ("nan", Kind.HOURS, "digits"),
        ("inf", Kind.VOLUME, "digits"),
        ("1e3", Kind.VOLUME, "not known"),
        ("8 pints", Kind.VOLUME, "Use one of"),
        ("30 qt", Kind.ALTITUDE, "ft, m"),
    ],
)
def test_what_cannot_be_understood_is_refused_with_a_way_out(text, kind, tells):
    with pytest.raises(BadQuantity, match=kind.value) as refused:
        parse(text, UNITS[kind][0], kind)
    assert tells in str(refused.value)


@pytest.mark.parametrize("text", ["", "   ", "\u00a0"])
def test_nothing_typed_is_not_zero(text):
    with pytest.raises(MissingData, match="nothing was typed"):
        parse(text, "qt", Kind.VOLUME)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_not_a_number_never_passes_the_edge(value):
    with pytest.raises(BadQuantity):
        to_canonical(value, "qt", Kind.VOLUME)
    with pytest.raises(BadQuantity):
        show(value, Kind.VOLUME, "us")


@QUIET
@given(
    st.sampled_from([(kind, unit) for kind in Kind for unit in UNITS[kind]]),
    st.floats(-1e5, 1e5, allow_nan=False),
)
def test_there_and_back_is_the_same(kind_and_unit, value):
    kind, unit = kind_and_unit
    assert from_canonical(to_canonical(value, unit, kind), unit, kind) == pytest.approx(value, rel=1e-9, abs=1e-6)


@QUIET
@given(st.floats(-50, 500), st.floats(-50, 500))
def test_a_difference_is_the_difference_of_two_levels(first, second):
    apart = to_canonical(first, "degC", Kind.TEMPERATURE) - to_canonical(second, "degC", Kind.TEMPERATURE)
    assert to_canonical(first - second, "degC", Kind.TEMPERATURE_DIFFERENCE) == pytest.approx(apart, abs=1e-9)


@QUIET
@given(st.integers(0, 999), st.integers(0, 99))
def test_decimal_comma_and_point_mean_the_same(whole, hundredths):
    texts = (f"{whole}.{hundredths:02d}", f"{whole},{hundredths:02d}")
    assert parse(texts[0], "h", Kind.HOURS).value == parse(texts[1], "h", Kind.HOURS).value


def test_each_reader_sees_his_units():
    assert show(10.0, Kind.VOLUME, "us") == "10.00\u202fqt"
    assert show(10.0, Kind.VOLUME, "si") == "9.46\u202fL"
    assert show(400.0, Kind.TEMPERATURE, "mixed") == "204\u202f°C"
    assert show(100.0, Kind.TEMPERATURE_DIFFERENCE, "si", 1) == "55.6\u202f°C"
    assert show(29.92, Kind.PRESSURE_ALTIMETER, "us") == "29.92\u202finHg"
    assert show(-0.4, Kind.TEMPERATURE, "us") == "0\u202f°F"
    assert show(-4.0, Kind.TEMPERATURE, "us") == "\u22124\u202f°F"


def test_feet_stay_feet():
    assert {display_unit(Kind.ALTITUDE, system) for system in ("us", "si", "mixed")} == {"ft"}


def test_unknown_system_is_refused():
    with pytest.raises(BadQuantity, match="us, si or mixed"):
        display_unit(Kind.VOLUME, "metric")
