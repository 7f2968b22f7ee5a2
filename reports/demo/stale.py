"""What the pages say when the nightly run has not been: for the demo alone."""

from __future__ import annotations

from datetime import datetime, timedelta

from breakin.jobs import NIGHTLY, night_of
from reports.freshness import STALE_AFTER
from shop.models import JobRun, JobState

AGE = STALE_AFTER + timedelta(hours=4)


def make_stale(now: datetime) -> None:
    """Let the last nightly run have ended 30 hours before `now`. Today counts as claimed, so none follows today."""
    ended = now - AGE
    today, _ = JobRun.objects.get_or_create(name=NIGHTLY, occurrence=night_of(now), defaults={"started_at": ended})
    JobRun.objects.filter(name=NIGHTLY, finished_at__gt=ended).update(started_at=ended, finished_at=ended)
    if today.finished_at is None:
        today.started_at = today.finished_at = ended
        today.state = JobState.FINISHED
        today.save(update_fields=["started_at", "finished_at", "state"])
