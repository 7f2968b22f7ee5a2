"""Percent power of every block, the credit of the plan, and what could have been had (rules P0 to P5)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from breakin.calc.atmosphere import pressure_altitude_ft, standard_temperature_degf
from breakin.calc.bands import Label, classify
from breakin.calc.errors import CalcError
from breakin.calc.plan import Bands, BlockPower, Credit, FlightPower, SplitBlock, SplitResult, accumulate, split
from breakin.calc.power import Chart, max_percent_power, percent_power
from breakin.picture.clock import Clock, PlacedRun
from breakin.record import BlockFacts, BuildRecord, InstallationFacts

# Lowest sensible height for steady power over the field [ft] (rule P5).
LOWEST_ABOVE_FIELD_FT = 1500.0
# A break-in at a cruise setting is planned at this share of rated rpm where the plan names none: own choice.
PLANNED_RPM_SHARE = 0.93


@dataclass(frozen=True)
class BlockPicture:
    """A block with its power: pct and sigma [% of rated], or why it is not known."""

    placed: PlacedRun
    facts: BlockFacts
    from_h: float
    pct: float | None
    sigma: float | None
    label: Label | None
    source: str
    method: str
    why_unknown: str
    achievable_pct: float | None

    @property
    def power(self) -> BlockPower:
        band = int(self.facts.stated_band) if self.facts.stated_band in ("75", "65") else None
        return BlockPower(
            self.facts.duration_min,
            self.pct,
            self.sigma,
            "stated" if self.source == "stated" else "typed",
            band,
            None if self.achievable_pct is None else self.achievable_pct >= 72.0,
        )


@dataclass(frozen=True)
class PowerPicture:
    """credit is None, and why_not says why, when the plan's bands or the log cannot be read.

    achievable : root of a flight -> the most power to be had [% of rated], None where that is not known.
    """

    blocks: tuple[BlockPicture, ...]
    bands: Bands
    credit: Credit | None
    why_not: str
    splits: tuple[tuple[PlacedRun, SplitResult], ...]
    achievable: Mapping[UUID, float | None]


def power_of(record: BuildRecord, clock: Clock) -> PowerPicture:
    """The power log of a build."""
    best = {placed.run.root: achievable_pct(record, placed) for placed in clock.flights}
    blocks = tuple(block for placed in clock.flights for block in _blocks(record, placed, best[placed.run.root]))
    bands, why_not, credit = Bands(), "", None
    if record.plan is None:
        why_not = "No run-in plan has been issued for this build."
    else:
        try:
            bands = Bands.from_plan({"credit": record.plan.credit, "low": record.plan.low})
            hour_1, hour_2 = record.plan.stage("hour_1"), record.plan.stage("hour_2")
            credit = accumulate(
                _flights(clock, blocks),
                bands,
                cap_hour_1_h=(hour_1.cap_h if hour_1 else None) or 2.0,
                cap_hour_2_h=(hour_2.cap_h if hour_2 else None) or 3.5,
            )
        except CalcError as error:
            why_not = str(error)
    return PowerPicture(blocks, bands, credit, why_not, _splits(record, clock), best)


def _flights(clock: Clock, blocks: tuple[BlockPicture, ...]) -> list[FlightPower]:
    mine: dict[int, list[BlockPower]] = {}
    for block in blocks:
        mine.setdefault(id(block.placed), []).append(block.power)
    return [
        FlightPower(
            str(placed.run.root),
            number,
            placed.run.airborne_min if placed.run.is_flight else 0.0,
            max(placed.run.sessions_min, default=0.0),
            tuple(mine.get(id(placed), ())),
            placed.end_h - placed.start_h,
        )
        for number, placed in enumerate(clock.runs)
    ]


def planned_rpm(record: BuildRecord) -> float:
    """Engine speed that the plan asks for, else a usual share of rated rpm [rpm]."""
    stages = record.plan.stages if record.plan else ()
    return next((stage.rpm for stage in stages if stage.rpm), record.type.rated_rpm * PLANNED_RPM_SHARE)


def field_pressure_altitude_ft(placed: PlacedRun) -> float | None:
    """Pressure altitude of the field [ft], or None when elevation or altimeter setting were not told."""
    run = placed.run
    if run.field_elevation_ft is None or run.altimeter_inhg is None:
        return None
    return pressure_altitude_ft(run.field_elevation_ft, run.altimeter_inhg)


def achievable_pct(record: BuildRecord, placed: PlacedRun) -> float | None:
    """The most power to be had on this flight at the lowest sensible height, at the planned rpm [% of rated].

    None when the field, its temperature or the chart is not known. The temperature aloft is that of the ground, moved
    by the standard lapse.
    """
    run, chart = placed.run, record.type.chart
    if chart is None or run.field_elevation_ft is None or run.oat_ground_degf is None:
        return None
    field = field_pressure_altitude_ft(placed)
    # Without a setting the elevation stands in: an ordinary day moves power by less than 1 %.
    field = run.field_elevation_ft if field is None else field
    aloft = field + LOWEST_ABOVE_FIELD_FT
    oat = run.oat_ground_degf + standard_temperature_degf(aloft) - standard_temperature_degf(field)
    try:
        return max_percent_power(chart, pressure_altitude_ft=aloft, oat_degf=oat, rpm=planned_rpm(record))
    except CalcError:
        return None


def _blocks(record: BuildRecord, placed: PlacedRun, best: float | None) -> list[BlockPicture]:
    run = placed.run
    seat = record.installation_at(run.at)
    flown = max(run.airborne_min, sum(block.duration_min for block in run.blocks), 1e-9)
    per_min = (placed.end_h - placed.start_h) / flown
    elapsed = flown - sum(block.duration_min for block in run.blocks)
    pictures = []
    for facts in run.blocks:
        pct, sigma, method, why = _percent(record.type.chart, record.type.chart_fault, facts, seat)
        stated = pct is None and facts.stated_band in ("75", "65")
        label: Label | None = classify(pct, _bands(record)) if pct is not None else None
        if stated:
            label = "target-75" if facts.stated_band == "75" else "target-65"
        pictures.append(
            BlockPicture(
                placed,
                facts,
                placed.start_h + elapsed * per_min,
                pct,
                sigma,
                label,
                "stated" if stated else "typed",
                "as on the card" if stated else method,
                "" if stated else why,
                best,
            )
        )
        elapsed += facts.duration_min
    return pictures


def _bands(record: BuildRecord) -> Bands:
    if record.plan is None:
        return Bands()
    try:
        return Bands.from_plan({"credit": record.plan.credit, "low": record.plan.low})
    except CalcError:
        return Bands()


def _percent(
    chart: Chart | None, fault: str, facts: BlockFacts, seat: InstallationFacts | None
) -> tuple[float | None, float | None, str, str]:
    """Percent, sigma, method, and why not: instrument errors taken off, then the type's chart."""
    if chart is None:
        return None, None, "", fault
    rpm, manifold = facts.rpm, facts.map_inhg
    if seat is not None:
        rpm = None if rpm is None else rpm - seat.rpm_error
        manifold = None if manifold is None else manifold - seat.map_error_inhg
    try:
        found = percent_power(
            chart,
            rpm=rpm,
            map_inhg=manifold,
            pressure_altitude_ft=facts.pressure_altitude_ft,
            oat_degf=facts.oat_degf,
        )
    except CalcError as error:
        return None, None, "", str(error)
    return found.pct, found.sigma_pct, "; ".join((found.method, *found.assumed)), ""


def _splits(record: BuildRecord, clock: Clock) -> tuple[tuple[PlacedRun, SplitResult], ...]:
    """Both engines of a twin compared, flight by flight. The other engine is measured by this engine's chart."""
    compared = []
    for placed in clock.flights:
        seat = record.installation_at(placed.run.at)
        if not placed.run.blocks or not placed.run.other_blocks:
            continue
        own = _settings(record, placed.run.blocks, seat)
        other = _settings(record, placed.run.other_blocks, None)
        pair = (other, own) if placed.run.other_side == "left" else (own, other)
        compared.append((placed, split(*pair)))
    return tuple(compared)


def _settings(record: BuildRecord, blocks: tuple[BlockFacts, ...], seat: InstallationFacts | None) -> list[SplitBlock]:
    return [
        SplitBlock(
            block.duration_min,
            _percent(record.type.chart, record.type.chart_fault, block, seat)[0],
            block.map_inhg,
            block.rpm,
        )
        for block in blocks
    ]
