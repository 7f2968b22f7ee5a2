"""The runs of periodic jobs: claimed once, counted exactly, caught up when missed.

A nightly run is one row ("nightly", the shop's day) and a row for each range of builds ("nightly range", "day
low-high"). The rows are written before anything is queued, so that a lost message is queued again from them, and the
counts of a range go into the nightly row in the transaction that finishes the range, so that none counts twice.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

from celery.app.task import Task
from django.conf import settings
from django.db import transaction
from django.db.models import F
from kombu.exceptions import OperationalError

from breakin import assess, notices
from breakin.models import Assessment
from shop.models import JobRun, JobState

logger = logging.getLogger(__name__)

NIGHTLY = "nightly"
RANGE = "nightly range"
OIL_PRIORS = "oil priors"
RECORDINGS = "recordings"
COUNTS = "counts"
RANGE_SIZE = 200  # builds: some seconds of work, far below the time limit of a task
RANGE_LOST_AFTER = timedelta(minutes=30)  # longer than any task may take, and then some waiting
LEFT_OVER_AT_ONCE = 60
KEEP_TICKS = timedelta(days=2)
KEEP_RANGES = timedelta(days=14)
TRIM_AT_ONCE = 500

Step = Callable[[datetime], object]


def queue(task: Task, *args: int) -> bool:
    """Put a task on its queue. A broker that is down loses nothing: the tick finds the rows; False then."""
    try:
        task.delay(*args)
    except (OperationalError, OSError):
        logger.warning("Could not queue %s%s; the next tick takes it up.", task.name, args)
        return False
    return True


def claim(name: str, occurrence: str, now: datetime) -> JobRun | None:
    """The new row of this occurrence, or None when somebody else has it."""
    run, created = JobRun.objects.get_or_create(name=name, occurrence=occurrence, defaults={"started_at": now})
    return run if created else None


def minute_of(now: datetime) -> str:
    """The occurrence of a minutely job, in UTC."""
    return now.astimezone(ZoneInfo("UTC")).strftime("%Y-%m-%dT%H:%MZ")


def night_of(now: datetime) -> str:
    """The occurrence of a nightly job: the shop's own day."""
    return now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).date().isoformat()


def run_once(name: str, occurrence: str, now: datetime, steps: Sequence[Step]) -> JobRun | None:
    """Run the steps under one claim; None when this occurrence has run already.

    A step that fails is written down and the others still run: a build that cannot be judged must not hold up the mail.
    """
    run = claim(name, occurrence, now)
    if run is None:
        return None
    faults: list[str] = []
    for step in steps:
        try:
            step(now)
        except Exception as error:
            logger.exception("A step of %s %s failed", name, occurrence)
            faults.append(f"{step.__name__}: {type(error).__name__}: {error}")
    run.expected, run.done, run.failed = len(steps), len(steps) - len(faults), len(faults)
    run.error = "\n".join(faults)
    run.state = JobState.FAILED if faults else JobState.FINISHED
    # A step may take minutes; the age of the heartbeat counts from the start of the run, which is the earlier moment.
    run.finished_at = now
    run.save(update_fields=["expected", "done", "failed", "error", "state", "finished_at"])
    return run


# --- The night ----------------------------------------------------------------------------------------------------


def night_is_missing(now: datetime) -> bool:
    """Is it past the hour of the nightly run, and has today none?"""
    schedule: Any = settings.CELERY_BEAT_SCHEDULE["nightly"]["schedule"]
    if now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).hour < min(schedule.hour):
        return False
    return not JobRun.objects.filter(name=NIGHTLY, occurrence=night_of(now)).exists()


def open_night(now: datetime) -> list[int]:
    """Claim today's run and write down its ranges; their ids. Empty when today has run or nothing is live."""
    ids = Assessment.objects.filter(live=True).order_by("build_id").values_list("build_id", flat=True)
    day = night_of(now)
    with transaction.atomic():
        run = claim(NIGHTLY, day, now)
        if run is None:
            return []
        ranges = [
            JobRun(name=RANGE, occurrence=f"{day} {part[0]}-{part[-1]}", started_at=now, expected=len(part))
            for part in _parts(ids.iterator(), RANGE_SIZE)
        ]
        JobRun.objects.bulk_create(ranges, batch_size=200)
        run.expected = sum(part.expected for part in ranges)
        if not ranges:
            run.state, run.finished_at = JobState.FINISHED, now
        run.save(update_fields=["expected", "state", "finished_at"])
    return list(JobRun.objects.filter(name=RANGE, occurrence__startswith=f"{day} ").values_list("pk", flat=True))


def _parts(ids: Iterator[int], size: int) -> Iterator[list[int]]:
    while part := list(islice(ids, size)):
        yield part


def lost_chunks(now: datetime, limit: int = 50) -> list[int]:
    """Ranges that should have been done long ago: their message was lost, or their worker. Marked as queued anew."""
    late = JobRun.objects.filter(name=RANGE, state=JobState.RUNNING, started_at__lt=now - RANGE_LOST_AFTER)
    found = list(late.order_by("started_at").values_list("pk", flat=True)[:limit])
    return [pk for pk in found if late.filter(pk=pk).update(started_at=now)]


def judge_chunk(chunk_id: int, now: datetime) -> JobRun | None:
    """Judge the builds of one range, plan their notices, and count them. None when that was done already."""
    chunk = JobRun.objects.filter(pk=chunk_id, name=RANGE, state=JobState.RUNNING).first()
    if chunk is None:
        return None
    day, low, high = _range_of(chunk)
    live = Assessment.objects.filter(live=True, build_id__gte=low, build_id__lte=high)
    ids = list(live.order_by("build_id").values_list("build_id", flat=True))
    outcome = assess.assess_many(ids, now)
    notices.plan(now, build_ids=ids)
    return finish_chunk(chunk, day, failed_ids=outcome.failed, now=now)


def _range_of(chunk: JobRun) -> tuple[str, int, int]:
    day, ends = chunk.occurrence.split(" ")
    low, high = ends.split("-")
    return day, int(low), int(high)


@transaction.atomic
def finish_chunk(chunk: JobRun, day: str, *, failed_ids: Iterable[int], now: datetime) -> JobRun | None:
    """Count one range into its night, once. A build that left the board since counts as done: nothing is owed to it."""
    failed = sorted(failed_ids)
    done = max(chunk.expected - len(failed), 0)
    error = f"Not judged, builds: {', '.join(map(str, failed))}" if failed else ""
    state = JobState.FAILED if failed else JobState.FINISHED
    mine = JobRun.objects.filter(pk=chunk.pk, state=JobState.RUNNING)
    if not mine.update(state=state, finished_at=now, done=done, failed=len(failed), error=error):
        return None
    night = JobRun.objects.filter(name=NIGHTLY, occurrence=day)
    night.update(done=F("done") + done, failed=F("failed") + len(failed))
    whole = night.filter(state=JobState.RUNNING, done__gte=F("expected") - F("failed"))
    whole.filter(failed=0).update(state=JobState.FINISHED, finished_at=now)
    whole.filter(failed__gt=0).update(state=JobState.FAILED, finished_at=now)
    chunk.refresh_from_db()
    return chunk


# --- The minute ---------------------------------------------------------------------------------------------------


def judge_left_over(now: datetime) -> int:
    """Judge builds whose own task never came and those that time alone has moved, a bounded share; how many."""
    ids = list(assess.due_ids(now)[:LEFT_OVER_AT_ONCE])
    if ids:
        assess.assess_many(ids, now)
        notices.plan(now, build_ids=ids)
    return len(ids)


def trim(now: datetime) -> int:
    """Drop old rows of the minute and of ranges, some at a time; how many. The nightly rows are kept."""
    gone = 0
    for name, kept in (("tick", KEEP_TICKS), (RANGE, KEEP_RANGES)):
        old = JobRun.objects.filter(name=name, started_at__lt=now - kept).exclude(state=JobState.RUNNING)
        gone += JobRun.objects.filter(pk__in=list(old.values_list("pk", flat=True)[:TRIM_AT_ONCE])).delete()[0]
    return gone
