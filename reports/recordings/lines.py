"""The lines of a picture of a recorded flight: thinned to what a screen shows, in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from breakin.calc.recording.thin import Floats, envelope, thin, usual_gap, window
from breakin.reading.series import Series
from reports.quantities import in_units
from reports.recordings.panels import kind_of

# Digits behind the point that a picture can show; what an instrument writes is no finer.
_DECIMALS = {"rpm": 0, "altitude": 0, "temperature": 0, "oil_pressure": 0, "manifold": 1, "fuel_flow": 1}
_FINER_IN_SI = frozenset({"temperature", "oil_pressure"})
Drawn = tuple[Floats, Floats]


def drawn_lines(
    series: Series,
    channels: Iterable[str],
    start: float,
    end: float,
    points: int,
    units: str,
    keep: Sequence[float] = (),
) -> dict[str, Drawn]:
    """Seconds and values of each channel from `start` to `end` [s], about `points` of them; NaN breaks a line."""
    part = window(series.t, start, end)
    t, gap_s = series.t[part], usual_gap(series.t)
    there = frozenset(series.names)
    return {
        name: thin(t, in_reader_units(series.channel(name)[part], name, units), points, keep=keep, gap_s=gap_s)
        for name in channels
        if name in there
    }


def drawn_room(
    series: Series, side: str, start: float, end: float, points: int
) -> tuple[Floats, Floats, Floats] | None:
    """Power less and plus one standard deviation: seconds, low and high [%]; None where power is not known."""
    if not {f"pct_{side}", f"sigma_{side}"} <= set(series.names):
        return None
    part = window(series.t, start, end)
    pct, sigma = series.channel(f"pct_{side}")[part], series.channel(f"sigma_{side}")[part]
    return envelope(series.t[part], pct - sigma, pct + sigma, points, gap_s=usual_gap(series.t))


def as_payload(lines: dict[str, Drawn], rooms: dict[str, tuple[Floats, Floats, Floats]], units: str) -> dict[str, Any]:
    """Lists for JSON. Times are steps in tenths of a second from one point to the next, which packs well."""
    return {
        "lines": {name: [_steps(t), _numbers(values, decimals(name, units))] for name, (t, values) in lines.items()},
        "rooms": {side: [_steps(t), _numbers(low, 1), _numbers(high, 1)] for side, (t, low, high) in rooms.items()},
    }


def in_reader_units(values: Floats, channel: str, units: str) -> Floats:
    """Canonical values of a channel in the units that the reader reads; every unit is a factor and an offset."""
    kind = kind_of(channel)
    if not kind:
        return values
    offset = in_units(0.0, kind, units)
    return values * (in_units(1000.0, kind, units) - offset) / 1000.0 + offset


def decimals(channel: str, units: str) -> int:
    kind = kind_of(channel)
    return _DECIMALS.get(kind, 1) + (1 if units == "si" and kind in _FINER_IN_SI else 0)


def _steps(t: Floats) -> list[int]:
    steps: list[int] = np.diff(np.rint(t * 10.0).astype(np.int64), prepend=0).tolist()
    return steps


def _numbers(values: Floats, places: int) -> list[float | int | None]:
    rounded = np.round(values, places)
    if places == 0:
        return [None if value != value else int(value) for value in rounded.tolist()]
    return [None if value != value else value for value in rounded.tolist()]
