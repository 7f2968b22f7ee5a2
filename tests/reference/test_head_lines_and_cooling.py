"""Head-temperature lines, cooling rate and descent power of one maker; conversion of the lines.

Sources: Lycoming, O-360 Operator's Manual, p. 3-6, and IO-320 manual, section 3 (435 and 400 degF; published); Lycoming
Flyer (500 and 475 degF; read in a quotation); Lycoming, SI 1094D, as cited on the maker's site (50 degF a minute, at
least 15 inHg in a descent; published). They hold for that maker's engines: the type's own lines go first.
"""

import pytest

from breakin.calc.bands import Bands, schedule
from breakin.calc.recording.engine import LOW_MAP_INHG
from breakin.calc.units import Kind, from_canonical

# The manual rounds 204.4 to 205; an article says 245 for 246.1.
LINES = [(435, 223.9), (400, 204.4), (500, 260.0), (475, 246.1), (150, 65.6)]


@pytest.mark.parametrize(("degf", "degc"), LINES)
def test_a_line_reads_the_same_in_celsius(degf: float, degc: float) -> None:
    assert from_canonical(degf, "degC", Kind.TEMPERATURE) == pytest.approx(degc, abs=0.06)


def test_heads_may_cool_by_fifty_degrees_a_minute() -> None:
    asked = schedule(Bands(), "later", cht_limit_degf=500)
    assert asked["cht_drop_limit_f_min"] == 50.0


def test_a_descent_keeps_fifteen_inches() -> None:
    assert LOW_MAP_INHG == 15.0
