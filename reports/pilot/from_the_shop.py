"""What the shop told a reader about an aircraft: what it wrote, what was said on the phone, what was mailed to him."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from breakin.models import Notice, NoticeState, PhoneCall, ShopNote
from breakin.notices.steps import next_step
from breakin.saying import text_for, title_for
from engines.models import Aircraft
from reports.reader import Reader
from shop import access
from shop.models import Shop

SHOWN = 6
LOOK_BACK = timedelta(days=90)
NEWS_LASTS = timedelta(days=7)


@dataclass(frozen=True)
class Told:
    """One thing that was told. by : who wrote it, "" for a mail that went out by itself. answer : what answers it, or
    that it is answered; answered : when, None while it is open or asks for nothing."""

    at: datetime
    head: str
    text: str
    by: str = ""
    answer: str = ""
    answered: datetime | None = None
    written: bool = False  # by a person, to the holder


def from_the_shop(aircraft: Aircraft, reader: Reader, now: datetime) -> tuple[Told, ...]:
    """The newest first. A later holder does not read what was told to an earlier one."""
    since = now - LOOK_BACK
    told = [*_written(aircraft, reader, since), *_phoned(aircraft, reader, since), *_mailed(aircraft, reader, since)]
    return tuple(sorted(told, key=lambda one: one.at, reverse=True)[:SHOWN])


def news_of(told: Iterable[Told], now: datetime) -> Told | None:
    """What the shop wrote last, while it is fresh: it stands before everything but a Stop."""
    return next((one for one in told if one.written and one.at > now - NEWS_LASTS), None)


def _written(aircraft: Aircraft, reader: Reader, since: datetime) -> Iterator[Told]:
    rows = access.visible_to(reader.user, ShopNote.objects.filter(aircraft=aircraft, at__gt=since))
    for row in rows.select_related("by")[:SHOWN]:
        if access.words_are_for(reader.user, row):
            answer = _("Answer by phone, or with your next entry.")
            yield Told(row.at, _("A message from the shop"), row.text, by=row.by.name, answer=answer, written=True)


def _phoned(aircraft: Aircraft, reader: Reader, since: datetime) -> Iterator[Told]:
    rows = PhoneCall.objects.filter(aircraft=aircraft, at__gt=since, for_customer=True)
    for row in access.visible_to(reader.user, rows).select_related("by")[:SHOWN]:
        if access.words_are_for(reader.user, row):
            yield Told(row.at, _("On the phone"), row.said, by=row.by.name)


def _mailed(aircraft: Aircraft, reader: Reader, since: datetime) -> Iterator[Told]:
    """Each matter once, as it was mailed last; notes stand above in their own right."""
    if reader.person is None:
        return
    sent = Notice.objects.filter(
        aircraft=aircraft, recipient=reader.person, state=NoticeState.SENT, sent_at__gt=since, note=None
    )
    shop, seen = Shop.objects.first(), set()
    for row in sent.select_related("finding", "due_item").order_by("-sent_at", "-id")[: SHOWN * 4]:
        subject = row.finding or row.due_item
        if subject is None or row.sent_at is None or (row.finding_id, row.due_item_id) in seen:
            continue
        seen.add((row.finding_id, row.due_item_id))
        yield Told(
            row.sent_at,
            title_for(subject, reader.units),
            text_for(subject, reader.units),
            answer="" if row.answered_at else next_step(row, subject, True, (), shop),
            answered=row.answered_at,
        )
