"""How old the judgements are that a page shows: when the nightly run ended, and the newest entry that came in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Subquery

from breakin.models import Flight, OilEvent
from shop.models import JobRun, JobState

STALE_AFTER = timedelta(hours=26)
NEVER_RUN = "The nightly run has not finished once yet; entries are judged as they come."


@dataclass(frozen=True)
class Freshness:
    """`stale` when no nightly run has ended for 26 hours; `words` says so, or what went wrong, plainly."""

    computed_at: datetime | None
    data_until: datetime | None
    stale: bool
    words: str


def freshness(now: datetime) -> Freshness:
    """The state of the nightly run, in one query."""
    run = (
        JobRun.objects.filter(name="nightly", finished_at__isnull=False)
        .annotate(
            last_flight=Subquery(Flight.objects.order_by("-id").values("received_at")[:1]),
            last_oil=Subquery(OilEvent.objects.order_by("-id").values("received_at")[:1]),
        )
        .order_by("-started_at")
        .first()
    )
    if run is None:
        return Freshness(None, None, False, NEVER_RUN)
    until = max((at for at in (run.last_flight, run.last_oil) if at), default=None)
    stale = run.finished_at is not None and now - run.finished_at > STALE_AFTER
    return Freshness(run.finished_at, until, stale, _words(run, stale))


def _words(run: JobRun, stale: bool) -> str:
    if stale:
        return "The nightly run is more than 26 hours old. What time alone changes (late, quiet) may be missing here."
    if run.state == JobState.FAILED:
        left_out = f"{run.failed} of {run.expected} engines"
        return f"The last nightly run could not judge {left_out}; these show an older judgement."
    return ""
