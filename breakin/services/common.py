"""What every act has in common: locks in one order, the audit trail, and judging what the act touched."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import partial

from django.db import transaction

from breakin import assess, jobs, tasks
from breakin.counts import Steps
from breakin.locks import live_builds, lock_aircraft, lock_build, lock_engines
from breakin.models import Finding, FindingState, Severity
from breakin.periods import covering, covers, overlapping
from engines.models import Build, Engine, EngineTypeRevision, Installation
from shop.errors import Refusal
from shop.facts import Grade, Source
from shop.services import audit, is_staff, is_technician, roles_of

__all__ = [
    "audit",
    "covering",
    "covers",
    "current_installation",
    "grade_of",
    "is_staff",
    "is_technician",
    "judge",
    "live_builds",
    "lock_aircraft",
    "lock_build",
    "lock_engines",
    "overlapping",
    "queue_assess",
    "roles_of",
    "type_revision_of",
]


def judge(builds: Iterable[Build], now: datetime, steps: Steps | None = None) -> tuple[list[Finding], list[Finding]]:
    """Apply the rules of safety at once, and have the rest judged after commit.

    The last thing that an act does: the kept counts are moved here, by `steps` of the act itself too.

    Returns
    -------
    the Stops, and what somebody must phone about, that stand after this act.
    """
    found: list[Finding] = []
    builds, steps = list(builds), steps or Steps()
    for build in builds:
        found += assess.safety(build, now, steps)
    steps.write()
    ids = [build.pk for build in builds]
    if ids:
        assess.mark_dirty(ids, now)
        queue_assess(ids)
    standing = [finding for finding in found if finding.state in (FindingState.OPEN, FindingState.ACKNOWLEDGED)]
    return (
        [finding for finding in standing if finding.severity == Severity.STOP],
        [finding for finding in standing if finding.severity == Severity.CALL],
    )


def queue_assess(build_ids: Iterable[int]) -> None:
    """Have these builds judged once this transaction is kept. A broker that is down delays it and fails nothing."""
    for build_id in sorted(set(build_ids)):
        transaction.on_commit(partial(jobs.queue, tasks.assess_build, build_id), robust=True)


def current_installation(engine: Engine, at: datetime) -> Installation | None:
    return Installation.objects.select_related("aircraft", "aircraft__home").filter(covering(at), engine=engine).first()


def type_revision_of(engine: Engine) -> EngineTypeRevision | None:
    """The numbers that hold for this engine: those its newest build was issued with, else the type's newest."""
    build = Build.objects.filter(engine=engine).order_by("-opened_at", "-pk").select_related("type_revision").first()
    if build is not None:
        return build.type_revision
    return EngineTypeRevision.objects.filter(engine_type_id=engine.engine_type_id).order_by("-number").first()


def grade_of(
    *,
    happened_at: datetime,
    written_at: datetime | None,
    now: datetime,
    source: str,
    recalled: bool = False,
    sent_at: datetime | None = None,
) -> str:
    """How good a witness an entry is.

    A from a file; B written on the device within 24 h and received within 7 days; C received within 7 days, and every
    phone call of that time; D later or from memory. A device that dates its writing into the future, or before the
    fact, or whose clock was off as it sent, is not believed: then the moment of receipt counts.
    """
    if source == Source.FILE:
        return Grade.FILE
    late = now - happened_at
    if recalled or late > timedelta(days=7):
        return Grade.RECONSTRUCTED
    slack = timedelta(minutes=10)
    right = sent_at is None or abs(sent_at - now) <= slack
    believed = right and written_at is not None and happened_at - timedelta(hours=14) <= written_at <= now + slack
    wrote = written_at if written_at is not None and believed else now
    if source != Source.PHONE and wrote - happened_at <= timedelta(hours=24):
        return Grade.AT_ONCE
    return Grade.LATER


def need_reason(reason: str, what: str) -> str:
    reason = reason.strip()
    if not reason:
        raise Refusal.of("reason", f"Why? {what} needs a reason in a few words.")
    return reason
