"""Versions of a fact: how a newer one is made, whatever the fact is about."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, TypeVar, cast
from uuid import uuid5

from django.utils import timezone

from breakin.calc.said import Day, said
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
        gone = said("This entry was withdrawn: it says that this never happened. Log it anew.")
        raise Refusal.of("", gone, "conflict")


def forked(fact: Fact) -> Refusal:
    """What the second of two people is told who correct the same version."""
    model: Any = type(fact)
    newer = model.objects.filter(corrects_id=fact.pk).first()
    what = said("Somebody corrected this entry while you had it open; look at it first.")
    if newer is not None:
        local = timezone.localtime(newer.received_at)
        what = said(
            "Somebody corrected this entry at {time} ({day}, {zone}) while you had it open; look at it first.",
            time=f"{local:%H:%M}",
            day=Day(local.date()),
            zone=local.tzname() or "",
        )
    return Refusal.of("", what, "conflict")


def known_reason(reason: str) -> None:
    """Refuse a correction without one of the reasons."""
    if reason not in CorrectionReason.values:
        choices = ", ".join(CorrectionReason.values)
        raise Refusal.of("reason", said("Why is it corrected? Choose one of {choices}.", choices=choices))


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
