"""A flight as a person typed it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from breakin.calc.said import fixed, number, said
from breakin.entries.engine import EngineEntry, read_engine
from breakin.entries.moments import check_past, local, moment, zone_of
from breakin.entries.oil import confirmed
from breakin.entries.ranges import FLIGHT
from breakin.entries.sheet import Sheet
from breakin.models.flight import Chip, FlightKind
from shop.errors import Problem

# Minutes by which a typed airborne time may differ from what the block times say: clocks are read to the minute.
_CLOCK_SLACK_MIN = 6.0


@dataclass(frozen=True)
class FlightEntry:
    """One flight, understood. None = not given.

    ended_at : when it was over; local_date : the day at its place when it began.
    typed : {dotted field: [text, unit]} as typed; absent : {dotted field: why it is empty}.
    warnings : what the sender should be asked and has not confirmed.
    written_at, sent_at : by the clock of the device, which may be wrong; what it showed as it sent tells by how much.
    """

    client_id: UUID
    ended_at: datetime
    local_date: date
    zone: str
    written_at: datetime | None
    recalled: bool
    kind: str
    pilot_id: int | None
    place_id: int | None
    field_elevation_ft: float | None
    altimeter_inhg: float | None
    oat_ground_degf: float | None
    off_block_at: datetime | None
    on_block_at: datetime | None
    airborne_min: float
    ground_before_min: float | None
    ground_after_min: float | None
    landings: int | None
    persons_aboard: int | None
    chips: tuple[str, ...]
    note: str
    engines: tuple[EngineEntry, ...]
    typed: dict[str, list[str]] = field(default_factory=dict)
    absent: dict[str, str] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = ()
    sent_at: datetime | None = None

    @property
    def began_at(self) -> datetime:
        return self.ended_at - timedelta(minutes=self.airborne_min)


def parse_flight(raw: Mapping[str, Any], *, units: str, zone: str, now: datetime) -> FlightEntry:
    """Read a flight with its engines, power blocks and oil events.

    Parameters
    ----------
    raw : JSON-like. A measured value is a number, a text ("0,5", "8.5 qt", "1:30"), {"value": ..., "unit": ...}, or
        {"absent": "not_observed" | "not_applicable"}. `confirmed` lists the fields the sender was asked about.
    units : "us", "si" or "mixed" - what a number without a unit means.
    zone : the zone of a time without an offset.
    now : aware.

    Raises
    ------
    Refusal : with every problem found.
    """
    sheet = Sheet(raw, units=units)
    sheet.found.confirmed = confirmed(sheet)
    zone = zone_of(sheet, zone)
    client_id = sheet.uuid("client_id", said("Identifier"))
    if client_id is None:
        sheet.problem(
            "client_id", said("The form carries no identifier, so a resend would count twice. Open the form anew.")
        )
    times = _read_times(sheet, zone, now)
    airborne = _airborne(sheet, times)
    kind = sheet.choice("kind", said("Kind of flight"), FlightKind.values) or FlightKind.RUN_IN.value
    if airborne == 0 and kind != FlightKind.GROUND_RUN:
        sheet.problem(
            "airborne", said("Airborne time is 0. Choose the kind “ground run only”, or type the minutes flown.")
        )
    if airborne and kind == FlightKind.GROUND_RUN:
        sheet.problem("airborne", said("A ground run has no airborne time. Type 0, or choose another kind."))
    engines = _read_engines(sheet, client_id, zone, now, airborne)
    read: dict[str, Any] = {
        "recalled": bool(sheet.flag("recalled", said("Told from memory"))),
        "pilot_id": sheet.whole("pilot_id", said("Pilot"), 1, 2**62),
        "place_id": sheet.whole("place_id", said("Airfield"), 1, 2**62),
        "field_elevation_ft": sheet.quantity("field_elevation", FLIGHT["field_elevation"]),
        "altimeter_inhg": sheet.quantity("altimeter", FLIGHT["altimeter"]),
        "oat_ground_degf": sheet.quantity("oat_ground", FLIGHT["oat_ground"]),
        "ground_before_min": sheet.quantity("ground_before", FLIGHT["ground_before"]),
        "ground_after_min": sheet.quantity("ground_after", FLIGHT["ground_after"]),
        "landings": sheet.whole("landings", said("Landings"), 0, 200),
        "persons_aboard": sheet.whole("persons_aboard", said("Persons aboard"), 0, 20),
        "chips": _chips(sheet),
        "note": sheet.text("note", said("Words of the pilot"), 4000),
        "written_at": moment(sheet, "written_at", said("Written on the device"), zone),
        "sent_at": moment(sheet, "sent_at", said("Clock of the device"), zone),
    }
    sheet.only("zone", "confirmed")
    sheet.refuse_if_wrong()
    ended_at, minutes = times["ended_at"], airborne or 0.0
    assert client_id is not None  # noqa: S101 - refused above otherwise
    assert ended_at is not None  # noqa: S101
    began = ended_at - timedelta(minutes=minutes + (read["ground_after_min"] or 0.0))
    return FlightEntry(
        client_id=client_id,
        ended_at=ended_at,
        local_date=began.astimezone(ZoneInfo(zone)).date(),
        zone=zone,
        kind=kind,
        off_block_at=times["off_block"],
        on_block_at=times["on_block"],
        airborne_min=minutes,
        engines=engines,
        typed=sheet.confirmed_as_typed(),
        absent=dict(sheet.absent),
        warnings=tuple(sheet.found.warnings),
        **read,
    )


_INSIDE = {
    "off_block": said("off block"),
    "takeoff": said("take-off"),
    "landing": said("landing"),
    "on_block": said("on block"),
}


def _read_times(sheet: Sheet, zone: str, now: datetime) -> dict[str, datetime | None]:
    ended = local(sheet, "local_date", "local_time", said("End of the flight"), zone) or moment(
        sheet, "ended_at", said("End of the flight"), zone
    )
    sheet.used |= {"local_date", "local_time", "clock_change", "ended_at"}
    on = ended.astimezone(ZoneInfo(zone)).date() if ended else None
    labels = {
        "off_block": said("Off block"),
        "takeoff": said("Take-off"),
        "landing": said("Landing"),
        "on_block": said("On block"),
    }
    times = {name: moment(sheet, name, label, zone, on=on) for name, label in labels.items()}
    last: str | None = None
    for name, label in labels.items():
        at, before = times[name], times[last] if last else None
        if at is not None and before is not None and at < before:
            sheet.problem(
                name,
                said(
                    "{later} ({at} UTC) lies before {earlier} ({before} UTC). Check the two times; where midnight lies "
                    "between them, give each with its date.",
                    later=label,
                    at=f"{at:%H:%M}",
                    earlier=_INSIDE[str(last)],
                    before=f"{before:%H:%M}",
                ),
            )
        last = name if at is not None else last
    named = "ended_at" if sheet.given("ended_at") else "local_time" if sheet.given("local_time") else "ended_at"
    times["ended_at"] = ended or times["on_block"] or times["landing"]
    if times["ended_at"] is None:
        if not any(sheet.given(name) for name in ("ended_at", "local_date", "local_time", "on_block", "landing")):
            sheet.problem(named, said("When was the flight over? Give date and time."))
    else:
        check_past(sheet, named, said("End of the flight"), times["ended_at"], zone, now)
    return times


def _airborne(sheet: Sheet, times: dict[str, datetime | None]) -> float | None:
    """Airborne minutes as typed, or between take-off and landing; the two must agree."""
    typed = sheet.quantity("airborne", FLIGHT["airborne"])
    off, landed = times["takeoff"], times["landing"]
    by_clock = (landed - off).total_seconds() / 60 if off and landed and landed >= off else None
    if by_clock is not None and by_clock > FLIGHT["airborne"].high:
        what = said("Take-off to landing is {hours} h. Check the two dates.", hours=fixed(by_clock / 60))
        sheet.problem("landing", what)
    if typed is None:
        if by_clock is None and not sheet.given("airborne"):
            sheet.problem("airborne", said("Airborne time is missing. Give it in minutes, or as h:mm."))
        elif by_clock is None and sheet.absent.get("airborne"):
            sheet.problem(
                "airborne", said("Airborne time is needed: without it the flight can't be counted. Estimate it.")
            )
        return by_clock
    if by_clock is not None and abs(typed - by_clock) > _CLOCK_SLACK_MIN:
        what = said(
            "Airborne time is {typed} min, but take-off to landing is {clock} min. Mend one of them.",
            typed=number(typed),
            clock=number(by_clock),
        )
        sheet.problem("airborne", what)
    off_block, on_block = times["off_block"], times["on_block"]
    if off_block and on_block and on_block >= off_block:
        block = (on_block - off_block).total_seconds() / 60
        if typed > block + _CLOCK_SLACK_MIN:
            what = said(
                "Airborne time, {typed} min, is longer than block time, {block} min.",
                typed=number(typed),
                block=number(block),
            )
            sheet.problem("airborne", what)
    return typed


def _read_engines(
    sheet: Sheet, client_id: UUID | None, zone: str, now: datetime, airborne: float | None
) -> tuple[EngineEntry, ...]:
    rows = sheet.rows("engines", said("Engines"), 8)
    if not rows and (not sheet.given("engines") or sheet.raw["engines"] in ([], ())):
        sheet.problem("engines", said("Which engine ran? Give at least one."))
    read: list[EngineEntry] = []
    for index, row in enumerate(rows):
        child = sheet.child(f"engines.{index}", row)
        engine = read_engine(child, zone=zone, now=now, airborne=airborne)
        if engine.engine_id in {other.engine_id for other in read}:
            child.problem("engine_id", said("This engine was given twice. Give each engine once."))
        read.append(engine.with_ids(lambda key: uuid5(client_id, key) if client_id else None))
    return tuple(read)


def _chips(sheet: Sheet) -> tuple[str, ...]:
    chips = [str(chip) for chip in sheet.rows("chips", said("What was noticed"), 20)]
    wrong = [chip for chip in chips if chip not in Chip.values]
    if wrong:
        what = said(
            "“{text}” is not one of {choices}. Choose one of these.",
            text=wrong[0][:30],
            choices=", ".join(Chip.values),
        )
        sheet.problem("chips", what)
    if Chip.NONE in chips and len(set(chips)) > 1:
        sheet.problem("chips", said("“Nothing unusual” and something noticed can't both be. Clear one of them."))
    return tuple(sorted(set(chips) & set(Chip.values)))
