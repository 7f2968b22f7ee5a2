"""Weight of avgas and the fuel that a horsepower takes.

Sources: FAA, AMT Handbook - General, p. 4-15 (6.0 lb/US gal; published). Fuel for a horsepower hour, derived from
cruise figures: Cessna 172R POH, fig. 4-3 (180 hp), 172M 1976, fig. 4-3 (150 hp), 172P, section 5 (160 hp); published.
"""

import pytest

from breakin.calc.recording.spec import BSFC_LB_HP_H, FUEL_LB_PER_GAL

# (rated hp, percent power, US gal/h) at the recommended lean mixture.
CRUISE = [(180, 75, 10.17), (180, 65, 9.04), (150, 75, 8.3), (150, 65, 7.2), (160, 66, 7.4)]
BSFC = [0.452, 0.463, 0.442, 0.444, 0.420]


def test_avgas_weighs_six_pounds_a_gallon() -> None:
    assert FUEL_LB_PER_GAL == 6.0


@pytest.mark.parametrize(("row", "bsfc"), list(zip(CRUISE, BSFC, strict=True)))
def test_what_is_taken_without_a_figure_of_the_type_lies_among_published_engines(row, bsfc: float) -> None:
    """Recommended lean is a little leaner than best power, whose figure lies above it by less than a tenth."""
    hp, pct, gph = row
    found = gph * FUEL_LB_PER_GAL / (hp * pct / 100)
    assert found == pytest.approx(bsfc, abs=0.006)
    assert found - 0.01 <= BSFC_LB_HP_H <= found * 1.1
