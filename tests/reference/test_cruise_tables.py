"""Fixed-pitch cruise power follows density and rpm cubed.

Source: a copy by others of the cruise table of a 180 hp, 2,700 rpm fixed-pitch airplane's handbook (secondary; not
checked against the handbook itself, hence the width). Its table obeys percent = 69 x (density ratio / 0.88809) x
(rpm / 2500)^3 within 2.5 points (derived).
"""

import pytest

from breakin.calc.atmosphere import standard_temperature_degf
from breakin.calc.power import Chart, percent_power

# rpm, pressure altitude ft, percent at ISA -20, ISA, ISA +20 degC
ROWS = [
    (2600, 8000, 74, 68, 64),
    (2500, 4000, 74, 69, 64),
    (2500, 10000, 62, 57, 54),
    (2400, 6000, 62, 57, 54),
    (2300, 2000, 61, 57, 53),
    (2300, 10000, 49, 46, 44),
    (2200, 4000, 51, 48, 45),
]


@pytest.mark.parametrize(("rpm", "altitude", "cold", "standard", "hot"), ROWS)
def test_one_row_and_the_law_give_the_rest_of_the_table(rpm, altitude, cold, standard, hot):
    only_row = {"pressure_altitude_ft": 4000, "rpm": 2500, "pct": 69}
    form = {"kind": "fixed_pitch", "points": [only_row], "source": "copied by others", "revision": "1"}
    chart = Chart.from_dict(form, rated_hp=180)
    for off, pct in ((-36, cold), (0, standard), (36, hot)):
        oat = standard_temperature_degf(float(altitude)) + off
        found = percent_power(chart, rpm=rpm, map_inhg=None, pressure_altitude_ft=altitude, oat_degf=oat)
        assert found.pct == pytest.approx(pct, abs=2.5)
