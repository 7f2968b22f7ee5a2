"""The power chart of one engine type: reading it from its stored form, and the values on it.

Two kinds. ``map_rpm`` (constant-speed propeller): a grid of power over engine speed and manifold pressure at sea
level, and the full-throttle line at sea level per engine speed. ``fixed_pitch``: rows of engine speed and percent
power at pressure altitudes on a standard day.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.atmosphere import FloatArray, Num
from breakin.calc.errors import BadChart, OutOfRange

RPM_MARGIN = 50.0
MAP_MARGIN_INHG = 0.5


@dataclass(frozen=True)
class FixedPitchPoint:
    """One printed row: at this pressure altitude [ft], standard day, this rpm gives this percent of rated power."""

    pressure_altitude_ft: float
    rpm: float
    pct: float


@dataclass(frozen=True)
class Chart:
    """A checked power chart.

    kind : "map_rpm" or "fixed_pitch".
    rated_hp : float [hp] - what 100 percent means.
    source, revision : the document; printed beside every figure that comes from it.
    rpm, map_inhg : strictly rising axes of the sea-level grid [rpm], [inHg].
    hp : one row an engine speed, one column a manifold pressure [hp].
    full_throttle_rpm, full_throttle_map_inhg, full_throttle_hp : the sea-level full-throttle line.
    critical_altitude_ft : [ft] up to which a turbocharger holds manifold pressure; None without one.
    points : the rows of a fixed-pitch table.
    rated_rpm : [rpm], fixed pitch only; None when the chart does not say.
    sea_level_only : a turbocharged engine of which nothing but the sea-level grid is known.

    Source: sea-level and altitude chart as in SFTE, Technical Handbook, 2013, section 10.2.
    """

    kind: str
    rated_hp: float
    source: str
    revision: str
    rpm: tuple[float, ...] = ()
    map_inhg: tuple[float, ...] = ()
    hp: tuple[tuple[float, ...], ...] = ()
    full_throttle_rpm: tuple[float, ...] = ()
    full_throttle_map_inhg: tuple[float, ...] = ()
    full_throttle_hp: tuple[float, ...] = ()
    critical_altitude_ft: float | None = None
    points: tuple[FixedPitchPoint, ...] = ()
    rated_rpm: float | None = None
    sea_level_only: bool = False

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, rated_hp: float) -> "Chart":
        """Read and check the stored form.

        Parameters
        ----------
        data : mapping - as in the module docstring: ``kind``, ``source``, ``revision``, and either ``rpm``,
            ``map_inhg``, ``hp``, ``full_throttle`` and ``critical_altitude_ft``, or ``points``.
        rated_hp : float [hp], above 0.

        Returns
        -------
        Chart

        Raises
        ------
        BadChart : a part is missing, of the wrong shape, not rising where it must, or has no source.
        """
        if not (isinstance(rated_hp, int | float) and math.isfinite(rated_hp) and rated_hp > 0):
            raise BadChart(f"{rated_hp!r} hp is not above 0.", where="rated power", mend="Take it from the data plate.")
        for name in ("source", "revision"):
            if not str(data.get(name) or "").strip():
                raise BadChart("is missing.", where=f"chart {name}", mend="Name the document and its revision.")
        kind = data.get("kind")
        if kind == "map_rpm":
            return _map_rpm(cls, data, float(rated_hp))
        if kind == "fixed_pitch":
            return _fixed_pitch(cls, data, float(rated_hp))
        raise BadChart(f"{kind!r} is not a kind of chart.", where="chart kind", mend="Use map_rpm or fixed_pitch.")


def _numbers(value: Any, where: str) -> tuple[float, ...]:
    if not isinstance(value, Sequence) or isinstance(value, str) or not value:
        raise BadChart("a list of numbers is needed.", where=where, mend="Fill in the chart's values.")
    for index, item in enumerate(value):
        if isinstance(item, bool) or not isinstance(item, int | float) or not math.isfinite(item):
            raise BadChart(f"value {index + 1} ({item!r}) is not a number.", where=where, mend="Correct that value.")
    return tuple(float(item) for item in value)


def _rising(values: tuple[float, ...], where: str) -> tuple[float, ...]:
    for low, high in pairwise(values):
        if high <= low:
            raise BadChart(f"{high:g} after {low:g} does not rise.", where=where, mend="Put the values in order.")
    return values


def _map_rpm(cls: type[Chart], data: Mapping[str, Any], rated_hp: float) -> Chart:
    rpm = _rising(_numbers(data.get("rpm"), "chart rpm"), "chart rpm")
    manifold = _rising(_numbers(data.get("map_inhg"), "chart map_inhg"), "chart map_inhg")
    rows = data.get("hp")
    if len(rpm) < 2 or len(manifold) < 2:
        raise BadChart("two engine speeds and two manifold pressures are needed.", where="chart grid", mend="Add some.")
    if not isinstance(rows, Sequence) or len(rows) != len(rpm):
        raise BadChart(f"one row an engine speed is needed ({len(rpm)}).", where="chart hp", mend="Add the rows.")
    grid = []
    for speed, row in zip(rpm, rows, strict=True):
        where = f"chart hp at {speed:g} rpm"
        powers = _rising(_numbers(row, where), where)
        if len(powers) != len(manifold):
            wrong = f"{len(powers)} values for {len(manifold)} manifold pressures."
            raise BadChart(wrong, where=where, mend="Give one a pressure.")
        if powers[0] <= 0:
            raise BadChart(f"{powers[0]:g} hp is not above 0.", where=where, mend="Start at a higher pressure.")
        grid.append(powers)
    for column, pressure in enumerate(manifold):
        _rising(tuple(row[column] for row in grid), f"chart hp at {pressure:g} inHg over rpm")
    line = data.get("full_throttle")
    if not isinstance(line, Mapping):
        raise BadChart("is missing.", where="chart full_throttle", mend="Give rpm, map_inhg and hp of the line.")
    line_rpm = _rising(_numbers(line.get("rpm"), "full_throttle rpm"), "full_throttle rpm")
    line_map = _numbers(line.get("map_inhg"), "full_throttle map_inhg")
    line_hp = _rising(_numbers(line.get("hp"), "full_throttle hp"), "full_throttle hp")
    if not len(line_rpm) == len(line_map) == len(line_hp) >= 2:
        raise BadChart("rpm, map_inhg and hp differ in length.", where="chart full_throttle", mend="Make them equal.")
    if line_rpm[0] > rpm[0] or line_rpm[-1] < rpm[-1]:
        raise BadChart("does not cover the grid's engine speeds.", where="chart full_throttle", mend="Lengthen it.")
    critical = data.get("critical_altitude_ft")
    return cls(
        kind="map_rpm",
        rated_hp=rated_hp,
        source=str(data["source"]),
        revision=str(data["revision"]),
        rpm=rpm,
        map_inhg=manifold,
        hp=tuple(grid),
        full_throttle_rpm=line_rpm,
        full_throttle_map_inhg=line_map,
        full_throttle_hp=line_hp,
        critical_altitude_ft=None if critical is None else _numbers([critical], "critical altitude")[0],
    )


def _fixed_pitch(cls: type[Chart], data: Mapping[str, Any], rated_hp: float) -> Chart:
    rows = data.get("points")
    if not isinstance(rows, Sequence) or not rows:
        raise BadChart("rows of altitude, rpm and percent are needed.", where="chart points", mend="Add the rows.")
    points = []
    for index, row in enumerate(rows):
        where = f"chart point {index + 1}"
        names = ("pressure_altitude_ft", "rpm", "pct")
        if not isinstance(row, Mapping) or any(name not in row for name in names):
            raise BadChart("pressure_altitude_ft, rpm and pct are needed.", where=where, mend="Fill them in.")
        altitude, rpm, pct = _numbers([row[name] for name in names], where)
        if not 0 < pct <= 110 or rpm <= 0:
            raise BadChart(f"{rpm:g} rpm, {pct:g} % cannot be.", where=where, mend="Correct the row.")
        points.append(FixedPitchPoint(altitude, rpm, pct))
    points.sort(key=lambda point: (point.pressure_altitude_ft, point.rpm))
    for low, high in pairwise(points):
        if low.pressure_altitude_ft == high.pressure_altitude_ft and not (high.rpm > low.rpm and high.pct > low.pct):
            where = f"chart points at {low.pressure_altitude_ft:g} ft"
            raise BadChart("more rpm must give more power.", where=where, mend="Correct the rows.")
    rated_rpm = data.get("rated_rpm")
    return cls(
        kind="fixed_pitch",
        rated_hp=rated_hp,
        source=str(data["source"]),
        revision=str(data["revision"]),
        points=tuple(points),
        rated_rpm=None if rated_rpm is None else _numbers([rated_rpm], "rated rpm")[0],
    )


def on_line(x: Num, xs: Sequence[float], ys: Sequence[float]) -> Num:
    """Straight-line interpolation; beyond an end the last piece is carried on (the caller bounds how far).

    Parameters
    ----------
    x : float or array; NaN stays NaN.
    xs : rising, at least two.
    ys : as many.

    >>> on_line(2.5, [1, 2], [10, 20])
    25.0
    """
    known, values = np.asarray(xs, dtype=np.float64), np.asarray(ys, dtype=np.float64)
    index, share = _place(np.asarray(x, dtype=np.float64), known)
    result = values[index] + share * (values[index + 1] - values[index])
    return float(result) if np.ndim(result) == 0 else result  # type: ignore[return-value]


def _place(x: FloatArray, known: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """The piece of the axis in which each value lies, and how far along it."""
    index = np.clip(np.searchsorted(known, x, side="right") - 1, 0, len(known) - 2)
    return index, (x - known[index]) / (known[index + 1] - known[index])


def within_chart(chart: Chart, rpm: float, map_inhg: float) -> tuple[str, ...]:
    """Check that a point lies on the sea-level grid, or within the small margin beyond its edge.

    Parameters
    ----------
    chart : Chart of kind map_rpm.
    rpm : float [rpm]
    map_inhg : float [inHg]

    Returns
    -------
    what was assumed, in words: empty inside the grid.

    Raises
    ------
    OutOfRange : more than 50 rpm or 0.5 inHg outside.
    """
    assumed = []
    for name, value, axis, margin, unit, digits in (
        ("rpm", rpm, chart.rpm, RPM_MARGIN, "rpm", 0),
        ("manifold pressure", map_inhg, chart.map_inhg, MAP_MARGIN_INHG, "inHg", 1),
    ):
        if not axis[0] - margin <= value <= axis[-1] + margin:
            raise OutOfRange(
                f"{value:.{digits}f} {unit} is off the power chart ({axis[0]:.{digits}f} to {axis[-1]:.{digits}f}).",
                where=name,
                mend="Check the reading and its unit; power off the chart stays unknown.",
            )
        if not axis[0] <= value <= axis[-1]:
            assumed.append(f"{name} just off the chart's edge: the chart was carried on")
    return tuple(assumed)


def sea_level_hp(chart: Chart, rpm: Num, map_inhg: Num) -> Num:
    """Power of the sea-level grid, straight lines in both directions.

    Parameters
    ----------
    chart : Chart of kind map_rpm.
    rpm : float or array [rpm]
    map_inhg : float or array [inHg]

    Returns
    -------
    float or array [hp]
    """
    grid = np.asarray(chart.hp).ravel()
    width = len(chart.map_inhg)
    i, along_rpm = _place(np.asarray(rpm, dtype=np.float64), np.asarray(chart.rpm))
    j, along_map = _place(np.asarray(map_inhg, dtype=np.float64), np.asarray(chart.map_inhg))
    corner = i * width + j
    low, high = grid[corner], grid[corner + width]
    slower = low + along_map * (grid[corner + 1] - low)
    faster = high + along_map * (grid[corner + width + 1] - high)
    result = slower + along_rpm * (faster - slower)
    return float(result) if np.ndim(result) == 0 else result  # type: ignore[return-value]
