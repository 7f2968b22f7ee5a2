"""N9: accessories with clocks of their own, asked for by their intervals and reset by work on themselves alone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

from breakin.calc.said import Day, Said, fixed, said, sentences
from breakin.picture.accessories import AccessoryClock, clocks_of, is_watched, resets, total_time
from breakin.picture.picture import Picture
from breakin.record import AccessoryEventFacts, AccessoryFacts
from breakin.rules.base import Answer, Asked, rule
from breakin.rules.reminders import DAY, LADDER, answered, forecast_ends, forecast_on, step_by_time

# How long before the end of an interval it is asked for: a tenth of it, and never more than this. Common practice, no
# source; the interval itself is what the shop typed from the maker's document.
AHEAD_SHARE, AHEAD_H, AHEAD_DAYS = 0.1, 25.0, 30
LATE_SHARE = 0.2  # of the time ahead: so far over the end somebody phones, all of it over the manager hears of it

TITLES = {
    "magneto": said("Magneto"),
    "propeller": said("Propeller"),
    "governor": said("Propeller governor"),
    "hoses": said("Hoses"),
    "fuel_pump": said("Fuel pump"),
    "alternator": said("Alternator"),
    "turbocharger": said("Turbocharger"),
}
OWN_CLOCK = said("Its own clock: work on the engine does not reset it.")


@rule(
    "N9",
    version=1,
    needs=("accessory",),
    severity="none",
    title=said("Accessory with a clock of its own"),
    text="An accessory is due by the interval that the shop typed with its source, in hours on the engine's total time "
    "or by date, whichever comes first: nudge in the last tenth (25 h or 30 days at most), chase at its end, a call "
    "soon after, then the manager. Only work on that accessory closes it; an overhaul of the engine does not.",
    judges_log_only=True,
)
def accessories_due(picture: Picture) -> Answer:
    record = picture.record
    if record.state not in ("open", "closed"):
        return Answer("not applicable", "The build has ended.")
    asked = [item for each in record.accessories for item in _done(picture, each)]
    clocks = clocks_of(record, picture.clock)
    asked += [_open(picture, each) for each in clocks]
    told = answered(asked, "No accessory is due.")
    if told.word == "met" and any(each.uncounted for each in clocks):
        return Answer("not known", UNCOUNTED, (), told.asked)
    return told


UNCOUNTED = said("By hours: not counted, since the total time of the engine is not in the book.")


def accessory_title(kind: str, name: str) -> str:
    """ "Magneto, left"; of another kind its name alone."""
    known = TITLES.get(kind)
    if known is None:
        return name
    return said("{accessory}, {name}", accessory=known, name=name) if name else known


def _key(accessory: AccessoryFacts, event: AccessoryEventFacts) -> str:
    return f"{accessory.id}:{event.root}"


def _done(picture: Picture, accessory: AccessoryFacts) -> Iterator[Asked]:
    """What was asked of it within this build, closed by the next event on it."""
    opened = picture.record.opened_at
    for before, after in pairwise(resets(accessory)):
        closed = _start_of(after.done_on)
        if after.done_on >= opened.date():
            yield Asked(
                occurrence=_key(accessory, before),
                kind="accessory",
                title=accessory_title(accessory.kind, accessory.name),
                text=said("Done on {day}. Its clock began anew.", day=Day(after.done_on)),
                state="done",
                opened_at=max(opened, _start_of(before.done_on)),
                closed_at=max(opened, closed),
                closed_by_kind="accessory",
                closed_by_root=after.root,
            )
    last = resets(accessory)
    if last and not is_watched(accessory):
        removed = max(accessory.events, key=lambda event: (event.recorded_at, event.done_on))
        if removed.done_on >= opened.date():
            yield Asked(
                occurrence=_key(accessory, last[-1]),
                kind="accessory",
                title=accessory_title(accessory.kind, accessory.name),
                text=said("No longer watched here since {day}.", day=Day(removed.done_on)),
                state="done",
                opened_at=max(opened, _start_of(last[-1].done_on)),
                closed_at=max(opened, _start_of(removed.done_on)),
                closed_by_kind="accessory",
                closed_by_root=removed.root,
            )


def _open(picture: Picture, clock: AccessoryClock) -> Asked:
    by_hours, ahead_h = _by_hours(picture, clock)
    steps = _by_date(picture, clock)
    by_date, moments = step_by_time(picture.now, steps)
    reached = max(by_hours, by_date)
    # Hours from before the build are no place on its clock.
    due_h = clock.due_h if clock.due_h is not None and clock.due_h >= 0 else None
    due_at = _ends(picture, clock.due_on) if clock.due_on else None
    foretold = forecast_on(picture, due_h) if due_h is not None else None
    return Asked(
        occurrence=_key(clock.accessory, clock.last),
        kind="accessory",
        title=accessory_title(clock.accessory.kind, clock.accessory.name),
        text=_text(picture, clock),
        state=("waiting", "due_soon", "due", "late", "late")[reached],
        opened_at=max(picture.record.opened_at, _start_of(clock.last.done_on)),
        escalation=LADDER[reached],
        from_h=None if due_h is None else due_h - ahead_h,
        due_h=due_h,
        late_h=None if due_h is None else due_h + LATE_SHARE * ahead_h,
        due_at=due_at,
        forecast_on=foretold if foretold and (due_at is None or foretold <= due_at.date()) else None,
        changes_at=(*moments, *forecast_ends(picture, due_h)),
    )


def _by_hours(picture: Picture, clock: AccessoryClock) -> tuple[int, float]:
    """The step of the ladder by hours, and how many hours before the end the asking begins."""
    if clock.interval_h is None:
        return 0, 0.0
    ahead = min(AHEAD_SHARE * clock.interval_h, AHEAD_H)
    if clock.left_h is None:
        return 0, ahead
    lines = ((ahead, 1), (0.0, 2), (-LATE_SHARE * ahead, 3), (-ahead, 4))
    return max((level for left, level in lines if clock.left_h <= left + 1e-9), default=0), ahead


def _by_date(picture: Picture, clock: AccessoryClock) -> list[tuple[datetime, int]]:
    if clock.due_on is None:
        return []
    ahead = min(AHEAD_SHARE * (clock.due_on - clock.last.done_on).days, AHEAD_DAYS) * DAY
    # It holds through its last day.
    end = _ends(picture, clock.due_on) + DAY
    return [(end - ahead, 1), (end, 2), (end + LATE_SHARE * ahead, 3), (end + ahead, 4)]


def _text(picture: Picture, clock: AccessoryClock) -> Said:
    parts: list[str] = []
    now = total_time(picture.record, picture.clock)
    if clock.due_total_h is not None and now is not None:
        parts.append(
            said(
                "By hours: due at {due} h total time of the engine, which is at {now} h.",
                due=fixed(clock.due_total_h),
                now=fixed(now),
            )
        )
    elif clock.due_h is not None:
        parts.append(
            said(
                "By hours: due at {due} h since the build, of which {now} h are run.",
                due=fixed(clock.due_h),
                now=fixed(picture.hours),
            )
        )
    elif clock.uncounted:
        parts.append(UNCOUNTED)
    if clock.due_on is not None:
        parts.append(said("By date: due on {day}.", day=Day(clock.due_on)))
    if len(parts) > 1:
        parts.append(said("Whichever comes first."))
    return sentences(*parts, OWN_CLOCK)


def _start_of(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


def _ends(picture: Picture, day: date) -> datetime:
    """The beginning of its last day where the aircraft is at home, so that no reader there sees the day before."""
    seat = picture.record.installation
    return datetime.combine(day, time(), ZoneInfo(seat.zone) if seat else UTC)
