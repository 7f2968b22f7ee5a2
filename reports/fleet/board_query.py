"""What the fleet board was asked for, and the rows that answer it: filters, prefix search, order, paging by key."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.db import connection
from django.db.models import Q, QuerySet
from django.urls import reverse

from breakin.models import Assessment, Lane, Phase

PAGE = 50
# Written as a list, since a bare boolean column ("WHERE live") keeps SQLite from using the indexes that begin with it.
LIVE: dict[str, Any] = {"live__in": [True]}
# Each order ends in the id, so that every row has its own place. The fields before it are indexed beside `live`.
ORDERS: dict[str, tuple[str, tuple[str, ...]]] = {
    "lane": ("what is urgent first", ("sort_key", "id")),
    "registration": ("registration", ("registration", "side", "id")),
    "customer": ("customer", ("customer_name", "sort_key", "id")),
}
_LAST_CHARACTER = "\U0010ffff"


@dataclass(frozen=True)
class Asked:
    """The board as asked for in the address. Values that mean nothing are left out, never guessed."""

    q: str = ""
    lane: int | None = None
    phase: str = ""
    customer: str = ""
    order: str = "lane"
    everything: bool = False
    after: tuple[Any, ...] | None = None

    @classmethod
    def of(cls, query: Mapping[str, str]) -> Asked:
        lane = query.get("lane", "")
        order = query.get("order", "lane")
        order = order if order in ORDERS else "lane"
        return cls(
            q=query.get("q", "").strip()[:120],
            lane=int(lane) if lane.isascii() and lane.isdigit() and int(lane) in Lane.values else None,
            phase=query.get("phase", "") if query.get("phase", "") in Phase.values else "",
            customer=query.get("customer", "").strip()[:120],
            order=order,
            everything=query.get("show") == "all",
            after=cursor(query.get("after", ""), len(ORDERS[order][1])),
        )

    @property
    def narrowed(self) -> bool:
        """Whether anything but the lane was asked for."""
        return bool(self.q or self.phase or self.customer or self.everything)

    def url(self, **changes: Any) -> str:
        """The address of the same board with some of it changed, from its first page on unless `after` is given."""
        asked = replace(self, **({"after": None} | changes))
        parts = {
            "lane": asked.lane,
            "q": asked.q,
            "phase": asked.phase,
            "customer": asked.customer,
            "order": asked.order if asked.order != "lane" else "",
            "show": "all" if asked.everything else "",
            "after": written(asked.after) if asked.after else "",
        }
        kept = {name: value for name, value in parts.items() if value not in ("", None)}
        return reverse("board") + (f"?{urlencode(kept)}" if kept else "")

    def holds(self, row: Assessment) -> bool:
        """Would this row be among the answers? The same conditions as `rows`, for a row already at hand."""
        return (
            (self.everything or row.live)
            and (self.lane is None or row.lane == self.lane)
            and (not self.phase or row.phase == self.phase)
            and (not self.customer or row.customer_name == self.customer)
            and (not self.q or any(text.startswith(start) for text, start in self._prefixes(row)))
        )

    def _prefixes(self, row: Assessment) -> list[tuple[str, str]]:
        named = {"registration": row.registration, "serial": row.serial, "customer_name": row.customer_name}
        return [(named[field], start) for field, starts in spellings(self.q).items() for start in starts]


def rows(asked: Asked) -> list[Assessment]:
    """One page of rows and one more, in the order asked for."""
    order = ORDERS[asked.order][1]
    found = _filtered(asked)
    if asked.after:
        found = found.filter(beyond(order, asked.after))
    return list(found.defer("detail").order_by(*order)[: PAGE + 1])


def mates(page: list[Assessment], asked: Asked) -> dict[int, list[Assessment]]:
    """For each twin on the page, all rows of that aircraft, left one first."""
    aircraft = {row.aircraft_id for row in page if row.twin and row.aircraft_id}
    found = Assessment.objects.filter(aircraft_id__in=aircraft).defer("detail").order_by("side", "id")
    by_aircraft: dict[int, list[Assessment]] = {}
    for row in found:
        if row.aircraft_id is not None and (row.live or asked.everything):
            by_aircraft.setdefault(row.aircraft_id, []).append(row)
    return by_aircraft


def key(row: Assessment, asked: Asked) -> tuple[Any, ...]:
    """Where the row stands in the order asked for."""
    return tuple(getattr(row, field) for field in ORDERS[asked.order][1])


def spellings(q: str) -> dict[str, tuple[str, ...]]:
    """The beginnings looked for in each column. Registrations and serials are written in capitals, names are not."""
    capital = q[:1].upper() + q[1:]
    return {
        "registration": _once(q.upper(), q),
        "serial": _once(q.upper(), q),
        "customer_name": _once(capital, q, q.title()),
    }


def _once(*texts: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))


def _filtered(asked: Asked) -> QuerySet[Assessment]:
    found = Assessment.objects.all() if asked.everything else Assessment.objects.filter(**LIVE)
    if asked.lane is not None:
        found = found.filter(lane=asked.lane)
    if asked.phase:
        found = found.filter(phase=asked.phase)
    if asked.customer:
        named = Assessment.objects.filter(customer_name=asked.customer, **({} if asked.everything else LIVE))
        found = found.filter(pk__in=named.values("pk"))
    if asked.q:
        found = found.filter(_anywhere(asked))
    return found


def _anywhere(asked: Asked) -> Q:
    """The rows in which any column begins with what was typed.

    Each column is looked up by its own index first; the order of the board then only compares ids.
    """
    among = {} if asked.everything else LIVE
    anywhere = Q()
    for field, starts in spellings(asked.q).items():
        for start in starts:
            anywhere |= Q(pk__in=Assessment.objects.filter(_begins(field, start), **among).values("pk"))
    return anywhere


def _begins(field: str, start: str) -> Q:
    """The column begins with `start`, capitals told apart.

    SQLite's LIKE ignores capitals and so cannot use the index; there the prefix is a range of the binary order.
    """
    if connection.vendor == "sqlite":
        return Q(**{f"{field}__gte": start, f"{field}__lt": start + _LAST_CHARACTER})
    return Q(**{f"{field}__startswith": start})


def beyond(order: tuple[str, ...], after: tuple[Any, ...]) -> Q:
    """Rows behind `after`: the first field larger, or equal and the next larger, and so on."""
    beyond = Q()
    equal = Q()
    for field, value in zip(order, after, strict=True):
        beyond |= equal & Q(**{f"{field}__gt": value})
        equal &= Q(**{field: value})
    # Said once more, so that the index is entered at the right place.
    return Q(**{f"{order[0]}__gte": after[0]}) & beyond


def written(after: tuple[Any, ...]) -> str:
    """A place in an order as it stands in an address."""
    return base64.urlsafe_b64encode(json.dumps(after).encode()).decode().rstrip("=")


def cursor(text: str, length: int) -> tuple[Any, ...] | None:
    """The place to go on from, or None for one that no list wrote: the reader gets the first page."""
    try:
        values = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    except (binascii.Error, ValueError):
        return None
    if not isinstance(values, list) or len(values) != length:
        return None
    *texts, last = values
    if not all(isinstance(each, str) for each in texts) or type(last) is not int or abs(last) >= 2**63:
        return None
    return tuple(values)
