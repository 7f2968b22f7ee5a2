"""Sea-level chart and altitude chart together.

Source: SFTE, Technical Handbook, 2013, section 10.2 (published), with its misprints put right. The case 126 / 138 / 170
hp is synthetic and its results are derived with the form as corrected.
"""

import pytest

from breakin.calc.power import chart_power_hp

CASE = {"hp_sea_level": 126.0, "hp_full_throttle": 138.0, "hp_full_throttle_sea_level": 170.0}


@pytest.mark.parametrize(("altitude", "hp"), [(0, 126.00), (2000, 130.13), (4000, 134.08), (6081, 138.00)])
def test_synthetic_case(altitude, hp):
    assert chart_power_hp(**CASE, pressure_altitude_ft=float(altitude)) == pytest.approx(hp, abs=0.02)


def test_the_line_is_straight_in_density_ratio_not_in_altitude():
    # Straight in altitude would give 133.89.
    assert chart_power_hp(**CASE, pressure_altitude_ft=4000.0) > 134.0
