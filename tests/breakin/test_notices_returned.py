"""Mail that came back leads to the phone; what a restore held is sent or dropped by a person."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail

from breakin import notices
from breakin.models import Message, Notice, NoticeState
from breakin.notices.claiming import gather
from breakin.notices.restored import hold_unsent
from shop.errors import Refusal
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON, Cast

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def cast() -> Cast:
    return rows.cast()


def sent_to_ines(cast: Cast) -> Message:
    rows.due(cast.left, "nudge")
    notices.plan(NOON)
    notices.send_due(NOON)
    return Message.objects.get(recipient=cast.owner)


def test_a_mail_that_came_back_turns_its_reader_to_the_phone_and_tells_the_technician(cast: Cast) -> None:
    message = sent_to_ines(cast)
    notices.mark_bounced(by=cast.manager, message=message, why="no such\nmailbox", now=NOON + DAY)

    told = Notice.objects.filter(recipient=cast.owner).order_by("id")
    assert [row.state for row in told] == [NoticeState.FAILED, NoticeState.PHONE]
    assert "no such mailbox" in told[0].why_not_sent
    asked = Notice.objects.get(recipient=cast.technician, headline__startswith="Phone Ines")
    assert "has an address from which mail comes back" in asked.text
    mail.outbox.clear()
    notices.plan(NOON + DAY)
    notices.send_due(NOON + DAY)
    assert not [sent for sent in mail.outbox if "ines" in sent.to[0].lower()]


def test_saying_it_twice_changes_nothing(cast: Cast) -> None:
    message = sent_to_ines(cast)
    first = notices.mark_bounced(by=cast.manager, message=message, why="full", now=NOON + DAY)
    count = Notice.objects.count()
    again = notices.mark_bounced(by=cast.technician, message=message, why="other", now=NOON + 2 * DAY)
    assert (again.bounced_at, again.bounced_why, Notice.objects.count()) == (first.bounced_at, "full", count)


def test_another_address_is_written_to_again(cast: Cast) -> None:
    message = sent_to_ines(cast)
    notices.mark_bounced(by=cast.manager, message=message, why="", now=NOON + DAY)
    cast.owner.refresh_from_db()
    assert cast.owner.mail_address == ""
    cast.owner.email = "ines.new@example.org"
    cast.owner.save()
    assert cast.owner.mail_address == "ines.new@example.org"


def test_a_mail_to_an_address_she_had_before_does_not_close_the_new_one(cast: Cast) -> None:
    message = sent_to_ines(cast)
    cast.owner.email = "ines.new@example.org"
    cast.owner.save()
    notices.mark_bounced(by=cast.manager, message=message, why="", now=NOON + DAY)
    cast.owner.refresh_from_db()
    assert cast.owner.mail_address == "ines.new@example.org"


def test_what_was_never_sent_cannot_come_back(cast: Cast) -> None:
    rows.due(cast.left, "nudge")
    notices.plan(NOON)
    gather(NOON)
    with pytest.raises(Refusal, match="not sent"):
        notices.mark_bounced(by=cast.manager, message=Message.objects.get(), why="", now=NOON)


@pytest.mark.parametrize(("send", "state", "mails"), [(True, NoticeState.SENT, 1), (False, NoticeState.DROPPED, 0)])
def test_a_held_notice_goes_out_or_is_dropped_as_a_person_says(
    cast: Cast, send: bool, state: NoticeState, mails: int
) -> None:
    rows.due(cast.left, "nudge")
    notices.plan(NOON)
    hold_unsent(None, NOON)
    held = Notice.objects.get(recipient=cast.owner, state=NoticeState.HELD)
    notices.settle_held(by=cast.manager, notice=held, send=send, now=NOON + DAY)
    notices.send_due(NOON + DAY)
    held.refresh_from_db()
    assert (held.state, len([sent for sent in mail.outbox if "ines" in sent.to[0].lower()])) == (state, mails)


def test_what_is_not_held_is_not_settled(cast: Cast) -> None:
    rows.due(cast.left, "nudge")
    notices.plan(NOON)
    with pytest.raises(Refusal, match="not held"):
        notices.settle_held(by=cast.manager, notice=Notice.objects.all()[0], send=True, now=NOON)
