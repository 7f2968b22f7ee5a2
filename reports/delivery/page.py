"""The page of a delivery plan, and its line on other pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from breakin.entries.delivery import DeliveryEntry
from breakin.models import Assessment, DeliveryPlan, Phase
from engines.models import Aircraft
from reports.delivery.planned import Seat, answers, entry_of, newest_plan, seats_of
from reports.delivery.words import Section, sections
from reports.pilot.aircraft_page import AircraftPage
from reports.quantities import minutes_text, quantity
from reports.reader import Reader
from shop import access, written
from shop.models import Person, Shop

PLANNED, NOT_PLANNED = "Delivery planned", "Delivery not planned"


@dataclass(frozen=True)
class Revision:
    """A revision that was kept: its number, when, by whom, and its plan in a few lines."""

    number: int
    made_at: datetime
    by: str
    lines: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class DeliveryPage:
    """engines : in words. open : an engine is in break-in, so that there is something to plan. home_differs : the
    home that is on file where the plan names another. looked : the answer is for what was typed and not kept yet."""

    aircraft: Aircraft
    engines: Sequence[str]
    open: bool
    plan: DeliveryPlan | None
    revisions: Sequence[Revision]
    sections: Sequence[Section]
    looked: bool
    home_differs: str
    others: Sequence[str]
    places: Sequence[str]


@dataclass(frozen=True)
class DeliveryLine:
    """The plan in a line or two for another page. url : where it is planned, "" for who may not."""

    planned: bool
    title: str
    lines: tuple[str, ...]
    note: str
    url: str


def delivery_page(
    aircraft: Aircraft,
    reader: Reader,
    seats: list[Seat],
    plan: DeliveryPlan | None,
    *,
    tried: DeliveryEntry | None,
    places: Sequence[str],
) -> DeliveryPage:
    """The page; `tried` is an entry that was looked at and not kept, `plan` the one that holds."""
    shop = Shop.objects.select_related("place").first()
    entry = tried or (entry_of(plan) if plan else None)
    found = answers(seats, entry, shop) if entry else []
    home = aircraft.home.name
    differs = entry is not None and entry.home.casefold() != home.casefold()
    rows = access.visible_to(reader.user, DeliveryPlan.objects.filter(aircraft=aircraft))
    kept = rows.select_related("made_by", "ferry_pilot").prefetch_related("hours__pilot").order_by("-revision")
    return DeliveryPage(
        aircraft=aircraft,
        engines=[_named(seat) for seat in seats],
        open=any(seat.build for seat in seats),
        plan=plan,
        revisions=[_revision(row, reader) for row in kept],
        sections=sections(found, entry, reader.units, shop.place.name if shop else "") if entry else (),
        looked=tried is not None,
        home_differs=home if differs else "",
        others=[
            _("%(engine)s is not in break-in: it follows the other, even power.") % {"engine": seat.name}
            for seat in seats
            if not seat.build
        ]
        if len(seats) > 1
        else [],
        places=places,
    )


def _named(seat: Seat) -> str:
    name = f"{gettext_side(seat.side)} {seat.installation.engine}".strip()
    return _("%(engine)s, build %(number)s") % {"engine": name, "number": seat.build.number} if seat.build else name


def gettext_side(side: str) -> str:
    return {"LEFT": _("LEFT"), "RIGHT": _("RIGHT")}.get(side, "")


def _revision(row: DeliveryPlan, reader: Reader) -> Revision:
    words = access.words_are_for(reader.user, row)
    return Revision(
        row.revision, row.made_at, row.made_by.name if words else "", plan_lines(row, reader.units, persons=words),
        row.note if words else "",
    )  # fmt: skip


def plan_lines(plan: DeliveryPlan, units: str, *, persons: bool) -> tuple[str, ...]:
    """The plan in a line for each hour and one for the ferry."""
    lines = []
    for hour in sorted(plan.hours.all(), key=lambda each: each.number):
        said = _("Hour %(number)s: from %(field)s, %(elevation)s, at %(altitude)s.") % {
            "number": hour.number,
            "field": hour.field,
            "elevation": quantity(hour.elevation_ft, "altitude", units),
            "altitude": quantity(hour.altitude_ft, "altitude", units),
        }
        if hour.oat_degf is not None:
            heat = quantity(hour.oat_degf, "temperature", units)
            said = f"{said} " + _("%(temperature)s expected there.") % {"temperature": heat}
        if persons:
            said = f"{said} " + (_flown_by(hour.pilot) or _("Who flies it is not decided."))
        lines.append(said)
    if not plan.ferried:
        return (*lines, _("Home is %(home)s; no ferry.") % {"home": plan.home})
    said = _ferry(plan.ferry_after_h or 0.0) % {
        "home": plan.home,
        "time": minutes_text(plan.ferry_min),
        "altitude": quantity(plan.ferry_altitude_ft, "altitude", units),
        "hours": written.short(plan.ferry_after_h or 0.0),
    }
    who = _flown_by(plan.ferry_pilot) if persons else ""
    return (*lines, f"{said} {who}" if who else said)


def _flown_by(pilot: Person | None) -> str:
    return _("Flown by %(name)s.") % {"name": pilot.name} if pilot else ""


def _ferry(after_h: float) -> str:
    if after_h == 0:
        return _("Ferry home to %(home)s: %(time)s at %(altitude)s, before any of them.")
    if after_h >= 2:
        return _("Ferry home to %(home)s: %(time)s at %(altitude)s, after both.")
    return _("Ferry home to %(home)s: %(time)s at %(altitude)s, after %(hours)s h of them.")


def portal_delivery(page: AircraftPage | None, reader: Reader) -> DeliveryLine | None:
    """The line on the pilot's page: the plan, and for who may plan it, that there is none."""
    if page is None or not page.held:
        return None
    waiting = (panel.assessment for panel in page.engines if panel.assessment)
    lines = (delivery_line(page.aircraft, assessment, reader) for assessment in waiting)
    line = next((each for each in lines if each), None)
    return line if line and (line.planned or line.url) else None


def delivery_line(aircraft: Aircraft, assessment: Assessment | None, reader: Reader) -> DeliveryLine | None:
    """The line for an engine that awaits its first flight; None for any other."""
    if assessment is None or assessment.phase != Phase.AWAITING:
        return None
    plan = newest_plan(reader.user, aircraft, seats_of(aircraft))
    may = access.may_now(reader.user, "plan_delivery", aircraft)
    url = reverse("delivery", args=[aircraft.pk]) if may else ""
    if plan is None:
        return DeliveryLine(False, _("Delivery not planned"), (), "", url)
    title = _("Delivery planned, revision %(revision)s of %(day)s") % {
        "revision": plan.revision,
        "day": written.day(timezone.localtime(plan.made_at)),
    }
    words = access.words_are_for(reader.user, plan)
    lines = plan_lines(plan, reader.units, persons=words)
    return DeliveryLine(True, title, lines, plan.note if words else "", url)
