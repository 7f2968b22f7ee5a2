"""An oil event as a person typed it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from breakin.calc.said import qt, said
from breakin.calc.units import Kind, to_canonical
from breakin.entries.moments import check_past, local, moment, zone_of
from breakin.entries.ranges import OIL
from breakin.entries.sheet import Sheet
from breakin.models.oil import Container, OilEventKind, OilKind, When
from shop.errors import Problem

# What the chips of a phone log mean, in minutes. The words are kept as typed.
SHUTDOWN_CHIPS = {"<10": 5.0, "10-30": 20.0, "30-120": 75.0, "overnight": 720.0}
BELLY_WORDS = ("none", "film", "drips", "streaming")
CONTAINER_QT = {
    Container.US_QUART.value: 1.0,
    Container.LITRE.value: to_canonical(1, "L", Kind.VOLUME),
    Container.IMPERIAL_QUART.value: to_canonical(1, "imp qt", Kind.VOLUME),
}


@dataclass(frozen=True)
class OilEntry:
    """One oil event, understood. Quarts are US quarts; None = not given.

    happened_at : None = take the moment from the flight, or now.
    typed : {field: [text, unit]} as typed; absent : {field: why it is empty}.
    warnings : what the sender should be asked and has not confirmed.
    """

    client_id: UUID | None
    engine_id: int | None
    kind: str
    when: str
    flight_root: UUID | None
    happened_at: datetime | None
    zone: str
    written_at: datetime | None
    meter_reading_h: float | None
    order: int
    level_qt: float | None
    minutes_since_shutdown: float | None
    level_ground: bool | None
    wiped_twice: bool | None
    recalled: bool
    u_qt: float | None
    belly_oil: int | None
    amount_qt: float | None
    container: str
    oil_kind: str
    brand: str
    drained_qt: float | None
    filled_qt: float | None
    filter_changed: bool | None
    note: str
    typed: dict[str, list[str]] = field(default_factory=dict)
    absent: dict[str, str] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = ()
    sent_at: datetime | None = None

    def local_date(self, at: datetime) -> date:
        return at.astimezone(ZoneInfo(self.zone)).date()


def parse_oil(raw: Mapping[str, Any], *, units: str, zone: str, now: datetime) -> OilEntry:
    """Read an oil event that stands by itself.

    Parameters
    ----------
    raw : JSON-like; the keys are those of `OilEntry` without their units, see `read_oil`.
    units : "us", "si" or "mixed" - what a number without a unit means.
    zone : the zone of a time without an offset.
    now : aware.

    Raises
    ------
    Refusal : with every problem found.
    """
    sheet = Sheet(raw, units=units)
    sheet.found.confirmed = confirmed(sheet)
    entry = read_oil(sheet, zone=zone, now=now, order=0)
    if entry.client_id is None:
        sheet.problem(
            "client_id", said("The form carries no identifier, so a resend would count twice. Open the form anew.")
        )
    if entry.engine_id is None:
        sheet.problem("engine_id", said("Which engine? Choose it."))
    sheet.refuse_if_wrong()
    return entry


def confirmed(sheet: Sheet) -> frozenset[str]:
    """The fields that the sender was asked about and stands by."""
    return frozenset(str(name)[:80] for name in sheet.rows("confirmed", said("Confirmed fields"), 400))


def read_oil(sheet: Sheet, *, zone: str, now: datetime, order: int) -> OilEntry:
    """Read one oil event from its sheet. Problems stay in the sheet; the result counts only without any."""
    client_id, flight_root = sheet.uuid("client_id", said("Identifier")), sheet.uuid("flight_root", said("Flight"))
    engine_id = sheet.whole("engine_id", said("Engine"), 1, 2**62)
    choose = said("Choose one of {choices}.", choices=", ".join(OilEventKind.values))
    if sheet.need("kind", said("What was done with the oil"), choose):
        kind = sheet.choice("kind", said("What was done with the oil"), OilEventKind.values)
    else:
        kind = ""
    when = sheet.choice("when", said("Before or after the flight"), When.values)
    zone = zone_of(sheet, zone)
    at = local(sheet, "local_date", "local_time", said("When it was"), zone) or moment(
        sheet, "happened_at", said("When it was"), zone
    )
    if at is not None:
        check_past(sheet, "happened_at", said("When it was"), at, zone, now)
    level = sheet.quantity("level", OIL["level"])
    amount, container = _amount(sheet)
    recalled = sheet.flag("recalled", said("Told from memory"))
    read = OilEntry(
        client_id=client_id,
        engine_id=engine_id,
        kind=kind,
        when=when,
        flight_root=flight_root,
        happened_at=at,
        zone=zone,
        written_at=moment(sheet, "written_at", said("Written on the device"), zone),
        sent_at=moment(sheet, "sent_at", said("Clock of the device"), zone),
        meter_reading_h=sheet.quantity("meter_reading", OIL["meter_reading"]),
        order=order,
        level_qt=level,
        minutes_since_shutdown=_since_shutdown(sheet),
        level_ground=sheet.flag("level_ground", said("Level ground")),
        wiped_twice=sheet.flag("wiped_twice", said("Wiped and read twice")),
        recalled=bool(recalled),
        u_qt=sheet.quantity("u", OIL["u"]),
        belly_oil=_belly(sheet),
        amount_qt=amount,
        container=container,
        oil_kind=sheet.choice("oil_kind", said("Kind of oil"), OilKind.values),
        brand=sheet.text("brand", said("Brand"), 80),
        drained_qt=sheet.quantity("drained", OIL["drained"]),
        filled_qt=sheet.quantity("filled", OIL["filled"]),
        filter_changed=sheet.flag("filter_changed", said("Filter changed")),
        note=sheet.text("note", said("Note"), 4000),
    )
    _fits_kind(sheet, read)
    sheet.only("confirmed", "zone", "local_date", "local_time", "clock_change")
    warnings = tuple(w for w in sheet.found.warnings if w.field.startswith(sheet.path))
    return OilEntry(
        **{**read.__dict__, "typed": sheet.confirmed_as_typed(), "absent": dict(sheet.absent), "warnings": warnings}
    )


def _fits_kind(sheet: Sheet, read: OilEntry) -> None:
    """What each kind of event must and must not have."""
    if read.kind == OilEventKind.READING:
        sheet.need("level", said("The oil level"), said("Type what the dipstick shows."))
    elif read.kind == OilEventKind.ADDITION:
        if not (sheet.given("amount") or sheet.given("count")):
            sheet.problem("amount", said("How much went in? Give an amount, or the number of containers."))
        sheet.need(
            "oil_kind", said("The kind of oil"), said("Mineral, ad (ashless dispersant), or other if you don't know.")
        )
    elif read.kind == OilEventKind.NONE_ADDED:
        if sheet.given("amount") or sheet.given("count"):
            sheet.problem("amount", said("“None added” and an amount can't both be. Clear one of them."))
    elif read.kind == OilEventKind.DRAIN_FILL:
        sheet.need("filled", said("The amount filled"), said("Give it by measure."))
        sheet.need("oil_kind", said("The kind of oil"), said("Say what was filled."))
    if read.kind in (OilEventKind.ADDITION, OilEventKind.NONE_ADDED, OilEventKind.DRAIN_FILL) and sheet.given("level"):
        sheet.problem(
            "level", said("A dipstick reading is an event of its own. Send it as kind “reading” beside this one.")
        )


def _amount(sheet: Sheet) -> tuple[float | None, str]:
    """An amount as such, or containers times what was poured of each."""
    container = sheet.choice("container", said("Container"), Container.values)
    if not sheet.given("count"):
        for name in ("count", "poured_fraction"):
            sheet.used.add(name)
        amount = sheet.quantity("amount", OIL["amount"])
        return amount, container or (Container.MEASURED.value if amount is not None else "")
    if sheet.given("amount"):
        sheet.problem("amount", said("An amount and a number of containers were given. Clear one of them."))
    sheet.used.add("amount")
    count = sheet.whole("count", said("Number of containers"), 1, 60)
    share = _share(sheet)
    if container not in CONTAINER_QT:
        sheet.problem(
            "container", said("Which container? US quart, 1 L bottle or imperial quart: they differ by a fifth.")
        )
        return None, container
    if count is None or share is None:
        return None, container
    amount = (count - 1 + share) * CONTAINER_QT[container]
    if amount > (OIL["amount"].usual_high or 2.0) * 1.06:
        sheet.ask("count", said("Amount of oil: {amount} at once is more than usual. Is it right?", amount=qt(amount)))
    return amount, container


def _share(sheet: Sheet) -> float | None:
    """How much of the last container went in."""
    value = sheet.get("poured_fraction")
    if value is None:
        return 1.0
    text = str(value).strip()
    try:
        share = float(text.replace(",", "."))
    except ValueError:
        share = float("nan")
    if not 0 < share <= 1:
        what = said("Share of the last container: “{text}” is not above 0 and up to 1.", text=text[:20])
        sheet.problem("poured_fraction", what)
        return None
    sheet.keep("poured_fraction", text, "")
    return share


def _since_shutdown(sheet: Sheet) -> float | None:
    value = sheet.get("minutes_since_shutdown")
    chip = str(value).strip().replace(" ", "").replace("–", "-") if isinstance(value, str) else ""
    if chip in SHUTDOWN_CHIPS:
        sheet.keep("minutes_since_shutdown", str(value), "")
        return SHUTDOWN_CHIPS[chip]
    return sheet.quantity("minutes_since_shutdown", OIL["minutes_since_shutdown"])


def _belly(sheet: Sheet) -> int | None:
    value = sheet.get("belly_oil")
    if isinstance(value, str) and value.strip() in BELLY_WORDS:
        sheet.keep("belly_oil", value, "")
        return BELLY_WORDS.index(value.strip())
    return sheet.whole("belly_oil", said("Oil on the belly (0 none, 1 film, 2 drips, 3 streaming)"), 0, 3)
