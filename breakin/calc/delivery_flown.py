"""A delivery plan flown on paper: its hours and its ferry as power blocks, and what the rules of credit make of them.

Each hour climbs at full throttle, then sets what its minute table asks for, or full throttle where that is less. The
ferry goes on with the table where it stands, hour 1 first, at one altitude: by the card, as far as that can be had.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from breakin.calc.atmosphere import standard_temperature_degf
from breakin.calc.card import HOT_DDEGF, Air, achievable_percent, lowest_sensible_ft
from breakin.calc.chart import Chart
from breakin.calc.credit import CAP_HOUR_1_H, CAP_HOUR_2_H, BlockPower, Credit, FlightPower
from breakin.calc.plan import Bands, accumulate

# One sigma of a power that is worked out from a chart and an altitude [% of rated power]: that of typed readings.
SIGMA_PCT = 2.0
# Climb to the cruising altitude: common practice, no source [ft/min].
CLIMB_FPM = 500.0
STANDARD, HOT, EXPECTED = "standard", "hot", "expected"
# A fixed-pitch table is carried this far beyond its last row, as in percent power [ft].
_BEYOND_TABLE_FT = 2000.0

Minutes = tuple[tuple[float, str], ...]
HOUR_1_MINUTES: Minutes = ((60.0, "75"),)
HOUR_2_MINUTES: Minutes = ((15.0, "75"), (15.0, "65"), (15.0, "75"), (15.0, "65"))
_LATER_MINUTES: Minutes = ((30.0, "75"), (30.0, "65"))


@dataclass(frozen=True)
class PlannedEngine:
    """What the chart, the plan and the type say of one engine.

    chart : Chart
    rpm : float [rpm], true, as planned; not used with a fixed-pitch propeller.
    bands : Bands of the plan.
    cap_ft : float [ft] above which the plan or the type gives no credit, for cooling; None = none.
    cap_hour_1_h, cap_hour_2_h : float [h] of running at which the stages end.
    hour_1, hour_2 : minute tables ((minutes, "75" or "65"), ...).
    """

    chart: Chart
    rpm: float
    bands: Bands = field(default_factory=Bands)
    cap_ft: float | None = None
    cap_hour_1_h: float = CAP_HOUR_1_H
    cap_hour_2_h: float = CAP_HOUR_2_H
    hour_1: Minutes = HOUR_1_MINUTES
    hour_2: Minutes = HOUR_2_MINUTES


@dataclass(frozen=True)
class PlannedHour:
    """One of the first two hours.

    number : 1 or 2.
    field_ft : float [ft], pressure altitude of the field; its elevation stands in.
    altitude_ft : float [ft], pressure altitude at which it is to be flown.
    oat_degf : float [degF] expected at the field, or None.
    """

    number: int
    field_ft: float
    altitude_ft: float
    oat_degf: float | None = None

    @property
    def lowest_ft(self) -> float:
        """The lowest sensible altitude over the field [ft]."""
        return lowest_sensible_ft(self.field_ft)


@dataclass(frozen=True)
class PlannedFerry:
    """The flight home.

    minutes : float [min] in the air, above 0.
    altitude_ft : float [ft], pressure altitude.
    after_h : float [h] of the first two hours that are flown before it; 0 = before any, 2 or more = after both.
    """

    minutes: float
    altitude_ft: float
    after_h: float


@dataclass(frozen=True)
class Outcome:
    """The plan flown on paper. credits : (name of the air, Credit) for each air; the worst decides."""

    credits: tuple[tuple[str, Credit], ...]

    @property
    def met(self) -> tuple[bool, bool]:
        """Are hour 1 and hour 2 met in every air?"""
        return all(c.hour_1.met for _, c in self.credits), all(c.hour_2.met for _, c in self.credits)

    @property
    def sure(self) -> bool:
        """Does no setting lie so near an edge that its doubt would turn the verdict over?"""
        return not any(credit.undecided for _, credit in self.credits)

    @property
    def rank(self) -> tuple[int, bool]:
        """Hours that are met in the worst air, then whether that is sure: the more the better."""
        return min(c.hour_1.met + c.hour_2.met for _, c in self.credits), self.sure


def fly(engine: PlannedEngine, hours: Sequence[PlannedHour], ferry: PlannedFerry | None) -> Outcome:
    """What the plan would earn on a standard and a hot day, and on the expected one where an hour expects one.

    Parameters
    ----------
    engine : PlannedEngine
    hours : hour 1 and hour 2, in this order.
    ferry : PlannedFerry or None, where it is not ferried.

    Raises
    ------
    OutOfRange : an altitude outside the standard atmosphere's lowest layer; rpm off the chart; caps out of order.
    """
    names = [STANDARD, HOT] + ([EXPECTED] if any(hour.oat_degf is not None for hour in hours) else [])
    caps = {"cap_hour_1_h": engine.cap_hour_1_h, "cap_hour_2_h": engine.cap_hour_2_h}
    return Outcome(
        tuple((name, accumulate(_flights(engine, hours, ferry, name), engine.bands, **caps)) for name in names)
    )


def airs_of(hour: PlannedHour) -> tuple[Air, ...]:
    """A standard and a hot day, and the expected one: as far from standard at every altitude as at the field."""
    if hour.oat_degf is None:
        return Air(STANDARD, 0.0), Air(HOT, HOT_DDEGF)
    off = hour.oat_degf - float(standard_temperature_degf(hour.field_ft))
    return Air(STANDARD, 0.0), Air(HOT, HOT_DDEGF), Air(EXPECTED, off)


def best_pct(engine: PlannedEngine, altitude_ft: float, air: Air) -> float | None:
    """The most power that can be had [% of rated]; None above a fixed-pitch table, which says nothing there.

    Raises
    ------
    OutOfRange : an altitude outside the standard atmosphere's lowest layer; rpm off the chart.
    """
    chart = engine.chart
    if chart.kind == "fixed_pitch" and altitude_ft > _last_row_ft(chart) + _BEYOND_TABLE_FT:
        return None
    return achievable_percent(
        chart, pressure_altitude_ft=altitude_ft, oat_degf=air.at(altitude_ft), planned_rpm=engine.rpm
    )


def _last_row_ft(chart: Chart) -> float:
    return max(point.pressure_altitude_ft for point in chart.points)


def leaves_from(hours: Sequence[PlannedHour], ferry: PlannedFerry) -> PlannedHour:
    """The hour from whose field the ferry starts: the last one begun before it, else hour 1."""
    return hours[1] if ferry.after_h > 1 else hours[0]


def climb_min(altitude_ft: float, field_ft: float) -> float:
    """Minutes of the climb, in which no setting is held [min].

    >>> climb_min(3500.0, 500.0)
    6.0
    """
    return max(0.0, altitude_ft - field_ft) / CLIMB_FPM


def _flights(
    engine: PlannedEngine, hours: Sequence[PlannedHour], ferry: PlannedFerry | None, name: str
) -> list[FlightPower]:
    """The flights of the plan in order: the hours, cut in two where the ferry comes between."""
    legs: list[tuple[PlannedHour, float, Minutes]] = []
    at, before = (60.0 * ferry.after_h if ferry else float("inf")), 0
    for hour, table in zip(hours, (engine.hour_1, engine.hour_2), strict=True):
        first, rest = _cut(table, at)
        legs += [(hour, hour.altitude_ft, part) for part in (first, rest) if part]
        before += bool(first)
        at -= sum(minutes for minutes, _ in table)
    if ferry:
        start = leaves_from(hours, ferry)
        cruise = max(0.0, ferry.minutes - climb_min(ferry.altitude_ft, start.field_ft))
        legs.insert(before, (start, ferry.altitude_ft, _on_the_way(engine, 60.0 * ferry.after_h, cruise)))
    return [
        _flight(engine, place, hour, altitude, table, _air(hour, name))
        for place, (hour, altitude, table) in enumerate(legs)
    ]


def _on_the_way(engine: PlannedEngine, done: float, minutes: float) -> Minutes:
    """What the card asks for on the ferry, when so many minutes of the first two hours are flown."""
    left = _cut(engine.hour_1 + engine.hour_2, done)[1]
    while sum(each for each, _ in left) < minutes:
        left += _LATER_MINUTES
    return _cut(left, minutes)[0]


def _cut(table: Minutes, at: float) -> tuple[Minutes, Minutes]:
    """The minute table until a minute, and the rest of it."""
    first: list[tuple[float, str]] = []
    rest: list[tuple[float, str]] = []
    for minutes, band in table:
        early = min(minutes, max(0.0, at))
        first += [(early, band)] if early > 0 else []
        rest += [(minutes - early, band)] if minutes > early else []
        at -= minutes
    return tuple(first), tuple(rest)


def _air(hour: PlannedHour, name: str) -> Air:
    """The hour's air of that name; where it expects none of its own, a standard day."""
    return next((air for air in airs_of(hour) if air.name == name), Air(STANDARD, 0.0))


def _flight(
    engine: PlannedEngine, place: int, hour: PlannedHour, altitude_ft: float, table: Minutes, air: Air
) -> FlightPower:
    climb = climb_min(altitude_ft, hour.field_ft)
    best = best_pct(engine, altitude_ft, air)
    # As the verdict asks: could the power have been had at all, at the lowest sensible altitude over this field?
    low = best_pct(engine, max(hour.lowest_ft, 0.0), air)
    achievable = None if low is None else low >= engine.bands.upper[0]
    too_high = engine.cap_ft is not None and altitude_ft > engine.cap_ft
    # Above every band: a climb, which earns nothing and is no change of setting.
    blocks = [BlockPower(climb, engine.bands.upper[1] + 1.0, setting=False)] if climb > 0 else []
    for minutes, band in table:
        pct = None if best is None else min(float(band), best)
        blocks.append(
            BlockPower(minutes, pct, None if pct is None else SIGMA_PCT, band_achievable=achievable, too_high=too_high)
        )
    airborne = sum(block.duration_min for block in blocks)
    return FlightPower(f"leg {place}", place, airborne, 0.0, tuple(blocks))
