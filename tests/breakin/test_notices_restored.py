"""A restored database does not send again what may have been sent after its backup."""

from datetime import timedelta

import pytest
from django.core import mail

from breakin import notices
from breakin.models import Message, MessageState, Notice, NoticeState
from breakin.notices.claiming import gather
from shop.backups import restored
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON

pytestmark = pytest.mark.django_db


def test_what_waited_and_what_was_being_sent_is_held_and_said() -> None:
    cast = rows.cast()
    rows.finding(cast.left)
    notices.plan(NOON)
    gather(NOON)
    rows.finding(cast.right)
    notices.plan(NOON)
    waiting = Notice.objects.filter(state=NoticeState.WAITING).count()
    assert waiting > Message.objects.count() > 0, "some wait, some are in a message that is being sent"

    answers = restored.send(sender=None, taken_at=NOON)

    assert any(f"{waiting} notice(s)" in str(said) for _receiver, said in answers)
    assert set(Notice.objects.values_list("state", flat=True)) <= {NoticeState.HELD, NoticeState.PHONE}
    assert Notice.objects.filter(state=NoticeState.HELD, why_not_sent__contains="may have been sent").count() == waiting
    notices.plan(NOON + timedelta(minutes=1))
    notices.send_due(NOON + timedelta(minutes=1))
    assert mail.outbox == []


def test_what_was_sent_before_the_backup_stays_sent() -> None:
    cast = rows.cast()
    rows.finding(cast.left)
    notices.plan(NOON)
    notices.send_due(NOON)
    sent = Notice.objects.filter(state=NoticeState.SENT).count()
    assert sent
    restored.send(sender=None, taken_at=NOON + timedelta(hours=1))
    assert Notice.objects.filter(state=NoticeState.SENT).count() == sent
    assert Message.objects.filter(state=MessageState.SENT).exists()
