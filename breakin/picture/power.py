"""The power log of a build: the credit of the plan, what could have been had, both engines of a twin (P0 to P6)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from breakin.calc.atmosphere import pressure_altitude_ft, standard_temperature_degf
from breakin.calc.card import achievable_percent, asked_rpm, lowest_sensible_ft
from breakin.calc.errors import CalcError
from breakin.calc.plan import (
    Bands,
    Credit,
    FlightPower,
    SplitBlock,
    SplitResult,
    TimedSetting,
    accumulate,
    split,
    split_timed,
)
from breakin.calc.recording.result import Piece
from breakin.picture.blocks import BlockPicture, airborne_min, counted_blocks, percent, typed_blocks
from breakin.picture.clock import Clock, PlacedRun
from breakin.picture.recorded import engine_of, sessions_min
from breakin.record import BlockFacts, BuildRecord, InstallationFacts, RunFacts


@dataclass(frozen=True)
class PowerPicture:
    """credit is None, and why_not says why, when the plan's bands or the log cannot be read.

    blocks : those that count. replaced : what was typed or stated of flights whose recording counts instead.
    achievable : root of a flight -> the most power to be had [% of rated], None where that is not known.
    """

    blocks: tuple[BlockPicture, ...]
    replaced: tuple[BlockPicture, ...]
    bands: Bands
    credit: Credit | None
    why_not: str
    splits: tuple[tuple[PlacedRun, SplitResult], ...]
    achievable: Mapping[UUID, float | None]


def power_of(record: BuildRecord, clock: Clock) -> PowerPicture:
    """The power log of a build."""
    best = {placed.run.root: achievable_pct(record, placed) for placed in clock.flights}
    mine = {placed.run.root: tuple(counted_blocks(record, placed, best[placed.run.root])) for placed in clock.flights}
    blocks = tuple(block for rows in mine.values() for block in rows)
    recorded = {block.placed.run.root for block in blocks if block.source == "recording"}
    replaced = tuple(
        block
        for placed in clock.flights
        if placed.run.root in recorded
        for block in typed_blocks(record, placed, best[placed.run.root])
    )
    bands, why_not, credit = Bands(), "", None
    if record.plan is None:
        why_not = "No run-in plan has been issued for this build."
    else:
        try:
            bands = Bands.from_plan({"credit": record.plan.credit, "low": record.plan.low})
            hour_1, hour_2 = record.plan.stage("hour_1"), record.plan.stage("hour_2")
            credit = accumulate(
                _flights(clock, mine),
                bands,
                cap_hour_1_h=(hour_1.cap_h if hour_1 else None) or 2.0,
                cap_hour_2_h=(hour_2.cap_h if hour_2 else None) or 3.5,
            )
        except CalcError as error:
            why_not = str(error)
    return PowerPicture(blocks, replaced, bands, credit, why_not, _splits(record, clock), best)


def _flights(clock: Clock, blocks: Mapping[UUID, Sequence[BlockPicture]]) -> list[FlightPower]:
    return [
        FlightPower(
            str(placed.run.root),
            number,
            airborne_min(placed, blocks.get(placed.run.root, ())) if placed.run.is_flight else 0.0,
            max(sessions_min(placed.run), default=0.0),
            tuple(block.power for block in blocks.get(placed.run.root, ())),
            placed.end_h - placed.start_h,
        )
        for number, placed in enumerate(clock.runs)
    ]


def planned_rpm(record: BuildRecord) -> float:
    """Engine speed that the plan asks for, else a usual share of rated rpm [rpm]."""
    stages = record.plan.stages if record.plan else ()
    return asked_rpm((stage.rpm for stage in stages), record.type.rated_rpm)


def field_pressure_altitude_ft(placed: PlacedRun) -> float | None:
    """Pressure altitude of the field [ft]: recorded, else from elevation and altimeter setting; None without them."""
    run, engine = placed.run, engine_of(placed.run)
    if engine is not None and engine.takeoff.pressure_altitude_ft is not None:
        return engine.takeoff.pressure_altitude_ft
    if run.field_elevation_ft is None or run.altimeter_inhg is None:
        return None
    return pressure_altitude_ft(run.field_elevation_ft, run.altimeter_inhg)


def ground_oat_degf(placed: PlacedRun) -> float | None:
    """Temperature at the field [degF]: recorded, else as typed."""
    engine = engine_of(placed.run)
    if engine is not None and engine.takeoff.oat_degf is not None:
        return engine.takeoff.oat_degf
    return placed.run.oat_ground_degf


def achievable_pct(record: BuildRecord, placed: PlacedRun) -> float | None:
    """The most power to be had on this flight at the lowest sensible height, at the planned rpm [% of rated].

    None when the field, its temperature or the chart is not known. The temperature aloft is that of the ground, moved
    by the standard lapse.
    """
    chart, ground = record.type.chart, ground_oat_degf(placed)
    field = field_pressure_altitude_ft(placed)
    # Without a setting the elevation stands in: an ordinary day moves power by less than 1 %.
    field = placed.run.field_elevation_ft if field is None else field
    if chart is None or field is None or ground is None:
        return None
    aloft = lowest_sensible_ft(field)
    oat = ground + standard_temperature_degf(aloft) - standard_temperature_degf(field)
    try:
        return achievable_percent(chart, pressure_altitude_ft=aloft, oat_degf=oat, planned_rpm=planned_rpm(record))
    except CalcError:
        return None


def _splits(record: BuildRecord, clock: Clock) -> tuple[tuple[PlacedRun, SplitResult], ...]:
    """Both engines of a twin compared, flight by flight: by the recording, else by what was typed of both."""
    compared = []
    for placed in clock.flights:
        found = _recorded_split(record, placed.run) or _typed_split(record, placed.run)
        if found is not None:
            compared.append((placed, found))
    return tuple(compared)


def _recorded_split(record: BuildRecord, run: RunFacts) -> SplitResult | None:
    told = run.recorded
    if told is None or told.other is None:
        return None
    seat = record.installation_at(run.at)
    right = seat is not None and seat.position == "right"
    pair = (told.other, told.engine) if right else (told.engine, told.other)
    found = split_timed(
        *(tuple(_timed(piece) for piece in engine.pieces if piece.phase == "cruise") for engine in pair),
        mean_pct=told.split_pct,
        over_min=told.split_over_min,
    )
    return None if found.code == "not observed" else found


def _timed(piece: Piece) -> TimedSetting:
    return TimedSetting(piece.t0, piece.t1, piece.pct, piece.map_inhg, piece.rpm)


def _typed_split(record: BuildRecord, run: RunFacts) -> SplitResult | None:
    """The other engine is measured by this engine's chart."""
    if not run.blocks or not run.other_blocks:
        return None
    own = _settings(record, run.blocks, record.installation_at(run.at))
    other = _settings(record, run.other_blocks, None)
    return split(*((other, own) if run.other_side == "left" else (own, other)))


def _settings(record: BuildRecord, blocks: tuple[BlockFacts, ...], seat: InstallationFacts | None) -> list[SplitBlock]:
    kind = record.type
    return [
        SplitBlock(block.duration_min, percent(kind.chart, kind.chart_fault, block, seat)[0], block.map_inhg, block.rpm)
        for block in blocks
    ]
