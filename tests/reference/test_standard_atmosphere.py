"""Standard atmosphere in geopotential feet.

Source: U.S. Standard Atmosphere 1976; the rows were computed with two public packages (ambiance 1.3.1 and fluids
1.3.1, geometric altitude adjusted to geopotential), which agree with each other to the digits shown. Rounded printed
tables agree (ASHRAE: 14.696 psi at sea level, 12.230 at 5,000 ft). Mark: published model, rows from a reference
library.
"""

import numpy as np
import pytest

from breakin.calc.atmosphere import (
    density_ratio,
    pressure_altitude_ft,
    standard_pressure_inhg,
    standard_temperature_degf,
)

# altitude ft, degF, inHg, density ratio
ROWS = [
    (-1000, 62.57, 31.0185, 1.02959),
    (0, 59.00, 29.9213, 1.00000),
    (1000, 55.43, 28.8557, 0.97106),
    (2000, 51.87, 27.8211, 0.94277),
    (4000, 44.74, 25.8418, 0.88809),
    (5000, 41.17, 24.8959, 0.86167),
    (6000, 37.60, 23.9782, 0.83586),
    (7500, 32.25, 22.6532, 0.79826),
    (8000, 30.47, 22.2250, 0.78602),
    (10000, 23.34, 20.5770, 0.73848),
    (15000, 5.51, 16.8858, 0.62924),
    (20000, -12.32, 13.7501, 0.53281),
]


@pytest.mark.parametrize(("altitude", "degf", "inhg", "ratio"), ROWS)
def test_temperature_pressure_and_density_follow_the_table(altitude, degf, inhg, ratio):
    assert standard_temperature_degf(float(altitude)) == pytest.approx(degf, abs=0.02)  # the table's rounding
    assert standard_pressure_inhg(float(altitude)) == pytest.approx(inhg, abs=0.0006)  # 0.02 hPa
    standard = standard_temperature_degf(float(altitude))
    assert density_ratio(float(altitude), standard) == pytest.approx(ratio, abs=0.00005)


def test_altitude_is_geopotential_not_geometric():
    # Taken as geometric feet, 15,000 ft would give 572.068 hPa = 16.8931 inHg.
    assert standard_pressure_inhg(15000.0) == pytest.approx(16.8858, abs=0.002)


def test_a_whole_column_at_once_gives_the_same_as_one_by_one():
    altitudes = np.array([float(row[0]) for row in ROWS])
    one_by_one = [standard_pressure_inhg(value) for value in altitudes.tolist()]
    assert standard_pressure_inhg(altitudes) == pytest.approx(one_by_one, rel=1e-12)


def test_pressure_altitude_of_standard_pressure_at_a_place_is_its_elevation():
    assert pressure_altitude_ft(620.0, 29.92126) == pytest.approx(620.0, abs=1e-6)
