"""A recorded flight made by hand: rows as a reading leaves them, and lines as an instrument writes them.

Ten minutes on the ground, a climb, 40 min at 75 %, 15 min at 65 %, descent and landing. Cylinder 3 is the hottest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.core.files.base import ContentFile

from breakin.calc.recording.result import (
    EngineFlight,
    FlightAnalysis,
    Leaning,
    Phase,
    Piece,
    SensorFault,
    Span,
    TakeOff,
    as_json,
)
from breakin.models import ReadState, RecordedEngine, RecordedFlight, Recording, RecordingRead
from breakin.reading.series import Keeper
from engines.models import Installation
from shop.models import Person
from tests import factories

EVENTS = {
    "engine_start": 30.0, "runup_start": 420.0, "runup_end": 480.0, "takeoff_start": 600.0, "liftoff": 625.0,
    "cruise_start": 1100.0, "descent_start": 4400.0, "touchdown": 5100.0, "shutdown": 5400.0,
}  # fmt: skip
SECONDS = 5430
LINES = np.arange(float(SECONDS))


def _column(
    name: str, channel: str, samples: str, low: float | None, high: float | None, **more: Any
) -> dict[str, Any]:
    guess = {"channel": channel, "engine": None, "cylinder": more.pop("cylinder", None), "unit": "", "sure": True,
             "why": f"named as {channel.replace('_', ' ')}, and its values fit"} if channel else None  # fmt: skip
    return {
        "name": name, "unit_text": "", "samples": samples.split(), "low": low, "high": high, "blank_share": 0.0,
        "guess": guess, **more,
    }  # fmt: skip


# What the page of the columns is made from: a file without a date, whose fuel flow does not say its unit.
LOOK: dict[str, Any] = {
    "columns": [
        _column("Clock", "time", "14:02:10 14:03:10", None, None),
        _column("Revs", "rpm", "0 1000 2450", 0, 2690, unit_text="1/min"),
        _column("Press", "manifold_pressure", "946 610", 400, 952),
        _column("Fuel", "fuel_flow", "0.0 10.4", 0, 15.9),
        _column("H1", "cht", "70 385", 68, 409, cylinder=1),
        _column("H2", "cht", "70 379", 68, 403, cylinder=2),
        _column("Spare", "", "13.9 14.1", 13.6, 14.3, blank_share=0.25),
        _column("Lat", "latitude", "", None, None),
        _column("Lon", "longitude", "", None, None),
    ],
    "delimiter": ";", "decimal": ",", "encoding": "utf-8", "header_line": 1,
    "time_format": "time of day without a date", "has_date": False, "position": ["Lat", "Lon"],
    "mapping": {
        "time": "Clock",
        "engines": {"1": {"rpm": "Revs", "manifold_pressure": "Press", "fuel_flow": "Fuel", "cht": ["H1", "H2"]}},
        "common": {},
        "units": {"Revs": "rpm", "Press": "hPa", "Fuel": "auto", "H1": "F", "H2": "F"},
    },
    "questions": [
        {"field": "flight_date", "text": "The file has no date. On which day was it recorded?", "choices": []},
        {
            "field": "units.fuel_flow",
            "text": "The file does not name the unit of fuel flow, and the numbers leave it open. Which is it?",
            "choices": ["gph", "L/h", "kg/h"],
        },
    ],
    "signature": "5" * 64,
}  # fmt: skip


@dataclass(frozen=True)
class Rows:
    """What `Keeper.keep` takes of a table."""

    columns: Mapping[str, np.ndarray]
    t: np.ndarray


def columns(cylinders: int = 4, sides: str = "1") -> dict[str, np.ndarray]:
    """An hour and a half at one row a second, with a hole in the exhaust gas of cylinder 2."""
    knots = [0, 30, 600, 625, 1100, 3500, 3520, 4400, 4420, 5100, 5400, SECONDS]
    noise = np.random.default_rng(7)
    made: dict[str, np.ndarray] = {}
    for side in sides:
        power = np.interp(LINES, knots, [0, 12, 14, 98, 75, 75, 65, 65, 45, 25, 12, 0])
        heat = np.interp(LINES, [0, 600, 1050, 1500, 4400, 5100, SECONDS], [70, 240, 415, 385, 380, 300, 260])
        made[f"rpm_{side}"] = np.interp(LINES, knots, [0, 900, 1000, 2690, 2450, 2450, 2300, 2300, 2200, 1500, 900, 0])
        made[f"map_{side}_inhg"] = np.interp(
            LINES, knots, [29.3, 12, 13, 28.4, 24.6, 24.6, 22.5, 22.5, 18, 14, 12, 29.3]
        )
        made[f"ff_{side}_gph"] = np.interp(LINES, knots, [0, 1.5, 2, 15.9, 10.4, 10.4, 9, 9, 6, 3, 1.5, 0])
        made[f"oil_temp_{side}_degf"] = np.interp(LINES, [0, 1500, SECONDS], [80, 185, 180])
        made[f"oil_press_{side}_psi"] = np.interp(LINES, [0, 30, 60, 5400, SECONDS], [0, 0, 75, 60, 0])
        for number in range(1, cylinders + 1):
            offset = 0 if number == 3 else -6 * number
            made[f"cht_{side}_{number}_degf"] = heat + offset + noise.normal(0, 0.8, LINES.size)
            made[f"egt_{side}_{number}_degf"] = 600 + 7.5 * power + 12 * number + noise.normal(0, 5, LINES.size)
        made[f"egt_{side}_2_degf"][2000:2400] = np.nan
        made[f"pct_{side}"] = power + noise.normal(0, 0.4, LINES.size)
        made[f"sigma_{side}"] = np.where(power > 20, 1.3, np.nan)
    made["alt_ft"] = np.interp(LINES, [0, 620, 1100, 4400, 5100, SECONDS], [620, 620, 4000, 4000, 640, 620])
    made["latitude_deg"] = np.full(LINES.size, 47.123)
    return made


def engine_flight(cylinders: int = 4, **more: Any) -> EngineFlight:
    """What the analysis says of one engine of that flight."""
    cruise: dict[str, Any] = {"phase": "cruise", "steady": True, "sigma": 1.3, "method": "mixture by fuel flow"}
    pieces = (
        Piece(600, 625, "takeoff", 97.0, 2.0, method="fuel flow left out"),
        Piece(625, 1100, "climb", 86.0, 1.6, method="fuel flow left out"),
        Piece(1100, 3500, pct=75.1, band="75", map_inhg=24.6, rpm=2450, fuel_flow_gph=10.4, pressure_altitude_ft=4000,
              chart_pct=75.4, fuel_pct=74.5, **cruise),
        Piece(3520, 4400, pct=65.2, band="65", map_inhg=22.5, rpm=2300, fuel_flow_gph=9.0, pressure_altitude_ft=4000,
              undecided=True, **cruise),
        Piece(4400, 5100, "descent", 42.0, 1.9, method="fuel flow left out"),
    )  # fmt: skip
    made = EngineFlight(
        cylinders=cylinders,
        run_min=89.5,
        airborne_min=74.6,
        ground_before_min=9.9,
        ground_after_min=5.0,
        pieces=pieces,
        minutes={
            "75": Span(40.0, 38.0, 42.0), "65": Span(14.7, 0.0, 14.7), "light": Span(6.0, 4.0, 8.0),
            "ground": Span(14.9, 14.9, 14.9),
        },
        changes=1,
        takeoff=TakeOff(fuel_flow_gph=15.9, map_inhg=28.4, rpm=2690, pressure_altitude_ft=620),
        leanings=(Leaning(1300, 4),),
        cht_climb_peak_degf=(409.0, 403.0, 415.0, 391.0)[:cylinders],
        cht_drop_max_degf_min=(9.0, 9.0, 10.0, 9.0)[:cylinders],
        cht_falling_by_3000="yes",
        cht_max_degf=416.0,
        cht_max_cylinder=3,
        oil_temp_max_degf=185.0,
        oil_press_min_psi=60.0,
        bad_sensors=(SensorFault("egt2", "gave no value for 8 % of the running time: an open probe"),),
        method="power by chart from manifold pressure and engine speed, standard temperature taken",
        notes=("Outside air temperature was not recorded: a standard day was taken for power.",),
    )  # fmt: skip
    return replace(made, **more)


def analysis(engines: Mapping[str, EngineFlight]) -> FlightAnalysis:
    phases = (Phase("taxi", 30, 600), Phase("cruise", 1100, 4400))
    return FlightAnalysis(1.0, EVENTS, phases, engines, notes=("12 rows without a time were left out.",))


def recording(
    shop: factories.Cast,
    *,
    by: Person | None = None,
    at: datetime = factories.NOW,
    name: str = "hour1.csv",
    **more: Any,
) -> Recording:
    """A stored file and, with a `state`, how far its reading has come."""
    content = f"t,rpm\n{name}".encode()
    made = Recording(
        aircraft=more.pop("aircraft", shop.aircraft_1), sha256=f"{abs(hash(name)):064x}"[:64], original_name=name,
        size_bytes=len(content), uploaded_at=at, uploaded_by=by or shop.ada,
    )  # fmt: skip
    made.file.save(name, ContentFile(content), save=False)
    made.save()
    if "state" in more:
        RecordingRead.objects.create(recording=made, asked_at=at, **more)
    return made


def recorded_flight(
    shop: factories.Cast,
    held: Recording | None = None,
    *,
    number: int = 1,
    began_at: datetime = factories.NOW - timedelta(hours=3),
    engines: Mapping[str, EngineFlight] | None = None,
    kind: str = "flight",
    lines: Mapping[str, np.ndarray] | None = None,
    **more: Any,
) -> RecordedFlight:
    """A recorded flight as a reading leaves it, with its lines."""
    held = held or recording(
        shop,
        state=ReadState.READ,
        version=3,
        rows=SECONDS,
        sample_s=1.0,
        notes=["A line that was cut short was left out."],
    )
    engines = engines or {"1": engine_flight()}
    said = analysis(engines)
    made = RecordedFlight.objects.create(
        recording=held, number=number, kind=kind, first_row=0, end_row=SECONDS, began_at=began_at,
        ended_at=began_at + timedelta(seconds=SECONDS), dated_by="file", landings=1, run_min=89.5,
        airborne_min=0 if kind == "ground_run" else 74.6, version=3,
        summary={key: value for key, value in as_json(said).items() if key != "engines"}, **more,
    )  # fmt: skip
    seats = Installation.objects.filter(aircraft=held.aircraft, until__isnull=True).order_by("position")
    for (side, engine), seat in zip(engines.items(), seats, strict=False):
        RecordedEngine.objects.create(
            recorded_flight=made, side=side, engine_id=seat.engine_id, installation=seat, summary=as_json(engine)
        )
    held_lines = dict(lines if lines is not None else columns(sides="".join(engines)))
    power = {
        side: (held_lines.pop(f"pct_{side}"), held_lines.pop(f"sigma_{side}"))
        for side in engines
        if f"pct_{side}" in held_lines
    }
    keeper = Keeper(RecordingRead.objects.select_related("recording").get(recording=held))
    made.summary |= keeper.keep(Rows(held_lines, LINES), said, power)
    made.save()
    return made
