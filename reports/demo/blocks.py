"""A power block of a story as its pilot types it."""

from __future__ import annotations

from typing import Any

from reports.demo.story import Block


def block_as_typed(row: Block) -> dict[str, Any]:
    """As the entries take it."""
    raw: dict[str, Any] = {
        "duration": row.minutes,
        "rpm": row.rpm,
        "pressure_altitude": {"value": row.altitude_ft, "unit": "ft"},
        "oat": {"value": row.oat_degf, "unit": "degF"},
        "mixture": "first_peak",
        "cowl_flaps": "open",
    }
    if row.map_inhg is not None:
        raw["map"] = {"value": row.map_inhg, "unit": "inHg"}
    if row.fuel_flow is not None:
        raw["fuel_flow"] = {"value": row.fuel_flow, "unit": "gal/h"}
    if row.cht_mean is not None:
        raw["cht_mean"] = {"value": row.cht_mean, "unit": "degF"}
    return raw
