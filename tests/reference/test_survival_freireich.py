"""Kaplan-Meier estimate of the 6-MP trial.

Source of the data: Freireich, E. J., et al., Blood 21 (1963), 699-716 (published; also in a reference library,
lifelines 0.30.3). Survival, log-log limits and further outputs are that library's; standard errors are derived by
Greenwood's formula. The engine-shaped set is invented, its results from the same library.
"""

import pytest

from breakin.calc.survival import kaplan_meier

SIX_MP = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
SEEN = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
ROWS = [
    (6, 21, 3, 0.857143, 0.07636, 0.6197, 0.9516),
    (7, 17, 1, 0.806723, 0.08694, 0.5631, 0.9228),
    (10, 15, 1, 0.752941, 0.09635, 0.5032, 0.8894),
    (13, 12, 1, 0.690196, 0.10682, 0.4316, 0.8491),
    (16, 11, 1, 0.627451, 0.11405, 0.3675, 0.8049),
    (22, 7, 1, 0.537815, 0.12823, 0.2678, 0.7468),
    (23, 6, 1, 0.448179, 0.13459, 0.1881, 0.6801),
]


@pytest.fixture(scope="module")
def six_mp():
    return kaplan_meier(SIX_MP, [bool(seen) for seen in SEEN])


def test_every_row_of_the_treated_arm(six_mp):
    assert len(six_mp.times) == len(ROWS)
    for place, (time, at_risk, events, share, error, low, high) in enumerate(ROWS):
        assert (six_mp.times[place], six_mp.at_risk[place], six_mp.events[place]) == (time, at_risk, events)
        assert six_mp.survival[place] == pytest.approx(share, abs=1e-6)
        assert six_mp.se[place] == pytest.approx(error, abs=1e-5)
        assert six_mp.lower[place] == pytest.approx(low, abs=1e-4)
        assert six_mp.upper[place] == pytest.approx(high, abs=1e-4)


def test_median_quartile_and_restricted_mean(six_mp):
    placebo = kaplan_meier(PLACEBO, [True] * 21)
    assert (six_mp.median, placebo.median) == (23, 8)
    assert six_mp.median_limits == (13, None)
    assert six_mp.percentile(0.75) == 13
    assert six_mp.restricted_mean(35) == pytest.approx(23.28739, abs=1e-5)
    assert placebo.restricted_mean(35) == pytest.approx(8.66667, abs=1e-5)


def test_placebo_arm_falls_to_nothing():
    placebo = kaplan_meier(PLACEBO, [True] * 21)
    expected = [0.9048, 0.8095, 0.7619, 0.6667, 0.5714, 0.3810, 0.2857, 0.1905, 0.1429, 0.0952, 0.0476, 0]
    assert placebo.survival == pytest.approx(expected, abs=5e-5)
    assert placebo.se[-1] is None


def test_running_engines_are_counted_not_dropped():
    hours = [8, 12, 12, 15, 18, 20, 22, 25, 30, 34]
    seen = [True, True, True, False, True, False, True, False, False, True]
    result = kaplan_meier(hours, seen)
    assert result.survival == pytest.approx([0.9, 0.7, 0.583333, 0.4375, 0.0], abs=1e-6)
    assert result.median == 22  # without the running engines it would read 15
    assert result.survival_at(25) == pytest.approx(1 - 0.5625, abs=1e-9)
