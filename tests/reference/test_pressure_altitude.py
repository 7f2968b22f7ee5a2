"""Feet to add to the elevation for an altimeter setting.

Source: the closed form of the U.S. Standard Atmosphere 1976 (derived; a public package, metpy 1.7.1, agrees within
1 ft). The row 30.10 inHg = -165 ft is published: FAA-H-8083-25A, Figure 10-21, Sample Problem 1. The other whole-foot
figures of that chart (1,824 at 28.00, 863 at 29.00, -983 at 31.00) are from memory and stand beside derived ones.
"""

import pytest

from breakin.calc.atmosphere import pressure_altitude_ft

DERIVED = [
    (28.00, 1824),
    (28.50, 1340),
    (29.00, 862.5),
    (29.50, 392),
    (29.70, 205),
    (29.92, 1.2),
    (30.00, -73),
    (30.50, -531),
    (31.00, -983),
]


@pytest.mark.parametrize(("setting", "feet"), DERIVED)
def test_correction_follows_the_exact_form(setting, feet):
    assert pressure_altitude_ft(0.0, setting) == pytest.approx(feet, abs=1.5)


def test_the_published_sample_problem():
    # FAA-H-8083-25A: elevation 5,883 ft, 30.10 inHg -> 5,718 ft.
    assert pressure_altitude_ft(5883.0, 30.10) == pytest.approx(5718, abs=2)


def test_the_rule_of_thumb_is_not_what_is_used():
    # (29.92 - 28.00) x 1000 = 1,920 ft is 96 ft off.
    assert abs(pressure_altitude_ft(0.0, 28.0) - 1920) > 90
