"""Cylinder temperatures on the hot day of the cooling rules.

Source: 14 CFR 23.1043(b) and (c) as of 2014 (amendment 23-51), barrels 25.1043(d); as formulas SFTE, Technical
Handbook, 2013, section 10.4 (published). The worked rows are derived and exact.
"""

import pytest

from breakin.calc.heat import barrel_hot_day_degf, head_hot_day_degf

ROWS = [
    (400, 59, 0, 441.0, 428.7),
    (410, 35, 5000, 457.0, 442.9),
    (425, 20, 8000, 476.2, 460.84),
    (380, 85, 2000, 387.8, 385.46),
]


@pytest.mark.parametrize(("measured", "oat", "altitude", "head", "barrel"), ROWS)
def test_worked_rows(measured, oat, altitude, head, barrel):
    given = (float(measured), float(oat), float(altitude))
    assert head_hot_day_degf(*given) == pytest.approx(head, abs=1e-9)
    assert barrel_hot_day_degf(*given) == pytest.approx(barrel, abs=1e-9)
