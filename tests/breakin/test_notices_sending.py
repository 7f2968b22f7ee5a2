"""The sending: one message an aircraft a day, failures, crashes, quiet hours, and what is dropped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from smtplib import SMTPDataError, SMTPRecipientsRefused, SMTPServerDisconnected
from typing import Any

import pytest
from django.conf import LazySettings
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend

from breakin import notices
from breakin.models import (
    Assessment,
    Finding,
    FindingState,
    Message,
    MessageState,
    Notice,
    NoticeState,
    Severity,
)
from breakin.notices import sending, words
from breakin.notices.claiming import BACKOFF, LEASE, claim_next, gather
from shop.models import Person
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON, Cast

pytestmark = pytest.mark.django_db
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)


@pytest.fixture
def cast() -> Cast:
    return rows.cast()


class FailingBackend(EmailBackend):
    """A mail server that fails as told, then takes mail again."""

    failures: list[Exception] = []

    def send_messages(self, messages: Any) -> int:
        if self.failures:
            raise self.failures.pop(0)
        return super().send_messages(messages)


@pytest.fixture
def failing(settings: LazySettings) -> Iterator[Callable[..., None]]:
    settings.EMAIL_BACKEND = f"{__name__}.FailingBackend"
    yield lambda *failures: FailingBackend.failures.extend(failures)
    FailingBackend.failures.clear()


def plan_and_send(now: datetime) -> notices.Sent:
    notices.plan(now)
    return notices.send_due(now)


def to(name: str) -> list[Any]:
    return [sent for sent in mail.outbox if name.lower() in sent.to[0]]


def test_the_nudge_reaches_the_pilot_and_the_overdue_check_the_technician(cast: Cast) -> None:
    rows.due(cast.left, "chase")
    assert plan_and_send(NOON) == notices.Sent(sent=2)
    assert len(to("ines")) == len(to("pell")) == 1
    assert set(Notice.objects.values_list("state", "sent_at")) == {(NoticeState.SENT, NOON)}


def test_running_everything_twice_sends_nothing_more(cast: Cast) -> None:
    rows.due(cast.left, "manager")
    rows.finding(cast.right)
    plan_and_send(NOON)
    sent = len(mail.outbox)
    assert plan_and_send(NOON + MINUTE) == notices.Sent()
    assert len(mail.outbox) == sent > 0


def test_both_engines_of_a_twin_are_in_one_message(cast: Cast) -> None:
    rows.due(cast.left, title="Oil reading missing, left")
    rows.due(cast.right, title="Oil reading missing, right")
    plan_and_send(NOON)
    (sent,) = to("ines")
    assert "missing, left" in sent.body
    assert "missing, right" in sent.body
    assert sent.subject.endswith("and 1 more")


def test_a_second_matter_of_the_same_aircraft_waits_until_the_readers_next_day(cast: Cast) -> None:
    rows.due(cast.left)
    plan_and_send(NOON)
    rows.due(cast.right, title="First oil and filter")
    assert plan_and_send(NOON + timedelta(hours=3)).sent == 0
    assert notices.send_due(NOON + timedelta(hours=18, minutes=59)).sent == 0  # 06:59
    assert notices.send_due(NOON + timedelta(hours=19)).sent == 1  # 07:00 of the next day
    assert len(to("ines")) == 2


def test_another_aircraft_on_the_same_day_has_its_own_message(cast: Cast) -> None:
    other = rows.build(type(cast.aircraft).objects.create(registration="QX-502", home=cast.aircraft.home))
    rows.due(cast.left, "chase")
    rows.due(other, "chase")
    plan_and_send(NOON)
    assert sorted(sent.subject[:6] for sent in to("pell")) == ["QX-501", "QX-502"]


def test_a_stop_is_a_message_of_its_own_even_on_a_day_that_has_one(cast: Cast) -> None:
    rows.due(cast.left)
    plan_and_send(NOON)
    rows.finding(cast.right)
    plan_and_send(NOON + MINUTE)
    assert [sent.subject.startswith("STOP QX-501") for sent in to("ines")] == [False, True]


def test_a_message_of_yesterday_still_on_its_way_keeps_todays_from_being_a_second_one(
    cast: Cast, failing: Callable[..., None]
) -> None:
    failing(*[SMTPServerDisconnected("gone")] * 4)
    evening = NOON + timedelta(hours=8)  # 20:00
    Person.objects.update(quiet_from="00:00", quiet_until="00:00")
    rows.due(cast.left)
    plan_and_send(evening)
    for pause in (MINUTE, MINUTE * 6, MINUTE * 36):
        notices.send_due(evening + pause)
    rows.due(cast.right)
    plan_and_send(NOON + DAY)  # the fifth attempt succeeds; the new matter has to wait
    assert len(to("ines")) == 1
    notices.send_due(NOON + 2 * DAY)
    assert len(to("ines")) == 2


def test_a_message_of_yesterday_that_arrived_today_was_todays(cast: Cast, failing: Callable[..., None]) -> None:
    failing(*[SMTPServerDisconnected("gone")] * 2)
    Person.objects.update(quiet_from="00:00", quiet_until="00:00")
    before_midnight = NOON + timedelta(hours=11, minutes=58)
    rows.due(cast.left)
    plan_and_send(before_midnight)
    notices.send_due(before_midnight + MINUTE)
    assert notices.send_due(before_midnight + 6 * MINUTE).sent == 1  # 00:04
    rows.due(cast.right)
    assert plan_and_send(before_midnight + timedelta(hours=12)).sent == 0
    assert notices.send_due(before_midnight + timedelta(hours=25)).sent == 1


def test_what_comes_up_overnight_is_in_one_message_with_what_was_late_for_the_evening(cast: Cast) -> None:
    evening = datetime(2026, 6, 11, 2, 59, tzinfo=UTC)  # 20:59
    rows.due(cast.left)
    notices.plan(evening)
    notices.send_due(evening + MINUTE)
    rows.due(cast.right)
    notices.plan(evening + timedelta(hours=2))
    assert notices.send_due(datetime(2026, 6, 11, 13, 0, tzinfo=UTC)).sent == 1
    assert Notice.objects.filter(state=NoticeState.SENT).count() == 2


def test_nothing_but_a_stop_is_sent_in_quiet_hours_even_when_planned_before(cast: Cast) -> None:
    evening = datetime(2026, 6, 11, 2, 59, tzinfo=UTC)  # 20:59
    rows.due(cast.left)
    notices.plan(evening)
    assert notices.send_due(evening + MINUTE).sent == 0
    rows.finding(cast.right)
    assert plan_and_send(evening + 2 * MINUTE).sent == 3
    assert notices.send_due(datetime(2026, 6, 11, 13, 0, tzinfo=UTC)).sent == 1


def test_a_retry_that_falls_into_quiet_hours_waits_for_the_morning_and_is_no_attempt(
    cast: Cast, failing: Callable[..., None]
) -> None:
    failing(SMTPServerDisconnected("gone"))
    evening = datetime(2026, 6, 11, 2, 59, tzinfo=UTC)
    rows.due(cast.left)
    plan_and_send(evening)
    assert notices.send_due(evening + MINUTE).put_off == 1
    assert Message.objects.get().attempts == 1
    assert notices.send_due(datetime(2026, 6, 11, 13, 0, tzinfo=UTC)).sent == 1


def test_a_message_waits_while_a_fact_of_the_aircraft_is_being_judged_but_not_for_ever(cast: Cast) -> None:
    rows.due(cast.left)
    Assessment.objects.filter(build=cast.right).update(dirty_at=NOON)
    assert plan_and_send(NOON + MINUTE).sent == 0
    assert notices.send_due(NOON + 16 * MINUTE).sent == 1


def test_a_due_item_answered_before_sending_is_dropped(cast: Cast) -> None:
    item = rows.due(cast.left)
    notices.plan(NOON)
    rows.answer(item, NOON + MINUTE)
    assert notices.send_due(NOON + 2 * MINUTE) == notices.Sent(dropped=1)
    told = Notice.objects.get()
    assert (told.state, told.why_not_sent, told.answered_at) == (
        NoticeState.DROPPED,
        "done before it was sent",
        NOON + MINUTE,
    )
    assert mail.outbox == []


def test_what_was_dropped_and_is_wanted_again_is_sent_after_all(cast: Cast) -> None:
    found = rows.finding(cast.left)
    notices.plan(NOON)
    Finding.objects.filter(pk=found.pk).update(state=FindingState.GONE, closed_at=NOON)
    notices.send_due(NOON)
    Finding.objects.filter(pk=found.pk).update(state=FindingState.OPEN, closed_at=None)
    assert plan_and_send(NOON + MINUTE).sent == 3


def test_of_two_matters_the_answered_one_is_left_out_of_the_message(cast: Cast) -> None:
    item = rows.due(cast.left, title="Oil reading missing")
    rows.due(cast.right, title="First oil and filter")
    notices.plan(NOON)
    rows.answer(item, NOON)
    notices.send_due(NOON)
    assert "Oil reading missing" not in to("ines")[0].body
    assert "First oil and filter" in to("ines")[0].body


def test_a_call_taken_up_in_the_shop_before_sending_is_dropped(cast: Cast) -> None:
    found = rows.finding(cast.left, Severity.CALL)
    notices.plan(NOON)
    Finding.objects.filter(pk=found.pk).update(state=FindingState.ACKNOWLEDGED)
    assert notices.send_due(NOON).sent == 0


def test_the_old_owner_gets_nothing_when_the_sale_comes_between_planning_and_sending(cast: Cast) -> None:
    rows.due(cast.left)
    notices.plan(NOON)
    buyer = rows.sell(cast.aircraft, NOON + MINUTE)
    notices.send_due(NOON + 2 * MINUTE)
    assert mail.outbox == []
    # A sale has the builds judged anew; a message waits while that is owed.
    Assessment.objects.update(dirty_at=None)
    plan_and_send(NOON + 3 * MINUTE)
    assert to("ines") == []
    assert len(to(buyer.name)) == 1


def test_passing_failures_are_tried_again_with_growing_pauses_until_the_message_is_dead_and_visible(
    cast: Cast, failing: Callable[..., None]
) -> None:
    Person.objects.update(quiet_from="00:00", quiet_until="00:00")
    failing(*[SMTPServerDisconnected("gone")] * 6)
    rows.due(cast.left)
    plan_and_send(NOON)
    now = NOON
    for pause in BACKOFF:
        assert Message.objects.get().retry_at == now + pause
        assert notices.send_due(now + pause - timedelta(seconds=1)) == notices.Sent()
        now += pause
        notices.send_due(now)
    message, told = Message.objects.get(), Notice.objects.get()
    assert (message.state, message.attempts) == (MessageState.DEAD, 6)
    assert told.state == NoticeState.FAILED
    assert "gone" in told.why_not_sent
    assert [pause.total_seconds() / 60 for pause in BACKOFF] == [1, 5, 30, 120, 480]


def test_a_failure_that_passes_is_made_good_with_the_same_message_id(cast: Cast, failing: Callable[..., None]) -> None:
    failing(SMTPServerDisconnected("gone"))
    rows.due(cast.left)
    plan_and_send(NOON)
    waiting = Message.objects.get()
    assert (waiting.state, waiting.last_error) == (MessageState.RETRY, "SMTPServerDisconnected: gone")
    assert notices.send_due(NOON + MINUTE).sent == 1
    assert mail.outbox[0].extra_headers["Message-ID"] == waiting.message_id


@pytest.mark.parametrize(
    ("failure", "state"),
    [
        (SMTPRecipientsRefused({"ines@example.test": (550, b"no such mailbox")}), MessageState.DEAD),
        (SMTPRecipientsRefused({"ines@example.test": (450, b"mailbox busy")}), MessageState.RETRY),
        (SMTPDataError(554, b"refused"), MessageState.DEAD),
        (SMTPDataError(421, b"try later"), MessageState.RETRY),
        (TimeoutError("slow"), MessageState.RETRY),
    ],
)
def test_a_permanent_refusal_is_not_tried_again_and_a_passing_one_is(
    cast: Cast, failing: Callable[..., None], failure: Exception, state: MessageState
) -> None:
    failing(failure)
    rows.due(cast.left)
    plan_and_send(NOON)
    assert Message.objects.get().state == state


def test_an_address_that_cannot_be_one_is_given_up_at_once_and_holds_up_nobody(cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(email="ines at home")
    rows.due(cast.left, "chase")
    assert plan_and_send(NOON) == notices.Sent(sent=1, dead=1)


def test_a_fault_of_ours_in_one_message_does_not_hold_up_the_others(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = words.compose

    def faulty(message: Message, told: list[Notice], now: datetime) -> Any:
        if message.recipient_id == cast.owner.pk:
            raise KeyError("a template asks for what is not there")
        return real(message, told, now)

    monkeypatch.setattr(words, "compose", faulty)
    rows.due(cast.left, "chase")
    assert plan_and_send(NOON) == notices.Sent(sent=1, put_off=1)


def test_a_sender_killed_between_the_servers_yes_and_the_save_repeats_with_the_same_id_and_loses_nothing(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows.due(cast.left)
    notices.plan(NOON)

    def killed(*_args: Any) -> str:
        raise SystemExit

    with monkeypatch.context() as patch:
        patch.setattr(sending, "_mark_sent", killed)
        with pytest.raises(SystemExit):
            notices.send_due(NOON)
    assert Message.objects.get().state == MessageState.CLAIMED
    assert notices.send_due(NOON + LEASE - MINUTE) == notices.Sent()
    assert notices.send_due(NOON + LEASE) == notices.Sent(sent=1)
    first, second = mail.outbox
    assert first.extra_headers["Message-ID"] == second.extra_headers["Message-ID"]
    assert first.body == second.body
    assert Notice.objects.get().state == NoticeState.SENT


def test_a_message_that_kills_its_sender_each_time_is_given_up(cast: Cast) -> None:
    rows.due(cast.left)
    notices.plan(NOON)
    gather(NOON)
    now = NOON
    for _ in range(6):
        assert claim_next(now, set()) is not None
        now += LEASE
    assert notices.send_due(now) == notices.Sent(dead=1)
    assert mail.outbox == []


def test_a_sender_whose_lease_ran_out_does_not_overwrite_what_the_next_one_did(cast: Cast) -> None:
    rows.due(cast.left)
    notices.plan(NOON)
    gather(NOON)
    slow = claim_next(NOON, set())
    assert slow is not None
    notices.send_due(NOON + LEASE)
    sending._finish(slow, MessageState.RETRY, "put_off", retry_at=NOON)
    assert Message.objects.get().state == MessageState.SENT


def test_a_recipient_who_moved_his_mailbox_is_written_to_at_the_new_one(
    cast: Cast, failing: Callable[..., None]
) -> None:
    failing(SMTPServerDisconnected("gone"))
    rows.due(cast.left)
    plan_and_send(NOON)
    Person.objects.filter(pk=cast.owner.pk).update(email="ines@new.example.test")
    notices.send_due(NOON + MINUTE)
    assert mail.outbox[0].to == ["Ines <ines@new.example.test>"]


def test_a_mail_server_that_hangs_does_not_hold_up_the_minute(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter(range(0, 1000, 25))
    monkeypatch.setattr(sending, "monotonic", lambda: next(clock))
    rows.due(cast.left, "manager")
    assert plan_and_send(NOON).sent == 1
    assert Message.objects.filter(state=MessageState.RETRY).count() == 2
