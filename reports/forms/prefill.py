"""What was typed, back in the form: the texts and units that a person wrote, so that a correction changes only what
was wrong. A value without its typed text is shown in the reader's own unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from breakin.calc.units import Kind, display_unit, from_canonical
from breakin.entries.moments import clock_change_of
from breakin.entries.oil import BELLY_WORDS, CONTAINER_QT, SHUTDOWN_CHIPS
from breakin.models import Flight, FlightEngine, OilEvent, OilEventKind, PowerBlock, When
from reports.forms.engine import CLIMB_FT
from reports.pilot.log_flight_page import EngineSection
from shop.models import Person

_PLACES = {Kind.TEMPERATURE: 1, Kind.VOLUME: 2, Kind.PRESSURE_ALTIMETER: 2}
# Field of the form -> attribute of the row and what it measures; without a kind it has no unit to choose.
_FLIGHT: dict[str, tuple[str, Kind | None]] = {
    "airborne": ("airborne_min", None),
    "ground_before": ("ground_before_min", None),
    "ground_after": ("ground_after_min", None),
    "landings": ("landings", None),
    "persons_aboard": ("persons_aboard", None),
    "field_elevation": ("field_elevation_ft", Kind.ALTITUDE),
    "altimeter": ("altimeter_inhg", Kind.PRESSURE_ALTIMETER),
    "oat_ground": ("oat_ground_degf", Kind.TEMPERATURE),
}
_ENGINE: dict[str, tuple[str, Kind | None]] = {
    "meter_start": ("meter_start_h", None),
    "meter_end": ("meter_end_h", None),
    "takeoff_rpm": ("takeoff_rpm", None),
    "takeoff_map": ("takeoff_map_inhg", Kind.PRESSURE_MANIFOLD),
    "takeoff_ff": ("takeoff_ff_gph", Kind.FUEL_FLOW),
    "cht_max": ("cht_max_degf", Kind.TEMPERATURE),
    "cht_cruise_mean": ("cht_cruise_mean_degf", Kind.TEMPERATURE),
    "oil_temp_max": ("oil_temp_max_degf", Kind.TEMPERATURE),
    "oil_press_min": ("oil_press_min_psi", Kind.OIL_PRESSURE),
    "oil_press_idle": ("oil_press_idle_psi", Kind.OIL_PRESSURE),
    "tit_max": ("tit_max_degf", Kind.TEMPERATURE),
}
_BLOCK: dict[str, tuple[str, Kind | None]] = {
    "duration": ("duration_min", None),
    "pressure_altitude": ("pressure_altitude_ft", Kind.ALTITUDE),
    "oat": ("oat_degf", Kind.TEMPERATURE),
    "rpm": ("rpm", None),
    "map": ("map_inhg", Kind.PRESSURE_MANIFOLD),
    "fuel_flow": ("fuel_flow_gph", Kind.FUEL_FLOW),
    "cht_max": ("cht_max_degf", Kind.TEMPERATURE),
}


def flight_initial(flight: Flight, sections: Sequence[EngineSection], system: str, zone: str) -> dict[str, Any]:
    """Initial data of a sheet, in the flat shape of a POST, from a flight on record."""
    local = flight.happened_at.astimezone(ZoneInfo(zone))
    initial: dict[str, Any] = {
        "local_date": local.strftime("%Y-%m-%d"),
        "local_time": local.strftime("%H:%M"),
        "clock_change": clock_change_of(flight.happened_at, zone),
        "kind": flight.kind,
        "pilot": str(flight.pilot_id or ""),
        "place": flight.field_id,
        "chips": flight.chips,
        "note": flight.note,
        **_values(flight, _FLIGHT, flight.typed, "", system),
    }
    if flight.field_id and "field_elevation" not in flight.typed:
        initial.pop("field_elevation", None)  # it came with the place
    parts = list(flight.engines.order_by("id").prefetch_related("blocks"))
    numbers = {part.engine_id: number for number, part in enumerate(parts)}
    initial["engines"] = [section.key for section in sections if section.engine.pk in numbers]
    for section in sections:
        number = numbers.get(section.engine.pk)
        if number is not None:
            initial |= _engine_initial(section.key, parts[number], flight.typed, f"engines.{number}", system)
    return initial


def _engine_initial(key: str, part: FlightEngine, typed: Any, path: str, system: str) -> dict[str, Any]:
    found = _values(part, _ENGINE, typed, path, system)
    if f"{path}.meter_start" not in typed:
        found.pop("meter_start", None)  # it followed from the reading before
    for feet in CLIMB_FT:
        value = (part.climb_cht_degf or {}).get(str(feet))
        if value is not None:
            found[f"climb_{feet}"] = _text(typed, f"{path}.climb_cht.{feet}", value, Kind.TEMPERATURE, system)
    found["cht_over_watch"], found["cht_falling"] = part.cht_over_watch, part.cht_falling_by_3000
    blocks = [block for block in part.blocks.all() if not block.stated_band]
    found["card"] = part.as_on_card_id
    found["as_on_card"] = "yes" if part.as_on_card_id else "no" if blocks else "unknown"
    if blocks:
        found["blocks"] = len(blocks)
    initial = {f"{key}-{name}": value for name, value in found.items()}
    for row, block in enumerate(blocks):
        initial |= {
            f"{key}-b{row}-{name}": value
            for name, value in _block(block, typed, f"{path}.blocks.{row}", system).items()
        }
    return initial


def _block(block: PowerBlock, typed: Any, path: str, system: str) -> dict[str, Any]:
    return {
        **_values(block, _BLOCK, typed, path, system),
        "mixture": block.mixture,
        "cowl_flaps": block.cowl_flaps,
    }


def oil_initial(event: OilEvent, system: str, zone: str) -> dict[str, Any]:
    """Initial data of the oil form from an entry on record."""
    local = event.happened_at.astimezone(ZoneInfo(zone))
    initial: dict[str, Any] = {
        "local_date": local.strftime("%Y-%m-%d"),
        "local_time": local.strftime("%H:%M"),
        "clock_change": clock_change_of(event.happened_at, zone),
        "when": event.when,
        "note": event.note,
        "brand": event.brand,
        "oil_kind": event.oil_kind,
    }
    if event.level_qt is not None:
        initial["oil_level"] = _text(event.typed, "level", event.level_qt, Kind.VOLUME, system)
    initial["minutes_since"] = _chip(event)
    if event.kind == OilEventKind.READING:
        initial["protocol"] = _protocol(event)
    if event.belly_oil is not None:
        initial["belly"] = BELLY_WORDS[event.belly_oil]
    if event.kind == OilEventKind.NONE_ADDED:
        initial["added"] = "none"
    if event.kind == OilEventKind.ADDITION and event.amount_qt is not None:
        initial |= _poured(event, system) | {"poured": event.when or "after"}
    return initial


def habits(sections: Sequence[EngineSection], person: Person | None) -> dict[str, Any]:
    """How this person read the dipstick of each engine last time, as the start of a new form.

    Only how it was read, which is a habit; what was seen, poured or flown is told anew each time.
    """
    found: dict[str, Any] = {}
    for section in sections if person else ():
        readings = OilEvent.objects.current().filter(
            engine=section.engine, kind=OilEventKind.READING, entered_by=person, when=When.AFTER
        )
        last = readings.order_by("-happened_at", "-order", "-id").first()
        if last is not None:
            found |= {f"{section.key}-minutes_since": _chip(last), f"{section.key}-protocol": _protocol(last)}
    return found


def _protocol(event: OilEvent) -> str:
    sure = event.level_ground and event.wiped_twice
    return "good" if sure else "sloping" if event.level_ground is False else ""


def _chip(event: OilEvent) -> str:
    minutes = event.minutes_since_shutdown
    return next((chip for chip, value in SHUTDOWN_CHIPS.items() if value == minutes), "")


def _poured(event: OilEvent, system: str) -> dict[str, Any]:
    one = CONTAINER_QT.get(event.container)
    for count in (1, 2):
        if one and abs((event.amount_qt or 0.0) - count * one) < 1e-6:
            return {"added": str(count), "container": event.container}
    return {"added": "other", "amount": _text(event.typed, "amount", event.amount_qt or 0.0, Kind.VOLUME, system)}


def _values(
    row: Any, names: Mapping[str, tuple[str, Kind | None]], typed: Any, path: str, system: str
) -> dict[str, Any]:
    found = {}
    for name, (attribute, kind) in names.items():
        value = getattr(row, attribute)
        if value is not None:
            found[name] = _text(typed, f"{path}.{name}" if path else name, value, kind, system)
    return found


def _text(typed: Any, path: str, value: float, kind: Kind | None, system: str) -> Any:
    """The typed text with its unit; else the value in the reader's unit."""
    told = typed.get(path) if isinstance(typed, Mapping) else None
    if isinstance(told, list | tuple) and len(told) == 2:
        return str(told[0]) if kind is None else {"value": str(told[0]), "unit": str(told[1])}
    if kind is None:
        return _plain(value, 1)
    unit = display_unit(kind, system)
    return {"value": _plain(from_canonical(value, unit, kind), _PLACES.get(kind, 1)), "unit": unit}


def _plain(value: float, places: int) -> str:
    return f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
