"""Versions of a fact: how a newer one is made, whatever the fact is about."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, TypeVar, cast
from uuid import uuid5

from django.utils import timezone

from engines.models import Engine
from shop.errors import Refusal
from shop.facts import CorrectionReason, Fact, Grade
from shop.models import Person

_WORST_LAST = "ABCDX"

F = TypeVar("F", bound=Fact)


def lock_newest(fact: Fact) -> None:
    """Refuse where another version has taken this one's place, or the fact was withdrawn."""
    # Locked, so that of two people who correct at once the second sees the first one's version.
    model: Any = type(fact)
    locked = model.objects.select_for_update().get(pk=fact.pk)
    if model.objects.filter(corrects_id=locked.pk).exists():
        raise forked(fact)
    if locked.withdrawn:
        raise Refusal.of("", "This entry was withdrawn: it says that this never happened. Log it anew.", "conflict")


def forked(fact: Fact) -> Refusal:
    """What the second of two people is told who correct the same version."""
    model: Any = type(fact)
    newer = model.objects.filter(corrects_id=fact.pk).first()
    when = ""
    if newer is not None:
        local = timezone.localtime(newer.received_at)
        when = f" at {local:%H:%M} ({local:%Y-%m-%d}, {local.tzname()})"
    return Refusal.of("", f"Somebody corrected this entry{when} while you had it open; look at it first.", "conflict")


def known_reason(reason: str) -> None:
    """Refuse a correction without one of the reasons."""
    if reason not in CorrectionReason.values:
        raise Refusal.of("reason", f"Why is it corrected? Choose one of {', '.join(CorrectionReason.values)}.")


def grade_after(old: str, reason: str, happened_at: datetime, now: datetime) -> str:
    """A typed grade never rises, and falls when the correction comes late."""
    if reason == CorrectionReason.DISPUTED:
        return Grade.DISPUTED
    late = now - happened_at
    by_time = (
        Grade.RECONSTRUCTED if late > timedelta(days=7) else Grade.LATER if late > timedelta(days=1) else Grade.AT_ONCE
    )
    return max(old, by_time.value, key=_WORST_LAST.index)


def new_version(
    fact: F, *, by: Person, reason: str, now: datetime, withdrawn: bool = False, engine: Engine | None = None
) -> F:
    """A copy of the row that corrects it."""
    values = {
        field.attname: getattr(fact, field.attname)
        for field in type(fact)._meta.concrete_fields
        if not field.primary_key
    }
    if engine is not None:
        values["engine_id"] = engine.pk
    values |= {
        "client_id": uuid5(fact.client_id, "withdrawn" if withdrawn else "moved"),
        "corrects_id": fact.pk,
        "correction_reason": reason,
        "withdrawn": withdrawn,
        "entered_by_id": by.pk,
        "received_at": now,
        "written_at": None,
        "grade": grade_after(fact.grade, reason, fact.happened_at, now),
    }
    model: type[F] = type(fact)
    made: Any = model._default_manager.create(**values)
    return cast("F", made)
