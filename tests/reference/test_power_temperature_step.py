"""The temperature step of the power chart: 157 hp becomes 163 hp.

Source: Lycoming Operator's Manual O-540 and IO-540, section 3, page 3-24, Figure 3-8 (published): 1,500 ft, intake air
14 degF, standard 54 degF, 1 % for 10 degF, 157 hp to 163 hp; its table of standard temperatures (published, the
4,000 ft entry smudged). The square root is SFTE, Technical Handbook, 2013, sections 10.2 and 10.3 (published).
"""

import pytest

from breakin.calc.atmosphere import standard_temperature_degf
from breakin.calc.power import temperature_factor

MANUAL_STANDARD_DEGF = {
    0: 59, 2000: 52, 6000: 38, 8000: 31, 10000: 23, 12000: 16, 14000: 9, 16000: 2, 18000: -5, 20000: -12, 22000: -19,
    24000: -27,
}  # fmt: skip


def test_157_hp_at_40_degf_below_standard_is_163_hp():
    hp = 157 * temperature_factor(1500.0, 14.0)
    assert hp == pytest.approx(163, abs=1)  # published, whole horsepower
    assert hp == pytest.approx(163.5, abs=0.2)  # derived by the square root


@pytest.mark.parametrize(("above_degc", "hp"), [(10, 131.75), (-15, 137.82)])
def test_chart_power_134_hp_at_4000_ft_off_standard(above_degc, hp):
    # Derived by the square root from the synthetic chart case.
    outside = standard_temperature_degf(4000.0) + 1.8 * above_degc
    assert 134.08 * temperature_factor(4000.0, outside) == pytest.approx(hp, abs=0.05)


@pytest.mark.parametrize(("altitude", "degf"), MANUAL_STANDARD_DEGF.items())
def test_standard_temperatures_printed_in_the_manual(altitude, degf):
    assert standard_temperature_degf(float(altitude)) == pytest.approx(degf, abs=1)
