"""A stored power chart as text for a form, so that it can be revised point by point."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def as_pasted(chart: Mapping[str, Any]) -> tuple[str, str]:
    """A stored chart as text that reads back as itself: the grid or list, and the full-throttle line."""
    if chart.get("kind") == "fixed_pitch":
        rows = [(row["pressure_altitude_ft"], row["rpm"], row["pct"]) for row in chart.get("points", [])]
        return _table(("altitude ft", "rpm", "%"), rows), ""
    line = chart.get("full_throttle") or {}
    grid = [(rpm, *row) for rpm, row in zip(chart.get("rpm", []), chart.get("hp", []), strict=False)]
    full = zip(line.get("rpm", []), line.get("map_inhg", []), line.get("hp", []), strict=False)
    return _table(("rpm \\ MP", *chart.get("map_inhg", [])), grid), _table(("rpm", "MP", "hp"), full)


def _table(head: Sequence[Any], rows: Iterable[Sequence[Any]]) -> str:
    return "\n".join(
        "\t".join(each if isinstance(each, str) else f"{each:.10g}" for each in row) for row in (head, *rows)
    )
