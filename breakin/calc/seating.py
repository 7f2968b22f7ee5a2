"""An early sign of rings that seat: heads that run cooler than in the first hour, at equal power on a standard day.

Rings that don't seal let hot gas past them, and the barrel and head run hot; as they seat, the temperature at the same
power falls. It is a sign among others and decides nothing by itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

FIRST_HOUR_H = 1.0
SIGN_DEGF = 20.0
# Compared only when power is this near, moved to equal power over that distance [% of rated]: own choice.
NEAR_PCT = 5.0
# What 1 % of rated power moves a head by near 75 % [ddegF]. Own estimate from (Th - Ta)/(Tg - Th) ~ P^0.6, the form of
# Pinkel, NACA Report 612, 1938 (form and exponent from memory).
DEGF_PER_PCT = 2.0
SLOPE_SIGMA_DEGF_PER_PCT = 1.0
# From flight to flight with another speed, mixture and cowl, the mean of the heads at equal power scatters by this
# much, one sigma [ddegF]. Own choice.
FLIGHT_SIGMA_DEGF = 8.0
LAST_FLIGHTS = 2


@dataclass(frozen=True)
class HeadsOfFlight:
    """Mean temperature of each head in steady upper-band cruise on a standard day.

    key : names the flight. hours : break-in hours at its start [h]. heads_degf : None for a probe that is left out.
    pct : at what power [% of rated].
    """

    key: str
    hours: float
    heads_degf: tuple[float | None, ...]
    pct: float


@dataclass(frozen=True)
class TrendRow:
    """One flight of the trend, moved to the power of the first hour.

    mean_degf : mean of the disturbed heads that every compared flight has [degF].
    change_degf, sigma_degf : against the first hour, and one sigma of that [ddegF]; None in the first hour itself and
    where power lay too far away.
    """

    key: str
    hours: float
    pct: float
    mean_degf: float
    change_degf: float | None
    sigma_degf: float | None


@dataclass(frozen=True)
class Seating:
    """The trend, and whether it shows the sign.

    change_degf, sigma_degf : of the last flights together against the first hour.
    cylinders : those that were compared, 1 is the first.
    sign : True, False, or None when it can't be told; why_not says why.
    """

    rows: tuple[TrendRow, ...] = ()
    reference_pct: float | None = None
    change_degf: float | None = None
    sigma_degf: float | None = None
    cylinders: tuple[int, ...] = ()
    sign: bool | None = None
    why_not: str = ""


def seating_of(flights: Sequence[HeadsOfFlight], disturbed: Sequence[int]) -> Seating:
    """The trend of the disturbed heads since the first hour.

    Parameters
    ----------
    flights : HeadsOfFlight, any order.
    disturbed : numbers of the cylinders that were done (1 is the first).

    Returns
    -------
    Seating

    Source: the sign and its 20 degF are common practice, no published source.

    >>> first = HeadsOfFlight("a", 0.0, (400.0, 400.0), 75.0)
    >>> then = HeadsOfFlight("b", 3.0, (370.0, 374.0), 75.0)
    >>> seating_of([first, then], [1, 2]).sign
    True
    """
    ordered = sorted(flights, key=lambda flight: flight.hours)
    early = [flight for flight in ordered if flight.hours < FIRST_HOUR_H]
    if not early:
        return Seating(why_not="No recording shows steady upper-band cruise in the first hour.")
    cylinders = tuple(number for number in sorted(set(disturbed)) if all(_head(one, number) for one in ordered))
    if not cylinders:
        return Seating(why_not="No head of a disturbed cylinder was recorded on all of these flights.")
    reference_pct = sum(flight.pct for flight in early) / len(early)
    means = [_mean(flight, cylinders, reference_pct) for flight in ordered]
    first = sum(means[: len(early)]) / len(early)
    rows = []
    for place, (flight, mean) in enumerate(zip(ordered, means, strict=True)):
        near = abs(flight.pct - reference_pct) <= NEAR_PCT
        compared = place >= len(early) and near
        sigma = _sigma(len(early), 1, flight.pct - reference_pct) if compared else None
        rows.append(TrendRow(flight.key, flight.hours, flight.pct, mean, mean - first if compared else None, sigma))
    later = [row for row in rows if row.change_degf is not None][-LAST_FLIGHTS:]
    if not later:
        why_not = "No recording after the first hour shows steady cruise within 5 % of its power."
        return Seating(tuple(rows), reference_pct, None, None, cylinders, None, why_not)
    change = sum(row.change_degf or 0.0 for row in later) / len(later)
    apart = sum(row.pct for row in later) / len(later) - reference_pct
    sigma = _sigma(len(early), len(later), apart)
    return Seating(tuple(rows), reference_pct, change, sigma, cylinders, change <= -SIGN_DEGF)


def _head(flight: HeadsOfFlight, number: int) -> bool:
    return number <= len(flight.heads_degf) and flight.heads_degf[number - 1] is not None


def _mean(flight: HeadsOfFlight, cylinders: Sequence[int], reference_pct: float) -> float:
    """Mean of these heads, moved to the power of the first hour [degF]."""
    known = [flight.heads_degf[number - 1] for number in cylinders]
    mean = sum(value for value in known if value is not None) / len(cylinders)
    return mean + DEGF_PER_PCT * (reference_pct - flight.pct)


def _sigma(early: int, later: int, apart_pct: float) -> float:
    scatter = FLIGHT_SIGMA_DEGF * math.sqrt(1 / early + 1 / later)
    return math.hypot(scatter, SLOPE_SIGMA_DEGF_PER_PCT * apart_pct)


def excess_degf(heads_degf: Sequence[float | None]) -> dict[int, float]:
    """By how much each head is hotter than the mean of its mates.

    Parameters
    ----------
    heads_degf : each head [degF], None for one that is left out; 1 is the first.

    Returns
    -------
    cylinder number -> [ddegF]; empty with fewer than two heads.

    >>> excess_degf((400.0, 380.0, None, 420.0))
    {1: 0.0, 2: -30.0, 4: 30.0}
    """
    known = {number: value for number, value in enumerate(heads_degf, start=1) if value is not None}
    if len(known) < 2:
        return {}
    total = sum(known.values())
    return {number: value - (total - value) / (len(known) - 1) for number, value in known.items()}
