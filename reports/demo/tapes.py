"""What the demo's engine monitors wrote: each flight flown by calculation, each file in its recorder's own dialect."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from reports.demo.people import SHOP_ZONE
from reports.demo.recorder import (
    Air,
    Dialect,
    Engine,
    Flown,
    Instruments,
    Script,
    engine_of_type,
    readings,
    simulate,
    write_file,
)
from reports.demo.recorder.dialect import Column, mapping_of
from reports.demo.story import Tape
from reports.demo.types import TYPES, chart_of

STEP_S = 6


@dataclass(frozen=True)
class Recorder:
    """An instrument: its dialect, and the zone that its clock is set to."""

    dialect: Dialect
    zone: str = SHOP_ZONE
    step_s: int = STEP_S


def _heads(engine: str, cylinders: int, unit: str, numbers: Sequence[int] = (1,)) -> tuple[Column, ...]:
    """Head and exhaust columns of the engines."""
    found: list[Column] = []
    for number in numbers:
        side = engine.format(number)
        found += [Column(f"{side}CHT{n}", f"cht_{number}_{n}", unit) for n in range(1, cylinders + 1)]
        found += [Column(f"{side}EGT{n}", f"egt_{number}_{n}", unit) for n in range(1, cylinders + 1)]
    return tuple(found)


def _twin_metric() -> tuple[Column, ...]:
    columns: list[Column] = []
    for number, side in ((1, "L "), (2, "R ")):
        columns += [
            Column(f"{side}RPM", f"rpm_{number}", "rpm"),
            Column(f"{side}MAP hPa", f"map_{number}", "hPa"),
            Column(f"{side}FF L/h", f"ff_{number}", "L/h", 1),
            *(Column(f"{side}CHT{n} C", f"cht_{number}_{n}", "C") for n in range(1, 7)),
            *(Column(f"{side}EGT{n} C", f"egt_{number}_{n}", "C") for n in range(1, 7)),
            Column(f"{side}OIL C", f"oil_temp_{number}", "C"),
            Column(f"{side}OIL psi", f"oil_press_{number}", "psi"),
        ]
    return (*columns, Column("OAT C", "oat", "C"), Column("ALT ft", "alt", "ft"), Column("IAS kt", "ias", "kt"))


_TURBO = (
    Column("RPM", "rpm_1", "rpm"),
    Column("MAP (inHg)", "map_1", "inHg", 1),
    Column("FF (gal/h)", "ff_1", "gph", 1),
    *_heads("", 6, "F"),
    Column("TIT (F)", "tit_1", "F"),
    Column("OIL T (F)", "oil_temp_1", "F"),
    Column("OIL P (psi)", "oil_press_1", "psi"),
    Column("OAT (F)", "oat", "F"),
    Column("ALT (ft)", "alt", "ft"),
    Column("IAS (kt)", "ias", "kt"),
)
_TRAINER = (
    Column("rpm", "rpm_1", "rpm"),
    Column("map in", "map_1", "inHg", 1),
    *_heads("", 6, "F"),
    Column("oil F", "oil_temp_1", "F"),
    Column("oil psi", "oil_press_1", "psi"),
    Column("oat F", "oat", "F"),
    Column("alt ft", "alt", "ft"),
)
_PLACE = (Column("LAT", "lat", "deg", 5), Column("LON", "lon", "deg", 5))
_FIXED = (
    Column("RPM", "rpm_1", "rpm", 0, 10),
    *_heads("", 4, "F"),
    Column("OIL TEMP F", "oil_temp_1", "F"),
    Column("OIL PRESS PSI", "oil_press_1", "psi"),
    Column("OAT F", "oat", "F"),
    Column("PRESS ALT FT", "alt", "ft", 0, 10),
)

# Its header says degrees Fahrenheit throughout, and its heads are in Celsius.
_TABLET = (
    Column("rpm", "rpm_1", "rpm"),
    *(Column(f"head {n} (F)", f"cht_1_{n}", "C") for n in range(1, 5)),
    *(Column(f"exhaust {n} (F)", f"egt_1_{n}", "F") for n in range(1, 5)),
    Column("outside (F)", "oat", "F"),
    Column("altitude (ft)", "alt", "ft"),
)

RECORDERS = {
    "petra": Recorder(Dialect(_TURBO, ("Date", "Time"), "date_hms")),
    "ferry": Recorder(Dialect((*_TURBO, *_PLACE), ("UTC",), "iso", top=("flight log",)), zone="UTC"),
    "club": Recorder(Dialect(_FIXED, ("Date Time",), "us_ampm", blank="---")),
    "trainer": Recorder(Dialect(_TRAINER, ("date", "clock"), "date_hms")),
    "tablet": Recorder(Dialect(_TABLET, ("when",), "iso", ";")),
    # The clock has no date, and a flight may go past midnight.
    "ostrevik": Recorder(Dialect(_twin_metric(), ("Zeit",), "hms", ";", decimal_comma=True), zone="Etc/GMT-1"),
}


@cache
def _revision(type_name: str) -> dict[str, Any]:
    row = next(row for row in TYPES if row.name == type_name)
    return {
        "cylinders": row.cylinders,
        "rated_hp": row.hp,
        "rated_rpm": row.rpm,
        "chart": chart_of(row),
        "turbo": "max_map_inhg" in (row.more or {}),
        "takeoff_ff": sum(row.ff) / 2 if row.ff else None,
    }


def _engines(tape: Tape, types: Sequence[str]) -> list[Engine]:
    """The engines of the aircraft; each keeps its own cylinders from flight to flight."""
    made = []
    for number, name in enumerate(types):
        own = dict(tape.engines[min(number, len(tape.engines) - 1)])
        rise, over = own.pop("rise", 278.0), own.pop("over", {})
        base = engine_of_type(_revision(name), seed=own.pop("seed", 11 + number), cooling_kt=tape.ias)
        middle = sum(base.heads) / len(base.heads)
        heads = tuple(head - middle + rise + over.get(place, 0.0) for place, head in enumerate(base.heads, 1))
        made.append(replace(base, heads=heads, hours_before=tape.hours, seating_degf=32.0, seating_h=1.4, **own))
    return made


def _script(tape: Tape, engine: Engine) -> Script:
    air = Air(tape.field_ft, tape.field_degf)
    script = Script(air, engine.rated_rpm, climb_ias=0.78 * tape.ias, cruise_ias=tape.ias)
    script.off(24).start(int(tape.start * 60)).taxi(int(tape.taxi * 60)).run_up(54).taxi(30)
    for _ in range(tape.circuits):
        script.roll(24).climb(tape.field_ft + 900, tape.fpm).step(100, 56, tape.rpm)
        script.approach(140, 36, tape.rpm).landing(18)
    if not tape.cruise:
        return script.taxi(int(tape.taxi_in * 60)).off(30)
    script.roll(30).climb(tape.cruise_ft, tape.fpm)
    first = tape.cruise[0][1]
    script.level(60, first, tape.rpm)
    if tape.lean:
        script.rich(60, first, tape.rpm)
        depth = max(engine.peaks) - 0.018
        script.lean(first, tape.rpm, to_x=depth, from_x=engine.rich_part, speed=0.0014, back_to=tape.mixture)
    for number, (minutes, pct) in enumerate(tape.cruise):
        taken = _cruised(script) if number == 0 else 0
        script.cruise(max(int(minutes * 60) - taken, 30), pct, tape.rpm, x=tape.mixture)
    script.descend(tape.field_ft + 1000, tape.down_fpm, pct=min(tape.cruise[-1][1], 61), rpm=tape.rpm)
    return script.approach(190, 40, tape.rpm).landing().taxi(int(tape.taxi_in * 60)).off(30)


def _cruised(script: Script) -> int:
    """Seconds of cruise so far: levelling off and leaning count as the first setting's."""
    return sum(leg.seconds for leg in script.legs if leg.block)


def fly(tape: Tape, types: Sequence[str]) -> Flown:
    engines = _engines(tape, types)
    return simulate(_script(tape, engines[0]), engines, seed=tape.seed, splits=(0.0, tape.split))


def file_of(tape: Tape, types: Sequence[str], shutdown: datetime) -> bytes:
    """The recorder's file of a flight whose engine stopped at `shutdown` (aware)."""
    recorder = RECORDERS[tape.recorder]
    flown = fly(tape, types)
    stopped = int((flown.phase != "off").nonzero()[0][-1]) + 1
    start = (shutdown - timedelta(seconds=stopped)).astimezone(ZoneInfo(recorder.zone))
    instruments = Instruments(step_s=recorder.step_s, oat_bias=0.4, alt_bias=15)
    seconds, shown = readings(flown, instruments, seed=tape.seed + 1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "recording.csv"
        write_file(path, recorder.dialect, start + timedelta(seconds=tape.clock_error_s), seconds, shown)
        return path.read_bytes()


def mapping(recorder: str) -> dict[str, Any]:
    """The columns as a person confirms them."""
    return mapping_of(RECORDERS[recorder].dialect)
