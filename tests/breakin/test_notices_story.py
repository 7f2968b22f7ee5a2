"""From a flight to its reminder and its answer, through the services, the judgement, the minute and the night."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.conf import LazySettings
from django.core import mail
from pytest_django import DjangoCaptureOnCommitCallbacks

from breakin import jobs, tasks
from breakin.models import Assessment, Finding, Notice, NoticeState, Severity
from shop.models import JobRun, JobState
from tests import factories
from tests.factories import Cast

pytestmark = pytest.mark.django_db

LANDED = datetime(2026, 6, 10, 18, 0, tzinfo=UTC)  # noon at UTC-6


@pytest.fixture
def cast(settings: LazySettings) -> Cast:
    settings.SHOP_TIME_ZONE = "Etc/GMT+6"
    return factories.cast()


def minute_at(moment: datetime) -> None:
    with time_machine.travel(moment, tick=False):
        tasks.tick()


def sent_to(name: str) -> list[str]:
    """Bodies of the mails about aircraft 1 that this person got."""
    return [str(message.body) for message in mail.outbox if name in message.to[0] and "QX-901" in message.subject]


def test_a_missing_reading_is_nudged_at_18_h_chased_at_48_h_and_answered_by_the_reading(cast: Cast) -> None:
    build = cast.build_1
    factories.flown(build, 1.2, at=LANDED)
    minute_at(LANDED + timedelta(hours=17))
    assert sent_to("Ada") == []
    minute_at(LANDED + timedelta(hours=19, minutes=5))  # 07:05 of the next day
    (nudge,) = sent_to("Ada")
    assert "Oil reading missing" in nudge
    assert f"/portal/engines/{build.engine_id}/oil/" in nudge
    assert sent_to("Tom") == []
    minute_at(LANDED + timedelta(hours=49))
    (chase,) = sent_to("Tom")
    assert "Oil reading missing" in chase
    assert f"/engines/{build.engine_id}/" in chase
    with time_machine.travel(LANDED + timedelta(hours=50), tick=False):
        factories.oil_event(
            build, "reading", at=LANDED + timedelta(hours=50), when="after", level=7.5, minutes_since_shutdown=600
        )
        tasks.assess_build(build.pk)
    about = Notice.objects.filter(build=build, due_item__kind="oil_reading")
    assert about.count() == 2
    assert not about.filter(answered_at__isnull=True).exists()


def test_a_reading_that_comes_before_the_mail_goes_drops_it(cast: Cast) -> None:
    build = cast.build_1
    factories.flown(build, 1.2, at=LANDED)
    with time_machine.travel(LANDED + timedelta(hours=18, minutes=1), tick=False):  # 06:01: quiet hours
        tasks.assess_build(build.pk)
    nudge = Notice.objects.get(build=build, due_item__kind="oil_reading")
    assert nudge.state == NoticeState.WAITING
    at = LANDED + timedelta(hours=18, minutes=20)
    factories.oil_event(build, "reading", at=at, when="after", level=7.5, minutes_since_shutdown=600)
    minute_at(LANDED + timedelta(hours=19, minutes=30))
    nudge.refresh_from_db()
    assert nudge.state == NoticeState.DROPPED
    assert not any("Oil reading missing" in body for body in sent_to("Ada"))


def test_a_stop_reaches_owner_technician_and_manager_by_the_task_of_its_flight(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    monkeypatch.setattr(jobs, "queue", lambda task, *args: task(*args))
    with django_capture_on_commit_callbacks(execute=True), time_machine.travel(LANDED, tick=False):
        factories.flown(cast.build_1, 1.2, at=LANDED - timedelta(hours=1), oil_press_min="18", level_qt=7.5)
    assert Finding.objects.filter(build=cast.build_1, severity=Severity.STOP).exists()
    for name in ("Ada", "Tom", "Cora"):
        assert sum("Do not fly until a technician has cleared this item" in body for body in sent_to(name)) == 1


def test_a_night_over_the_fleet_finishes_and_a_second_one_sends_nothing(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "queue", lambda task, *args: task(*args))
    factories.flown(cast.build_1, 1.2, at=LANDED)
    factories.flown(cast.build_2, 0.9, at=LANDED, level_qt=7.5)
    morning = LANDED + timedelta(days=3, hours=1)
    for minutes in range(3):
        minute_at(morning + timedelta(minutes=minutes))
    night = JobRun.objects.get(name="nightly")
    assert (night.state, night.expected, night.done) == (JobState.FINISHED, 2, 2)
    told, mails = Notice.objects.count(), len(mail.outbox)
    assert mails > 0
    JobRun.objects.all().delete()
    Assessment.objects.update(inputs_digest="")
    for minutes in range(3, 6):
        minute_at(morning + timedelta(minutes=minutes))
    assert (Notice.objects.count(), len(mail.outbox)) == (told, mails)
