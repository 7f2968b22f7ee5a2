"""Inspections that read the same in many stories."""

from __future__ import annotations

from typing import Any

DRY = {"results": {"spots": [], "torque_done": True}}


def oil_change(drained_qt: float, filled_qt: float, kind: str = "mineral") -> dict[str, Any]:
    """The first oil and filter, with nothing but the fuzz of new rings in it."""
    return {
        "results": {
            "opened": True,
            "material": "fuzz",
            "longest_mm": 0.5,
            "magnet": "fuzz",
            "amount": "trace",
            "screen": "clean",
        },
        "drain_fill": {
            "drained": {"value": drained_qt, "unit": "qt"},
            "filled": {"value": filled_qt, "unit": "qt"},
            "oil_kind": kind,
            "filter_changed": True,
        },
    }
