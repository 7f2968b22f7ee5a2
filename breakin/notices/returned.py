"""Mail that came back, and mail that a restore holds: what a person, or the mail server, says of it afterwards."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.models import Message, MessageState, Notice, NoticeState
from breakin.notices.planning import plan
from shop.errors import Refusal
from shop.models import Person
from shop.services import audit


@transaction.atomic
def mark_bounced(*, by: Person, message: Message, why: str, now: datetime) -> Message:
    """The mail came back. Its address is not written to any more until the person has another; the phone is used.

    Harmless when it was said before.

    Raises
    ------
    Refusal : it was never sent.
    """
    message = Message.objects.select_for_update().select_related("recipient").get(pk=message.pk)
    if message.bounced_at is not None:
        return message
    if message.state not in (MessageState.SENT, MessageState.DEAD):
        raise Refusal.of(
            "message", "This message was not sent, so it can't have come back. Look at its state.", "conflict"
        )
    why = " ".join(why.split())[:160] or "the mail came back"
    message.bounced_at, message.bounced_why = now, why
    message.save(update_fields=["bounced_at", "bounced_why"])
    person = Person.objects.select_for_update().get(pk=message.recipient_id)
    if person.email.casefold() == message.address.casefold():
        person.bounced_email = person.email
        person.save(update_fields=["bounced_email"])
    rows = Notice.objects.filter(message=message, answered_at__isnull=True)
    rows.update(state=NoticeState.FAILED, why_not_sent=f"came back from {message.address}: {why}"[:200])
    audit(by=by, act="mark_bounced", subject=message, now=now, detail={"why": why, "address": message.address})
    plan(now, build_ids=list(rows.values_list("build_id", flat=True).distinct()))
    return message


@transaction.atomic
def settle_held(*, by: Person, notice: Notice, send: bool, now: datetime) -> Notice:
    """A notice that a restore held: send it after all, or drop it because it went out after the backup.

    Raises
    ------
    Refusal : it is not held.
    """
    notice = Notice.objects.select_for_update().get(pk=notice.pk)
    if notice.state != NoticeState.HELD:
        raise Refusal.of("notice", f"This notice is {notice.get_state_display()}, not held. Look again.", "conflict")
    if send:
        # Its message was given up by the restore; a new one is made, with a key of its own day.
        notice.state, notice.message, notice.not_before, notice.why_not_sent = NoticeState.WAITING, None, now, ""
    else:
        notice.state, notice.why_not_sent = NoticeState.DROPPED, f"Not sent again: {by.name} said so."[:200]
    notice.save(update_fields=["state", "message", "not_before", "why_not_sent"])
    audit(by=by, act="settle_held", subject=notice, now=now, detail={"send": send})
    return notice
