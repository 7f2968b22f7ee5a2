"""What one engine did on a flight, as a person typed it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from breakin.calc.said import degf, fixed, number, said
from breakin.entries.oil import OilEntry, read_oil
from breakin.entries.ranges import BLOCK, CLIMB_CHT, ENGINE, METER
from breakin.entries.sheet import Sheet
from breakin.models.flight import CowlFlaps, Mixture
from engines.models import MeterKind

OVER_WATCH = ("no", "under_5", "longer", "not_looked")
FALLING = ("yes", "no", "not_looked")
LONGEST_RUN_H = 14.0
_USUAL_RUN_H = (0.2, 4.0)
_METER_STEP_H = 0.1  # most hour meters are read to a tenth
_BLOCK_SLACK_MIN = 5.0
_SLOWEST_TACH = 0.6  # tach hours an hour airborne; usual ratios are 0.72 to 1.02


@dataclass(frozen=True)
class BlockEntry:
    """Some minutes at one power setting. None = not given."""

    duration_min: float
    pressure_altitude_ft: float | None
    oat_degf: float | None
    rpm: float | None
    map_inhg: float | None
    fuel_flow_gph: float | None
    claimed_pct: float | None
    mixture: str
    cowl_flaps: str
    cht_max_degf: float | None
    cht_mean_degf: float | None


@dataclass(frozen=True)
class EngineEntry:
    """One engine on one flight. `meters` holds further clocks: {kind: (start, end)}."""

    engine_id: int | None
    meter_kind: str
    meter_start_h: float | None
    meter_end_h: float | None
    meters: dict[str, tuple[float, float]]
    as_on_card: bool
    card_id: int | None
    blocks: tuple[BlockEntry, ...]
    takeoff_rpm: float | None
    takeoff_map_inhg: float | None
    takeoff_ff_gph: float | None
    climb_cht_degf: dict[str, float]
    cht_max_degf: float | None
    cht_over_watch: str
    cht_falling_by_3000: str
    cht_cruise_mean_degf: float | None
    oil_temp_max_degf: float | None
    oil_press_min_psi: float | None
    oil_press_idle_psi: float | None
    tit_max_degf: float | None
    oil: tuple[OilEntry, ...]

    def with_ids(self, make: Callable[[str], UUID | None]) -> EngineEntry:
        """Oil events without an identifier get one that follows from the flight's, so that a resend is harmless."""
        return replace(
            self,
            oil=tuple(
                replace(event, client_id=event.client_id or make(f"{self.engine_id}:{index}"))
                for index, event in enumerate(self.oil)
            ),
        )


def read_engine(sheet: Sheet, *, zone: str, now: datetime, airborne: float | None) -> EngineEntry:
    """Read one engine from its sheet. Problems stay in the sheet."""
    engine_id = sheet.whole("engine_id", said("Engine"), 1, 2**62)
    if engine_id is None:
        sheet.problem("engine_id", said("Which engine? Choose it."))
    kind = sheet.choice("meter_kind", said("Kind of meter"), MeterKind.values)
    start = sheet.quantity("meter_start", ENGINE["meter_start"])
    end = sheet.quantity("meter_end", ENGINE["meter_end"])
    _check_meter(sheet, "meter_end", kind, start, end, airborne)
    as_on_card = bool(sheet.flag("as_on_card", said("Flown as on the card")))
    blocks = _read_blocks(sheet, airborne)
    if as_on_card and blocks:
        sheet.problem("as_on_card", said("“As on the card” and own power blocks can't both be. Clear one of them."))
    entry = EngineEntry(
        engine_id=engine_id,
        meter_kind=kind,
        meter_start_h=start,
        meter_end_h=end,
        meters=_read_meters(sheet, kind, airborne),
        as_on_card=as_on_card,
        card_id=sheet.whole("card_id", said("Card"), 1, 2**62),
        blocks=blocks,
        takeoff_rpm=sheet.quantity("takeoff_rpm", ENGINE["takeoff_rpm"]),
        takeoff_map_inhg=sheet.quantity("takeoff_map", ENGINE["takeoff_map"]),
        takeoff_ff_gph=sheet.quantity("takeoff_ff", ENGINE["takeoff_ff"]),
        climb_cht_degf=_read_climb(sheet),
        cht_max_degf=sheet.quantity("cht_max", ENGINE["cht_max"]),
        cht_over_watch=sheet.choice("cht_over_watch", said("Over the watch line"), OVER_WATCH),
        cht_falling_by_3000=sheet.choice("cht_falling", said("Falling by 3,000 ft"), FALLING),
        cht_cruise_mean_degf=sheet.quantity("cht_cruise_mean", ENGINE["cht_cruise_mean"]),
        oil_temp_max_degf=sheet.quantity("oil_temp_max", ENGINE["oil_temp_max"]),
        oil_press_min_psi=sheet.quantity("oil_press_min", ENGINE["oil_press_min"]),
        oil_press_idle_psi=sheet.quantity("oil_press_idle", ENGINE["oil_press_idle"]),
        tit_max_degf=sheet.quantity("tit_max", ENGINE["tit_max"]),
        oil=_read_oil_events(sheet, engine_id, zone, now),
    )
    _check_heads(sheet, entry)
    sheet.only()
    return entry


def _check_meter(
    sheet: Sheet, name: str, kind: str, start: float | None, end: float | None, airborne: float | None
) -> None:
    if start is None or end is None:
        return
    delta = end - start
    if delta < 0:
        sheet.problem(
            name,
            said(
                "The meter runs backwards: it ends at {end} h and starts at {start} h. Check both; if the meter was "
                "changed, a technician enters the change first.",
                end=fixed(end),
                start=fixed(start),
            ),
        )
    elif delta > LONGEST_RUN_H:
        sheet.problem(
            name,
            said(
                "The meter moved by {hours} h in one flight; {most} h are the most. Check both readings.",
                hours=fixed(delta),
                most=number(LONGEST_RUN_H),
            ),
        )
    elif airborne is not None:
        message = longer_than_meter(kind, delta, airborne)
        if message:
            sheet.problem("meter_end" if name == "meter_end" else name, message)
        elif airborne and not _USUAL_RUN_H[0] <= delta <= _USUAL_RUN_H[1]:
            usual = said("The meter moved by {hours} h; usual are 0.2 to 4 h. Is it right?", hours=fixed(delta))
            sheet.ask(name, usual)


def longer_than_meter(kind: str, delta_h: float, airborne_min: float) -> str:
    """A sentence when the engine would have flown longer than its meter ran; else empty.

    A tach runs slow at low rpm, so it may show less than the time flown; an hour meter may not.
    """
    runs = delta_h if kind in (MeterKind.HOBBS, MeterKind.RECORDER) else delta_h / _SLOWEST_TACH
    if airborne_min / 60 <= runs + _METER_STEP_H:
        return ""
    return said(
        "Airborne {minutes} min is {hours} h, but the meter only moved by {moved} h. Check the minutes and both meter "
        "readings.",
        minutes=number(airborne_min),
        hours=fixed(airborne_min / 60),
        moved=fixed(delta_h),
    )


def _read_meters(sheet: Sheet, main: str, airborne: float | None) -> dict[str, tuple[float, float]]:
    read: dict[str, tuple[float, float]] = {}
    for index, row in enumerate(sheet.rows("meters", said("Further meters"), 3)):
        child = sheet.child(f"meters.{index}", row)
        kind = child.choice("kind", said("Kind of meter"), MeterKind.values)
        start, end = child.quantity("start", METER), child.quantity("end", METER)
        if not kind or kind == main or kind in read:
            child.problem("kind", said("Name the kind of this meter, each kind once."))
        elif start is None or end is None:
            child.problem(
                "end", said("A further meter needs its reading at start and end. Give both, or leave it out.")
            )
        else:
            _check_meter(child, "end", kind, start, end, airborne)
            read[kind] = (start, end)
        child.only()
    return read


def _read_blocks(sheet: Sheet, airborne: float | None) -> tuple[BlockEntry, ...]:
    blocks = []
    for index, row in enumerate(sheet.rows("blocks", said("Power blocks"), 60)):
        child = sheet.child(f"blocks.{index}", row)
        child.need("duration", said("The length of the block"), said("Give it in minutes."))
        blocks.append(
            BlockEntry(
                duration_min=child.quantity("duration", BLOCK["duration"]) or 0.0,
                pressure_altitude_ft=child.quantity("pressure_altitude", BLOCK["pressure_altitude"]),
                oat_degf=child.quantity("oat", BLOCK["oat"]),
                rpm=child.quantity("rpm", BLOCK["rpm"]),
                map_inhg=child.quantity("map", BLOCK["map"]),
                fuel_flow_gph=child.quantity("fuel_flow", BLOCK["fuel_flow"]),
                claimed_pct=_percent(child),
                mixture=child.choice("mixture", said("Mixture"), Mixture.values),
                cowl_flaps=child.choice("cowl_flaps", said("Cowl flaps"), CowlFlaps.values),
                cht_max_degf=child.quantity("cht_max", BLOCK["cht_max"]),
                cht_mean_degf=child.quantity("cht_mean", BLOCK["cht_mean"]),
            )
        )
        child.only()
    total = sum(block.duration_min for block in blocks)
    if airborne is not None and total > airborne + _BLOCK_SLACK_MIN:
        what = said(
            "The blocks add up to {total} min, the flight has {airborne} min airborne. Mend one of them.",
            total=number(total),
            airborne=number(airborne),
        )
        sheet.problem("blocks", what)
    return tuple(blocks)


def _percent(sheet: Sheet) -> float | None:
    """Percent power as the pilot put it; "75 %" and "75" are the same."""
    value = sheet.get("claimed_pct")
    if value is None:
        return None
    text = str(value["value"] if isinstance(value, dict) else value).strip()
    try:
        percent = float(text.removesuffix("%").strip().replace(",", "."))
    except ValueError:
        percent = float("nan")
    if not 10 <= percent <= 120:
        what = said("Percent power: “{text}” is not a number from 10 to 120. Type it like 75.", text=text[:20])
        sheet.problem("claimed_pct", what)
        return None
    sheet.keep("claimed_pct", text, "%")
    return percent


def _read_climb(sheet: Sheet) -> dict[str, float]:
    value = sheet.get("climb_cht")
    if value is None:
        return {}
    child = sheet.child("climb_cht", value)
    read: dict[str, float] = {}
    for height in child.raw:
        name = str(height)
        if not name.isdecimal() or not 500 <= int(name[:6]) <= 20_000:
            what = said("“{text}” is not a height above the field from 500 to 20000 ft.", text=name[:20])
            child.problem(name[:20], what)
            continue
        degf = child.quantity(name, CLIMB_CHT)
        if degf is not None:
            read[name] = degf
    return read


def _check_heads(sheet: Sheet, entry: EngineEntry) -> None:
    hottest = max(entry.climb_cht_degf.values(), default=None)
    if entry.cht_max_degf is not None and hottest is not None and hottest > entry.cht_max_degf + 1:
        sheet.problem(
            "cht_max",
            said(
                "The hottest head, {hottest}, is below the {climb} given for the climb. Mend one of them.",
                hottest=degf(entry.cht_max_degf),
                climb=degf(hottest),
            ),
        )
    mean = entry.cht_cruise_mean_degf
    if entry.cht_max_degf is not None and mean is not None and mean > entry.cht_max_degf + 1:
        what = said("The mean in cruise, {mean}, is above the hottest head. Mend one of them.", mean=degf(mean))
        sheet.problem("cht_cruise_mean", what)


def _read_oil_events(sheet: Sheet, engine_id: int | None, zone: str, now: datetime) -> tuple[OilEntry, ...]:
    read = []
    for index, row in enumerate(sheet.rows("oil", said("Oil"), 12)):
        child = sheet.child(f"oil.{index}", row, own_typed=True)
        event = read_oil(child, zone=zone, now=now, order=index)
        if event.engine_id not in (None, engine_id):
            child.problem("engine_id", said("This oil event names another engine than the one it stands under."))
        read.append(replace(event, engine_id=engine_id))
    return tuple(read)
