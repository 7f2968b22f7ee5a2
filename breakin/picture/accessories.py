"""The clocks of accessories: each counts from what was last done to it, never from the build of the engine.

Two clocks of the engine are told apart: its total time, which never falls, and the time since its overhaul, which the
build sets anew. Accessories count on the total time. Where that is not in the book they count on the break-in clock,
as far as what was last done to them lies within this build.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from breakin.picture.clock import Clock
from breakin.record import AccessoryEventFacts, AccessoryFacts, BuildRecord


@dataclass(frozen=True)
class AccessoryClock:
    """Where one accessory stands.

    last : the event that its clock counts from. interval_* : what holds now. due_h : on the break-in clock, before the
    build where it is negative. due_total_h : on the total time of the engine; None where that is not known.
    ran_h, left_h : of its interval, behind it and left, negative when over. None where it has no interval in hours or
    its hours can't be counted; the latter is `uncounted`.
    """

    accessory: AccessoryFacts
    last: AccessoryEventFacts
    interval_h: float | None
    interval_months: int | None
    due_h: float | None
    due_total_h: float | None
    ran_h: float | None
    left_h: float | None
    due_on: date | None

    @property
    def uncounted(self) -> bool:
        return self.interval_h is not None and self.due_h is None


def total_at_build(record: BuildRecord, clock: Clock) -> float | None:
    """Total time of the engine [h] where the break-in clock stood at 0; None where nobody told it.

    It was typed when the build was opened, or it follows from what was typed with an accessory since.
    """
    if record.total_time_h is not None:
        return record.total_time_h
    opened = record.opened_at.date()
    told = [
        (event.done_on, event.recorded_at, event.total_time_h - clock.hours_at(_start_of(event.done_on)))
        for each in record.accessories
        for event in each.events
        if event.total_time_h is not None and event.done_on >= opened
    ]
    return max(told)[2] if told else None


def total_time(record: BuildRecord, clock: Clock) -> float | None:
    """Total time of the engine now [h]; None where it is not known."""
    at_build = total_at_build(record, clock)
    return None if at_build is None else at_build + clock.hours


def months_after(day: date, months: int) -> date:
    """The same day of a later month, or the last one of a month that is too short for it."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def resets(accessory: AccessoryFacts) -> tuple[AccessoryEventFacts, ...]:
    """What set its clock anew, in order of happening."""
    return tuple(event for event in accessory.events if event.resets)


def is_watched(accessory: AccessoryFacts) -> bool:
    """Was something done to it that its clock counts from, and is it still asked for?"""
    newest = max(accessory.events, key=lambda event: (event.recorded_at, event.done_on))
    return newest.act != "removed" and bool(resets(accessory))


def clocks_of(record: BuildRecord, clock: Clock) -> tuple[AccessoryClock, ...]:
    """The clock of every accessory that is watched."""
    return tuple(clock_of_one(record, clock, each) for each in record.accessories if is_watched(each))


def clock_of_one(record: BuildRecord, clock: Clock, accessory: AccessoryFacts) -> AccessoryClock:
    """The clock of one accessory, of which something is known that it counts from."""
    last = resets(accessory)[-1]
    terms = max(accessory.events, key=lambda event: (event.recorded_at, event.done_on))
    at_build = total_at_build(record, clock)
    base = _began_at(record, clock, last, at_build) if terms.interval_h is not None else None
    due_h = due_total = ran = left = None
    if base is not None and terms.interval_h is not None:
        due_h = round(base + terms.interval_h, 6)
        ran, left = round(clock.hours - base, 6), round(due_h - clock.hours, 6)
        due_total = None if at_build is None else round(at_build + due_h, 6)
    return AccessoryClock(
        accessory=accessory,
        last=last,
        interval_h=terms.interval_h,
        interval_months=terms.interval_months,
        due_h=due_h,
        due_total_h=due_total,
        ran_h=ran,
        left_h=left,
        due_on=None if terms.interval_months is None else months_after(last.done_on, terms.interval_months),
    )


def _began_at(record: BuildRecord, clock: Clock, last: AccessoryEventFacts, at_build: float | None) -> float | None:
    """Where on the break-in clock its interval began [h]: negative when that was before the build."""
    had = last.own_hours_h or 0.0
    if at_build is not None and last.total_time_h is not None:
        return last.total_time_h - at_build - had
    if last.done_on >= record.opened_at.date():
        return clock.hours_at(_start_of(last.done_on)) - had
    return None


def _start_of(day: date) -> datetime:
    """So that the flights of that day count, and nothing is due too late."""
    return datetime.combine(day, time(), UTC)
