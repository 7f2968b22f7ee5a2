"""Two entries were one flight: say which one counts. Nothing is deleted."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from breakin.models import Flight, MergeDecision
from breakin.reading.matching import settle_around
from breakin.services.common import audit, judge, live_builds, lock_aircraft, lock_engines
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
    if kept.root == dropped.root:
        raise Refusal.of("dropped", "These are two versions of one entry. Choose another one.")
    if kept.aircraft_id != dropped.aircraft_id:
        raise Refusal.of("dropped", "These flights are of two aircraft. They can't be one flight.")
    lock_aircraft(kept.aircraft)
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
