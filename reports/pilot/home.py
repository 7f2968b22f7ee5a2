"""The first page of an owner or pilot: his one aircraft in full, or the list of them, Stops before all else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from breakin.models import Assessment, Finding, Severity
from engines.models import Aircraft
from reports.pilot import words
from reports.pilot.aircraft_page import OPEN, AircraftPage, Warned, aircraft_page, warned
from reports.pilot.instructor_page import has_engines
from reports.reader import Reader
from shop import access
from shop.models import Shop

A_PAGE = 50
MOST_STOPS = 20


@dataclass(frozen=True)
class AircraftRow:
    """One aircraft in the list: its engines as (side, state word, hours and next visit), and its calls."""

    aircraft: Aircraft
    engines: Sequence[tuple[str, str | Promise, str]]
    stopped: bool
    calls: int


@dataclass(frozen=True)
class PortalHome:
    """One aircraft in `page`, or several in `rows` with the open Stops of all of them, not of this list page only.

    `next_after` : registration after which the next page of the list begins; "" on the last.
    """

    page: AircraftPage | None
    rows: Sequence[AircraftRow]
    stops: Sequence[tuple[str, Warned]]
    next_after: str
    earlier: Sequence[Aircraft]
    instructs: bool  # is or was assigned to an aircraft as its break-in pilot
    shop_name: str
    phone: str

    @property
    def is_empty(self) -> bool:
        return self.page is None and not self.rows


def portal_home(reader: Reader, now: datetime, after: str = "") -> PortalHome:
    """What the reader holds or flies now; below it, what he held or flew before. `after` pages the list."""
    held = access.held_now(reader.user, Aircraft.objects.all())
    listed = list(held.filter(registration__gt=after).select_related("home").order_by("registration")[: A_PAGE + 1])
    alone = not after and len(listed) == 1
    shown = listed[:A_PAGE]
    shop = Shop.objects.first()
    return PortalHome(
        page=aircraft_page(listed[0], reader, now) if alone else None,
        rows=[] if alone else _rows(shown),
        stops=[] if alone else _stops(held, reader),
        next_after=shown[-1].registration if len(listed) > A_PAGE else "",
        earlier=_earlier(held, reader),
        instructs=has_engines(reader.person),
        shop_name=shop.name if shop else _("the shop"),
        phone=shop.phone if shop else "",
    )


def _rows(held: Sequence[Aircraft]) -> list[AircraftRow]:
    """The list, with one query for all its assessments; what is stopped comes first."""
    found: dict[int, list[Assessment]] = {}
    for row in Assessment.objects.filter(aircraft__in=held, live=True).order_by("aircraft", "side"):
        found.setdefault(row.aircraft_id or 0, []).append(row)
    rows = [
        AircraftRow(
            aircraft=aircraft,
            engines=[
                (_(row.side.upper()) if row.twin else "", words.state_word(row), words.in_short(row))
                for row in found.get(aircraft.pk, [])
            ],
            stopped=any(row.stopped for row in found.get(aircraft.pk, [])),
            calls=sum(row.calls for row in found.get(aircraft.pk, [])),
        )
        for aircraft in held
    ]
    return sorted(rows, key=lambda row: (not row.stopped, row.aircraft.registration))


def _stops(held: QuerySet[Aircraft], reader: Reader) -> list[tuple[str, Warned]]:
    """The open Stops of all aircraft that the reader holds; the shop reads those of the fleet on its board."""
    if reader.staff:
        return []
    # Named one by one, so that the database begins at the few builds and not at all that stands open in the fleet.
    builds = list(Assessment.objects.filter(aircraft__in=held.values("pk")).values_list("build", flat=True))
    found = Finding.objects.filter(build__in=builds, state__in=OPEN, severity=Severity.STOP)
    found = found.select_related("build__assessment")
    rows = access.visible_to(reader.user, found)[:MOST_STOPS]
    return [(row.build.assessment.registration, warned(row, reader)) for row in rows]


def _earlier(held: QuerySet[Aircraft], reader: Reader) -> list[Aircraft]:
    if reader.staff:
        return []
    seen = access.visible_to(reader.user, Aircraft.objects.order_by("registration"))
    return list(seen.exclude(pk__in=held.values("pk"))[:A_PAGE])
