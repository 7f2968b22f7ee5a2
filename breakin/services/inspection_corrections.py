"""Correct or withdraw an inspection, with what it told of the oil. Nothing is edited: a newer version is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction

from breakin.entries import InspectionEntry
from breakin.models import OilEvent, OilEventKind
from breakin.services.common import audit, is_technician, judge, live_builds, lock_engines
from breakin.services.inspections import check_people_and_oil, keep_inspection, placed_at, resent_inspection
from breakin.services.oil import keep_event
from breakin.services.versions import forked, grade_after, known_reason, lock_newest, new_version
from engines.models import Inspection, InspectionKind
from shop.errors import Refusal
from shop.facts import Source
from shop.models import Person

_PARTS = ("reading", "drain_fill")
_NOT_YOURS = "An inspection is corrected by a technician. Ask one of them."


def oil_of(inspection: Inspection) -> list[OilEvent]:
    """What this inspection told of the oil, as it stands now."""
    roots: list[UUID] = [uuid5(inspection.root, part) for part in _PARTS]
    return list(OilEvent.objects.current().filter(root__in=roots))


def correct_inspection(
    *, by: Person, inspection: Inspection, entry: InspectionEntry, reason: str, now: datetime, source: str = Source.SHOP
) -> Inspection:
    """A newer version of an inspection of the same kind and engine; its oil goes with it.

    Raises
    ------
    Refusal : "conflict" when somebody corrected it meanwhile or it was withdrawn, "forbidden" for anybody but a
        technician, else what is wrong with the entry.
    ConflictingResend : the client_id came before with other content.
    """
    known_reason(reason)
    if entry.kind != inspection.kind:
        raise Refusal.of("kind", "An inspection stays of its kind. Withdraw this one and enter the other.")
    try:
        with transaction.atomic():
            return _correct(by, inspection, entry, reason, now, source)
    except IntegrityError:
        raise forked(inspection) from None


def _correct(
    by: Person, inspection: Inspection, entry: InspectionEntry, reason: str, now: datetime, source: str
) -> Inspection:
    engine = lock_engines([inspection.engine_id])[0]
    kept = resent_inspection(engine, entry)
    if kept is not None:
        if kept.corrects_id != inspection.pk:
            raise Refusal.of("client_id", "This form was sent already. Open the entry anew to correct it.", "conflict")
        return kept
    builds = live_builds([engine.pk])
    _check_may(by, inspection, now)
    if entry.kind == InspectionKind.PRESERVATION and _until(entry) != inspection.results.get("expires_on"):
        raise Refusal.of("expires_on", "A preservation with another end is a new one: enter it anew.")
    check_people_and_oil(engine, entry, now)
    newer = keep_inspection(
        by=by,
        engine=engine,
        entry=entry,
        now=now,
        source=source,
        root=inspection.root,
        corrects=inspection,
        correction_reason=reason,
        grade=grade_after(inspection.grade, reason, inspection.happened_at, now),
    )
    _correct_oil(by, newer, entry, reason, now, source)
    audit(by=by, act="correct_inspection", subject=newer, now=now, detail={"corrects": inspection.pk, "reason": reason})
    judge(builds, now)
    return newer


def _correct_oil(
    by: Person, inspection: Inspection, entry: InspectionEntry, reason: str, now: datetime, source: str
) -> None:
    """The oil of the new entry takes the place of the old one; what it tells no longer is withdrawn."""
    left = oil_of(inspection)
    for event in entry.oil:
        root = uuid5(inspection.root, "reading" if event.kind == OilEventKind.READING else "drain_fill")
        before = OilEvent.objects.filter(root=root, corrected_by__isnull=True).first()  # withdrawn ones as well
        left = [each for each in left if each.root != root]
        version: dict[str, Any] = {}
        if before is None:
            event = replace(event, client_id=root)
        else:
            grade = grade_after(before.grade, reason, before.happened_at, now)
            version = {"root": root, "corrects": before, "correction_reason": reason, "grade": grade}
        placed = placed_at(entry, event)
        keep_event(by=by, engine=inspection.engine, entry=placed, sent=event, now=now, source=source, **version)
    for event_left in left:
        new_version(event_left, by=by, reason=reason, now=now, withdrawn=True)


def _until(entry: InspectionEntry) -> str:
    return str(entry.results.get("expires_on") or "")


def withdraw_inspection(*, by: Person, inspection: Inspection, reason: str, now: datetime) -> Inspection:
    """The inspection never happened: a last version says so. What it closed is due again.

    Raises
    ------
    Refusal : as for `correct_inspection`; and for a preservation, which is ended or renewed instead.
    """
    known_reason(reason)
    if inspection.kind == InspectionKind.PRESERVATION:
        raise Refusal.of("", "A preservation is not withdrawn: enter a new one, or install the engine.")
    try:
        with transaction.atomic():
            lock_engines([inspection.engine_id])
            builds = live_builds([inspection.engine_id])
            _check_may(by, inspection, now)
            for event in oil_of(inspection):
                new_version(event, by=by, reason=reason, now=now, withdrawn=True)
            newer = new_version(inspection, by=by, reason=reason, now=now, withdrawn=True)
            audit(
                by=by,
                act="withdraw_inspection",
                subject=newer,
                now=now,
                detail={"corrects": inspection.pk, "reason": reason},
            )
            judge(builds, now)
            return newer
    except IntegrityError:
        raise forked(inspection) from None


def _check_may(by: Person, inspection: Inspection, now: datetime) -> None:
    if not is_technician(by, now):
        raise Refusal.of("", _NOT_YOURS, "forbidden")
    lock_newest(inspection)
