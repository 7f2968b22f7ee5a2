"""From waiting notices to a claimed message: one message an aircraft a day, and one sender for each message.

Nothing here is sent. Every transaction is short; a message belongs to a sender by its lease, and a lease that has run
out (the sender was killed) may be taken by the next one.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta
from uuid import uuid4

from django.db import transaction
from django.db.models import Q, QuerySet

from breakin.models import Assessment, Message, MessageState, Notice, NoticeState, Severity
from breakin.notices.quiet import day_start, first_moment, local_day, next_day
from breakin.notices.wanted import describe, wanted
from shop import mail

LEASE = timedelta(minutes=11)  # longer than a task may run
BACKOFF = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 480))
ATTEMPTS = 1 + len(BACKOFF)
GATHER = timedelta(minutes=15)  # so long a message waits for the judgement of the other engine
AT_ONCE = 200  # notices, and messages, a run
PENDING = (MessageState.CLAIMED, MessageState.RETRY)


def is_stop(notice: Notice) -> bool:
    return notice.finding is not None and notice.finding.severity == Severity.STOP


def gather(now: datetime) -> int:
    """Put the waiting notices whose time has come into messages; how many messages are new."""
    ready = Notice.objects.filter(state=NoticeState.WAITING, message__isnull=True, not_before__lte=now)
    rows = ready.select_related("recipient", "aircraft", "finding", "build").order_by("not_before", "id")[:AT_ONCE]
    groups: dict[str, list[Notice]] = defaultdict(list)
    for notice in rows:
        groups[_group(notice)].append(notice)
    return sum(_gather_stop(group, now) if is_stop(group[0]) else _gather_day(group, now) for group in groups.values())


def _group(notice: Notice) -> str:
    if is_stop(notice):
        return f"stop:{notice.finding_id}:{notice.recipient_id}"
    return f"{_about(notice)}:{notice.recipient_id}"


def _about(notice: Notice) -> str:
    """What the one message a day is about: the aircraft, or the engine that sits in none."""
    return f"aircraft-{notice.aircraft_id}" if notice.aircraft_id else f"engine-{notice.build.engine_id}"


def _gather_stop(group: list[Notice], now: datetime) -> int:
    # The first row makes the key: a later row about the same Stop (one more person to phone) gets its own message.
    return _make_message(f"{_group(group[0])}:{min(notice.pk for notice in group)}", group, now)


def _gather_day(group: list[Notice], now: datetime) -> int:
    """One message a day of the reader about this aircraft; the rest waits until his next day, or until he is awake."""
    person = group[0].recipient
    awake = first_moment(person, now)
    if awake > now:
        return _put_off(group, awake)
    if _aircraft_is_being_judged(group[0], now):
        return 0
    key = f"{_group(group[0])}:{local_day(person, now).isoformat()}"
    if _has_message_today(group[0], key, now):
        return _put_off(group, next_day(person, now))
    return _make_message(key, group, now)


def _aircraft_is_being_judged(notice: Notice, now: datetime) -> bool:
    """A fact of one of its engines awaits judgement: what it says belongs into the same message."""
    if not notice.aircraft_id:
        return False
    return Assessment.objects.filter(aircraft=notice.aircraft_id, dirty_at__gt=now - GATHER, live=True).exists()


def _has_message_today(notice: Notice, key: str, now: datetime) -> bool:
    """Was the person written to today about this, or is an earlier message still on its way?"""
    about = _about(notice)
    same = Message.objects.filter(recipient=notice.recipient_id, key__startswith=f"{about}:")
    same = same.exclude(state=MessageState.DROPPED)
    sent = Q(state=MessageState.SENT, sent_at__gte=day_start(notice.recipient, now))
    return same.filter(Q(key=key) | Q(state__in=PENDING) | sent).exists()


def _put_off(group: list[Notice], until: datetime) -> int:
    waiting = Notice.objects.filter(
        pk__in=[notice.pk for notice in group], state=NoticeState.WAITING, message__isnull=True
    )
    waiting.update(not_before=until)
    return 0


@transaction.atomic
def _make_message(key: str, group: list[Notice], now: datetime) -> int:
    first = group[0]
    message = Message(
        key=key,
        recipient=first.recipient,
        aircraft=first.aircraft,
        address=first.recipient.mail_address,
        message_id=mail.message_id(key),
        subject=first.headline,
        text=first.text,
        state=MessageState.RETRY,
        created_at=now,
        retry_at=now,
    )
    # Another worker may be making the same message: the key decides, and each notice goes to one of them.
    Message.objects.bulk_create([message], ignore_conflicts=True)
    # One that was dropped before it was sent takes up what is wanted after all.
    Message.objects.filter(key=key, state=MessageState.DROPPED).update(
        state=MessageState.RETRY, attempts=0, retry_at=now, last_error=""
    )
    made = Message.objects.filter(key=key, attempts=0, state=MessageState.RETRY).first()
    if made is None:
        return 0
    free = Notice.objects.filter(
        pk__in=[notice.pk for notice in group], state=NoticeState.WAITING, message__isnull=True
    )
    return 1 if free.update(message=made) else 0


def claimable(now: datetime) -> QuerySet[Message]:
    """Messages to send now, and those whose sender was killed; Stops first."""
    rows = Message.objects.filter(state__in=PENDING, retry_at__lte=now)
    return rows.order_by("retry_at", "id")


@transaction.atomic
def claim_next(now: datetime, after: set[int]) -> Message | None:
    """Take one message that is not in `after`: lease it, and count the attempt before it is made."""
    message = claimable(now).exclude(pk__in=after).select_for_update(skip_locked=True, of=("self",)).first()
    if message is None:
        return None
    message.state, message.lease, message.lease_until = MessageState.CLAIMED, uuid4(), now + LEASE
    message.retry_at = message.lease_until
    message.attempts += 1
    message.save(update_fields=["state", "lease", "lease_until", "retry_at", "attempts"])
    return message


def still_due(message: Message, now: datetime) -> list[Notice]:
    """The notices of the message that are still wanted; the others are dropped, with the reason."""
    rows = list(
        message.notices.filter(state=NoticeState.WAITING)
        .select_related(
            "recipient", "aircraft", "finding", "due_item", "note", "build__engine__engine_type", "build__assessment"
        )
        .order_by("build_id", "id")
    )
    keys = wanted({notice.build_id for notice in rows}, now)
    dropped = [notice for notice in rows if notice.key not in keys]
    for notice in dropped:
        subject = notice.finding or notice.due_item or notice.note
        Notice.objects.filter(pk=notice.pk, state=NoticeState.WAITING).update(
            state=NoticeState.DROPPED,
            why_not_sent=describe(subject),
            answered_at=getattr(subject, "closed_at", None),
        )
    return [notice for notice in rows if notice.key in keys]
