"""Several workers at once, on a real database: one message is sent by one of them, outside any transaction."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from threading import Barrier, Thread
from time import sleep
from typing import Any

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.db import connection

from breakin import jobs, notices
from breakin.models import Message, MessageState, Notice, NoticeState
from shop.models import JobRun
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON, Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cast() -> Cast:
    return rows.cast()


def at_once(work: Callable[[], Any], workers: int = 3) -> list[Any]:
    """The results of `workers` threads that start together; a failure in any of them fails the test."""
    start, results, failures = Barrier(workers), [], []

    def run() -> None:
        try:
            start.wait(timeout=10)
            results.append(work())
        except Exception as failure:
            failures.append(failure)
        finally:
            connection.close()

    threads = [Thread(target=run) for _ in range(workers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert failures == []
    assert len(results) == workers
    return results


def test_workers_at_once_send_each_message_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    real = EmailBackend.send_messages

    def slow(self: EmailBackend, messages: Any) -> int:
        sleep(0.02)  # long enough for another worker to come by
        return real(self, messages)

    monkeypatch.setattr(EmailBackend, "send_messages", slow)
    for _ in range(6):
        rows.due(rows.build(), "call")
    rows.finding(cast.left)
    notices.plan(NOON)
    runs = at_once(lambda: notices.send_due(NOON))
    ids = Counter(message.extra_headers["Message-ID"] for message in mail.outbox)
    assert set(ids.values()) == {1}
    assert len(ids) == Message.objects.count() == sum(run.sent for run in runs) == 2 * 6 + 3
    assert not Notice.objects.exclude(state=NoticeState.SENT).exists()


def test_workers_at_once_plan_each_notice_once(cast: Cast) -> None:
    rows.due(cast.left, "manager")
    rows.finding(cast.right)
    at_once(lambda: notices.plan(NOON))
    keys = list(Notice.objects.values_list("key", flat=True))
    assert len(keys) == len(set(keys)) == 8


def test_two_beats_claim_one_run_and_one_night(cast: Cast) -> None:
    runs = at_once(lambda: jobs.run_once("tick", jobs.minute_of(NOON), NOON, []))
    nights = at_once(lambda: jobs.open_night(NOON))
    assert sum(run is not None for run in runs) == 1
    assert sum(bool(night) for night in nights) == 1
    assert JobRun.objects.filter(name=jobs.RANGE).count() == 1


def test_a_mail_is_handed_over_outside_any_transaction(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[bool] = []

    def look(self: EmailBackend, messages: Any) -> int:
        seen.append(connection.in_atomic_block)
        return len(messages)

    monkeypatch.setattr(EmailBackend, "send_messages", look)
    rows.due(cast.left, "chase")
    notices.plan(NOON)
    notices.send_due(NOON)
    assert seen == [False, False]


def test_a_claimed_message_is_passed_over_until_its_lease_has_run_out(cast: Cast) -> None:
    rows.due(cast.left)
    notices.plan(NOON)
    Message.objects.all().delete()
    runs: list[notices.Sent] = []

    class Other(EmailBackend):
        def send_messages(self, messages: Any) -> int:
            runs.append(notices.send_due(NOON + timedelta(minutes=1)))
            return super().send_messages(messages)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("django.core.mail.backends.locmem.EmailBackend", Other)
        notices.send_due(NOON)
    assert runs == [notices.Sent()]
    assert Message.objects.get().state == MessageState.SENT
