"""What a shop knows of an engine before it flies, as plain values: its type, its plan, its seat and its meters.

Part of :mod:`breakin.record`, which hands these on. Units are the canonical ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID

from breakin.calc.power import Chart


@dataclass(frozen=True)
class TypeFacts:
    """One revision of an engine type. `chart_fault` says why there is no readable chart."""

    designation: str
    revision: int
    source: str
    cylinders: int
    displacement_cuin: float
    rated_hp: float
    rated_rpm: float
    sump_full_qt: float
    induction: str = "natural"
    fuel_flow_compensates: bool | None = None
    prop_control: str = "constant_speed"
    log_only: bool = False
    settle_qt: float | None = None
    oil_ceiling_qt_h: float | None = None
    takeoff_ff_low_gph: float | None = None
    takeoff_ff_high_gph: float | None = None
    cht_watch_degf: float | None = None
    cht_limit_degf: float | None = None
    oil_temp_max_degf: float | None = None
    oil_press_min_psi: float | None = None
    oil_press_idle_min_psi: float | None = None
    oil_press_max_psi: float | None = None
    tit_limit_degf: float | None = None
    altitude_cap_ft: float | None = None
    chart: Chart | None = field(default=None, repr=False)  # a revision never changes: its number stands for it
    chart_fault: str = ""

    @property
    def name(self) -> str:
        return f"{self.designation} rev. {self.revision}"


@dataclass(frozen=True)
class StageFacts:
    kind: str
    minutes: tuple[tuple[float, str], ...] = ()
    cap_h: float | None = None
    rpm: float | None = None
    altitude_max_ft: float | None = None


@dataclass(frozen=True)
class PlanFacts:
    """The plan in force for the build."""

    revision: int
    variant: str
    source: str
    source_revision: str
    credit: Mapping[str, Any]
    low: float
    expected_low_h: float
    expected_high_h: float
    minimum_h: float
    accept_qt_h: float
    watch_qt_h: float
    alarm_qt_h: float
    oil_kind: str = "mineral"
    ground_note_min: float = 10.0
    ground_call_min: float = 20.0
    first_oil_h: float = 10.0
    first_oil_from_h: float = 8.0
    first_oil_until_h: float = 12.0
    follow_up_h: tuple[float, ...] = ()
    follow_up_days: tuple[float, ...] = ()
    idle_days: tuple[float, ...] = ()
    first_check_h: float = 25.0
    filter_table: Mapping[str, str] = field(default_factory=dict)
    stages: tuple[StageFacts, ...] = ()

    @property
    def name(self) -> str:
        return f"run-in plan rev. {self.revision} ({self.source}, {self.source_revision})"

    def stage(self, kind: str) -> StageFacts | None:
        return next((stage for stage in self.stages if stage.kind == kind), None)


@dataclass(frozen=True)
class PositionFacts:
    number: int
    disturbed: bool
    finish: str
    ring_lot: str = ""


@dataclass(frozen=True)
class InstallationFacts:
    """An engine in a seat for a period. `place_*` belong to the home field of the aircraft."""

    id: int
    engine_id: int
    aircraft_id: int
    registration: str
    position: str
    since: datetime
    until: datetime | None
    min_oil_qt: float
    basis_clock: str = "tach"
    min_oil_source: str = "POH/AFM"
    dipstick_offset_qt: float = 0.0
    tach_per_hobbs: float | None = None
    prop_control: str = "constant_speed"
    rpm_error: float = 0.0
    map_error_inhg: float = 0.0
    has_fuel_flow: bool = True
    has_map: bool = True
    separator: bool = False
    winter_kit: bool = False
    place_name: str = ""
    place_elevation_ft: float | None = None
    zone: str = "UTC"

    def covers(self, at: datetime) -> bool:
        return self.since <= at and (self.until is None or at < self.until)


@dataclass(frozen=True)
class MeterFacts:
    """An hour meter of a seat; a change of meter ends one and starts the next."""

    aircraft_id: int
    position: str
    kind: str
    since: datetime
    until: datetime | None
    reading_at_start_h: float
    reading_at_end_h: float | None


@dataclass(frozen=True)
class AccessoryEventFacts:
    """What was done to an accessory, and the interval that holds from then on.

    act : "overhauled", "replaced" or "inspected" set its clock anew; "interval" only changes the interval; with
    "removed" it is no longer watched. total_time_h : total time of the engine then. own_hours_h : hours of its interval
    that it had behind it already. interval_* : None where it is not limited by them.
    """

    root: UUID
    act: str
    done_on: date
    recorded_at: datetime
    total_time_h: float | None = None
    own_hours_h: float | None = None
    interval_h: float | None = None
    interval_months: int | None = None

    @property
    def resets(self) -> bool:
        return self.act in ("overhauled", "replaced", "inspected")


@dataclass(frozen=True)
class AccessoryFacts:
    """An accessory of the engine with a clock of its own, with its events by day."""

    id: int
    kind: str
    name: str
    events: tuple[AccessoryEventFacts, ...]
