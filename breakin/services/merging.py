"""Two entries were one flight: say which one counts. Nothing is deleted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from breakin.judgement import judge as judged
from breakin.load import load
from breakin.models import Flight, MergeDecision
from breakin.reading.matching import settle_around
from breakin.record import BuildRecord, RecordedRun
from breakin.services.common import audit, judge, live_builds, lock_aircraft, lock_engines
from breakin.what_if import WhatIf, compare
from engines.models import Build
from shop.errors import Refusal
from shop.models import Person


def merge_flights(*, by: Person, kept: Flight, dropped: Flight, reason: str, now: datetime) -> MergeDecision:
    """Let `kept` count instead of `dropped`. The same decision again is the same decision.

    Raises
    ------
    Refusal : two aircraft, twice the same flight, no flight in common, or `dropped` was merged into another one.
    """
    try:
        with transaction.atomic():
            return _merge(by, kept, dropped, reason, now)
    except IntegrityError:
        raise Refusal.of("dropped", "Somebody merged this flight at the same moment. Look again.", "conflict") from None


def _merge(by: Person, kept: Flight, dropped: Flight, reason: str, now: datetime) -> MergeDecision:
    if kept.aircraft_id == dropped.aircraft_id:
        lock_aircraft(kept.aircraft)
    before = _decided(kept, dropped)
    if before is not None:
        return before
    decision = MergeDecision.objects.create(
        kept_root=kept.root,
        dropped_root=dropped.root,
        aircraft_id=kept.aircraft_id,
        by=by,
        at=now,
        reason=reason.strip(),
    )
    engines = {run.engine_id for flight in (kept, dropped) for run in flight.engines.all()}
    lock_engines(engines)
    audit(by=by, act="merge_flights", subject=decision, now=now, detail={"kept": kept.pk, "dropped": dropped.pk})
    settle_around(kept.aircraft_id, [kept, dropped])
    judge(live_builds(engines), now)
    return decision


def _decided(kept: Flight, dropped: Flight) -> MergeDecision | None:
    """The same decision where it was made before; None where it may be made.

    Raises
    ------
    Refusal : see `merge_flights`.
    """
    if kept.root == dropped.root:
        raise Refusal.of("dropped", "These are two versions of one entry. Choose another one.")
    if kept.aircraft_id != dropped.aircraft_id:
        raise Refusal.of("dropped", "These flights are of two aircraft. They can't be one flight.")
    current = set(Flight.objects.current().filter(root__in=[kept.root, dropped.root]).values_list("root", flat=True))
    if len(current) < 2:
        raise Refusal.of("dropped", "One of them was withdrawn. Load the page again.", "conflict")
    before = MergeDecision.objects.filter(dropped_root=dropped.root).first()
    if before is not None:
        if before.kept_root == kept.root:
            return before
        raise Refusal.of("dropped", "This flight was merged into another one already.", "conflict")
    if MergeDecision.objects.filter(dropped_root=kept.root).exists():
        raise Refusal.of("kept", "The flight to keep was merged into another one. Choose that one.", "conflict")
    return None


def what_would_change(kept: Flight, dropped: Flight, now: datetime) -> list[tuple[Build, WhatIf]]:
    """The judgement of each build that either flight belongs to, now and after the merge. Nothing is kept.

    Raises
    ------
    Refusal : see `merge_flights`.
    """
    _decided(kept, dropped)
    engines = {run.engine_id for flight in (kept, dropped) for run in flight.engines.all()}
    rows = Build.objects.filter(engine__in=engines, assessment__live=True)
    builds = list(rows.select_related("engine__engine_type").order_by("pk"))
    ids = [build.pk for build in builds]
    before, after = load(ids, now), load(ids, now, merged={dropped.root: kept.root})
    recorded = {run.root: run.recorded for record in before.values() for run in record.runs if run.recorded}
    found = []
    for build in builds:
        record = _with_recording(after[build.pk], {kept.root: recorded.get(kept.root) or recorded.get(dropped.root)})
        found.append((build, compare(judged(before[build.pk], now), judged(record, now))))
    return found


def _with_recording(record: BuildRecord, recorded: Mapping[UUID, RecordedRun | None]) -> BuildRecord:
    """What an instrument recorded goes along with the flight that counts."""
    runs = tuple(replace(run, recorded=run.recorded or recorded.get(run.root)) for run in record.runs)
    return replace(record, runs=runs)
