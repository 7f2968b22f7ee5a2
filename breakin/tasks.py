"""Background work: thin shells over functions that can be called and tested without Celery.

A message is a nudge, the row is the truth: every task takes ids only, reads anew, and may run twice without effect.
Imports run services -> tasks -> assess.
"""

from __future__ import annotations

import logging
from datetime import datetime

from celery import Task, shared_task
from django.utils import timezone

from breakin import assess, counts, jobs, notices, priors, reading

logger = logging.getLogger(__name__)


@shared_task
def assess_build(build_id: int) -> None:
    """Judge one build and plan what people are to be told; a Stop is sent at once."""
    now = timezone.now()
    assess.assess_build(build_id, now)
    if notices.plan(now, build_ids=[build_id]).stops:
        jobs.queue(send_messages)


@shared_task
def assess_chunk(chunk_id: int) -> None:
    """Judge one range of builds of a nightly run. `chunk_id` is the job run of that range."""
    jobs.judge_chunk(chunk_id, timezone.now())


@shared_task
def nightly() -> None:
    """Judge every live build: ranges of builds go to the queue, once a day of the shop; then learn from the ended."""
    now = timezone.now()
    for chunk_id in jobs.open_night(now):
        jobs.queue(assess_chunk, chunk_id)
    jobs.queue(oil_priors)
    jobs.queue(recordings)
    jobs.queue(recount)


@shared_task
def recount() -> None:
    """Once a night: count anew what pages read instead of counting, and mend what went astray."""
    now = timezone.now()
    jobs.run_once(jobs.COUNTS, jobs.night_of(now), now, [mend_counts])


def mend_counts(now: datetime) -> None:
    """Say in the log which counts were wrong; nobody has to do anything."""
    for line in counts.recount():
        logger.warning(line)


@shared_task
def oil_priors() -> None:
    """Once a night: propose what the ended builds say of oil loss by finish. A manager adopts it, or nobody does."""
    now = timezone.now()
    jobs.run_once(jobs.OIL_PRIORS, jobs.night_of(now), now, [priors.propose])


@shared_task(bind=True)
def read_recording(self: Task, recording_id: int) -> None:
    """Read a recording that waits, and have the builds judged whose engines it tells of."""
    again = bool((self.request.delivery_info or {}).get("redelivered"))
    for build_id in reading.read_recording(recording_id, timezone.now(), again=again):
        jobs.queue(assess_build, build_id)


@shared_task
def recordings() -> None:
    """Once a night: have recordings read anew that an earlier version read, or whose engine was another one."""
    now = timezone.now()
    jobs.run_once(jobs.RECORDINGS, jobs.night_of(now), now, [read_stale])


def read_stale(now: datetime) -> None:
    """A bounded share of the recordings that are to be read anew."""
    for recording_id in reading.ask_stale(now):
        jobs.queue(read_recording, recording_id)


@shared_task
def send_messages() -> None:
    """Send what waits and may be sent now."""
    notices.send_due(timezone.now())


@shared_task
def tick() -> None:
    """Once a minute: do what was left over, tell people, and leave a row that shows that we live."""
    now = timezone.now()
    jobs.run_once(
        "tick",
        jobs.minute_of(now),
        now,
        [catch_up_night, read_left_over, jobs.judge_left_over, notices.plan_fresh, notices.send_due, jobs.trim],
    )


def catch_up_night(now: datetime) -> None:
    """Start a night that was missed, and queue again the ranges whose message was lost."""
    if jobs.night_is_missing(now):
        nightly()
    for chunk_id in jobs.lost_chunks(now):
        jobs.queue(assess_chunk, chunk_id)


def read_left_over(now: datetime) -> None:
    """Queue recordings again whose message or whose worker was lost."""
    for recording_id in reading.left_over(now):
        jobs.queue(read_recording, recording_id)
