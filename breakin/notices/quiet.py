"""The quiet hours of a person, in his own zone."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shop.models import Person


def _as_time(value: time | str) -> time:
    # A row that was just made still holds the text of its default.
    return value if isinstance(value, time) else time.fromisoformat(value)


def _instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The last instant at which the wall clock shows this time on this day.

    In the hour that a clock change repeats that is its second passing; in the hour it leaves out, the moment after.
    """
    return max(datetime.combine(day, at.replace(fold=fold), zone).astimezone(UTC) for fold in (0, 1))


def is_quiet(person: Person, now: datetime) -> bool:
    """Does the person's clock stand between the start and the end of his quiet hours?"""
    start, end = _as_time(person.quiet_from), _as_time(person.quiet_until)
    clock = now.astimezone(ZoneInfo(person.zone)).time()
    if start == end:
        return False
    return start <= clock < end if start < end else clock >= start or clock < end


def first_moment(person: Person, now: datetime) -> datetime:
    """`now`, or the end of the quiet hours in which `now` falls (aware, UTC)."""
    if not is_quiet(person, now):
        return now
    zone = ZoneInfo(person.zone)
    local, end = now.astimezone(zone), _as_time(person.quiet_until)
    day = local.date() if local.time() < end else local.date() + timedelta(days=1)
    return max(_instant(day, end, zone), now)


def local_day(person: Person, now: datetime) -> date:
    return now.astimezone(ZoneInfo(person.zone)).date()


def next_day(person: Person, now: datetime) -> datetime:
    """The first moment of the person's next day outside his quiet hours (aware, UTC)."""
    midnight = _instant(local_day(person, now) + timedelta(days=1), time(0), ZoneInfo(person.zone))
    return first_moment(person, midnight)


def day_start(person: Person, now: datetime) -> datetime:
    """The first moment of the person's day (aware, UTC)."""
    return datetime.combine(local_day(person, now), time(0), ZoneInfo(person.zone)).astimezone(UTC)
