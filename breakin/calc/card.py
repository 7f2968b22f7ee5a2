"""What the next-flight card tells a pilot to set: manifold pressure or engine speed at a few altitudes for a cold, a
standard, a hot and the day's own air, how high a power can be had, and what to do where it can't be had.

The power is that of :mod:`breakin.calc.percent`, which also judges the flight: a pilot who sets what the card says is
credited with what the card asked for. Nothing is carried beyond the chart; what it can't say is None and says why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from breakin.calc.atmosphere import ALTITUDE_FT, checked, standard_temperature_degf
from breakin.calc.chart import Chart
from breakin.calc.errors import CalcError
from breakin.calc.percent import map_for_percent, max_percent_power, rpm_for_percent

# A cold and a hot day, from standard [ddegF]: about 20 degC either way. Own choice, no published source.
COLD_DDEGF, HOT_DDEGF = -36.0, 36.0
TABLE_FT = (2000.0, 4000.0)
# The lowest sensible altitude stands this far above the field [ft]: common practice, no source.
LOWEST_ABOVE_FIELD_FT = 1500.0
# A row of the table is worth printing from this far above the field [ft]: own choice.
ROW_ABOVE_FIELD_FT = 1000.0
_ABSENT = "the chart does not reach there"


@dataclass(frozen=True)
class Air:
    """A day's air. name : in words; from_standard : float [ddegF], warmer than standard at every altitude."""

    name: str
    from_standard: float

    def at(self, pressure_altitude_ft: float) -> float:
        """Outside air temperature [degF] at a pressure altitude [ft]."""
        return standard_temperature_degf(float(pressure_altitude_ft)) + self.from_standard


@dataclass(frozen=True)
class Instruments:
    """What the instruments are known to read too high: rpm [rpm], map_inhg [inHg]."""

    rpm: float = 0.0
    map_inhg: float = 0.0


@dataclass(frozen=True)
class Setting:
    """What to set for a percentage at one altitude, as the instruments will show it.

    pct : float [% of rated power]
    altitude_ft : float [ft], pressure altitude.
    oat_degf : float [degF]
    rpm : float [rpm], indicated, or None: it can't be set.
    map_inhg : float [inHg], indicated; None with a fixed-pitch propeller or where it can't be set.
    why : in words, why it can't be set; empty where it can.
    """

    pct: float
    altitude_ft: float
    oat_degf: float
    rpm: float | None
    map_inhg: float | None
    why: str = ""


@dataclass(frozen=True)
class Reach:
    """How high a percentage can be had at the planned engine speed.

    pct : float [% of rated power]
    highest_ft : float [ft], pressure altitude; None: not at or above the lowest sensible altitude.
    capped : it could be had higher, but the plan, the type or the power chart ends there.
    """

    pct: float
    highest_ft: float | None
    capped: bool


@dataclass(frozen=True)
class Column:
    """One day's air: how high each percentage can be had, and what to set."""

    air: Air
    reach: tuple[Reach, ...]
    settings: tuple[Setting, ...]


@dataclass(frozen=True)
class Instead:
    """What would make the power possible at the lowest sensible altitude; each None where it does not help alone.

    best_pct : float [% of rated power] that can be had as planned.
    rpm : float [rpm], indicated: the lowest engine speed that gives the power.
    oat_degf : float [degF] at the lowest sensible altitude: the warmest air that still gives it.
    field_ft : float [ft], pressure altitude of the highest field that still gives it on a day as warm.
    """

    best_pct: float
    rpm: float | None
    oat_degf: float | None
    field_ft: float | None


def day(field_ft: float, oat_degf: float) -> Air:
    """Today's air, from the temperature [degF] at a field of this pressure altitude [ft].

    Raises
    ------
    OutOfRange : an altitude outside the standard atmosphere's lowest layer.

    The difference from standard is taken as the same at every altitude: common practice, no source.
    """
    return Air("today", oat_degf - standard_temperature_degf(float(field_ft)))


def days(today: Air | None = None) -> tuple[Air, ...]:
    """Cold, standard and hot air, and today's where it is known."""
    usual = (Air("cold", COLD_DDEGF), Air("standard", 0.0), Air("hot", HOT_DDEGF))
    return (*usual, today) if today else usual


def lowest_sensible_ft(field_ft: float) -> float:
    """The lowest sensible altitude over a field [ft]; both pressure altitudes."""
    return field_ft + LOWEST_ABOVE_FIELD_FT


# Where a plan names no engine speed, cruise is taken at this share of rated speed, to the nearest step of the scale:
# own choice.
USUAL_RPM_SHARE = 0.93
RPM_STEP = 50.0


def asked_rpm(of_stages: Iterable[float | None], rated_rpm: float) -> float:
    """Engine speed that a plan asks for [rpm]: the first that its stages name, else a usual share of `rated_rpm`."""
    return next((rpm for rpm in of_stages if rpm), round(rated_rpm * USUAL_RPM_SHARE / RPM_STEP) * RPM_STEP)


def achievable_percent(
    chart: Chart, *, pressure_altitude_ft: float, oat_degf: float | None, planned_rpm: float
) -> float:
    """The most power that can be had as planned [% of rated]: the one answer of the card and of the verdict.

    With a fixed-pitch propeller the engine speed is not planned but follows from the power, up to rated; `planned_rpm`
    is not used there. Parameters, errors and source otherwise: see `breakin.calc.percent.max_percent_power`.
    """
    speed = planned_rpm
    if chart.kind == "fixed_pitch":
        speed = chart.rated_rpm or max(point.rpm for point in chart.points)
    return max_percent_power(chart, pressure_altitude_ft=pressure_altitude_ft, oat_degf=oat_degf, rpm=speed)


def setting(
    chart: Chart, pct: float, altitude_ft: float, air: Air, *, rpm: float, instruments: Instruments | None = None
) -> Setting:
    """What to set for a percentage of rated power.

    Parameters
    ----------
    chart : Chart
    pct : float [% of rated power]
    altitude_ft : float [ft], pressure altitude.
    air : Air
    rpm : float [rpm], true, as planned; not used with a fixed-pitch propeller.
    instruments : what they read too high; None = they read true.

    Returns
    -------
    Setting, which says why where the percentage can't be had or the chart does not reach there.

    Raises
    ------
    OutOfRange : an altitude outside the standard atmosphere's lowest layer.
    """
    reads = instruments or Instruments()
    oat = air.at(altitude_ft)
    try:
        if chart.kind == "fixed_pitch":
            speed, pressure = rpm_for_percent(chart, pct, altitude_ft, oat), None
            had = speed is not None
        else:
            speed, pressure = rpm, map_for_percent(chart, pct, rpm, altitude_ft, oat)
            had = pressure is not None
    except CalcError:
        return Setting(pct, altitude_ft, oat, None, None, _ABSENT)
    if not had or speed is None:
        return Setting(pct, altitude_ft, oat, None, None, "not achievable at full throttle")
    shown = None if pressure is None else pressure + reads.map_inhg
    return Setting(pct, altitude_ft, oat, speed + reads.rpm, shown)


def reach(
    chart: Chart, pct: float, air: Air, *, rpm: float, lowest_ft: float = 0.0, cap_ft: float | None = None
) -> Reach:
    """The highest pressure altitude where a percentage of rated power can be had at the planned engine speed.

    Parameters
    ----------
    chart, pct, air, rpm : see `setting`. With a fixed-pitch propeller the engine speed is free, up to rated.
    lowest_ft : float [ft], pressure altitude: nobody looks below.
    cap_ft : float [ft] that is not to be passed, of the plan or the type; None = none.

    Raises
    ------
    OutOfRange : `lowest_ft` outside the standard atmosphere's lowest layer; `rpm` off the chart.
    """
    checked("pressure altitude", lowest_ft, *ALTITUDE_FT, "ft", "Give it in feet.")
    ends = [end for end in (cap_ft, chart.critical_altitude_ft, _last_row_ft(chart)) if end is not None]
    top = min([*ends, 25_000.0])

    def had(altitude_ft: float) -> bool:
        return _best(chart, altitude_ft, air, rpm) >= pct

    if top < lowest_ft or not had(lowest_ft):
        return Reach(pct, None, False)
    if had(top):
        return Reach(pct, top, True)
    return Reach(pct, _last(had, lowest_ft, top), False)


def column(
    chart: Chart,
    air: Air,
    *,
    rpm: float,
    percents: tuple[float, ...] = (75.0, 65.0),
    field_ft: float | None = None,
    cap_ft: float | None = None,
    instruments: Instruments | None = None,
) -> Column:
    """The card's column for one day's air: at 2,000 and 4,000 ft and at the highest altitude of each percentage.

    Parameters
    ----------
    field_ft : float [ft], pressure altitude of the field, from which the lowest sensible altitude follows; rows less
        than 1,000 ft above it are left out. None = from the sea on.
    cap_ft : float [ft], nothing above it; None = none.

    Others and errors: see `reach` and `setting`.
    """
    lowest_ft = 0.0 if field_ft is None else lowest_sensible_ft(field_ft)
    from_ft = 0.0 if field_ft is None else field_ft + ROW_ABOVE_FIELD_FT
    reached = tuple(reach(chart, pct, air, rpm=rpm, lowest_ft=lowest_ft, cap_ft=cap_ft) for pct in percents)
    shelves = [ft for ft in TABLE_FT if from_ft <= ft <= (math.inf if cap_ft is None else cap_ft)]
    rows = []
    for found in reached:
        highest = [] if found.highest_ft is None else [found.highest_ft]
        for altitude in sorted({*shelves, *highest}):
            rows.append(setting(chart, found.pct, altitude, air, rpm=rpm, instruments=instruments))
    return Column(air, reached, tuple(rows))


def instead(
    chart: Chart, air: Air, *, field_ft: float, rpm: float, pct: float = 72.0, instruments: Instruments | None = None
) -> Instead | None:
    """What to do where a percentage can't be had at the lowest sensible altitude over this field; None: it can.

    Parameters
    ----------
    chart, air, rpm, instruments : see `setting`.
    field_ft : float [ft], pressure altitude of the field.
    pct : float [% of rated power] - the lower edge of the band that earns credit.

    Raises
    ------
    OutOfRange : the field outside the standard atmosphere, or `rpm` off the chart.
    """
    lowest = lowest_sensible_ft(field_ft)
    best = _best(chart, lowest, air, rpm)
    if best >= pct:
        return None
    reads = instruments or Instruments()

    def faster(by: float) -> bool:
        return _best(chart, lowest, air, rpm + by) < pct

    def colder(by: float) -> bool:
        return _best(chart, lowest, Air(air.name, air.from_standard - by), rpm) < pct

    def lower(by: float) -> bool:
        return _best(chart, lowest - by, air, rpm) < pct

    speed = None
    if chart.kind != "fixed_pitch":  # there the engine speed is what is had, and rated has been tried
        more = _first(faster, chart.rpm[-1] - rpm)
        speed = None if more is None else rpm + more + reads.rpm
    cooler = _first(colder, air.at(lowest) + 20.0)  # not below -20 degF: nobody waits for that
    down = _first(lower, field_ft)  # not below the sea
    return Instead(
        best_pct=best,
        rpm=speed,
        oat_degf=None if cooler is None else air.at(lowest) - cooler,
        field_ft=None if down is None else field_ft - down,
    )


def _best(chart: Chart, altitude_ft: float, air: Air, rpm: float) -> float:
    return achievable_percent(chart, pressure_altitude_ft=altitude_ft, oat_degf=air.at(altitude_ft), planned_rpm=rpm)


def _last_row_ft(chart: Chart) -> float | None:
    """A fixed-pitch table says nothing above its last row."""
    return max(point.pressure_altitude_ft for point in chart.points) if chart.kind == "fixed_pitch" else None


def _last(holds: Callable[[float], bool], low: float, high: float) -> float:
    """The last place where it holds, by bisection; it holds at `low` and not at `high`."""
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _first(fails: Callable[[float], bool], most: float) -> float | None:
    """The smallest step from 0 to `most` at which it no longer fails; None: it fails all the way."""
    if most <= 0 or fails(most):
        return None
    low, high = 0.0, most
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if fails(middle) else (low, middle)
    return high
