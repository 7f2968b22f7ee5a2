"""Columns of a recording go by the same published procedure as one typed reading.

Sources: SFTE, Technical Handbook, 2013, section 10.2 (published procedure; the synthetic points derived from it);
Lycoming Operator's Manual O-540 and IO-540, section 3, page 3-24 (published: 1 % for 10 degF of intake air).
"""

import numpy as np
import pytest

from breakin.calc.atmosphere import standard_temperature_degf
from breakin.calc.chart import Chart
from breakin.calc.chart_power import map_rpm_percent
from breakin.calc.power_laws import between_charts_hp

ALTITUDE_FT = np.array([0.0, 2000.0, 4000.0, 6081.0])
HP = [126.0, 130.13, 134.08, 138.00]

CHART = Chart(
    kind="map_rpm",
    rated_hp=200.0,
    source="invented",
    revision="1",
    rpm=(2000.0, 2700.0),
    map_inhg=(14.0, 28.0),
    hp=((60.0, 140.0), (80.0, 195.0)),
    full_throttle_rpm=(2000.0, 2700.0),
    full_throttle_map_inhg=(28.8, 28.8),
    full_throttle_hp=(145.0, 200.0),
)


def test_the_line_between_the_charts_for_a_whole_column():
    sigma = (1 - 6.8755856e-6 * ALTITUDE_FT) ** 4.255876
    column = between_charts_hp(np.full(4, 126.0), np.full(4, 138.0), np.full(4, 0.83379), sigma)
    assert column == pytest.approx(HP, abs=0.02)


@pytest.mark.parametrize("off_standard", [-40.0, -20.0, 20.0, 40.0])
def test_the_square_root_stays_by_the_printed_one_percent_for_ten_degrees(off_standard):
    altitude = np.array([1500.0, 4000.0, 7000.0])
    one = np.ones(3)
    standard, _beyond = map_rpm_percent(CHART, 2400 * one, 21 * one, altitude, None)
    outside = np.asarray(standard_temperature_degf(altitude)) + off_standard
    there, _beyond = map_rpm_percent(CHART, 2400 * one, 21 * one, altitude, outside)
    assert there / standard == pytest.approx(np.full(3, 1 - off_standard / 1000), abs=0.004)
