"""Runs of periodic jobs: claimed once, counted exactly, caught up when missed or lost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.conf import LazySettings
from kombu.exceptions import OperationalError

from breakin import assess, jobs, tasks
from breakin.models import Assessment
from shop.models import JobRun, JobState
from tests.breakin import notice_rows as rows

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
SIX = datetime(2026, 6, 10, 12, 0, tzinfo=UTC)  # 06:00 at UTC-6

Queued = list[tuple[str, tuple[int, ...]]]


@pytest.fixture(autouse=True)
def _shop_zone(settings: LazySettings) -> None:
    settings.SHOP_TIME_ZONE = "Etc/GMT+6"


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> Queued:
    """What was put on the queue instead of the queue itself."""
    found: Queued = []
    monkeypatch.setattr(jobs, "queue", lambda task, *args: found.append((task.name, args)))
    return found


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Builds that were handed to the judgement, which is not the matter here."""
    found: list[int] = []

    def judge(ids: list[int], now: datetime) -> Any:
        found.extend(ids)
        return outcome(ids)

    monkeypatch.setattr(assess, "assess_many", judge)
    return found


def outcome(ids: list[int], failed: tuple[int, ...] = ()) -> Any:
    return SimpleNamespace(done=len(ids) - len(failed), changed=0, failed=list(failed))


def fleet(size: int) -> list[int]:
    return [rows.build().pk for _ in range(size)]


def work_off(queue: Queued, now: datetime) -> None:
    for _, (chunk,) in queue:
        jobs.judge_chunk(chunk, now)


def test_a_night_judges_every_live_build_once_in_ranges_and_ends_finished(
    queued: Queued, judged: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "RANGE_SIZE", 2)
    builds = fleet(5)
    Assessment.objects.filter(build=fleet(1)[0]).update(live=False)
    for chunk in jobs.open_night(SIX):
        jobs.queue(tasks.assess_chunk, chunk)
    assert len(queued) == 3
    work_off(queued, SIX + MINUTE)
    night = JobRun.objects.get(name="nightly")
    assert sorted(judged) == builds
    assert (night.occurrence, night.expected, night.done, night.failed) == ("2026-06-10", 5, 5, 0)
    assert (night.state, night.finished_at) == (JobState.FINISHED, SIX + MINUTE)


def test_a_night_is_not_finished_before_its_last_range(judged: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "RANGE_SIZE", 2)
    fleet(3)
    first, second = jobs.open_night(SIX)
    jobs.judge_chunk(first, SIX)
    assert JobRun.objects.get(name="nightly").state == JobState.RUNNING
    jobs.judge_chunk(second, SIX)
    assert JobRun.objects.get(name="nightly").state == JobState.FINISHED


def test_two_schedulers_open_one_night(judged: list[int]) -> None:
    fleet(1)
    assert len(jobs.open_night(SIX)) == 1
    assert jobs.open_night(SIX + MINUTE) == []
    assert JobRun.objects.filter(name="nightly").count() == 1


def test_a_range_that_is_delivered_twice_counts_once(judged: list[int]) -> None:
    fleet(3)
    (chunk,) = jobs.open_night(SIX)
    assert jobs.judge_chunk(chunk, SIX) is not None
    assert jobs.judge_chunk(chunk, SIX) is None
    assert JobRun.objects.get(name="nightly").done == 3


def test_two_workers_that_finish_the_same_range_count_it_once(judged: list[int]) -> None:
    fleet(3)
    (pk,) = jobs.open_night(SIX)
    chunk = JobRun.objects.get(pk=pk)
    assert jobs.finish_chunk(chunk, "2026-06-10", failed_ids=[], now=SIX) is not None
    assert jobs.finish_chunk(chunk, "2026-06-10", failed_ids=[], now=SIX) is None
    assert JobRun.objects.get(name="nightly").done == 3


def test_a_build_that_cannot_be_judged_is_named_and_the_night_ends_with_failures(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first, second = fleet(2)
    monkeypatch.setattr(assess, "assess_many", lambda ids, now: outcome(ids, (second,)))
    (chunk,) = jobs.open_night(SIX)
    jobs.judge_chunk(chunk, SIX)
    night = JobRun.objects.get(name="nightly")
    assert (night.state, night.done, night.failed) == (JobState.FAILED, 1, 1)
    assert str(second) in JobRun.objects.get(pk=chunk).error
    assert first != second


def test_a_night_without_live_builds_is_finished_at_once() -> None:
    assert jobs.open_night(SIX) == []
    assert JobRun.objects.get(name="nightly").state == JobState.FINISHED


def test_a_build_that_left_the_board_since_is_not_owed(judged: list[int]) -> None:
    builds = fleet(2)
    (chunk,) = jobs.open_night(SIX)
    Assessment.objects.filter(build=builds[0]).update(live=False)
    jobs.judge_chunk(chunk, SIX)
    assert JobRun.objects.get(name="nightly").state == JobState.FINISHED
    assert judged == builds[1:]


@pytest.mark.parametrize(
    ("now", "missing"),
    [(SIX - MINUTE, False), (SIX, True), (SIX + timedelta(hours=17, minutes=59), True)],
)
def test_a_night_is_missing_from_its_hour_until_the_shops_day_ends(now: datetime, missing: bool) -> None:
    assert jobs.night_is_missing(now) is missing


def test_a_night_that_ran_is_not_missing() -> None:
    jobs.open_night(SIX)
    assert not jobs.night_is_missing(SIX + MINUTE)
    assert jobs.night_is_missing(SIX + timedelta(days=1))


def test_the_day_of_the_shop_names_the_night_also_when_clocks_go_forward(settings: LazySettings) -> None:
    settings.SHOP_TIME_ZONE = "Europe/Oslo"
    assert not jobs.night_is_missing(datetime(2026, 3, 29, 3, 59, tzinfo=UTC))
    assert jobs.night_is_missing(datetime(2026, 3, 29, 4, 0, tzinfo=UTC))  # 06:00 summer time
    assert jobs.night_of(datetime(2026, 3, 28, 23, 30, tzinfo=UTC)) == "2026-03-29"


def test_a_range_whose_message_was_lost_is_queued_again(judged: list[int]) -> None:
    fleet(1)
    (chunk,) = jobs.open_night(SIX)
    assert jobs.lost_chunks(SIX + jobs.RANGE_LOST_AFTER) == []
    late = SIX + jobs.RANGE_LOST_AFTER + MINUTE
    assert jobs.lost_chunks(late) == [chunk]
    assert jobs.lost_chunks(late + MINUTE) == []
    jobs.judge_chunk(chunk, late)
    assert jobs.lost_chunks(late + timedelta(days=1)) == []


def test_a_minute_runs_once_however_many_schedulers_there_are() -> None:
    runs: list[datetime] = []
    first = jobs.run_once("tick", jobs.minute_of(SIX), SIX, [runs.append])
    again = jobs.run_once("tick", jobs.minute_of(SIX + timedelta(seconds=40)), SIX, [runs.append])
    assert (first is not None, again, len(runs)) == (True, None, 1)


def test_a_step_that_fails_is_written_down_and_the_next_one_still_runs() -> None:
    def broken(_now: datetime) -> None:
        raise ValueError("no such engine")

    ran: list[datetime] = []
    run = jobs.run_once("tick", "m", SIX, [broken, ran.append])
    assert run is not None
    assert (run.state, run.failed, run.done) == (JobState.FAILED, 1, 1)
    assert "broken: ValueError: no such engine" in run.error
    assert ran == [SIX]


def test_old_rows_of_the_minute_go_and_those_of_nights_stay() -> None:
    for name, age in (("tick", 1), ("tick", 3), ("nightly", 400), ("nightly range", 15)):
        JobRun.objects.create(
            name=name, occurrence=f"{name}{age}", state=JobState.FINISHED, started_at=SIX - timedelta(days=age)
        )
    assert jobs.trim(SIX) == 2
    assert set(JobRun.objects.values_list("occurrence", flat=True)) == {"tick1", "nightly400"}


def test_a_broker_that_is_down_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def down(*_args: int) -> None:
        raise OperationalError("no broker")

    monkeypatch.setattr(tasks.send_messages, "delay", down)
    assert jobs.queue(tasks.send_messages) is False


def test_what_was_left_over_is_judged_a_bounded_share_a_minute(
    judged: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "LEFT_OVER_AT_ONCE", 2)
    builds = fleet(3)
    Assessment.objects.filter(build__in=builds).update(dirty_at=SIX - timedelta(hours=1))
    monkeypatch.setattr(assess, "due_ids", lambda now: builds)
    assert jobs.judge_left_over(SIX) == 2
    assert judged == builds[:2]
