"""Ceiling of oil consumption.

Source: Lycoming TEO-540-A1A Installation and Operation Manual (October 2018), Table A-2, page 82: 0.006 x BHP x 4 / 7.4
(published). The rows are derived from it; 0.52 qt/h for 160 hp is also given by others (secondary).
"""

import pytest

from breakin.calc.oil import oil_limits
from breakin.calc.power import max_oil_consumption_qt_per_h

DERIVED = [
    (160, 0.519), (180, 0.584), (200, 0.649), (235, 0.762), (260, 0.843), (300, 0.973), (135, 0.438), (112.5, 0.365),
]  # fmt: skip


@pytest.mark.parametrize(("hp", "quarts"), DERIVED)
def test_formula(hp, quarts):
    assert max_oil_consumption_qt_per_h(hp) == pytest.approx(quarts, abs=0.001)


def test_an_older_overhaul_manual_limit_of_the_model_goes_before_the_formula():
    # Secondary: Lycoming Direct Drive Overhaul Manual, 0.78 qt/h for the 180 hp models, looser than 0.584.
    limits = oil_limits(rated_hp=180, maker_qt_per_h=0.78)
    assert limits.ceiling == 0.78
    assert "maker" in limits.basis
