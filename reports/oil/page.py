"""The page of a quick oil reading: the advice for what was read last, and the entries before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from breakin.calc.units import Kind
from breakin.models import Assessment, Finding, OilEvent, OilEventKind, Severity
from breakin.services.corrections import may_correct
from reports.forms.typed import canonical
from reports.inspect.photos import PhotoLine, by_root, photos_of
from reports.oil.advice import OilAdvice, advice
from reports.pilot.aircraft_page import OPEN, Warned, warned
from reports.pilot.log_flight_page import EngineSection
from reports.quantities import quantity
from reports.reader import Reader
from shop import access
from shop.models import Shop

ENTRIES_SHOWN = 8


@dataclass(frozen=True)
class OilLine:
    """One entry about the oil."""

    event: OilEvent
    said: str
    may_fix: bool
    photos: tuple[PhotoLine, ...] = ()


@dataclass(frozen=True)
class OilPage:
    """Advice, Stops and entries of one engine."""

    advice: OilAdvice
    level: str
    stops: Sequence[Warned]
    calls: Sequence[Warned]
    entries: Sequence[OilLine]
    phone: str
    shop_name: str


def oil_page(
    section: EngineSection, reader: Reader, now: datetime, *, level_qt: float | None = None, planned: str = ""
) -> OilPage:
    """The page; `level_qt` is a level that is not saved yet, `planned` the flight time as typed [h]."""
    assessment = Assessment.objects.filter(build=section.build).first() if section.build else None
    shown = level_qt if level_qt is not None else section.last_level_qt
    found = list(
        access.visible_to(reader.user, Finding.objects.filter(build=section.build, state__in=OPEN))
        if section.build
        else []
    )
    shop = Shop.objects.first()
    return OilPage(
        advice=advice(
            shown,
            installation=section.installation,
            kind=section.type_revision,
            plan=section.plan,
            assessment=assessment,
            units=reader.units,
            planned_h=planned_hours(planned),
        ),
        level=quantity(shown, "volume", reader.units) if shown is not None else "",
        stops=[warned(row, reader) for row in found if row.severity == Severity.STOP],
        calls=[warned(row, reader) for row in found if row.severity == Severity.CALL],
        entries=_entries(section, reader, now),
        phone=shop.phone if shop else "",
        shop_name=shop.name if shop else _("the shop"),
    )


def planned_hours(text: str) -> float | None:
    """Flight hours as typed, 0 to 14; None for nothing or for what cannot be a flight."""
    hours = canonical(text, Kind.HOURS, "h")
    return hours if hours is not None and 0 <= hours <= 14 else None


def _entries(section: EngineSection, reader: Reader, now: datetime) -> list[OilLine]:
    rows = list(
        access.visible_to(reader.user, OilEvent.objects.current().filter(engine=section.engine)).order_by(
            "-happened_at", "-order", "-id"
        )[:ENTRIES_SHOWN]
    )
    may = reader.person is not None and access.may_now(reader.user, "correct", section.installation.aircraft)
    photos = by_root(photos_of(reader, [row.root for row in rows]))
    lines = []
    for row in rows:
        why_not = may_correct(reader.person, row, now) if may and reader.person else ""
        fixable = may and not why_not and row.kind != OilEventKind.DRAIN_FILL
        lines.append(OilLine(row, event_said(row, reader.units), fixable, photos.get(row.root, ())))
    return lines


def event_said(event: OilEvent, units: str) -> str:
    """An oil event in a line, with its numbers in the reader's units."""
    said = {
        OilEventKind.READING: _("Dipstick %(level)s"),
        OilEventKind.ADDITION: _("Added %(amount)s, %(oil)s"),
        OilEventKind.NONE_ADDED: _("None added"),
        OilEventKind.DRAIN_FILL: _("Drained and filled with %(filled)s"),
        OilEventKind.LOSS_SEEN: _("Loss seen"),
    }[OilEventKind(event.kind)] % {
        "level": quantity(event.level_qt, "volume", units),
        "amount": quantity(event.amount_qt, "volume", units),
        "filled": quantity(event.filled_qt, "volume", units),
        "oil": event.get_oil_kind_display(),
    }
    belly = _("belly: %(belly)s") % {"belly": event.get_belly_oil_display()} if event.belly_oil else ""
    return "; ".join(part for part in (", ".join(filter(None, (said, event.get_when_display()))), belly) if part)
