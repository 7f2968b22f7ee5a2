"""How a build turns from open to ended and back: its state, the event, and what follows."""

from __future__ import annotations

from datetime import datetime

from breakin.models import Assessment
from breakin.services.common import audit, judge
from engines.models import Build, BuildEvent, BuildState
from shop.errors import Refusal
from shop.models import Person


def need_open(build: Build) -> None:
    """Raises Refusal ("conflict") unless the build is open."""
    if build.state != BuildState.OPEN:
        raise Refusal.of("build", f"Build {build.number} is {build.get_state_display()} already.", "conflict")


def end(
    build: Build,
    state: str,
    kind: str,
    *,
    by: Person,
    reason: str,
    at: datetime,
    now: datetime,
    hours: float | None = None,
) -> BuildEvent:
    """End a locked build at a moment; `hours` are its break-in hours then, else those of its last judgement.

    Raises
    ------
    Refusal : the moment lies before the build was opened, or in the future.
    """
    if at > now or at < build.opened_at:
        raise Refusal.of(
            "at", f"{at:%Y-%m-%d %H:%M} UTC is before the build was opened or in the future. Check the date."
        )
    return turn(build, state, kind, by=by, reason=reason, at=at, now=now, closed_at=at, hours=hours)


def turn(
    build: Build,
    state: str,
    kind: str,
    *,
    by: Person,
    reason: str,
    at: datetime,
    now: datetime,
    closed_at: datetime | None,
    hours: float | None = None,
) -> BuildEvent:
    """The new state of a locked build, with its event, and the judgement that follows."""
    build.state, build.closed_at = state, closed_at
    build.save(update_fields=["state", "closed_at"])
    if hours is None:
        hours = Assessment.objects.filter(build=build).values_list("hours", flat=True).first()
    event = BuildEvent.objects.create(build=build, kind=kind, at=at, by=by, reason=reason, hours=hours, recorded_at=now)
    audit(by=by, act=kind, subject=build, now=now, detail={"reason": reason})
    judge([build], now)
    return event
