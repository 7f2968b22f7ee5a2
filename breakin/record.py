"""The facts of one build, as plain values: what an assessment starts from.

No Django and no clock in here. `breakin.load` fills these from the database, tests write them by hand. Units are the
canonical ones (US quart, degF, inHg, rpm, US gal/h, ft, hp, hours, minutes). None means "not observed".
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from breakin.calc.oil.prior import BUILT_IN, Prior
from breakin.calc.recording.result import EngineFlight
from breakin.record_paper import (
    AccessoryEventFacts,
    AccessoryFacts,
    InstallationFacts,
    MeterFacts,
    PlanFacts,
    PositionFacts,
    StageFacts,
    TypeFacts,
)

__all__ = [
    "PARTIAL_KINDS",
    "AccessoryEventFacts",
    "AccessoryFacts",
    "BlockFacts",
    "BuildRecord",
    "CellRunFacts",
    "Contact",
    "DecisionFacts",
    "EventFacts",
    "InspectionFacts",
    "InstallationFacts",
    "MeterFacts",
    "OilFacts",
    "PlanFacts",
    "PositionFacts",
    "PreservationFacts",
    "ProposalFacts",
    "RecordedRun",
    "RunFacts",
    "SealedFacts",
    "StageFacts",
    "StandingStop",
    "TypeFacts",
    "UnloggedRecorded",
    "WaiverFacts",
]


@dataclass(frozen=True)
class BlockFacts:
    order: int
    duration_min: float
    stated_band: str = ""
    pressure_altitude_ft: float | None = None
    oat_degf: float | None = None
    rpm: float | None = None
    map_inhg: float | None = None
    fuel_flow_gph: float | None = None
    claimed_pct: float | None = None
    cht_max_degf: float | None = None
    cht_mean_degf: float | None = None


@dataclass(frozen=True)
class RecordedRun:
    """What an instrument's file says of one engine on one flight. It stands beside what was typed and never over it.

    confirmed : a person said that it is this flight; else it was matched by time.
    other : the other engine of a twin on the same recording. split_* : engine 1 minus engine 2, as in FlightAnalysis.
    """

    recorded_flight_id: int
    recording_id: int
    began_at: datetime
    ended_at: datetime
    sample_s: float
    landings: int
    confirmed: bool
    engine: EngineFlight
    other: EngineFlight | None = None
    split_pct: float | None = None
    split_over_min: float | None = None
    notes: tuple[str, ...] = ()


class UnloggedRecorded(NamedTuple):
    """A recording of an engine of this build that belongs to no logged flight.

    kind : "flight", "ground_run" or "aborted". It is here once however many recorders saw it, only where its time is
    known, and not where more than half of it lies within a logged flight. seen_at : when the file was read; None takes
    the end of the flight.
    """

    recorded_flight_id: int
    began_at: datetime
    ended_at: datetime
    kind: str
    run_min: float
    airborne_min: float
    seen_at: datetime | None = None


@dataclass(frozen=True)
class RunFacts:
    """One flight or ground run, as one engine saw it."""

    root: UUID
    at: datetime
    local_date: date
    kind: str
    grade: str
    received_at: datetime
    aircraft_id: int
    installation_id: int
    hours: float
    airborne_min: float
    hours_estimated: bool = False
    ground_before_min: float | None = None
    ground_after_min: float | None = None
    off_block_at: datetime | None = None
    on_block_at: datetime | None = None
    landings: int | None = None
    persons_aboard: int | None = None
    chips: tuple[str, ...] = ()
    field_elevation_ft: float | None = None
    altimeter_inhg: float | None = None
    oat_ground_degf: float | None = None
    meter_kind: str = ""
    meter_start_h: float | None = None
    meter_end_h: float | None = None
    card_id: int | None = None
    takeoff_rpm: float | None = None
    takeoff_map_inhg: float | None = None
    takeoff_ff_gph: float | None = None
    climb_cht_degf: tuple[tuple[float, float], ...] = ()  # (ft above the field, degF), rising
    cht_max_degf: float | None = None
    cht_over_watch: str = ""
    cht_falling_by_3000: str = ""
    cht_cruise_mean_degf: float | None = None
    oil_temp_max_degf: float | None = None
    oil_press_min_psi: float | None = None
    oil_press_idle_psi: float | None = None
    tit_max_degf: float | None = None
    blocks: tuple[BlockFacts, ...] = ()
    other_blocks: tuple[BlockFacts, ...] = ()  # of the other engine on the same flight
    other_side: str = ""
    recorded: RecordedRun | None = None

    @property
    def is_flight(self) -> bool:
        return self.kind != "ground_run"

    @property
    def sessions_min(self) -> tuple[float, ...]:
        """Minutes of each time on the ground with the engine running."""
        return tuple(minutes for minutes in (self.ground_before_min, self.ground_after_min) if minutes is not None)

    @property
    def started_at(self) -> datetime:
        """When the engine started, as far as it was told."""
        if self.off_block_at is not None:
            return self.off_block_at
        return self.at - timedelta(minutes=self.airborne_min + sum(self.sessions_min))


@dataclass(frozen=True)
class OilFacts:
    """One oil event. `level_qt` is what the stick showed; the dipstick's offset is added where it is used."""

    root: UUID
    kind: str
    at: datetime
    grade: str
    received_at: datetime
    flight_root: UUID | None = None
    when: str = ""
    order: int = 0
    meter_reading_h: float | None = None
    level_qt: float | None = None
    minutes_since_shutdown: float | None = None
    level_ground: bool | None = None
    wiped_twice: bool | None = None
    recalled: bool = False
    u_qt: float | None = None
    belly_oil: int | None = None
    amount_qt: float | None = None
    oil_kind: str = ""
    drained_qt: float | None = None
    filled_qt: float | None = None
    filter_changed: bool | None = None


@dataclass(frozen=True)
class InspectionFacts:
    """A technician's inspection. `results` has the keys of its kind, see `breakin.entries.inspection_results`."""

    root: UUID
    kind: str
    at: datetime
    result: str
    received_at: datetime
    hours: float | None = None
    results: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class EventFacts:
    kind: str
    at: datetime
    hours: float | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class PreservationFacts:
    preserved_on: date
    expires_on: date
    ended_on: date | None = None


@dataclass(frozen=True)
class CellRunFacts:
    run_on: date
    minutes: float
    oil_used_qt: float | None = None


@dataclass(frozen=True)
class DecisionFacts:
    """What a person decided about a finding or a due item: acknowledged, cleared or waived."""

    rule: str
    occurrence: str
    state: str
    at: datetime | None = None
    severity: int = 0


@dataclass(frozen=True)
class WaiverFacts:
    """A manager lets one criterion of the review stand unmet."""

    criterion: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class ProposalFacts:
    """A close-out that was proposed and is neither signed nor given back."""

    by: str
    at: datetime


@dataclass(frozen=True)
class SealedFacts:
    """What the newest close-out file says, as far as later facts are compared with it.

    window : (from h, to h, rate, u) of the paper window [h, qt/h], or None. criteria : (key, met). roots : (root,
    kind, words, recording behind it or 0) of every fact that went in.
    """

    number: int
    at: datetime
    hours: float
    rate_qt_h: float | None = None
    u_qt_h: float | None = None
    window: tuple[float, float, float, float] | None = None
    first_two: str = ""
    criteria: tuple[tuple[str, bool], ...] = ()
    roots: tuple[tuple[str, str, str, int], ...] = ()


@dataclass(frozen=True)
class StandingStop:
    """A Stop in the book that no technician has cleared yet."""

    rule: str
    occurrence: str
    title: str
    text: str


@dataclass(frozen=True)
class Contact:
    name: str
    phone: str = ""


PARTIAL_KINDS = ("cylinder", "rings")  # when not every cylinder was done


@dataclass(frozen=True)
class BuildRecord:
    """All facts of one build, in order of happening; merged and double entries already left out.

    `runs` hold current versions only, from the opening of the build until its end. `unlogged_recorded` is what an
    instrument recorded in that time and nobody logged, oldest first: it counts for nothing until it is logged.
    `standing_stops` are no facts but what the book already says: they keep a Stop standing when the entry behind it is
    corrected away, because only a technician clears a Stop. They are not part of the digest.
    """

    build_id: int
    engine_id: int
    number: str
    kind: str
    state: str
    serial: str
    opened_at: datetime
    type: TypeFacts
    closed_at: datetime | None = None
    total_time_h: float | None = None  # of the engine at the build; never falls
    plan: PlanFacts | None = None
    positions: tuple[PositionFacts, ...] = ()
    installations: tuple[InstallationFacts, ...] = ()  # of this engine, oldest first
    meters: tuple[MeterFacts, ...] = ()
    runs: tuple[RunFacts, ...] = ()
    left_out: tuple[tuple[UUID, UUID], ...] = ()  # (flight left out, flight that counts instead)
    unlogged_recorded: tuple[UnloggedRecorded, ...] = ()
    oil: tuple[OilFacts, ...] = ()
    earlier_runs: tuple[RunFacts, ...] = ()  # of a partial build: what the engine did before it was opened
    earlier_oil: tuple[OilFacts, ...] = ()
    inspections: tuple[InspectionFacts, ...] = ()
    events: tuple[EventFacts, ...] = ()
    preservations: tuple[PreservationFacts, ...] = ()
    cell_runs: tuple[CellRunFacts, ...] = ()
    accessories: tuple[AccessoryFacts, ...] = ()  # of the engine; of its newest build alone
    decisions: tuple[DecisionFacts, ...] = ()
    waivers: tuple[WaiverFacts, ...] = ()
    proposal: ProposalFacts | None = None
    sealed: SealedFacts | None = None
    customer: str = ""
    contact: Contact | None = None
    owner: str = ""
    twin: bool = False
    prior: Prior = BUILT_IN  # what is believed of its oil loss beforehand
    standing_stops: tuple[StandingStop, ...] = field(default=(), repr=False)

    @property
    def partial(self) -> bool:
        """Were some of the cylinders left as they were?"""
        disturbed = sum(position.disturbed for position in self.positions)
        return self.kind in PARTIAL_KINDS and disturbed < self.type.cylinders

    @property
    def installation(self) -> InstallationFacts | None:
        """Where the engine sits now, or sat last while the build was in hand."""
        return self.installations[-1] if self.installations else None

    @property
    def installed_now(self) -> bool:
        return bool(self.installations) and self.installations[-1].until is None

    def installation_at(self, at: datetime) -> InstallationFacts | None:
        return next((row for row in reversed(self.installations) if row.covers(at)), None)

    def decision(self, rule: str, occurrence: str) -> str:
        """ "acknowledged", "cleared", "waived" or "" when nobody has decided."""
        for row in self.decisions:
            if row.rule == rule and row.occurrence == occurrence:
                return row.state
        return ""

    @property
    def data_until(self) -> datetime | None:
        """When the newest fact reached the shop."""
        received = [row.received_at for rows in (self.runs, self.oil, self.inspections) for row in rows]
        return max(received, default=None)

    def digest(self) -> str:
        """SHA-256 over everything that can change the judgement, time apart."""
        return hashlib.sha256(repr(self).encode()).hexdigest()
