"""Loss in the differential compression check.

Source: FAA AC 43.13-1B, chapter 8, paragraph 8-14, p. 8-15 (published): more than 25 percent of the input makes a
cylinder suspect. The rows are derived and exact. A maker's own instruction goes first.
"""

import pytest

from breakin.calc.inspection import PASSING_SHARE, loss_pct


@pytest.mark.parametrize(("reading", "loss", "suspect"), [(75, 6.25, False), (60, 25.0, False), (59, 26.25, True)])
def test_worked_rows(reading: float, loss: float, suspect: bool) -> None:
    assert loss_pct(reading, 80) == pytest.approx(loss, abs=1e-9)
    assert (reading / 80 < PASSING_SHARE) is suspect
