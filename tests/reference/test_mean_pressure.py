"""Brake mean effective pressure.

Source: definition of the horsepower (33,000 ft lb/min): BHP = BMEP x displacement x rpm / 792,000, derived. Brake
power of a dynamometer: US Army TM 9-8000 (published: 300 lb at 2 ft and 3,000 rpm give 342.55 hp with 2 pi = 6.28).
Bores and strokes are secondary.
"""

import math

import pytest

from breakin.calc.power import bmep_psi


@pytest.mark.parametrize(
    ("hp", "displacement", "rpm", "psi"),
    [(160, 319.7, 2700, 146.8), (180, 361.0, 2700, 146.3), (250, 541.5, 2575, 142.0)],
)
def test_mean_pressure_of_known_ratings(hp, displacement, rpm, psi):
    assert bmep_psi(hp, displacement, rpm) == pytest.approx(psi, abs=0.3)


def test_a_dynamometer_reading_and_mean_pressure_tell_the_same_torque():
    hp = 2 * math.pi * 2 * 300 * 3000 / 33_000
    assert hp == pytest.approx(342.55, abs=0.2)
    # 600 lb ft of a four-stroke engine: BMEP = 150.8 x torque / displacement.
    assert bmep_psi(hp, 500, 3000) == pytest.approx(2 * math.pi * 600 * 12 * 2 / 500, rel=1e-12)
