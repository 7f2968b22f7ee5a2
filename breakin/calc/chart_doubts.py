"""Which points of a typed power chart leave their neighbours: a swapped digit stands out before it judges flights.

Each point of a grid is compared with the straight line through its two nearest neighbours along its row, and again
along its column. A mistyped point leaves both lines the same way; a point beside a mistyped one leaves only one of
them. The full-throttle line and a fixed-pitch table have too few points for that: there a smooth fit of the others is
asked. `LIMIT` and `TIMES` are own choices, without source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.chart import Chart, FixedPitchPoint, on_line

LIMIT = 0.03  # of rated power; own choice
TIMES = 3.0  # what the other points leave of a fit; own choice


@dataclass(frozen=True)
class ChartDoubt:
    """One point that does not fit.

    row : int - which row of the chart, from 1: an engine speed, or a line of a fixed-pitch table.
    column : int - which column, from 1: a manifold pressure; 1 in a fixed-pitch table, 0 on the full-throttle line.
    value : float - what was typed [hp], [% of rated power] for fixed pitch.
    off : float - how far over (+) or under (-) its neighbours it is, in the same unit.
    words : str - the same as a sentence.
    """

    row: int
    column: int
    value: float
    off: float
    words: str


def chart_doubts(chart: Chart) -> tuple[ChartDoubt, ...]:
    """The points of a chart that leave their neighbours, the worst first; empty for a smooth chart.

    Parameters
    ----------
    chart : Chart - one that `Chart.from_dict` has accepted, or a grid that does not rise, built directly.
    """
    found = [*_of_grid(chart), *_of_line(chart)] if chart.kind == "map_rpm" else _of_points(chart.points)
    return tuple(sorted(found, key=lambda doubt: -abs(doubt.off)))


def _of_grid(chart: Chart) -> list[ChartDoubt]:
    """The worst point first; it is then put where its neighbours want it, so that it draws none of them along."""
    grid = np.asarray(chart.hp, dtype=np.float64)
    found: dict[tuple[int, int], ChartDoubt] = {}
    while len(found) < grid.size:
        left = [place for place in np.ndindex(grid.shape) if place not in found]
        offs = {
            (i, j): _both(_off_line(chart.map_inhg, grid[i].tolist(), j), _off_line(chart.rpm, grid[:, j].tolist(), i))
            for i, j in left
        }
        i, j = max(offs, key=lambda place: abs(offs[place]))
        off = offs[i, j]
        if abs(off) <= LIMIT * chart.rated_hp:
            break
        value = chart.hp[i][j]
        words = (
            f"row {i + 1}: {value:g} hp at {chart.rpm[i]:,.0f} rpm / {chart.map_inhg[j]:g} inHg is {_off(off, 'hp')}"
        )
        found[i, j] = ChartDoubt(i + 1, j + 1, value, float(off), words)
        grid[i, j] -= off
    return list(found.values())


def _of_line(chart: Chart) -> list[ChartDoubt]:
    """The full-throttle line: power as a smooth curve over engine speed."""
    speeds = np.asarray(chart.full_throttle_rpm) / 1000
    shape = np.column_stack([np.ones_like(speeds), speeds, speeds**2])
    found = []
    for index, off in _outliers(shape, chart.full_throttle_hp, LIMIT * chart.rated_hp):
        value = chart.full_throttle_hp[index]
        where = f"{chart.full_throttle_rpm[index]:,.0f} rpm at full throttle"
        words = f"full-throttle row {index + 1}: {value:g} hp at {where} is {_off(off, 'hp')}"
        found.append(ChartDoubt(index + 1, 0, value, off, words))
    return found


def _of_points(points: Sequence[FixedPitchPoint]) -> list[ChartDoubt]:
    """A fixed-pitch table: percent power is close to a plane over engine speed and altitude."""
    shape = np.asarray([[1.0, point.rpm / 1000, point.pressure_altitude_ft / 10000] for point in points])
    found = []
    for index, off in _outliers(shape, [point.pct for point in points], LIMIT * 100):
        point = points[index]
        where = f"{point.rpm:,.0f} rpm / {point.pressure_altitude_ft:,.0f} ft"
        words = f"row {index + 1}: {point.pct:g} % at {where} is {_off(off, '%')}"
        found.append(ChartDoubt(index + 1, 1, point.pct, off, words))
    return found


def _outliers(shape: FloatArray, typed: Sequence[float], limit: float) -> list[tuple[int, float]]:
    """Take away, one by one, the value without which the others fit best, while it is far off that fit.

    Far: over `limit`, and over `TIMES` what the others leave. Two values more than the fit has numbers are needed.
    """
    values = np.asarray(typed, dtype=np.float64)
    kept = list(range(len(values)))
    found: list[tuple[int, float]] = []
    while len(kept) >= shape.shape[1] + 2:
        tries = [_without(shape, values, kept, each) for each in kept]
        rest, off, index = min(tries)
        if abs(off) <= max(limit, TIMES * rest):
            break
        found.append((index, off))
        kept.remove(index)
    return found


def _without(shape: FloatArray, values: FloatArray, kept: list[int], index: int) -> tuple[float, float, int]:
    """What the fit of the others leaves (root mean square), how far this value is off it, and which one it is."""
    others = [each for each in kept if each != index]
    fit, *_ = np.linalg.lstsq(shape[others], values[others], rcond=None)
    rest = float(np.sqrt(np.mean((values[others] - shape[others] @ fit) ** 2)))
    return rest, float(values[index] - shape[index] @ fit), index


def _off_line(places: Sequence[float], values: Sequence[float], index: int) -> float | None:
    """How far a value is from the line through its neighbours; None where there are not two.

    At an end the line is carried on, from two neighbours at least as far apart as it is carried: two that stand close
    together would point anywhere.
    """
    last = len(places) - 1
    if last < 2:
        return None
    if 0 < index < last:
        near, far = index - 1, index + 1
    else:
        step = 1 if index == 0 else -1
        near = index + step
        reach = abs(places[index] - places[near])
        beyond = range(near + step, last + 1 if index == 0 else -1, step)
        far = next((k for k in beyond if abs(places[k] - places[near]) >= reach), beyond[-1])
    low, high = sorted((near, far))
    return values[index] - on_line(places[index], [places[low], places[high]], [values[low], values[high]])


def _both(along: float | None, across: float | None) -> float:
    """The smaller of two departures that go the same way; 0 where they do not, or where neither is known."""
    known = [each for each in (along, across) if each is not None]
    if not known or min(known) < 0 < max(known):
        return 0.0
    return min(known, key=abs)


def _off(off: float, unit: str) -> str:
    return f"{abs(off):.0f} {unit} {'over' if off > 0 else 'under'} its neighbours"
