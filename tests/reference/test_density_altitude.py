"""Density altitude.

Source: FAA-H-8083-25A, Figure 10-21, Sample Problem 1 (published: about 7,700 ft, read from a chart); the other rows
are derived from the exact dry-air form, density ratio = pressure ratio x standard over actual absolute temperature.
"""

import pytest

from breakin.calc.atmosphere import density_altitude_ft, density_ratio, pressure_altitude_ft
from breakin.calc.units import Kind, to_canonical

# pressure altitude ft, degC, density altitude ft
DERIVED = [(0, 35, 2275), (2000, 30, 4161), (5000, 30, 7801), (6000, 23, 8259), (8000, 20, 10362), (8000, -1, 7982)]


@pytest.mark.parametrize(("altitude", "degc", "feet"), DERIVED)
def test_exact_form(altitude, degc, feet):
    degf = to_canonical(degc, "degC", Kind.TEMPERATURE)
    assert density_altitude_ft(float(altitude), degf) == pytest.approx(feet, abs=5)


def test_the_published_sample_problem_within_the_width_of_its_chart():
    altitude = pressure_altitude_ft(5883.0, 30.10)
    assert density_altitude_ft(altitude, 70.0) == pytest.approx(7700, abs=100)  # published, read from a chart
    assert density_altitude_ft(altitude, 70.0) == pytest.approx(7710, abs=5)  # derived
    assert density_ratio(altitude, 70.0) == pytest.approx(0.79311, abs=0.00005)  # derived
