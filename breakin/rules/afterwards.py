"""N-rules of a build that is not in break-in: an engine in storage, and the follow-ups after close-out."""

from __future__ import annotations

from datetime import UTC, datetime, time

from breakin.picture.picture import Picture
from breakin.rules.base import Answer, Asked, rule
from breakin.rules.confirming import confirming
from breakin.rules.reminders import DAY, LADDER, answered, forecast_ends, forecast_on, step_by_time

PRESERVATION_CHASE_DAYS, PRESERVATION_MANAGER_DAYS = 14, 14
FOLLOW_UP_NUDGE, FOLLOW_UP_CALL, FOLLOW_UP_MANAGER = 0.8, 1.2, 1.5


@rule(
    "N5",
    version=1,
    severity="none",
    title="Preservation",
    text="An engine in storage is preserved until a day: chased 14 days before, a call on the day, the manager 14 days "
    "after. Fresh bores rust first.",
    judges_log_only=True,
)
def preservation(picture: Picture) -> Answer:
    held = next((one for one in reversed(picture.record.preservations) if one.ended_on is None), None)
    if held is None or picture.record.installed_now:
        return Answer("not applicable", "The engine is not in storage.")
    ends = datetime.combine(held.expires_on, time(), UTC)
    steps = [
        (ends - PRESERVATION_CHASE_DAYS * DAY, 2),
        (ends + DAY, 3),
        (ends + PRESERVATION_MANAGER_DAYS * DAY, 4),
    ]
    reached, moments = step_by_time(picture.now, steps)
    item = Asked(
        occurrence=f"{held.preserved_on.isoformat()} to {held.expires_on.isoformat()}",
        kind="preservation",
        title="Preservation ends",
        text=f"Preserved until {held.expires_on.isoformat()}. Preserve again, or install: fresh bores rust first.",
        state="late" if reached >= 3 else "due_soon" if reached else "waiting",
        opened_at=datetime.combine(held.preserved_on, time(), UTC),
        escalation=LADDER[reached],
        due_at=ends,
        changes_at=moments,
    )
    return answered([item], f"Preserved until {held.expires_on.isoformat()}.")


def closed_at_h(picture: Picture) -> tuple[datetime, float] | None:
    """When the build was last closed out, and at how many break-in hours."""
    event = next((one for one in reversed(picture.record.events) if one.kind == "closed_out"), None)
    if event is None:
        return None
    return event.at, event.hours if event.hours is not None else picture.clock.hours_at(event.at)


@rule(
    "N7",
    version=1,
    needs=("plan",),
    severity="none",
    title="Follow-up",
    text="After close-out the loss is looked at again at the plan's hours: nudge at four fifths, chase when due, a "
    "call a fifth later, the manager at half as much again.",
    judges_log_only=True,
)
def follow_up(picture: Picture) -> Answer:
    closed, plan = closed_at_h(picture), picture.record.plan
    if closed is None or plan is None or picture.record.state not in ("closed", "open"):
        return Answer("not applicable", "The build has not been closed out.")
    at, base = closed
    checks = [one for one in picture.record.inspections if one.kind == "oil_check" and one.at > at]
    asked = []
    for ahead in plan.follow_up_h:
        done = next((one for one in checks if picture.clock.hours_at(one.at) >= base + 0.8 * ahead - 1e-9), None)
        ran = picture.clock.hours - base
        lines = ((FOLLOW_UP_NUDGE, 1), (1.0, 2), (FOLLOW_UP_CALL, 3), (FOLLOW_UP_MANAGER, 4))
        reached = 0 if done else max((level for share, level in lines if ran >= share * ahead - 1e-9), default=0)
        # A build that was opened again is watched as a break-in; its follow-ups wait until it is closed once more.
        state = "done" if done else ("waiting", "due_soon", "due", "late", "late")[reached]
        if picture.record.state == "open" and not done:
            continue
        due_h = base + ahead
        asked.append(
            Asked(
                occurrence=f"{at.date().isoformat()} +{ahead:g} h",
                kind="follow_up",
                title=f"Follow-up at +{ahead:g} h",
                text=f"Follow-up at {due_h:.1f} h, {ahead:g} h after close-out: oil rate, filter, compression."
                f"{_confirmed(picture) if ahead == min(plan.follow_up_h) else ''}",
                state=state,
                opened_at=at,
                escalation="" if done else LADDER[reached],
                from_h=base + FOLLOW_UP_NUDGE * ahead,
                due_h=due_h,
                late_h=base + FOLLOW_UP_CALL * ahead,
                forecast_on=None if done else forecast_on(picture, due_h),
                closed_at=done.at if done else None,
                closed_by_kind="inspection" if done else "",
                closed_by_root=done.root if done else None,
                changes_at=forecast_ends(picture, None if done else due_h),
            )
        )
    return answered(asked, "No follow-up is due.")


def _confirmed(picture: Picture) -> str:
    """The verdict of the confirming window, which the first follow-up brings."""
    if picture.record.sealed is None:
        return ""
    verdict = confirming(picture)
    return f" Confirming window: {verdict.word}. {verdict.text}"
