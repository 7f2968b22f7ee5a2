"""Moments as people type them: a time at the place where it happened."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from breakin.calc.said import fixed, said, sentences
from breakin.entries.sheet import Sheet, about
from shop.models import ZONES

AHEAD = timedelta(minutes=10)
EARLIEST = datetime(1950, 1, 1, tzinfo=UTC)
LONG_AGO = timedelta(days=60)
_MEND = said("Write it like 2026-11-24 14:05.")
# Which of two equal times is meant on the night when the clock goes back.
CLOCK_CHANGE = ("before", "after")


def zone_of(sheet: Sheet, default: str) -> str:
    """The zone of the entry, or the default."""
    name = sheet.text("zone", said("Time zone"), 64)
    if name and name not in ZONES:
        what = said("“{name}” is not a time zone name. Write it like Etc/GMT+6 or Europe/Zurich.", name=name)
        sheet.problem("zone", what)
        return default
    return name or default


def moment(sheet: Sheet, name: str, label: str, zone: str, *, on: date | None = None) -> datetime | None:
    """A moment with its date, or (`on` given) a time of that day. Without an offset it is local time of the zone."""
    value = sheet.get(name)
    if value is None:
        return None
    text = value.isoformat() if isinstance(value, datetime) else str(value).strip()
    sheet.keep(name, text[:40], zone)
    try:
        if on is not None and len(text) <= 8:
            read = datetime.combine(on, time.fromisoformat(text.zfill(5)))
        else:
            read = datetime.fromisoformat(text)
    except ValueError:
        what = said("“{text}” is not a date and time.", text=text[:40])
        sheet.problem(name, about(label, sentences(what, _MEND)))
        return None
    return _in_utc(sheet, name, label, read, zone)


def local(sheet: Sheet, date_name: str, time_name: str, label: str, zone: str) -> datetime | None:
    """A moment given as a local date and a local time.

    Where that time came twice, `clock_change` says which is meant; an offset behind the time says it too.
    """
    which = sheet.choice("clock_change", said("Before or after the clock went back"), CLOCK_CHANGE)
    day_text, time_text = sheet.get(date_name), sheet.get(time_name)
    if day_text is None and time_text is None:
        return None
    sheet.keep(date_name, str(day_text)[:40], zone)
    sheet.keep(time_name, str(time_text)[:40], zone)
    day = clock = None
    try:
        day = date.fromisoformat(str(day_text))
    except ValueError:
        what = said("“{text}” is not a date. Write it like 2026-11-24.", text=str(day_text or "")[:40])
        sheet.problem(date_name, about(label, what))
    try:
        clock = time.fromisoformat(str(time_text).zfill(5))
    except ValueError:
        what = said("“{text}” is not a time. Write it like 14:05.", text=str(time_text or "")[:40])
        sheet.problem(time_name, about(label, what))
    if day is None or clock is None:
        return None
    read = datetime.combine(day, clock)
    found = _moments(sheet, time_name, label, read, zone)
    if len(found) == 2 and not which:
        what = said(
            "{time} came twice that night in {zone}: before or after the clock went back?",
            time=f"{read:%H:%M}",
            zone=zone,
        )
        sheet.problem("clock_change", about(label, what))
        return None
    if len(found) == 2:
        sheet.keep("clock_change", which, zone)
    return found[-1 if which == "after" else 0] if found else None


def moments_of(day: str, clock: str, zone: str) -> tuple[datetime, ...]:
    """The moments [UTC] that a local date and time can mean: none, one, or two where the clock went back.

    None too for what cannot be read.
    """
    try:
        read = datetime.combine(date.fromisoformat(day), time.fromisoformat(clock.zfill(5)))
        return _candidates(read, zone)
    except (OverflowError, ValueError):
        return ()


def clock_change_of(at: datetime, zone: str) -> str:
    """Was this moment before or after the clock went back? Says something only of a local time that came twice."""
    return CLOCK_CHANGE[at.astimezone(ZoneInfo(zone)).fold]


def check_past(sheet: Sheet, name: str, label: str, at: datetime, zone: str, now: datetime) -> None:
    """Refuse what lies in the future or before there were records; ask about what is long ago."""
    there = ZoneInfo(zone)
    shown = f"{at.astimezone(there):%Y-%m-%d %H:%M}"
    if at > now + AHEAD:
        what = said(
            "{when} lies in the future (it is {now} in {zone}). Check date, time and time zone.",
            when=shown,
            now=f"{now.astimezone(there):%Y-%m-%d %H:%M}",
            zone=zone,
        )
        sheet.problem(name, about(label, what))
    elif at < EARLIEST:
        sheet.problem(name, about(label, said("{when} is too long ago. Check the year.", when=shown)))
    elif now - at > LONG_AGO:
        what = said("{when} is {days} days ago. Is the date right?", when=shown, days=fixed((now - at).days, 0))
        sheet.ask(name, about(label, what))


def _in_utc(sheet: Sheet, name: str, label: str, read: datetime, zone: str) -> datetime | None:
    found = _moments(sheet, name, label, read, zone)
    if len(found) == 2:
        there = ZoneInfo(zone)
        first, second = (at.astimezone(there).isoformat("T", "minutes") for at in found)
        what = said(
            "{time} came twice that night in {zone}. Write it with the offset that held then: {first} before the clock "
            "went back, {second} after.",
            time=f"{read:%H:%M}",
            zone=zone,
            first=first,
            second=second,
        )
        sheet.problem(name, about(label, what))
        return None
    return found[0] if found else None


def _moments(sheet: Sheet, name: str, label: str, read: datetime, zone: str) -> tuple[datetime, ...]:
    """What a time can mean; none is a problem, which the sheet then holds."""
    try:
        found = _candidates(read, zone)
    except (OverflowError, ValueError):
        sheet.problem(name, about(label, sentences(said("that date cannot be."), _MEND)))
        return ()
    if not found:
        what = said(
            "{when} did not exist in {zone}: the clocks went forward. Type what the clock showed then.",
            when=f"{read:%Y-%m-%d %H:%M}",
            zone=zone,
        )
        sheet.problem(name, about(label, what))
    return found


def _candidates(read: datetime, zone: str) -> tuple[datetime, ...]:
    if read.tzinfo is not None:
        return (read.astimezone(UTC),)
    there = ZoneInfo(zone)
    first = read.replace(tzinfo=there, fold=0).astimezone(UTC)
    second = read.replace(tzinfo=there, fold=1).astimezone(UTC)
    if first.astimezone(there).replace(tzinfo=None) != read.replace(fold=0):
        return ()
    return (first,) if first == second else (first, second)
