"""N-rules of a build that is not in break-in: an engine in storage, and the follow-ups after close-out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time
from itertools import zip_longest

from breakin.calc.said import Day, Said, Values, fixed, number, said, sentences
from breakin.picture.picture import Picture
from breakin.record import InspectionFacts, PlanFacts
from breakin.rules.base import Answer, Asked, rule
from breakin.rules.confirming import confirming
from breakin.rules.reminders import DAY, LADDER, answered, forecast_ends, forecast_on, step_by_time

PRESERVATION_CHASE_DAYS, PRESERVATION_MANAGER_DAYS = 14, 14
FOLLOW_UP_NUDGE, FOLLOW_UP_CALL = 0.8, 1.2
FOLLOW_UP_STEPS = ((FOLLOW_UP_NUDGE, 1), (1.0, 2), (FOLLOW_UP_CALL, 3), (1.5, 4))  # shares of its hours or its days


@rule(
    "N5",
    version=1,
    severity="none",
    title=said("Preservation"),
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
        title=said("Preservation ends"),
        text=said(
            "Preserved until {day}. Preserve again, or install: fresh bores rust first.", day=Day(held.expires_on)
        ),
        state="late" if reached >= 3 else "due_soon" if reached else "waiting",
        opened_at=datetime.combine(held.preserved_on, time(), UTC),
        escalation=LADDER[reached],
        due_at=ends,
        changes_at=moments,
    )
    return answered([item], f"Preserved until {Day(held.expires_on)}.")


def closed_at_h(picture: Picture) -> tuple[datetime, float] | None:
    """When the build was last closed out, and at how many break-in hours."""
    event = next((one for one in reversed(picture.record.events) if one.kind == "closed_out"), None)
    if event is None:
        return None
    return event.at, event.hours if event.hours is not None else picture.clock.hours_at(event.at)


@rule(
    "N7",
    version=2,
    needs=("plan",),
    severity="none",
    title=said("Follow-up"),
    text="After close-out the loss is looked at again at the plan's hours or days, whichever come first: nudge at four "
    "fifths, chase when due, a call a fifth later, the manager at half as much again.",
    judges_log_only=True,
)
def follow_up(picture: Picture) -> Answer:
    closed, plan = closed_at_h(picture), picture.record.plan
    if closed is None or plan is None or picture.record.state not in ("closed", "open"):
        return Answer("not applicable", "The build has not been closed out.")
    at, base = closed
    checks = [one for one in picture.record.inspections if one.kind == "oil_check" and one.at > at]
    asked = [_one(picture, at, base, ahead, days, checks) for ahead, days in follow_ups(plan)]
    # A build that was opened again is watched as a break-in; its follow-ups wait until it is closed once more.
    if picture.record.state == "open":
        asked = [item for item in asked if item.state == "done"]
    ends = () if not plan.follow_up_days else (at + max(plan.follow_up_days) * DAY,)
    return replace(answered(asked, "No follow-up is due."), changes_at=ends)


def follow_ups(plan: PlanFacts) -> tuple[tuple[float, float | None], ...]:
    """Each follow-up of a plan: hours and days after close-out, in order. A plan without days asks by hours alone."""
    days = sorted(plan.follow_up_days)[: len(plan.follow_up_h)]
    return tuple(zip_longest(sorted(plan.follow_up_h), days))


def follow_ups_ahead(picture: Picture) -> bool:
    """Is the last follow-up still to come, by its hours and by its days?"""
    closed, plan = closed_at_h(picture), picture.record.plan
    if closed is None or plan is None or not plan.follow_up_h:
        return False
    at, base = closed
    hours, days = follow_ups(plan)[-1]
    return picture.hours < base + hours and (days is None or picture.now < at + days * DAY)


def _one(
    picture: Picture, at: datetime, base: float, ahead: float, days: float | None, checks: Sequence[InspectionFacts]
) -> Asked:
    """One follow-up: so many hours after the close-out at `base`, or so many days after its moment."""
    plan, ran = picture.record.plan, picture.clock.hours - base
    wait = None if days is None else days * DAY
    done = next(
        (
            one
            for one in checks
            if picture.clock.hours_at(one.at) >= base + FOLLOW_UP_NUDGE * ahead - 1e-9
            or (wait is not None and one.at >= at + FOLLOW_UP_NUDGE * wait)
        ),
        None,
    )
    by_hours = max((level for share, level in FOLLOW_UP_STEPS if ran >= share * ahead - 1e-9), default=0)
    steps = [] if wait is None else [(at + share * wait, level) for share, level in FOLLOW_UP_STEPS]
    by_days, moments = step_by_time(picture.now, steps)
    reached = 0 if done else max(by_hours, by_days)
    due_h = base + ahead
    due_at = None if wait is None else at + wait
    foretold = None if done else forecast_on(picture, due_h)
    first = plan is not None and ahead == min(plan.follow_up_h)
    return Asked(
        occurrence=f"{at.date().isoformat()} +{ahead:g} h",
        kind="follow_up",
        title=_follow_up_title(ahead, days),
        text=sentences(_follow_up_text(due_h, ahead, days), *(_confirmed(picture) if first else ())),
        state="done" if done else ("waiting", "due_soon", "due", "late", "late")[reached],
        opened_at=at,
        escalation="" if done else LADDER[reached],
        from_h=base + FOLLOW_UP_NUDGE * ahead,
        due_h=due_h,
        late_h=base + FOLLOW_UP_CALL * ahead,
        due_at=due_at,
        forecast_on=foretold if foretold and (due_at is None or foretold <= due_at.date()) else None,
        closed_at=done.at if done else None,
        closed_by_kind="inspection" if done else "",
        closed_by_root=done.root if done else None,
        changes_at=() if done else (*moments, *forecast_ends(picture, due_h)),
    )


def _follow_up_title(ahead: float, days: float | None) -> Said:
    if days is None:
        return said("Follow-up at +{ahead} h", ahead=number(ahead))
    return said("Follow-up at +{ahead} h or {days} days", ahead=number(ahead), days=number(days))


def _follow_up_text(due_h: float, ahead: float, days: float | None) -> Said:
    at: Values = {"due": fixed(due_h), "ahead": number(ahead)}
    if days is None:
        return said("Follow-up at {due} h, {ahead} h after close-out: oil rate, filter, compression.", **at)
    return said(
        "Follow-up at {due} h, {ahead} h or {days} days after close-out, whichever comes first: oil rate, filter, "
        "compression.",
        days=number(days),
        **at,
    )


CONFIRMING_WORDS = {
    "confirmed": said("Confirming window: confirmed."),
    "failed": said("Confirming window: failed."),
    "not known": said("Confirming window: not known."),
}


def _confirmed(picture: Picture) -> tuple[str, ...]:
    """The verdict of the confirming window, which the first follow-up brings."""
    if picture.record.sealed is None:
        return ()
    verdict = confirming(picture)
    return CONFIRMING_WORDS[verdict.word], verdict.text
