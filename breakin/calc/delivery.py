"""The first two hours planned before hand-over: what the fields, altitudes and the ferry home would earn in credit.

Power is that of :mod:`breakin.calc.percent`, which the card asks for settings and the verdict for percent; credit is
that of :func:`breakin.calc.plan.accumulate`, which judges the flights when they have been flown. Elevations stand in
for pressure altitudes of fields: on an ordinary day that moves power by less than 1 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from breakin.calc.card import Air, Instead, Reach, instead, reach
from breakin.calc.credit import LANDING_MIN
from breakin.calc.delivery_flown import (
    SIGMA_PCT,
    Outcome,
    PlannedEngine,
    PlannedFerry,
    PlannedHour,
    airs_of,
    best_pct,
    climb_min,
    fly,
    leaves_from,
)
from breakin.calc.plan import classify

Answer = Literal["yes", "close", "no", "not known"]
Gives = Literal["75", "too high", "65", "between", "light", "not known"]
Change = Literal["hours first", "ferry low", "lower hours", "shop field"]
# Where the first two hours are flown from the shop's field: this far above it, or as high as 75 % can be had [ft].
_ABOVE_SHOP_FT = 3000.0
# Altitudes are advised in whole steps of this [ft].
_STEP_FT = 500.0


@dataclass(frozen=True)
class Had:
    """What can be had at one altitude in one day's air.

    air : Air
    oat_degf : float [degF] at the altitude.
    best : float [% of rated power] at full throttle and the planned engine speed; None where the chart says nothing.
    reach : how high 75 % can be had.
    """

    air: Air
    oat_degf: float
    best: float | None
    reach: Reach


@dataclass(frozen=True)
class HourAnswer:
    """What one of the first two hours would find.

    asked : PlannedHour
    had : Had for each air.
    instead : what would do at the lowest sensible altitude where the power can't be had even there, else None.
    too_high : above the altitude for cooling. too_low : below the lowest sensible altitude.
    """

    asked: PlannedHour
    had: tuple[Had, ...]
    instead: Instead | None
    too_high: bool
    too_low: bool


@dataclass(frozen=True)
class FerryAnswer:
    """What the ferry would give.

    asked : PlannedFerry
    had : Had for each air.
    climb_min, cruise_min : float [min]; no setting is held in the climb.
    gives : for each air, what full throttle or 75 % in the cruise counts as.
    light_min : float [min] of light running for each air, the last ten before landing left out.
    """

    asked: PlannedFerry
    had: tuple[Had, ...]
    climb_min: float
    cruise_min: float
    gives: tuple[Gives, ...]
    light_min: tuple[float, ...]


@dataclass(frozen=True)
class Advice:
    """A change of the plan that would earn more. altitude_ft : float [ft] where it is about one, else None."""

    change: Change
    outcome: Outcome
    altitude_ft: float | None = None


@dataclass(frozen=True)
class Delivery:
    """All that the calculation says of one engine."""

    hours: tuple[HourAnswer, ...]
    ferry: FerryAnswer | None
    outcome: Outcome
    advice: tuple[Advice, ...]


def can_have(best: float | None, least: float) -> Answer:
    """Can the least power that counts be had: "yes" or "no" only where it is at least one sigma away.

    Parameters
    ----------
    best, least : float [% of rated power]; best None = not known.

    >>> can_have(71.0, 72.0)
    'close'
    """
    if best is None:
        return "not known"
    if abs(best - least) < SIGMA_PCT:
        return "close"
    return "yes" if best > least else "no"


def deliver(
    engine: PlannedEngine, hours: Sequence[PlannedHour], ferry: PlannedFerry | None, *, shop_field_ft: float
) -> Delivery:
    """What a plan of the first two hours would earn, and what would earn more.

    Parameters
    ----------
    engine : PlannedEngine
    hours : hour 1 and hour 2, in this order.
    ferry : PlannedFerry or None, where it is not ferried.
    shop_field_ft : float [ft], elevation of the shop's own field.

    Returns
    -------
    Delivery

    Raises
    ------
    OutOfRange : an altitude outside the standard atmosphere's lowest layer; rpm off the chart; caps out of order.

    Source: rules P1 to P5, which the verdict is judged by; no published definition of power credit exists.
    """
    outcome = fly(engine, hours, ferry)
    return Delivery(
        tuple(_hour(engine, hour) for hour in hours),
        _ferry(engine, hours, ferry) if ferry else None,
        outcome,
        _advice(engine, hours, ferry, shop_field_ft, outcome),
    )


def _had(engine: PlannedEngine, altitude_ft: float, hour: PlannedHour) -> tuple[Had, ...]:
    """What can be had at an altitude in each air of the field that is left from."""
    lowest = max(0.0, hour.lowest_ft)
    return tuple(
        Had(
            air,
            air.at(altitude_ft),
            best_pct(engine, altitude_ft, air),
            reach(engine.chart, 75.0, air, rpm=engine.rpm, lowest_ft=lowest, cap_ft=engine.cap_ft),
        )
        for air in airs_of(hour)
    )


def _hour(engine: PlannedEngine, hour: PlannedHour) -> HourAnswer:
    # What to do instead is asked of the expected air, and without one of a hot day.
    air = airs_of(hour)[-1]
    wanted = instead(engine.chart, air, field_ft=hour.field_ft, rpm=engine.rpm, pct=engine.bands.upper[0])
    too_high = engine.cap_ft is not None and hour.altitude_ft > engine.cap_ft
    return HourAnswer(hour, _had(engine, hour.altitude_ft, hour), wanted, too_high, hour.altitude_ft < hour.lowest_ft)


def _ferry(engine: PlannedEngine, hours: Sequence[PlannedHour], ferry: PlannedFerry) -> FerryAnswer:
    field = leaves_from(hours, ferry)
    had = _had(engine, ferry.altitude_ft, field)
    climb = min(ferry.minutes, climb_min(ferry.altitude_ft, field.field_ft))
    cruise = ferry.minutes - climb
    gives = tuple(_gives(engine, ferry, each.best) for each in had)
    light = tuple(max(0.0, cruise - LANDING_MIN) if each == "light" else 0.0 for each in gives)
    return FerryAnswer(ferry, had, climb, cruise, gives, light)


def _gives(engine: PlannedEngine, ferry: PlannedFerry, best: float | None) -> Gives:
    if best is None:
        return "not known"
    label = classify(min(75.0, best), engine.bands)
    if label == "light":
        return "light"
    if label == "target-65":
        return "65"
    if label == "between":
        return "between"
    return "too high" if engine.cap_ft is not None and ferry.altitude_ft > engine.cap_ft else "75"


def _advice(
    engine: PlannedEngine,
    hours: Sequence[PlannedHour],
    ferry: PlannedFerry | None,
    shop_field_ft: float,
    outcome: Outcome,
) -> tuple[Advice, ...]:
    """Changes that would earn more than the plan does, the smallest first; none where both hours are met for sure."""
    if outcome.rank == (2, True):
        return ()
    tried: list[Advice] = []
    after = replace(ferry, after_h=2.0) if ferry else None
    if ferry and ferry.after_h < 2:
        tried.append(Advice("hours first", fly(engine, hours, after)))
    if ferry:
        height = _highest(engine, [leaves_from(hours, ferry)])
        if height is not None and height < ferry.altitude_ft:
            tried.append(Advice("ferry low", fly(engine, hours, replace(ferry, altitude_ft=height)), height))
    height = _highest(engine, hours)
    if height is not None and any(hour.altitude_ft > height for hour in hours):
        lower = [replace(hour, altitude_ft=min(hour.altitude_ft, height)) for hour in hours]
        tried.append(Advice("lower hours", fly(engine, lower, after), height))
    if any(hour.field_ft != shop_field_ft for hour in hours):
        here = [PlannedHour(hour.number, shop_field_ft, shop_field_ft + _ABOVE_SHOP_FT) for hour in hours]
        height = _highest(engine, here)
        if height is not None:
            here = [replace(hour, altitude_ft=min(height, hour.altitude_ft // _STEP_FT * _STEP_FT)) for hour in here]
            tried.append(Advice("shop field", fly(engine, here, after), here[0].altitude_ft))
    return tuple(advice for advice in tried if advice.outcome.rank > outcome.rank)


def _highest(engine: PlannedEngine, hours: Sequence[PlannedHour]) -> float | None:
    """The highest whole step where 75 % can be had over all these fields in each of their airs, or None [ft]."""
    tops = [had.reach.highest_ft for hour in hours for had in _had(engine, hour.altitude_ft, hour)]
    known = [top for top in tops if top is not None]
    if len(known) < len(tops):
        return None
    height = min(known) // _STEP_FT * _STEP_FT
    return height if all(height >= hour.lowest_ft for hour in hours) else None
