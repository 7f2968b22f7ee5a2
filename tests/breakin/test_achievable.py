"""Card and verdict agree on what could be had: one answer for both, whatever turns the propeller."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from breakin.calc.card import Instead, day, instead
from breakin.calc.chart import Chart
from breakin.picture.clock import PlacedRun, clock_of
from breakin.picture.power import achievable_pct, planned_rpm
from breakin.record import BuildRecord
from tests.breakin.records import record, run, with_type

CHARTS = Path(__file__).parents[2] / "reports" / "demo" / "charts"
RATED_HP = {"TAV-4C": 160.0, "VRN-6D": 285.0}


def flown_at(name: str, field_ft: float, oat_degf: float) -> tuple[BuildRecord, PlacedRun]:
    kept = json.loads((CHARTS / f"{name}.json").read_text(encoding="utf-8"))
    made = with_type(
        record(run(1, field_elevation_ft=field_ft, altimeter_inhg=29.92, oat_ground_degf=oat_degf)),
        chart=Chart.from_dict(kept, rated_hp=RATED_HP[name]),
    )
    return made, clock_of(made).flights[0]


def asked_of_card(made: BuildRecord, field_ft: float, oat_degf: float) -> Instead | None:
    assert made.type.chart is not None
    return instead(made.type.chart, day(field_ft, oat_degf), field_ft=field_ft, rpm=planned_rpm(made))


@pytest.mark.parametrize("name", ["TAV-4C", "VRN-6D"])
@pytest.mark.parametrize(("field_ft", "oat_degf"), [(620.0, 59.0), (3000.0, 70.0), (6480.0, 95.0)])
def test_the_card_has_no_way_out_to_offer_exactly_where_the_verdict_says_achievable(
    name: str, field_ft: float, oat_degf: float
) -> None:
    made, placed = flown_at(name, field_ft, oat_degf)
    best = achievable_pct(made, placed)
    assert best is not None
    found = asked_of_card(made, field_ft, oat_degf)
    assert (found is None) is (best >= 72)
    if found is not None:
        assert found.best_pct == pytest.approx(best, abs=0.05)


def test_a_fixed_pitch_propeller_is_not_held_to_the_rpm_of_the_plan() -> None:
    made, placed = flown_at("TAV-4C", 3000.0, 60.0)
    best = achievable_pct(made, placed)
    assert planned_rpm(made) < 2550
    assert best is not None
    assert best > 72
