"""An inspection as it was typed, put back into its form for a correction."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from breakin.calc.units import Kind, display_unit, from_canonical
from breakin.entries.moments import clock_change_of
from breakin.entries.oil import BELLY_WORDS
from breakin.services.inspection_corrections import oil_of
from engines.models import Inspection, InspectionKind
from reports.inspect.parts import SHUTDOWN

_MEASURED = {
    "input_psi": ("input_psi", Kind.OIL_PRESSURE),
    "orifice_psi": ("orifice_psi", Kind.OIL_PRESSURE),
    "full_gph": ("full_gph", Kind.FUEL_FLOW),
    "found_full_gph": ("found_full_gph", Kind.FUEL_FLOW),
    "idle_gph": ("idle_gph", Kind.FUEL_FLOW),
    "found_idle_gph": ("found_idle_gph", Kind.FUEL_FLOW),
    "density_altitude_ft": ("density_altitude", Kind.ALTITUDE),
    "map_error_inhg": ("map_error", Kind.PRESSURE_MANIFOLD),
    **{f"{name}_inhg": (name, Kind.PRESSURE_MANIFOLD) for name in ("ambient", "stopped_map", "found_map", "left_map")},
}


def initial_of(inspection: Inspection, units: str) -> dict[str, Any]:
    """Name of each field -> what it begins with. Values come up as they were typed, with the unit of then."""
    local = inspection.happened_at.astimezone(ZoneInfo(inspection.zone))
    begin: dict[str, Any] = {
        "client_id": str(uuid.uuid4()),
        "local_date": f"{local:%Y-%m-%d}",
        "local_time": f"{local:%H:%M}",
        "clock_change": clock_change_of(inspection.happened_at, inspection.zone),
        "result": inspection.result,
        "note": inspection.note,
        "performed_by_id": inspection.performed_by_id,
        "inspector_id": inspection.inspector_id,
    }
    for name, value in inspection.results.items():
        begin |= _field(inspection.typed, name, value, units)
    for event in oil_of(inspection):
        begin |= _oil(event, units, reading=inspection.kind == InspectionKind.OIL_CHECK)
    return begin


def _field(typed: Mapping[str, Any], name: str, value: Any, units: str) -> dict[str, Any]:
    if name in ("spots", "items"):
        stem = "spot" if name == "spots" else "item"
        return {f"{stem}_{row}_{key}": _plain(each) for row, one in enumerate(value, 1) for key, each in one.items()}
    if name == "readings":
        return {
            f"readings_{number}": _as_typed(typed, f"results.readings.{number}", psi, Kind.OIL_PRESSURE, units)
            for number, psi in value.items()
        }
    if isinstance(value, dict):  # by cylinder, or by metal
        stem = "ppm" if name == "ppm" else name
        return {f"{stem}_{key}": _plain(each) for key, each in value.items()}
    if name in _MEASURED:
        field, kind = _MEASURED[name]
        return {field: _as_typed(typed, f"results.{field}", value, kind, units)}
    return {name: _plain(value)}


def _as_typed(typed: Mapping[str, Any], path: str, value: float, kind: Kind, units: str) -> dict[str, str]:
    kept = typed.get(path)
    if isinstance(kept, list) and len(kept) == 2:
        return {"value": str(kept[0]), "unit": str(kept[1])}
    unit = display_unit(kind, units)
    return {"value": f"{from_canonical(value, unit, kind):.4g}", "unit": unit}


def _plain(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return value
    return f"{value:g}" if isinstance(value, float) else str(value)


def _chip(event: Any) -> str:
    """The chip that was tapped; for minutes that were typed elsewhere the one they fall under."""
    kept = str((event.typed.get("minutes_since_shutdown") or [""])[0])
    minutes = event.minutes_since_shutdown
    if kept in dict(SHUTDOWN) or minutes is None:
        return kept
    under = ((10, "<10"), (30, "10-30"), (120, "30-120"))
    return next((chip for most, chip in under if minutes < most), "overnight")


def _oil(event: Any, units: str, *, reading: bool) -> dict[str, Any]:
    def volume(name: str, value: float | None) -> dict[str, Any]:
        return {} if value is None else {name: _as_typed(event.typed, name, value, Kind.VOLUME, units)}

    def flag(name: str, value: bool | None) -> dict[str, Any]:
        return {} if value is None else {name: _plain(value)}

    if reading:
        return {
            **volume("level", event.level_qt),
            "minutes_since_shutdown": _chip(event),
            **flag("level_ground", event.level_ground),
            **flag("wiped_twice", event.wiped_twice),
            **({} if event.belly_oil is None else {"belly_oil": BELLY_WORDS[event.belly_oil]}),
        }
    return {
        **volume("drained", event.drained_qt),
        **volume("filled", event.filled_qt),
        "oil_kind": event.oil_kind,
        "brand": event.brand,
        **flag("filter_changed", event.filter_changed),
    }
