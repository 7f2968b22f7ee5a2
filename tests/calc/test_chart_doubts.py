"""A mistyped point of a power chart is named; a smooth chart names nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from breakin.calc.chart import Chart
from breakin.calc.chart_doubts import chart_doubts

CHARTS = Path(__file__).parents[2] / "reports" / "demo" / "charts"
NAMES = ("PL-6G", "TAV-4C", "TAV-4E", "VRN-6B", "VRN-6D", "VRN-6T")
GRIDS = tuple(name for name in NAMES if name != "TAV-4C")


def stored(name: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((CHARTS / f"{name}.json").read_text())
    return read


def chart(data: dict[str, Any]) -> Chart:
    return Chart.from_dict(data, rated_hp=max(data["full_throttle"]["hp"]) if "hp" in data else 160.0)


@pytest.mark.parametrize("name", NAMES)
def test_a_good_chart_names_nothing(name: str) -> None:
    assert chart_doubts(chart(stored(name))) == ()


@pytest.mark.parametrize("name", GRIDS)
def test_a_wrong_value_anywhere_in_the_grid_is_named_and_nothing_else(name: str) -> None:
    good = chart(stored(name))
    for i, row in enumerate(good.hp):
        for j in range(len(row)):
            data = stored(name)
            wrong = 0.1 * good.rated_hp
            data["hp"][i][j] += wrong
            typed = replace(good, hp=tuple(tuple(each) for each in data["hp"]))
            (doubt,) = chart_doubts(typed)
            assert (doubt.row, doubt.column) == (i + 1, j + 1)
            assert doubt.off == pytest.approx(wrong, abs=0.03 * good.rated_hp)


def test_swapped_digits_are_told_in_words() -> None:
    data = stored("PL-6G")
    assert data["hp"][2][3] == pytest.approx(136.934)
    good = chart(data)
    data["hp"][2][3] = 163.934
    (doubt,) = chart_doubts(replace(good, hp=tuple(tuple(row) for row in data["hp"])))
    assert doubt.words == "row 3: 163.934 hp at 2,100 rpm / 20 inHg is 27 hp over its neighbours"


@pytest.mark.parametrize("index", range(6))
def test_a_wrong_value_on_the_full_throttle_line_is_named_alone(index: int) -> None:
    good = chart(stored("TAV-4E"))
    line = list(good.full_throttle_hp)
    line[index] -= 9.0
    doubts = chart_doubts(replace(good, full_throttle_hp=tuple(line)))
    assert [(each.row, each.column) for each in doubts] == [(index + 1, 0)]
    assert "under its neighbours" in doubts[0].words


@pytest.mark.parametrize("index", range(6))
def test_a_wrong_row_of_a_fixed_pitch_table_is_named_alone(index: int) -> None:
    good = chart(stored("TAV-4C"))
    points = list(good.points)
    wrong = replace(points[index], pct=71.0 if points[index].pct == 65 else 69.0)
    points[index] = wrong
    (doubt,) = chart_doubts(replace(good, points=tuple(points)))
    assert (doubt.row, doubt.value) == (index + 1, wrong.pct)
    assert doubt.words.startswith(f"row {index + 1}: {wrong.pct:g} % at ")


def test_a_grid_of_two_by_two_has_no_neighbours_to_ask() -> None:
    small = {
        "kind": "map_rpm", "source": "s", "revision": "1", "rpm": [2000, 2400], "map_inhg": [20, 24],
        "hp": [[90, 120], [100, 175]], "full_throttle": {"rpm": [2000, 2400], "map_inhg": [29, 29], "hp": [150, 180]},
    }  # fmt: skip
    assert chart_doubts(chart(small)) == ()
