"""Take-off fuel flow and head temperatures, flight by flight (what the rules E1 to E3 look at)."""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.atmosphere import density_altitude_ft, density_ratio, standard_temperature_degf
from breakin.calc.power import corrected_fuel_flow_gph
from breakin.picture.clock import Clock, PlacedRun
from breakin.picture.power import field_pressure_altitude_ft
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

    raw, compared : [US gal/h] as read, and as compared with the band.
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


@dataclass(frozen=True)
class HeatRow:
    """One flight: its fuel flow and whether the heads came down in the climb ("yes", "no" or "not observed")."""

    placed: PlacedRun
    fuel: FuelFlow
    falling: str


def watch_line_degf(record: BuildRecord) -> float:
    return record.type.cht_watch_degf if record.type.cht_watch_degf is not None else WATCH_DEGF


def heat_of(record: BuildRecord, clock: Clock) -> tuple[HeatRow, ...]:
    """One row a flight, oldest first."""
    return tuple(HeatRow(placed, fuel_flow_of(record, placed), _falling(placed)) for placed in clock.flights)


def _falling(placed: PlacedRun) -> str:
    """Did the heads come down by 3,000 ft above the field? By the pilot's word, else by the temperatures he noted."""
    run = placed.run
    if run.cht_falling_by_3000 in ("yes", "no"):
        return run.cht_falling_by_3000
    lower = [cht for ft, cht in run.climb_cht_degf if ft < 3000]
    upper = [cht for ft, cht in run.climb_cht_degf if ft >= 3000]
    if lower and upper:
        return "no" if upper[0] >= max(lower) else "yes"
    return "not observed"


def fuel_flow_of(record: BuildRecord, placed: PlacedRun) -> FuelFlow:
    """Compare the full-throttle fuel flow with the band of the type (rule E1).

    It is brought to sea-level density only where the type's fuel system is said to follow density.
    """
    kind, raw = record.type, placed.run.takeoff_ff_gph
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
    return FuelFlow(word, raw, compared, corrected, short, how, surely)


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
    oat = run.oat_ground_degf
    known = altitude is not None and oat is not None
    if record.type.fuel_flow_compensates is False:
        return raw, False, "compared as read: this fuel system does not follow density", True
    height = density_altitude_ft(float(altitude), float(oat)) if altitude is not None and oat is not None else None
    if record.type.fuel_flow_compensates and known and altitude is not None and oat is not None:
        ratio = density_ratio(float(altitude), float(oat))
        at = f"{height:.0f} ft density altitude"
        note = ", altimeter setting not told, elevation taken" if by_elevation else ""
        value = corrected_fuel_flow_gph(raw, ratio)
        return value, True, f"read {raw:.1f} gal/h, brought to sea level from {at}{note}", True
    if record.type.fuel_flow_compensates:
        how = "compared as read: field elevation or temperature not observed; check with a technician"
        return raw, False, how, altitude is not None and _low_on_any_day(record, raw, float(altitude))
    where = f"{height:.0f} ft density altitude" if height is not None else "a density altitude that is not known"
    unknown = "whether this fuel system follows density is not on record; check with a technician"
    low_enough = height is not None and height <= RAW_UNTIL_FT
    return raw, False, f"compared as read at {where}: {unknown}", low_enough
