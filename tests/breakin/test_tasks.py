"""The background tasks as wholes: a fact's own task, the tick, the night, and doing each of them twice."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace

import pytest
from celery import current_app
from django.conf import LazySettings, settings
from django.core import mail
from django.utils import timezone

from breakin import assess, jobs, tasks
from breakin.models import Assessment, Message, Notice
from shop.models import JobRun, JobState, Person
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, tuple[int, ...]]]:
    found: list[tuple[str, tuple[int, ...]]] = []
    monkeypatch.setattr(jobs, "queue", lambda task, *args: found.append((task.name, args)))
    return found


@pytest.fixture
def cast(monkeypatch: pytest.MonkeyPatch) -> Cast:
    """A shop whose engines the judgement leaves as they are: what it finds is the matter of other tests."""
    made = rows.cast()
    Person.objects.update(quiet_from="00:00", quiet_until="00:00")
    monkeypatch.setattr(assess, "assess_build", lambda build_id, now: False)
    monkeypatch.setattr(assess, "due_ids", lambda now: [])
    return made


def test_the_names_in_the_schedule_and_in_the_routes_are_those_of_tasks(settings: LazySettings) -> None:
    names = {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()} | set(settings.CELERY_TASK_ROUTES)
    assert {tasks.tick.name, tasks.nightly.name} <= names <= set(current_app.tasks)


def test_a_stop_is_planned_by_the_task_of_the_fact_and_its_sending_queued_at_once(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]]
) -> None:
    rows.finding(cast.left, opened_at=timezone.now())
    tasks.assess_build(cast.left.pk)
    assert queued == [("breakin.tasks.send_messages", ())]
    tasks.send_messages()
    assert len(mail.outbox) == 3


def test_a_nudge_waits_for_the_tick(cast: Cast, queued: list[tuple[str, tuple[int, ...]]]) -> None:
    rows.due(cast.left)
    tasks.assess_build(cast.left.pk)
    assert (queued, Notice.objects.count(), mail.outbox) == ([], 1, [])
    tasks.tick()
    assert len(mail.outbox) == 1


def test_the_tick_leaves_a_finished_row_and_tells_what_was_left_untold(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]]
) -> None:
    rows.due(cast.left, "chase")
    tasks.tick()
    run = JobRun.objects.get(name="tick")
    assert (run.state, run.failed) == (JobState.FINISHED, 0)
    assert {message.to[0].split(" ")[0] for message in mail.outbox} == {"Ines", "Pell"}


def test_two_ticks_in_one_minute_do_the_work_of_one(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    now = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: now)
    rows.due(cast.left)
    tasks.tick()
    tasks.tick()
    assert JobRun.objects.filter(name="tick").count() == len(mail.outbox) == 1


def test_the_tick_catches_up_a_night_that_was_missed(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "night_is_missing", lambda now: True)
    tasks.tick()
    (chunk,) = JobRun.objects.filter(name=jobs.RANGE)
    night = [(f"breakin.tasks.{name}", ()) for name in ("oil_priors", "recordings", "recount")]
    assert queued == [("breakin.tasks.assess_chunk", (chunk.pk,)), *night]
    assert JobRun.objects.get(name=jobs.NIGHTLY).occurrence == jobs.night_of(timezone.now())


def test_a_night_run_twice_sends_no_second_message(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    nothing = SimpleNamespace(done=0, changed=0, failed=[])
    monkeypatch.setattr(assess, "assess_many", lambda ids, now: nothing)
    rows.due(cast.left, "manager")
    for _ in range(2):
        tasks.nightly()
        for _name, chunk in queued:
            if chunk:
                tasks.assess_chunk(*chunk)
        tasks.send_messages()
    sent = len(mail.outbox)
    JobRun.objects.all().delete()
    tasks.nightly()
    tasks.send_messages()
    assert len(mail.outbox) == sent == Message.objects.count() == 3


def test_a_fact_that_waits_for_judgement_holds_the_message_of_its_aircraft_back(
    cast: Cast, queued: list[tuple[str, tuple[int, ...]]]
) -> None:
    rows.due(cast.left)
    Assessment.objects.filter(build=cast.right).update(dirty_at=timezone.now() - timedelta(minutes=1))
    tasks.tick()
    assert mail.outbox == []


def test_periodic_tasks_have_a_queue_of_their_own() -> None:
    routes = settings.CELERY_TASK_ROUTES
    assert routes[tasks.tick.name]["queue"] == routes[tasks.nightly.name]["queue"] == "tick"
