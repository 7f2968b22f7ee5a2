"""The hardware and its paper."""

from engines.models.accessory import RESETTING_ACTS, Accessory, AccessoryAct, AccessoryEvent, AccessoryKind
from engines.models.aircraft import (
    Aircraft,
    BasisClock,
    Holding,
    Installation,
    Meter,
    MeterKind,
    PilotAssignment,
    Position,
)
from engines.models.build import (
    Build,
    BuildEvent,
    BuildEventKind,
    BuildKind,
    BuildState,
    CellRun,
    CylinderPosition,
    Finish,
    Preservation,
)
from engines.models.engine import Cooling, Engine, EngineType, EngineTypeRevision, FuelSystem, Induction, PropControl
from engines.models.inspection import Inspection, InspectionKind, InspectionResult
from engines.models.photo import Photo, PhotoAbout, PhotoWithdrawal

__all__ = [
    "RESETTING_ACTS",
    "Accessory",
    "AccessoryAct",
    "AccessoryEvent",
    "AccessoryKind",
    "Aircraft",
    "BasisClock",
    "Build",
    "BuildEvent",
    "BuildEventKind",
    "BuildKind",
    "BuildState",
    "CellRun",
    "Cooling",
    "CylinderPosition",
    "Engine",
    "EngineType",
    "EngineTypeRevision",
    "Finish",
    "FuelSystem",
    "Holding",
    "Induction",
    "Inspection",
    "InspectionKind",
    "InspectionResult",
    "Installation",
    "Meter",
    "MeterKind",
    "Photo",
    "PhotoAbout",
    "PhotoWithdrawal",
    "PilotAssignment",
    "Position",
    "Preservation",
    "PropControl",
]
