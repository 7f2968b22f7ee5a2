"""Recordings written by hand: pieces of power as an instrument would have shown them, and the flight they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from breakin.calc.recording.result import EngineFlight, Piece, Span, TakeOff
from breakin.record import RecordedRun, RunFacts
from tests.breakin.records import run

SIGMA = 1.2
TAKEOFF = TakeOff(
    fuel_flow_gph=16.0, map_inhg=28.6, rpm=2690.0, pressure_altitude_ft=600.0, oat_degf=59.0, ambient_inhg=29.3
)


def piece(minutes: float, pct: float | None, start: float = 0.0, **more: Any) -> Piece:
    """A piece of cruise; steady when it was held for ten minutes."""
    values: dict[str, Any] = {
        "phase": "cruise",
        "pct": pct,
        "sigma": SIGMA if pct is not None else None,
        "steady": pct is not None and minutes >= 10.0,
        "map_inhg": 24.0,
        "rpm": 2450.0,
        "pressure_altitude_ft": 3000.0,
        "method": "chart and fuel flow",
    }
    return Piece(t0=start * 60.0, t1=(start + minutes) * 60.0, **{**values, **more})


def pieces(*settings: tuple[float, float | None] | Piece) -> tuple[Piece, ...]:
    """Pieces one after the other: (minutes, percent), or a piece that is moved into its place."""
    rows: list[Piece] = []
    at = 0.0
    for one in settings:
        made = one if isinstance(one, Piece) else piece(*one)
        rows.append(replace(made, t0=at * 60.0, t1=(at + made.minutes) * 60.0))
        at += made.minutes
    return tuple(rows)


def engine(flown: Sequence[Piece], **more: Any) -> EngineFlight:
    """What one engine did; minutes in a band follow from the pieces, without doubt, unless they are given."""

    def held(low: float, high: float) -> Span:
        minutes = sum(one.minutes for one in flown if one.pct is not None and low <= one.pct <= high)
        return Span(minutes, minutes, minutes)

    airborne = sum(one.minutes for one in flown)
    values: dict[str, Any] = {
        "cylinders": 4,
        "run_min": airborne + 9.0,
        "airborne_min": airborne,
        "ground_before_min": 6.0,
        "ground_after_min": 3.0,
        "pieces": tuple(flown),
        "minutes": {"75": held(72, 85), "65": held(62, 68)},
        "takeoff": TAKEOFF,
        "cht_max_degf": 390.0,
        "cht_max_cylinder": 3,
        "cht_over_watch_climb_min": 0.0,
        "cht_over_watch_level_min": 0.0,
        "cht_falling_by_3000": "yes",
        "low_map_descent_min": 0.0,
        "method": "chart and fuel flow",
    }
    return EngineFlight(**{**values, **more})


def recorded(day: float, *settings: tuple[float, float | None] | Piece, told: Any = None, **more: Any) -> RunFacts:
    """A flight of this day with its recording. `told` changes what was typed, the rest what was recorded."""
    flown = pieces(*settings)
    found = engine(flown, **more)
    typed = {"airborne_min": found.airborne_min, **(told or {})}
    flight = run(day, round(found.airborne_min / 60.0, 3), **typed)
    return replace(flight, recorded=with_engine(flight, found))


def with_engine(flight: RunFacts, found: EngineFlight, **more: Any) -> RecordedRun:
    return RecordedRun(
        recorded_flight_id=int(flight.at.timestamp()) % 100_000,
        recording_id=7,
        began_at=flight.started_at,
        ended_at=flight.at,
        sample_s=1.0,
        landings=1,
        confirmed=True,
        engine=found,
        **more,
    )


FIRST = ((60.0, 75.0),)
SECOND = ((15.0, 75.0), (15.0, 65.0), (15.0, 75.0), (15.0, 65.0))
HALF = ((30.0, 75.0), (30.0, 65.0))
