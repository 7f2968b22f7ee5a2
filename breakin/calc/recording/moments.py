"""When the outstanding readings of a recorded flight happened, so that a picture can point to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from breakin.calc.recording.result import EngineFlight, FlightAnalysis
from breakin.calc.recording.thin import Floats


@dataclass(frozen=True)
class Moment:
    """One outstanding reading in the air.

    t : [s] since the first row of the flight. side : "1" (single or left) or "2".
    kind : "hottest_head", "fastest_cooling", "lowest_oil_pressure", "hottest_oil" or "hottest_turbine".
    value : in canonical units (degF, psi; degF a minute for the cooling). cylinder : where it is about one.
    """

    t: float
    side: str
    kind: str
    value: float
    cylinder: int | None = None


# The one channel of an engine whose extreme in the air is looked for: kind, name, and whether the highest counts.
_OF_ONE_CHANNEL = (
    ("lowest_oil_pressure", "oil_press_{}_psi", False),
    ("hottest_oil", "oil_temp_{}_degf", True),
    ("hottest_turbine", "tit_{}_degf", True),
)


def moments(t: Floats, columns: Mapping[str, Floats], analysis: FlightAnalysis) -> tuple[Moment, ...]:
    """The outstanding readings in the air, in order of time; none for a flight that never left the ground.

    t : float [s], shape (n,), 0 at the first row of the flight. columns : canonical name -> float, shape (n,).
    """
    start, end = analysis.events.get("takeoff_start"), analysis.events.get("touchdown")
    if start is None:
        return ()
    in_air = (t >= start) & (t <= (end if end is not None else t[-1]))
    found = []
    for side, engine in analysis.engines.items():
        for kind, name, highest in _OF_ONE_CHANNEL:
            found += _extreme(t, columns.get(name.format(side)), in_air, Moment(0, side, kind, 0), highest=highest)
        found += _hottest_head(t, columns, in_air, side, engine)
        found += _fastest_cooling(t, columns, in_air, side, engine)
    return tuple(sorted(found, key=lambda each: each.t))


def _extreme(t: Floats, values: Floats | None, where: np.ndarray, like: Moment, *, highest: bool) -> list[Moment]:
    if values is None or not np.isfinite(values[where]).any():
        return []
    held = np.where(where & np.isfinite(values), values, -np.inf if highest else np.inf)
    at = int(np.argmax(held) if highest else np.argmin(held))
    return [Moment(float(t[at]), like.side, like.kind, float(values[at]), like.cylinder)]


def _hottest_head(
    t: Floats, columns: Mapping[str, Floats], in_air: np.ndarray, side: str, engine: EngineFlight
) -> list[Moment]:
    """The analysis says which head it was, since it knows which probes are to be believed."""
    cylinder = engine.cht_max_cylinder
    if cylinder is None:
        return []
    values = columns.get(f"cht_{side}_{cylinder}_degf")
    like = Moment(0, side, "hottest_head", 0, cylinder)
    found = _extreme(t, values, in_air, like, highest=True)
    # One wild sample is not the peak that the analysis speaks of.
    if found and engine.cht_max_degf is not None and values is not None:
        near = in_air & (values <= engine.cht_max_degf + 5)
        found = _extreme(t, values, near, like, highest=True) or found
    return found


def _fastest_cooling(
    t: Floats, columns: Mapping[str, Floats], in_air: np.ndarray, side: str, engine: EngineFlight
) -> list[Moment]:
    """The minute in which the head fell most that the analysis found to cool fastest."""
    drops = [(drop, place) for place, drop in enumerate(engine.cht_drop_max_degf_min, 1) if drop is not None]
    if not drops:
        return []
    drop, cylinder = max(drops)
    values = columns.get(f"cht_{side}_{cylinder}_degf")
    if values is None:
        return []
    there = in_air & np.isfinite(values)
    if there.sum() < 2 or t[there][-1] - t[there][0] < 60:
        return []
    seen, head = t[there], values[there]
    starts = seen[seen <= seen[-1] - 60]
    fell = np.interp(starts, seen, head) - np.interp(starts + 60, seen, head)
    return [Moment(float(starts[int(np.argmax(fell))]), side, "fastest_cooling", float(drop), cylinder)]
