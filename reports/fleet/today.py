"""The list of today: what is due, by airfield and by customer, short enough to be carried on paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, F, Prefetch, Q, QuerySet
from django.urls import reverse

from breakin.models import Assessment, DueItem, DueState, Finding, FindingState, Phase, PhoneCall, Severity
from reports.delivery.page import NOT_PLANNED, PLANNED
from reports.delivery.planned import with_planned
from reports.due_form import AskedItem
from reports.fleet.board_query import beyond, cursor, written
from reports.fleet.call_page import promised
from reports.quantities import level
from reports.reader import Reader
from shop import access
from shop.models import Shop

PAGE = 60
ASKED = (DueState.LATE, DueState.DUE, DueState.DUE_SOON)
_ORDER = {state: place for place, state in enumerate(ASKED)}
# A list for the reason that board_query.LIVE is one.
ASKING: dict[str, Any] = {"asks__in": [True]}
IN_ORDER = ("place_name", "customer_name", "registration", "side", "id")


@dataclass(frozen=True)
class Engine:
    """One engine with what it asks for today."""

    url: str
    name: str
    what: str
    service: str
    delivery: str
    delivery_url: str
    findings: tuple[Finding, ...]
    items: tuple[AskedItem, ...]


@dataclass(frozen=True)
class Customer:
    name: str
    engines: tuple[Engine, ...]


@dataclass(frozen=True)
class Place:
    name: str
    customers: tuple[Customer, ...]


@dataclass(frozen=True)
class Today:
    """`places` filters; `groups` is the list. `more` engines stand on the next page."""

    filters: tuple[dict[str, Any], ...]
    groups: tuple[Place, ...]
    shown: int
    total: int
    first_url: str
    next_url: str
    may_complete: bool
    who_completes: str
    promised: tuple[PhoneCall, ...]


def today(reader: Reader, now: datetime, *, place: str | None, after: str) -> Today:
    """The page for one reader. `place` is the name of an airfield, "" for engines in the shop, None for all.

    `after` is where the page before ended, as its address for the next one says.
    """
    asking = Assessment.objects.filter(**ASKING)
    counts = list(asking.order_by("place_name").values("place_name").annotate(n=Count("id")))
    found = asking if place is None else asking.filter(place_name=place)
    begun = cursor(after, len(IN_ORDER))
    if begun:
        found = found.filter(beyond(IN_ORDER, begun))
    # The keys first: they stand in their order in an index, the rows are heavy.
    keys = list(found.order_by(*IN_ORDER).values_list(*IN_ORDER)[: PAGE + 1])
    rows = list(_full(Assessment.objects.filter(pk__in=[key[-1] for key in keys[:PAGE]])).order_by(*IN_ORDER))
    shop = _shop_name()
    return Today(
        filters=_filters(counts, place, shop),
        groups=_groups(rows, reader.units, shop),
        shown=len(rows),
        total=sum(each["n"] for each in counts if place in (None, each["place_name"])),
        first_url=_url(place) if begun else "",
        next_url=_url(place, written(keys[PAGE - 1])) if len(keys) > PAGE else "",
        may_complete=access.may_now(reader.user, "inspect"),
        who_completes=", ".join(sorted(access.who_may("inspect"))),
        promised=tuple(promised(now)),
    )


def _full(rows: QuerySet[Assessment]) -> QuerySet[Assessment]:
    """The rows with what the page prints of each."""
    # A call that somebody has taken up is no longer asked for; a Stop is, until a technician has cleared it.
    taken_up = Q(state=FindingState.ACKNOWLEDGED, severity=Severity.STOP)
    asked = Q(state=FindingState.OPEN, severity__gte=Severity.CALL) | taken_up
    urgent = Finding.objects.filter(asked).order_by("-severity", "happened_at")
    # Of the whole judgement only the hold line is wanted; the rest is large.
    rows = rows.defer("detail").annotate(hold_qt=F("detail__oil__lines__hold"))
    return (
        with_planned(rows)
        .select_related("build")
        .prefetch_related(
            Prefetch("build__due_items", DueItem.objects.filter(state__in=ASKED), to_attr="asked"),
            Prefetch("build__findings", urgent, to_attr="urgent"),
        )
    )


def _groups(rows: Iterable[Assessment], units: str, shop: str) -> tuple[Place, ...]:
    # The database may sort names by other rules than Python; grouping keeps its order.
    return tuple(
        Place(
            name or shop,
            tuple(
                Customer(customer or "the shop's own", tuple(_engine(row, units) for row in engines))
                for customer, engines in groupby(found, key=lambda row: row.customer_name)
            ),
        )
        for name, found in groupby(rows, key=lambda row: row.place_name)
    )


def _engine(row: Assessment, units: str) -> Engine:
    side = f" {row.side.upper()}" if row.side.lower() in ("left", "right") else ""
    items: list[DueItem] = row.build.asked  # type: ignore[attr-defined]
    hold: float | None = row.hold_qt  # type: ignore[attr-defined]
    planned: bool = row.delivery_planned  # type: ignore[attr-defined]
    waiting = row.phase == Phase.AWAITING and row.aircraft_id is not None
    return Engine(
        url=reverse("engine", args=[row.engine_id]),
        name=f"{row.registration}{side}" if row.registration else f"{row.type_name}, not installed",
        what=f"{row.type_name}, s/n {row.serial}, {row.get_phase_display()}, {row.hours:.1f}\u202fh",
        service=f"Fill oil to {level(hold, None, units)}, the hold line, not above." if hold is not None else "",
        delivery=(PLANNED if planned else NOT_PLANNED) if waiting else "",
        delivery_url=reverse("delivery", args=[row.aircraft_id]) if waiting else "",
        findings=tuple(row.build.urgent),  # type: ignore[attr-defined]
        items=tuple(AskedItem.of(item) for item in sorted(items, key=_urgent)),
    )


def _urgent(item: DueItem) -> tuple[int, str]:
    return _ORDER[DueState(item.state)], item.title


def _filters(counts: Sequence[Mapping[str, Any]], place: str | None, shop: str) -> tuple[dict[str, Any], ...]:
    every = {"url": _url(None), "label": "All", "count": sum(each["n"] for each in counts), "current": place is None}
    places = (
        {
            "url": _url(each["place_name"]),
            "label": each["place_name"] or shop,
            "count": each["n"],
            "current": place == each["place_name"],
        }
        for each in counts
    )
    return (every, *places)


def _shop_name() -> str:
    return f"In the shop, {shop.name}" if (shop := Shop.objects.first()) else "In the shop"


def _url(place: str | None, after: str = "") -> str:
    asked = ({"place": place} if place is not None else {}) | ({"after": after} if after else {})
    return reverse("today") + (f"?{urlencode(asked)}" if asked else "")
