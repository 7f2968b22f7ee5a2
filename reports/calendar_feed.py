"""What is due, as a calendar that a phone subscribes to (RFC 5545).

One all-day entry for each due item with a date, for what its reader may see. Dates are days of the airfield: what is
due by hours stands on the day that recent use foretells. Nothing is answered in a calendar: an entry goes when the work
is logged.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Prefetch, QuerySet
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from icalendar import Calendar, Event

from breakin.calc.said import US
from breakin.models import DueItem, DueState
from breakin.saying import text_for, title_for
from engines.models import Installation
from shop.access import person_of, visible_to
from shop.language import language_of
from shop.models import Shop, User
from shop.written import number

OPEN = (DueState.LATE, DueState.DUE, DueState.DUE_SOON, DueState.WAITING)
MOST = 500  # entries; the most urgent and the next ones
NOT_A_RELEASE = gettext_noop(
    "The maker's current instructions and the POH/AFM come first. This is a reminder, not a release."
)
DUE_AT = gettext_noop("Due at %(hours)s h; the day is foretold from recent use.")


def calendar_of(user: User, now: datetime) -> bytes:
    """The feed of one person.

    Parameters
    ----------
    user : whose calendar. now : aware datetime, the moment of reading.

    Returns
    -------
    bytes of an iCalendar object, lines folded and ended as RFC 5545 asks.
    """
    person = person_of(user)
    with translation.override(language_of(user) or settings.LANGUAGE_CODE):
        return _calendar(user, person.units if person else US, now)


def _calendar(user: User, units: str, now: datetime) -> bytes:
    """The feed in the active language."""
    shop = Shop.objects.select_related("place").first()
    feed = Calendar()
    feed.add("prodid", "-//Run-in Book//due items//EN")
    feed.add("version", "2.0")
    feed.add("method", "PUBLISH")
    feed.add("x-wr-calname", f"{_('Break-in')}, {shop.name}" if shop else _("Break-in"))
    feed.add("refresh-interval", timedelta(hours=4), parameters={"VALUE": "DURATION"})
    home = shop.place.zone if shop else "UTC"
    for item in _items(user):
        seat = next(iter(item.build.engine.seats), None)  # type: ignore[attr-defined]
        on = _day(item, ZoneInfo(seat.aircraft.home.zone if seat else home))
        if on is not None:
            feed.add_component(_event(item, seat, on, units, now))
    return bytes(feed.to_ical())


def _items(user: User) -> QuerySet[DueItem]:
    seats = Installation.objects.filter(until__isnull=True).select_related("aircraft__home")
    rows = visible_to(user, DueItem.objects.filter(state__in=OPEN).exclude(due_at=None, forecast_on=None))
    return (
        rows.select_related("build__engine__engine_type")
        .prefetch_related(Prefetch("build__engine__installations", seats, to_attr="seats"))
        .order_by("due_at", "forecast_on", "id")[:MOST]
    )


def _day(item: DueItem, zone: ZoneInfo) -> date | None:
    """The earlier of its date and the day that recent use foretells."""
    days = [item.due_at.astimezone(zone).date() if item.due_at else None, item.forecast_on]
    return min((day for day in days if day is not None), default=None)


def _event(item: DueItem, seat: Installation | None, on: date, units: str, now: datetime) -> Event:
    who = f"{seat.aircraft.registration}" if seat else f"s/n {item.build.engine.serial}"
    if seat and seat.position in ("left", "right"):
        who += f" {seat.get_position_display()}"
    url = settings.SITE_URL + reverse("engine", args=[item.build.engine_id])
    foretold = item.forecast_on == on and item.due_h is not None
    by = _(DUE_AT) % {"hours": number(item.due_h or 0.0, 1)} if foretold else ""
    event = Event()
    event.add("uid", f"due-{item.pk}@{settings.SITE_URL.split('://')[-1].split(':')[0]}")
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", on)
    event.add("dtend", on + timedelta(days=1))
    event.add(
        "summary", f"{who}: {title_for(item, units)}" + (f" ({_('late')})" if item.state == DueState.LATE else "")
    )
    event.add("description", f"{text_for(item, units)} {by}".rstrip() + f"\n{url}\n{_(NOT_A_RELEASE)}")
    event.add("url", url)
    event.add("transp", "TRANSPARENT")
    if seat:
        event.add("location", seat.aircraft.home.name)
    return event
