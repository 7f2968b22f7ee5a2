"""Send claimed messages: outside any transaction, marked by the lease, tried again with growing pauses."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from time import monotonic

from django.db import transaction

from breakin.models import Message, MessageState, Notice, NoticeState
from breakin.notices import words
from breakin.notices.claiming import AT_ONCE, ATTEMPTS, BACKOFF, claim_next, gather, is_stop, still_due
from breakin.notices.quiet import first_moment
from shop import mail
from shop.models import Shop

logger = logging.getLogger(__name__)

RUN_SECONDS = 40


@dataclass(frozen=True)
class Sent:
    """What became of one run: messages sent, put off after a failure, given up, dropped because all was answered."""

    sent: int = 0
    put_off: int = 0
    dead: int = 0
    dropped: int = 0


def send_due(now: datetime, limit: int = AT_ONCE) -> Sent:
    """Send what waits and may be sent at this moment, at most `limit` messages. Any number of workers may do it.

    A mail server that hangs must not hold up the minute: no message is begun once RUN_SECONDS have gone by.
    """
    stop_at = monotonic() + RUN_SECONDS
    gather(now)
    counts = dict.fromkeys(("sent", "put_off", "dead", "dropped"), 0)
    done: set[int] = set()
    while len(done) < limit and monotonic() < stop_at and (message := claim_next(now, done)):
        done.add(message.pk)
        counts[_handle(message, now)] += 1
    return Sent(**counts)


def _handle(message: Message, now: datetime) -> str:
    if message.attempts > ATTEMPTS:
        return _give_up(message, "Its sender was stopped in the middle, each time it was tried.")
    rows = still_due(message, now)
    if not rows:
        return _finish(message, MessageState.DROPPED, "dropped")
    awake = first_moment(message.recipient, now)
    if awake > now and not is_stop(rows[0]):
        # A retry that would ring at night is no attempt.
        return _finish(message, MessageState.RETRY, "put_off", retry_at=awake, attempts=message.attempts - 1)
    try:
        _write_and_send(message, rows, now)
    except mail.PermanentFailure as failure:
        return _give_up(message, str(failure))
    except Exception as failure:
        # A passing failure of the mail server, or a fault of ours: one message must not hold up the others.
        if not isinstance(failure, mail.PassingFailure):
            logger.exception("Message %s could not be written", message.pk)
        return _try_again(message, f"{failure}" or type(failure).__name__, now)
    return _mark_sent(message, rows, now)


def _try_again(message: Message, why: str, now: datetime) -> str:
    if message.attempts >= ATTEMPTS:
        return _give_up(message, why)
    retry_at = now + BACKOFF[message.attempts - 1]
    return _finish(message, MessageState.RETRY, "put_off", retry_at=retry_at, last_error=why)


def _write_and_send(message: Message, rows: list[Notice], now: datetime) -> None:
    """Compose, keep what will be said, hand it over. The address may have changed since the message was made."""
    said = words.compose(message, rows, now)
    message.subject, message.text, message.html = said.subject[:200], said.text, said.html
    message.address = message.recipient.mail_address
    Message.objects.filter(pk=message.pk, lease=message.lease).update(
        subject=message.subject, text=message.text, html=message.html, address=message.address
    )
    shop = Shop.objects.first()
    mail.send(
        mail.Mail(
            message.message_id, message.recipient.name, message.address, message.subject, said.text, said.html,
            from_name=shop.name if shop else "", reply_to=shop.mail if shop else "",
        )
    )  # fmt: skip


def _mark_sent(message: Message, rows: list[Notice], now: datetime) -> str:
    with transaction.atomic():
        outcome = _finish(message, MessageState.SENT, "sent", sent_at=now, retry_at=None, last_error="")
        Notice.objects.filter(pk__in=[row.pk for row in rows], state=NoticeState.WAITING).update(
            state=NoticeState.SENT, sent_at=now
        )
    return outcome


def _give_up(message: Message, why: str) -> str:
    logger.error("Message %s is given up after %d attempts: %s", message.pk, message.attempts, why)
    with transaction.atomic():
        outcome = _finish(message, MessageState.DEAD, "dead", retry_at=None, last_error=why)
        message.notices.filter(state=NoticeState.WAITING).update(
            state=NoticeState.FAILED, why_not_sent=f"given up after {message.attempts} attempts: {why}"[:200]
        )
    return outcome


def _finish(message: Message, state: MessageState, outcome: str, **fields: object) -> str:
    """Write the end of an attempt, unless the lease ran out and somebody else has the message now."""
    fields.setdefault("retry_at", None)
    mine = Message.objects.filter(pk=message.pk, lease=message.lease, state=MessageState.CLAIMED)
    if not mine.update(state=state, lease=None, lease_until=None, **fields):
        logger.warning("The lease of message %s ran out before it was %s.", message.pk, state)
    return outcome
