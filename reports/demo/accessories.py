"""Accessories with clocks of their own in the demo: they were not overhauled with their engines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from breakin.services.accessories import AccessoryEntry, enter_accessory
from engines.models import Accessory, Engine, Installation
from shop.models import Person


@dataclass(frozen=True)
class Carried:
    """An accessory of an engine. days : before the installation that it was last done."""

    serial: str
    kind: str
    name: str
    act: str
    days: int
    total_h: float
    interval_h: float | None
    months: int | None
    part: str


# The sources are invented, like everything here. The magneto of V-3102 comes due with the engine hardly run in.
CARRIED = (
    Carried("V-3102", "magneto", "left", "inspected", 700, 1416.0, 500.0, None, "M-22041"),
    Carried("V-3102", "magneto", "right", "replaced", 300, 1702.0, 500.0, None, "M-23318"),
    Carried("V-3102", "hoses", "firewall forward", "replaced", 1100, 1240.0, None, 96, "H-7 set"),
    Carried("E-2101", "propeller", "", "overhauled", 900, 1610.0, 2000.0, 72, "P-5512"),
    Carried("E-2101", "governor", "", "overhauled", 900, 1610.0, 2000.0, None, "R-0917"),
)


def carry(people: Mapping[str, Person]) -> None:
    """Enter each with the installation of its engine. What is there already stays as it is."""
    for row in CARRIED:
        seat = Installation.objects.filter(engine__serial=row.serial).select_related("engine").order_by("since").first()
        if seat is not None and not _carries(seat.engine, row):
            _enter(people["Bram"], seat.engine, row, seat.since)


def _carries(engine: Engine, row: Carried) -> bool:
    return Accessory.objects.filter(engine=engine, kind=row.kind, name=row.name).exists()


def _enter(by: Person, engine: Engine, row: Carried, at: datetime) -> None:
    entry = AccessoryEntry(
        act=row.act, done_on=(at - timedelta(days=row.days)).date(), interval_h=row.interval_h,
        interval_months=row.months, source="maker's instructions (invented), revision C", total_time_h=row.total_h,
        part=row.part, done_by="an accessory shop", words="",
    )  # fmt: skip
    enter_accessory(by=by, engine=engine, kind=row.kind, name=row.name, entry=entry, now=at)
