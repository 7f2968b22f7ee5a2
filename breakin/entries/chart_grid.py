"""A power chart pasted as a grid or as a list: the stored form, or every cell that is wrong, by row and column.

The picture of a chart that was refused because it does not rise still helps to find the slip, so such a chart is handed
back too (`drawn`), beside its problems.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from breakin.calc.chart import Chart, FixedPitchPoint
from breakin.calc.chart_doubts import ChartDoubt, chart_doubts
from breakin.calc.errors import BadChart
from breakin.entries.chart_cells import Cells, Line, cells_of, is_number, listed
from shop.errors import Problem

GRID, LINE = "grid", "full_throttle"
MAP_RPM, FIXED_PITCH = "map_rpm", "fixed_pitch"
_RPM, _MP, _ALTITUDE = (500.0, 6500.0), (8.0, 70.0), (-1500.0, 30_000.0)
_MOST_PCT = 110.0
_TOLD = 12  # more problems than that are no help

Place = tuple[float, float]  # (rpm, MP) or (altitude, rpm)


@dataclass
class ReadChart:
    """What was made of a pasted chart.

    stored : what `Chart.from_dict` reads; None while something is wrong.
    drawn : the chart as far as it can be drawn; also one that does not rise.
    where : which pasted cell each point came from, in words.
    doubts : (doubt, sentence with the pasted cell) of each point that leaves its neighbours.
    """

    stored: dict[str, Any] | None = None
    drawn: Chart | None = None
    where: dict[Place, str] = field(default_factory=dict)
    doubts: list[tuple[ChartDoubt, str]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def read_chart(
    kind: str,
    grid: str,
    *,
    line: str = "",
    line_is_last: bool = False,
    percent: bool = False,
    rated_hp: float,
    rated_rpm: float | None = None,
    critical_altitude_ft: float | None = None,
    source: str,
    revision: str,
) -> ReadChart:
    """Read what was pasted.

    Parameters
    ----------
    kind : "map_rpm" or "fixed_pitch".
    grid, line : the pasted text, of the chart and of its full-throttle line at sea level.
    line_is_last : the highest pressure of the grid is full throttle; `line` is not read then.
    percent : the numbers inside a grid are percent of rated power, not hp. A list says so in its heading.
    rated_hp : [hp], what 100 percent means.
    """
    found = ReadChart()
    if not grid.strip():
        found.problems.append(Problem(GRID, "The chart is missing. Paste it, or choose that there is none."))
        return found
    paper = {"source": source, "revision": revision}
    if kind == FIXED_PITCH:
        _fixed(found, grid, rated_hp, rated_rpm, paper)
    else:
        _constant(found, grid, line, line_is_last, percent, rated_hp, critical_altitude_ft, paper)
    if found.drawn is not None:
        found.doubts = [(doubt, _sentence(found, doubt)) for doubt in chart_doubts(found.drawn)]
    if found.stored is not None and not found.problems:
        try:
            Chart.from_dict(found.stored, rated_hp=rated_hp)
        except BadChart as error:  # a shape that no cell alone is to blame for
            found.problems.append(Problem(GRID, str(error)))
    if found.problems:
        found.stored = None
        more = len(found.problems) - _TOLD
        if more > 0:
            found.problems = [*found.problems[:_TOLD], Problem(GRID, f"And {more} more. Mend these first.")]
    return found


def _sentence(found: ReadChart, doubt: ChartDoubt) -> str:
    chart = found.drawn
    assert chart is not None  # noqa: S101 - doubts are asked of a chart
    if chart.kind == FIXED_PITCH:
        point = chart.points[doubt.row - 1]
        place: Place = (point.pressure_altitude_ft, point.rpm)
    elif doubt.column == 0:
        return doubt.words
    else:
        place = (chart.rpm[doubt.row - 1], chart.map_inhg[doubt.column - 1])
    return f"{found.where.get(place, f'row {doubt.row}')}: {doubt.words.partition(': ')[2]}"


# --- constant-speed propeller -----------------------------------------------------------------------------------------


def _constant(
    found: ReadChart, grid: str, line: str, line_is_last: bool, percent: bool, rated_hp: float,
    critical_ft: float | None, paper: Mapping[str, str],
) -> None:  # fmt: skip
    cells = cells_of(GRID, grid)
    points = _crossed(cells, found.where, percent, rated_hp)
    if points is None:
        points = _points(cells, found.where, rated_hp)
    found.problems += cells.problems
    found.said += cells.said
    if not points or cells.problems:
        return
    speeds, pressures = sorted({rpm for rpm, _ in points}), sorted({mp for _, mp in points})
    missing = [(rpm, mp) for rpm in speeds for mp in pressures if (rpm, mp) not in points]
    if len(speeds) < 2 or len(pressures) < 2:
        found.problems.append(
            Problem(GRID, "Two engine speeds and two manifold pressures are the least. Paste more of the chart.")
        )
        return
    if missing:
        found.problems += [
            Problem(GRID, f"There is no power at {rpm:,.0f} rpm / {mp:g} inHg. Every speed needs every pressure.")
            for rpm, mp in missing
        ]
        return
    rows = [[points[rpm, mp] for mp in pressures] for rpm in speeds]
    if line_is_last and line.strip():
        say = "The line was pasted, and the grid's highest pressure is said to be it. Choose one of the two."
        found.problems.append(Problem(LINE, say))
        return
    if line_is_last:
        full = [(rpm, pressures[-1], points[rpm, pressures[-1]]) for rpm in speeds]
        found.said.append(f"{pressures[-1]:g} inHg, the highest pressure of the grid, was taken as full throttle.")
    else:
        full = _full_throttle(found, line, rated_hp)
    full.sort()
    found.problems += _not_rising(found.where, points, speeds, pressures)
    found.drawn = Chart(
        kind=MAP_RPM, rated_hp=rated_hp, source=paper["source"], revision=paper["revision"],
        rpm=tuple(speeds), map_inhg=tuple(pressures),
        hp=tuple(map(tuple, rows)), full_throttle_rpm=tuple(rpm for rpm, _, _ in full),
        full_throttle_map_inhg=tuple(mp for _, mp, _ in full), full_throttle_hp=tuple(hp for _, _, hp in full),
        critical_altitude_ft=critical_ft,
    )  # fmt: skip
    found.stored = {
        "kind": MAP_RPM, **paper, "rpm": speeds, "map_inhg": pressures, "hp": rows,
        "full_throttle": {
            "rpm": [rpm for rpm, _, _ in full], "map_inhg": [mp for _, mp, _ in full], "hp": [hp for _, _, hp in full],
        },
        "critical_altitude_ft": critical_ft,
    }  # fmt: skip


def _crossed(cells: Cells, where: dict[Place, str], percent: bool, rated_hp: float) -> dict[Place, float] | None:
    """A grid: pressures across, speeds down. None where what was pasted is a list."""
    if not cells.lines:
        return {}
    head, *rest = cells.lines
    across = head.cells[1:] if head.cells and not is_number(head.cells[0]) else ()
    if len(across) < 2 or not any(is_number(cell) for cell in across):
        return None
    if percent:
        cells.said.append(f"Percent was read as percent of {rated_hp:g} hp and is kept in hp.")
    pressures = [_within(cells, head, index, f"{index + 1}", _MP, "inHg") for index in range(1, len(head.cells))]
    points: dict[Place, float] = {}
    for line in rest:
        rpm = _within(cells, line, 0, "rpm", _RPM, "rpm")
        if len(line.cells) > len(head.cells):
            cells.problem(f"row {line.number}: {len(line.cells)} cells for {len(head.cells)} columns. Mend that row.")
        for index, mp in enumerate(pressures, 1):
            column = f"MP {head.cells[index]}"
            power = cells.number(line, index, column)
            if rpm is None or mp is None or power is None:
                continue
            place = f"row {line.number}, column {column}"
            hp = power * rated_hp / 100 if percent else power
            _put(cells, points, where, (rpm, mp), hp, place, rated_hp)
    return points


def _points(cells: Cells, where: dict[Place, str], rated_hp: float) -> dict[Place, float]:
    """A list: one point a row, at sea level."""
    width = max((len(line.cells) for line in cells.lines), default=0)
    usual = ("altitude", "rpm", "mp", "hp") if width > 3 else ("rpm", "mp", "hp")
    points: dict[Place, float] = {}
    for line, row in listed(cells, usual):
        if row.get("altitude"):
            cells.problem(
                f"row {line.number}, column altitude: {row['altitude']:,.0f} ft. A constant-speed chart is the "
                "sea-level grid; what is left of it higher up follows from the full-throttle line. Leave such rows out."
            )
            continue
        power = _power(cells, line, row, rated_hp)
        if not _has(cells, line, row, "rpm", "mp") or power is None:
            continue
        if _outside(cells, line, "rpm", row["rpm"], _RPM, "rpm") or _outside(cells, line, "MP", row["mp"], _MP, "inHg"):
            continue
        _put(cells, points, where, (row["rpm"], row["mp"]), power, f"row {line.number}", rated_hp)
    return points


def _full_throttle(found: ReadChart, text: str, rated_hp: float) -> list[tuple[float, float, float]]:
    if not text.strip():
        say = "The full-throttle line is missing. Paste rpm, MP and hp, or say that the grid's highest pressure is it."
        found.problems.append(Problem(LINE, say))
        return []
    cells = cells_of(LINE, text)
    line = []
    for each, row in listed(cells, ("rpm", "mp", "hp")):
        power = _power(cells, each, row, rated_hp)
        if _has(cells, each, row, "rpm", "mp") and power is not None:
            line.append((row["rpm"], row["mp"], power))
    found.problems += cells.problems
    found.said += cells.said
    return line


def _not_rising(
    where: Mapping[Place, str], points: Mapping[Place, float], speeds: list[float], pressures: list[float]
) -> list[Problem]:
    """More pressure, or more speed, has to give more power."""
    problems = []
    for rpm in speeds:
        for low, high in pairwise(pressures):
            if points[rpm, high] <= points[rpm, low]:
                problems.append(
                    Problem(
                        GRID,
                        f"{where[rpm, high]}: {points[rpm, high]:g} hp is not more than {points[rpm, low]:g} hp at "
                        f"{low:g} inHg. Compare both with the document.",
                    )
                )
    for mp in pressures:
        for slow, fast in pairwise(speeds):
            if points[fast, mp] <= points[slow, mp]:
                problems.append(
                    Problem(
                        GRID,
                        f"{where[fast, mp]}: {points[fast, mp]:g} hp is not more than {points[slow, mp]:g} hp at "
                        f"{slow:,.0f} rpm. Compare both with the document.",
                    )
                )
    return problems


# --- fixed pitch ------------------------------------------------------------------------------------------------------


def _fixed(found: ReadChart, grid: str, rated_hp: float, rated_rpm: float | None, paper: Mapping[str, str]) -> None:
    cells = cells_of(GRID, grid)
    points: dict[Place, float] = {}
    for line, row in listed(cells, ("altitude", "rpm", "pct")):
        power = _power(cells, line, row, rated_hp)
        if not _has(cells, line, row, "altitude", "rpm") or power is None:
            continue
        if _outside(cells, line, "altitude", row["altitude"], _ALTITUDE, "ft"):
            continue
        if _outside(cells, line, "rpm", row["rpm"], _RPM, "rpm"):
            continue
        _put(cells, points, found.where, (row["altitude"], row["rpm"]), power, f"row {line.number}", rated_hp)
    found.problems += cells.problems
    found.said += cells.said
    if not points or cells.problems:
        return
    ordered = [(altitude, rpm, 100 * hp / rated_hp) for (altitude, rpm), hp in sorted(points.items())]
    for (altitude, slow, less), (there, fast, more) in pairwise(ordered):
        if altitude == there and more <= less:
            say = (
                f"{found.where[there, fast]}: {more:g} % is not more than {less:g} % at {slow:,.0f} rpm, same altitude."
            )
            found.problems.append(Problem(GRID, f"{say} Compare both with the document."))
    found.drawn = Chart(
        kind=FIXED_PITCH, rated_hp=rated_hp, source=paper["source"], revision=paper["revision"],
        points=tuple(FixedPitchPoint(*row) for row in ordered),
        rated_rpm=rated_rpm,
    )  # fmt: skip
    found.stored = {
        "kind": FIXED_PITCH, **paper, "rated_rpm": rated_rpm,
        "points": [{"pressure_altitude_ft": a, "rpm": r, "pct": round(p, 6)} for a, r, p in ordered],
    }  # fmt: skip


# --- shared -----------------------------------------------------------------------------------------------------------


def _has(cells: Cells, line: Line, row: Mapping[str, float], *names: str) -> bool:
    missing = [name for name in names if name not in row]
    if missing:
        cells.problem(f"row {line.number}: there is no column {missing[0]}. Paste it with its heading.")
    return not missing


def _power(cells: Cells, line: Line, row: Mapping[str, float], rated_hp: float) -> float | None:
    """[hp], from whichever of hp and percent the list has."""
    if "hp" in row:
        return row["hp"]
    if "pct" in row:
        return row["pct"] * rated_hp / 100
    cells.problem(f"row {line.number}: there is no column hp or %. Paste it with its heading.")
    return None


def _put(
    cells: Cells, points: dict[Place, float], where: dict[Place, str], at: Place, hp: float, place: str, rated_hp: float
) -> None:
    if at in points:
        cells.problem(f"{place}: {at[0]:,.0f} / {at[1]:g} was given before, in {where[at]}. Give each point once.")
    elif not 0 < hp <= rated_hp * _MOST_PCT / 100:
        cells.problem(
            f"{place}: {hp:g} hp is outside 0 to {_MOST_PCT:g} % of the rated {rated_hp:g} hp. Check it, and its unit."
        )
    else:
        points[at], where[at] = hp, place


def _outside(cells: Cells, line: Line, column: str, value: float, span: tuple[float, float], unit: str) -> bool:
    if span[0] <= value <= span[1]:
        return False
    cells.problem(
        f"row {line.number}, column {column}: {value:g} {unit} is outside {span[0]:g} to {span[1]:g} {unit}. Check it."
    )
    return True


def _within(cells: Cells, line: Line, index: int, column: str, span: tuple[float, float], unit: str) -> float | None:
    value = cells.number(line, index, column)
    return None if value is None or _outside(cells, line, column, value, span, unit) else value
