"""What a person typed, understood or refused with every problem at once. Forms and the API read through here."""

from breakin.entries.digest import content_hash
from breakin.entries.engine import BlockEntry, EngineEntry
from breakin.entries.flight import FlightEntry, parse_flight
from breakin.entries.inspection import InspectionEntry, parse_inspection
from breakin.entries.oil import OilEntry, parse_oil

__all__ = [
    "BlockEntry",
    "EngineEntry",
    "FlightEntry",
    "InspectionEntry",
    "OilEntry",
    "content_hash",
    "parse_flight",
    "parse_inspection",
    "parse_oil",
]
