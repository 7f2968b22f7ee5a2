"""Full-throttle power with altitude.

Source: SFTE, Technical Handbook, 2013, section 10.3, citing Gagg and Farrar, SAE Transactions 29 (1934): 1.1324 x
density ratio - 0.1324 (published; the paper itself was not seen). The table is derived from it.
"""

import pytest

from breakin.calc.atmosphere import density_ratio, standard_temperature_degf
from breakin.calc.power import full_throttle_fraction

DERIVED = [
    (0, 1.0),
    (2000, 0.9352),
    (5000, 0.8434),
    (7000, 0.7857),
    (7500, 0.7716),
    (8000, 0.7578),
    (10000, 0.7040),
    (15000, 0.5803),
]


def sigma(altitude: float) -> float:
    return density_ratio(float(altitude), standard_temperature_degf(float(altitude)))


@pytest.mark.parametrize(("altitude", "fraction"), DERIVED)
def test_fraction_at_density_altitude(altitude, fraction):
    assert full_throttle_fraction(sigma(altitude)) == pytest.approx(fraction, abs=0.0005)


@pytest.mark.parametrize(("altitude", "fraction"), [(8283, 0.75), (12107, 0.65), (16325, 0.55)])
def test_altitude_at_which_a_break_in_power_is_all_there_is(altitude, fraction):
    assert full_throttle_fraction(sigma(altitude - 20)) > fraction > full_throttle_fraction(sigma(altitude + 20))


@pytest.mark.parametrize("ratio", [0.5, 0.7, 0.9, 1.0])
def test_the_other_two_printed_forms_of_the_law_agree(ratio):
    assert full_throttle_fraction(ratio) == pytest.approx((ratio - 0.117) / 0.883, abs=0.0002)
    assert full_throttle_fraction(ratio) == pytest.approx(ratio - (1 - ratio) / 7.55, abs=0.0002)
