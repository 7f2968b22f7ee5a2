"""Take-off fuel flow and head temperatures, flight by flight (what the rules E1 to E4 look at)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from breakin.calc.atmosphere import density_altitude_ft, density_ratio, standard_temperature_degf
from breakin.calc.power import corrected_fuel_flow_gph
from breakin.calc.said import Values, fixed, gph, said
from breakin.calc.seating import HeadsOfFlight, Seating, excess_degf, seating_of
from breakin.picture.clock import Clock, PlacedRun
from breakin.picture.power import field_pressure_altitude_ft, ground_oat_degf
from breakin.picture.recorded import (
    NOTHING,
    Told,
    engine_of,
    hottest_head,
    level_cruise,
    mean_heads_degf,
    takeoff_fuel_flow,
)
from breakin.record import BuildRecord

WATCH_DEGF = 420.0  # where the type names no line of its own
HIGH_SHARE = 0.05
STOP_SHARE = 0.02
# Above this density altitude a fuel system of unknown kind is not judged by its raw flow alone [ft].
RAW_UNTIL_FT = 3000.0
# A day hotter than standard by this is as hot as it gets where people fly [ddegF]: common practice, no source.
HOT_DAY_DDEGF = 54.0


@dataclass(frozen=True)
class FuelFlow:
    """Full-throttle fuel flow of one flight.

    raw, compared : [US gal/h] as read, and as compared with the band. told : as typed and as recorded.
    corrected : whether `compared` was brought to sea-level density.
    word : "in band", "a little low", "low", "high", "not observed", "no band".
    short : share by which it lies under the band, 0 when it does not.
    how : one sentence on how it was compared.
    surely : whether the comparison can be trusted to stop an aircraft without a technician.
    """

    word: str
    raw: float | None = None
    compared: float | None = None
    corrected: bool = False
    short: float = 0.0
    how: str = ""
    surely: bool = True
    told: Told = NOTHING


@dataclass(frozen=True)
class HeatRow:
    """One flight: its fuel flow, its hottest head and whether the heads came down in the climb.

    falling : "yes", "no" or "not observed". climb_peak_degf : the highest of each head in the climb, None for a probe
    that is left out. excess_degf : cylinder -> by how much it was hotter than its mates in level cruise [ddegF].
    """

    placed: PlacedRun
    fuel: FuelFlow
    falling: str
    hottest: Told = NOTHING
    climb_peak_degf: tuple[float | None, ...] = ()
    excess_degf: Mapping[int, float] = field(default_factory=dict)


def watch_line_degf(record: BuildRecord) -> float:
    return record.type.cht_watch_degf if record.type.cht_watch_degf is not None else WATCH_DEGF


def heat_of(record: BuildRecord, clock: Clock) -> tuple[HeatRow, ...]:
    """One row a flight, oldest first."""
    return tuple(_row(record, placed) for placed in clock.flights)


def _row(record: BuildRecord, placed: PlacedRun) -> HeatRow:
    engine = engine_of(placed.run)
    return HeatRow(
        placed,
        fuel_flow_of(record, placed),
        _falling(placed),
        hottest_head(placed.run),
        engine.cht_climb_peak_degf if engine else (),
        excess_degf(mean_heads_degf(level_cruise(engine))) if engine else {},
    )


def _falling(placed: PlacedRun) -> str:
    """Did the heads come down by 3,000 ft above the field? By the recording, else by the pilot's word, else by the
    temperatures he noted.
    """
    run, engine = placed.run, engine_of(placed.run)
    for word in (engine.cht_falling_by_3000 if engine else "", run.cht_falling_by_3000):
        if word in ("yes", "no"):
            return word
    lower = [cht for ft, cht in run.climb_cht_degf if ft < 3000]
    upper = [cht for ft, cht in run.climb_cht_degf if ft >= 3000]
    if lower and upper:
        return "no" if upper[0] >= max(lower) else "yes"
    return "not observed"


def head_in_climb_degf(placed: PlacedRun) -> float | None:
    """The hottest head 3,000 ft above the field or higher in the climb, recorded or noted; else of the whole flight."""
    engine = engine_of(placed.run)
    noted = (engine.climb_cht_degf if engine else ()) or placed.run.climb_cht_degf
    at_top = [cht for ft, cht in noted if ft >= 3000]
    return max(at_top) if at_top else hottest_head(placed.run).value


def seating(record: BuildRecord, clock: Clock) -> Seating:
    """Do the disturbed heads run cooler than in the first hour, at equal power on a standard day?"""
    flights = [
        HeadsOfFlight(str(placed.run.root), placed.start_h, engine.cht_cruise_std_degf, engine.cht_cruise_pct)
        for placed in clock.flights
        if (engine := engine_of(placed.run)) is not None
        and engine.cht_cruise_pct is not None
        and any(head is not None for head in engine.cht_cruise_std_degf)
    ]
    return seating_of(flights, [position.number for position in record.positions if position.disturbed])


def fuel_flow_of(record: BuildRecord, placed: PlacedRun) -> FuelFlow:
    """Compare the full-throttle fuel flow with the band of the type (rule E1).

    It is brought to sea-level density only where the type's fuel system is said to follow density.
    """
    kind, told = record.type, takeoff_fuel_flow(placed.run)
    raw = told.value
    if kind.takeoff_ff_low_gph is None:
        return FuelFlow("no band")
    if raw is None:
        return FuelFlow("not observed")
    compared, corrected, how, surely = _compared(record, placed, raw)
    low, high = kind.takeoff_ff_low_gph, kind.takeoff_ff_high_gph
    short = max(0.0, round((low - compared) / low, 6))  # 14.7 of 15.0 is 2 %, not a hair more
    word = "in band"
    if short > 0:
        word = "low" if short > STOP_SHARE else "a little low"
    elif high is not None and compared > high * (1 + HIGH_SHARE):
        word = "high"
    if told.recorded is not None:
        how = (
            said("from the recording, typed {typed}; {how}", typed=gph(told.typed), how=how)
            if told.typed is not None
            else said("from the recording; {how}", how=how)
        )
    return FuelFlow(word, raw, compared, corrected, short, how, surely, told)


def _low_on_any_day(record: BuildRecord, raw: float, altitude_ft: float) -> bool:
    """Is the flow too low even if the day was as hot as days get, where a compensated system meters the least?"""
    hot = standard_temperature_degf(altitude_ft) + HOT_DAY_DDEGF
    best = corrected_fuel_flow_gph(raw, density_ratio(altitude_ft, hot))
    low = record.type.takeoff_ff_low_gph
    return low is not None and best < low * (1 - STOP_SHARE)


def _compared(record: BuildRecord, placed: PlacedRun, raw: float) -> tuple[float, bool, str, bool]:
    """Value, whether corrected, how in words, and whether it may stop an aircraft by itself."""
    run = placed.run
    altitude = field_pressure_altitude_ft(placed)
    by_elevation = altitude is None and run.field_elevation_ft is not None
    if by_elevation:
        altitude = run.field_elevation_ft
    oat = ground_oat_degf(placed)
    known = altitude is not None and oat is not None
    if record.type.fuel_flow_compensates is False:
        return raw, False, said("compared as read: this fuel system does not follow density"), True
    height = density_altitude_ft(float(altitude), float(oat)) if altitude is not None and oat is not None else None
    if record.type.fuel_flow_compensates and known and altitude is not None and oat is not None:
        ratio = density_ratio(float(altitude), float(oat))
        told: Values = {"raw": gph(raw), "height": fixed(height or 0.0, 0)}
        how = (
            said(
                "read {raw}, brought to sea level from {height} ft density altitude, altimeter setting not told, "
                "elevation taken",
                **told,
            )
            if by_elevation
            else said("read {raw}, brought to sea level from {height} ft density altitude", **told)
        )
        return corrected_fuel_flow_gph(raw, ratio), True, how, True
    if record.type.fuel_flow_compensates:
        how = said("compared as read: field elevation or temperature not observed; check with a technician")
        return raw, False, how, altitude is not None and _low_on_any_day(record, raw, float(altitude))
    where = (
        said("{height} ft density altitude", height=fixed(height, 0))
        if height is not None
        else said("a density altitude that is not known")
    )
    how = said(
        "compared as read at {where}: whether this fuel system follows density is not on record; check with a "
        "technician",
        where=where,
    )
    return raw, False, how, height is not None and height <= RAW_UNTIL_FT
