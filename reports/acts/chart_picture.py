"""A power chart drawn for the eye that looks for slips: a line a speed or altitude, doubtful points ringed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from breakin.calc.chart import Chart
from breakin.calc.chart_doubts import ChartDoubt

WIDE, HIGH = 720, 420
LEFT, RIGHT, TOP, BOTTOM = 56, 84, 16, 46
_STEPS = (1, 2, 2.5, 5, 10)

XY = tuple[float, float]


@dataclass(frozen=True)
class Drawn:
    """One line: `path` as "x,y x,y", its name beside one end. dashed : the full-throttle line."""

    path: str
    points: tuple[XY, ...]
    name: str
    end: XY
    dashed: bool = False


@dataclass(frozen=True)
class Ring:
    """A doubtful point; `number` is that of its sentence beside the picture."""

    x: float
    y: float
    number: int


@dataclass(frozen=True)
class ChartPicture:
    """Lines, ticks as (place, text), rings, and what the axes are. `says` is the picture in words."""

    lines: tuple[Drawn, ...]
    across: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    rings: tuple[Ring, ...]
    across_name: str
    up_name: str
    says: str
    width: int = WIDE
    height: int = HIGH
    left: int = LEFT
    right: int = WIDE - RIGHT
    top: int = TOP
    foot: int = HIGH - BOTTOM


def chart_picture(chart: Chart, doubts: Sequence[ChartDoubt]) -> ChartPicture:
    """The picture of a chart, also of one that does not rise; `doubts` in the order of their sentences."""
    fixed = chart.kind == "fixed_pitch"
    named = _of_table(chart) if fixed else _of_grid(chart)
    xs = [x for _, points, _ in named for x, _ in points]
    ys = [y for _, points, _ in named for _, y in points]
    across, up = _ticks(min(xs), max(xs)), _ticks(min(ys), max(ys))

    def place(point: XY) -> XY:
        (x, y), (low_x, high_x), (low_y, high_y) = point, (across[0], across[-1]), (up[0], up[-1])
        return (
            round(LEFT + (x - low_x) / (high_x - low_x) * (WIDE - LEFT - RIGHT), 1),
            round(HIGH - BOTTOM - (y - low_y) / (high_y - low_y) * (HIGH - BOTTOM - TOP), 1),
        )

    lines = []
    for name, points, dashed in named:
        there = tuple(place(point) for point in points)
        # The full-throttle line is named at its low end, where no other name stands.
        x, y = there[0] if dashed else there[-1]
        end = (x, y + 14) if dashed else (x, y)
        lines.append(Drawn(" ".join(f"{x},{y}" for x, y in there), there, name, end, dashed))
    rings = tuple(Ring(*place(_where(chart, doubt)), number) for number, doubt in enumerate(doubts, 1))
    what = f"{len(chart.points)} points" if fixed else f"{len(chart.rpm)} speeds by {len(chart.map_inhg)} pressures"
    doubtful = f"{len(rings)} doubtful, ringed" if rings else "none of them leaves its neighbours"
    return ChartPicture(
        lines=tuple(lines),
        across=tuple((place((x, up[0]))[0], f"{x:g}") for x in across),
        up=tuple((place((across[0], y))[1], f"{y:g}") for y in up),
        rings=rings,
        across_name="engine speed, rpm" if fixed else "manifold pressure, inHg",
        up_name="power, % of rated" if fixed else "power, hp",
        says=f"Power chart: {what}, {doubtful}.",
    )


def _of_grid(chart: Chart) -> list[tuple[str, tuple[XY, ...], bool]]:
    lines = [
        (f"{rpm:,.0f} rpm", tuple(zip(chart.map_inhg, row, strict=True)), False)
        for rpm, row in zip(chart.rpm, chart.hp, strict=True)
    ]
    full = tuple(zip(chart.full_throttle_map_inhg, chart.full_throttle_hp, strict=False))
    return [*lines, ("full throttle", full, True)] if len(full) > 1 else lines


def _of_table(chart: Chart) -> list[tuple[str, tuple[XY, ...], bool]]:
    by_altitude: dict[float, list[XY]] = {}
    for point in chart.points:
        by_altitude.setdefault(point.pressure_altitude_ft, []).append((point.rpm, point.pct))
    return [(f"{altitude:,.0f} ft", tuple(points), False) for altitude, points in sorted(by_altitude.items())]


def _where(chart: Chart, doubt: ChartDoubt) -> XY:
    if chart.kind == "fixed_pitch":
        return chart.points[doubt.row - 1].rpm, doubt.value
    if doubt.column == 0:
        return chart.full_throttle_map_inhg[doubt.row - 1], doubt.value
    return chart.map_inhg[doubt.column - 1], doubt.value


def _ticks(low: float, high: float) -> list[float]:
    """Round numbers from below the lowest value to above the highest, about six of them."""
    span = max(high - low, 1e-6)
    power = 10.0 ** (len(str(int(span / 5))) - 1) if span >= 5 else 0.1
    step = next((each * power for each in _STEPS if span / (each * power) <= 6), 10 * power)
    first = step * (low // step)
    ticks = [first]
    while ticks[-1] < high:
        ticks.append(round(ticks[-1] + step, 6))
    return ticks if len(ticks) > 1 else [first, first + step]
