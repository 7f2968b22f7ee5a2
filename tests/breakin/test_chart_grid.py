"""A power chart pasted from a spreadsheet: every shape it may have, and every slip by row and column."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from breakin.calc.chart import Chart
from breakin.entries.chart_grid import ReadChart, read_chart
from breakin.entries.chart_text import as_pasted

CHARTS = Path(__file__).parents[2] / "reports" / "demo" / "charts"
GRID = [
    ["rpm", "20", "22.5", "24"],
    ["2100", "84", "98.4", "110"],
    ["2300", "91", "107", "119"],
    ["2450", "96.4", "113", "126"],
]
HP: dict[str, Any] = {"rated_hp": 180.0, "source": "bench book", "revision": "2, 2026-01-05"}


def pasted(rows: list[list[str]], separator: str = "\t", *, comma: bool = False) -> str:
    return "\n".join(separator.join(cell.replace(".", ",") if comma else cell for cell in row) for row in rows)


def changed(row: int, column: int, to: str) -> str:
    """The grid with one cell changed; both counted from 1, heading included."""
    rows = [list(each) for each in GRID]
    rows[row - 1][column - 1] = to
    return pasted(rows)


def read(grid: str, **more: Any) -> ReadChart:
    return read_chart("map_rpm", grid, **{"line_is_last": True, **HP, **more})


def said(chart: ReadChart) -> str:
    return " ".join(problem.message for problem in chart.problems)


@pytest.mark.parametrize(
    "text",
    [
        pasted(GRID), pasted(GRID, comma=True), pasted(GRID, ";"), pasted(GRID, ";", comma=True), pasted(GRID, ","),
        pasted(GRID, "   "), pasted(GRID, " ", comma=True), "\n\n" + pasted(GRID) + "\n\n",
        pasted([["", *GRID[0][1:]], *GRID[1:]]), pasted([GRID[0], GRID[3], GRID[1], GRID[2]]),
    ],
)  # fmt: skip
def test_a_grid_reads_the_same_however_it_is_separated(text: str) -> None:
    chart = read(text)
    assert said(chart) == ""
    assert chart.stored is not None
    assert chart.stored["rpm"] == [2100, 2300, 2450]
    assert chart.stored["map_inhg"] == [20, 22.5, 24]
    assert chart.stored["hp"] == [[84, 98.4, 110], [91, 107, 119], [96.4, 113, 126]]
    assert chart.stored["full_throttle"]["hp"] == [110, 119, 126]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (changed(4, 4, "24,x"), "row 4, column MP 24: “24,x” is not a number"),
        (changed(3, 2, ""), "row 3, column MP 20: it is empty"),
        (changed(2, 1, "2,100"), "row 2, column rpm: “2,100” may be 2100 or 2.100"),
        (changed(2, 1, "21000"), "row 2, column rpm: 21000 rpm is outside 500 to 6500 rpm"),
        (changed(1, 3, "225"), "row 1, column 3: 225 inHg is outside 8 to 70 inHg"),
        (changed(4, 3, "400"), "row 4, column MP 22.5: 400 hp is outside 0 to 110 % of the rated 180 hp"),
        (changed(4, 3, "104"), "row 4, column MP 22.5: 104 hp is not more than 107 hp at 2,300 rpm"),
        (changed(3, 4, "105"), "row 3, column MP 24: 105 hp is not more than 107 hp at 22.5 inHg"),
        (changed(3, 1, "2100"), "row 3, column MP 20: 2,100 / 20 was given before, in row 2, column MP 20"),
        ("rpm\tMP\thp\n2100\t20\t84\n2100\t24\t110\n2300\t20\t91", "There is no power at 2,300 rpm / 24 inHg"),
        ("rpm\tMP\ttorque\n2100\t20\t84", "row 1: the heading “torque” is not known"),
        ("rpm\tMP\n2100\t20", "row 2: there is no column hp or %"),
        ("altitude\trpm\tMP\thp\n4000\t2100\t20\t84", "row 2, column altitude: 4,000 ft. A constant-speed chart"),
        ("rpm\tMP\thp\n2100\t20\t84\t9", "row 2: 4 cells for 3 columns"),
        ("", "The chart is missing"),
    ],
)  # fmt: skip
def test_a_slip_is_named_by_row_and_column(text: str, words: str) -> None:
    chart = read(text)
    assert words in said(chart)
    assert chart.stored is None


def test_a_list_in_other_units_is_converted_and_says_so() -> None:
    rows = [
        ["MP hPa", "rpm", "kW"],
        ["677", "2100", "62.6"],
        ["813", "2100", "82"],
        ["677", "2300", "67.9"],
        ["813", "2300", "88.7"],
    ]
    chart = read(pasted(rows))
    assert chart.stored is not None
    assert chart.stored["map_inhg"] == pytest.approx([19.99, 24.01], abs=0.01)
    assert chart.stored["hp"][0] == pytest.approx([83.9, 110.0], abs=0.1)
    assert "MP was read in hPa and is kept in inHg." in chart.said
    assert "hp was read in kW and is kept in hp." in chart.said


def test_percent_is_kept_as_power_and_says_so() -> None:
    chart = read("rpm\t20\t24\n2100\t45\t60\n2300\t50\t65", percent=True)
    assert chart.stored is not None
    assert chart.stored["hp"] == [[81, 108], [90, 117]]
    assert "Percent was read as percent of 180 hp" in chart.said[0]


def test_a_full_throttle_line_is_needed_and_its_slips_are_its_own() -> None:
    without = read(pasted(GRID), line_is_last=False)
    assert [problem.field for problem in without.problems] == ["full_throttle"]
    wrong = read(pasted(GRID), line_is_last=False, line="rpm\tMP\thp\n2100\t29\tx\n2450\t29\t150")
    assert [problem.field for problem in wrong.problems] == ["full_throttle"]
    assert "row 2, column hp: “x” is not a number" in said(wrong)
    both = read(pasted(GRID), line="rpm\tMP\thp\n2100\t29\t130\n2450\t29\t150")
    assert "Choose one of the two" in said(both)
    short = read(pasted(GRID), line_is_last=False, line="rpm\tMP\thp\n2100\t29\t130\n2300\t29\t141")
    assert "does not cover the grid's engine speeds" in said(short)


def test_a_point_that_leaves_its_neighbours_is_named_where_it_was_pasted() -> None:
    grid = [row[:] for row in GRID] + [["2600", "101", "118.5", "132"]]
    grid[2][2] = "100"  # rises both ways, but lies low
    chart = read(pasted(grid))
    assert said(chart) == ""
    assert [words.partition(":")[0] for _, words in chart.doubts] == ["row 3, column MP 22.5"]
    assert "under its neighbours" in chart.doubts[0][1]


def test_a_chart_that_does_not_rise_can_still_be_drawn() -> None:
    chart = read(changed(4, 3, "13"))
    assert chart.problems
    assert chart.drawn is not None
    assert chart.doubts[0][1].startswith("row 4, column MP 22.5: 13 hp")


def test_a_fixed_pitch_list_reads_percent_and_finds_what_does_not_rise() -> None:
    text = "altitude ft;rpm;%\n2000;2370;65\n2000;2490;75\n4000;2430;65\n4000;2560;75"
    chart = read_chart("fixed_pitch", text, **HP)
    assert chart.stored is not None
    assert chart.stored["points"][0] == {"pressure_altitude_ft": 2000, "rpm": 2370, "pct": 65}
    wrong = read_chart("fixed_pitch", text.replace("2560;75", "2560;57"), **HP)
    assert "row 5: 57 % is not more than 65 % at 2,430 rpm" in said(wrong)


@pytest.mark.parametrize(("name", "hp"), [("TAV-4C", 160), ("TAV-4E", 180), ("VRN-6T", 310), ("PL-6G", 300)])
def test_a_stored_chart_reads_back_as_itself(name: str, hp: float) -> None:
    stored = json.loads((CHARTS / f"{name}.json").read_text())
    grid, line = as_pasted(stored)
    again = read_chart(
        stored["kind"], grid, line=line, rated_hp=hp, rated_rpm=stored.get("rated_rpm"),
        critical_altitude_ft=stored.get("critical_altitude_ft"), source=stored["source"], revision=stored["revision"],
    )  # fmt: skip
    assert again.stored is not None
    assert Chart.from_dict(again.stored, rated_hp=hp) == Chart.from_dict(stored, rated_hp=hp)
