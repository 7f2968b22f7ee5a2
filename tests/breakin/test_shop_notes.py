"""The shop writes to the holder of an aircraft: kept, told by the aircraft's mail, never to a later holder."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail

from breakin import notices
from breakin.models import Message, Notice, NoticeState, PhoneCall, ShopNote
from breakin.services.shop_notes import LONGEST, write_to_holder
from engines.models import Build, BuildState, Holding, Installation
from shop.errors import Refusal
from shop.models import AuditEvent, Customer, CustomerMember
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import LONG_AGO, NOON, Cast

pytestmark = pytest.mark.django_db
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
WORDS = "The baffle seal has come. Tuesday at nine?"


@pytest.fixture
def cast() -> Cast:
    return rows.cast()


def written(cast: Cast, text: str = WORDS, at=NOON) -> ShopNote:
    return write_to_holder(by=cast.technician, aircraft=cast.aircraft, text=text, now=at)


def told(now) -> list[str]:
    """What goes out at this moment."""
    before = len(mail.outbox)
    notices.plan_fresh(now)
    notices.send_due(now)
    return [str(message.body) for message in mail.outbox[before:]]


def test_a_note_is_mailed_to_the_first_contact_once(cast: Cast) -> None:
    written(cast)
    (body,) = told(NOON + MINUTE)
    assert WORDS in body
    assert "A message from the shop" in body
    assert "Answer by phone, or with your next entry." in body
    assert "by itself" not in body
    assert mail.outbox[-1].to == ["Ines <ines@example.test>"]
    assert told(NOON + 2 * MINUTE) == []
    assert told(NOON + DAY) == []


def test_it_goes_into_the_one_mail_a_day_and_waits_for_the_next_where_that_is_gone(cast: Cast) -> None:
    first = written(cast, "First.")
    assert len(told(NOON + MINUTE)) == 1
    written(cast, "Second.", NOON + timedelta(hours=1))
    written(cast, "Third.", NOON + timedelta(hours=2))
    assert told(NOON + timedelta(hours=3)) == []
    (body,) = told(NOON + DAY)
    assert "Second." in body
    assert "Third." in body
    assert "First." not in body
    assert Message.objects.filter(recipient=cast.owner).count() == 2
    assert Notice.objects.get(note=first).state == NoticeState.SENT


def test_beside_a_reminder_only_the_reminder_is_said_to_go_by_itself(cast: Cast) -> None:
    rows.due(cast.left, due_at=NOON - timedelta(hours=6))
    written(cast)
    bodies = " ".join(" ".join(told(NOON + MINUTE)).split())
    assert WORDS in bodies
    assert "What asks for an entry goes away by itself once that entry has come." in bodies


def test_it_waits_for_the_end_of_the_quiet_hours(cast: Cast) -> None:
    night = NOON + timedelta(hours=11)  # 23:00 on his clock
    written(cast, at=night)
    assert told(night + MINUTE) == []
    assert len(told(night + timedelta(hours=9))) == 1


def test_a_holder_without_an_address_is_phoned_and_a_call_answers_it(cast: Cast) -> None:
    cast.owner.email = ""
    cast.owner.save()
    written(cast)
    bodies = told(NOON + MINUTE)
    assert ["Phone Ines: A message from the shop" in body and WORDS in body for body in bodies] == [True]
    assert mail.outbox[-1].to == ["Pell <pell@example.test>"]
    phone = Notice.objects.get(state=NoticeState.PHONE)
    called = {"aircraft": cast.aircraft, "said": "x", "by": cast.technician}
    PhoneCall.objects.create(reached="nobody", at=NOON + MINUTE, **called)
    notices.mark_answered(NOON + DAY, [phone.build_id])
    phone.refresh_from_db()
    assert phone.answered_at is None, "nobody was spoken with"
    PhoneCall.objects.create(reached="spoken", at=NOON + 2 * MINUTE, **called)
    notices.mark_answered(NOON + DAY, [phone.build_id])
    phone.refresh_from_db()
    assert phone.answered_at == NOON + 2 * MINUTE


def test_after_a_sale_nobody_is_told_what_was_written_to_the_holder_before(cast: Cast) -> None:
    written(cast)
    later = Customer.objects.create(name="Later")
    CustomerMember.objects.create(customer=later, person=rows.person("Lars"), role="owner", since=LONG_AGO)
    Holding.objects.filter(aircraft=cast.aircraft).update(until=NOON + MINUTE)
    Holding.objects.create(aircraft=cast.aircraft, customer=later, since=NOON + MINUTE)
    assert told(NOON + 2 * MINUTE) == []


def test_a_sale_between_planning_and_sending_drops_it(cast: Cast) -> None:
    written(cast)
    notices.plan_fresh(NOON)
    Holding.objects.filter(aircraft=cast.aircraft).update(until=NOON + MINUTE)
    notices.send_due(NOON + 2 * MINUTE)
    assert mail.outbox == []
    assert Notice.objects.get().state == NoticeState.DROPPED


def test_a_note_that_could_not_be_told_for_two_weeks_is_told_no_more(cast: Cast) -> None:
    written(cast)
    assert told(NOON + timedelta(days=15)) == []


def test_the_same_words_sent_twice_are_one_note(cast: Cast) -> None:
    assert written(cast) == written(cast, at=NOON + MINUTE)
    assert written(cast, at=NOON + DAY).at == NOON + DAY, "said again on another day"
    assert AuditEvent.objects.filter(act="write_to_holder").count() == ShopNote.objects.count()


@pytest.mark.parametrize("text", ["", "  \n", "x" * (LONGEST + 1)])
def test_no_words_and_too_many_are_refused(cast: Cast, text: str) -> None:
    with pytest.raises(Refusal) as refused:
        written(cast, text)
    assert [problem.field for problem in refused.value.problems] == ["text"]
    assert not ShopNote.objects.exists()


def test_nobody_to_write_to_is_said(cast: Cast) -> None:
    Holding.objects.filter(aircraft=cast.aircraft).update(until=NOON - DAY)
    with pytest.raises(Refusal, match="Nobody holds this aircraft"):
        written(cast)


def test_it_hangs_on_an_open_build_before_one_that_has_ended(cast: Cast) -> None:
    Build.objects.filter(pk=cast.left.pk).update(state=BuildState.CLOSED, opened_at=NOON)
    assert written(cast).build == cast.right
    Installation.objects.filter(aircraft=cast.aircraft).update(until=NOON - MINUTE)
    with pytest.raises(Refusal, match="No engine in this aircraft"):
        written(cast, "Once more.", NOON + DAY)
