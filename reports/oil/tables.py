"""Tables beside the oil picture: what the estimate said over the hours, and what the mass balance leaves out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any

from reports.engine.tables import H, Table
from reports.quantities import in_units, unit

Detail = Mapping[str, Any]
NEWEST_LEFT_OUT = 30


def over_hours(oil: Detail, units: str) -> Table | None:
    """The fitted level, the loss and the probability of having settled after each reading, newest first."""
    trace: Detail = oil.get("trace") or {}
    settled, level, rate = (trace.get(name) or {} for name in ("settled", "level", "rate"))
    if not settled.get("hours") or not level.get("hours") or not rate.get("hours"):
        return None
    name = unit("volume", units)
    rows = tuple(
        (
            f"{hours:.1f}{H}",
            _between([_last(level, key, hours) for key in ("mid", "lo", "hi")], units, name),
            _between([_along(rate, key, hours) for key in ("mid", "lo", "hi")], units, f"{name}/h"),
            f"{p:.2f}",
        )
        for hours, p in reversed(list(zip(settled["hours"], settled["p"], strict=True)))
    )
    caption = (
        "The estimate after each reading. Level and loss with the range that holds nine times out of ten; the loss as "
        "it is seen today. Settled is said from 0.85 on, with 4 readings over 3 h."
    )
    return Table(caption, ("At", "Fitted level", "Loss past the rings", "Probability settled"), rows)


def _last(curve: Detail, key: str, hours: float) -> float:
    """The value at the last point of this hour."""
    return float(curve[key][max(bisect_right(curve["hours"], hours + 1e-6) - 1, 0)])


def _along(curve: Detail, key: str, hours: float) -> float:
    """The value on the straight line between two points."""
    at: Sequence[float] = curve["hours"]
    after = min(max(bisect_right(at, hours), 1), len(at) - 1)
    before = after - 1
    width = at[after] - at[before]
    share = 0.0 if width <= 0 else min(max((hours - at[before]) / width, 0.0), 1.0)
    return float(curve[key][before] + share * (curve[key][after] - curve[key][before]))


def _between(values: Sequence[float], units: str, name: str) -> str:
    middle, low, high = (in_units(value, "volume", units) for value in values)
    return f"{middle:.2f}, from {low:.2f} to {high:.2f}\u202f{name}"


def left_out(oil: Detail) -> Table | None:
    """What a technician leaves out when he works the loss out on paper, and why, newest first."""
    rows = tuple(
        (
            f"{row['from_h']:.1f}{H}"
            if row["to_h"] - row["from_h"] < 0.05
            else f"{row['from_h']:.1f} to {row['to_h']:.1f}{H}",
            str(row["why"]),
        )
        for row in reversed((oil.get("left_out") or [])[-NEWEST_LEFT_OUT:])
    )
    return Table("Left out of the mass balance, newest first", ("Between", "Why"), rows) if rows else None
