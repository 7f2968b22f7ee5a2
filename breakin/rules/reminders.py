"""N-rules: what is asked of people, and how far the asking has come.

Each thing asked for is one due item with a ladder: nudge the pilot, chase by the technicians, call, manager. Only a
fitting event closes it. The steps are common practice without a published source; the hours of the first oil change and
the days of standing idle are the plan's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

from breakin.calc.said import Day, Said, Values, fixed, said, sentences
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.record import InspectionFacts, RunFacts
from breakin.rules.base import Answer, Asked, flight_evidence, rule

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LADDER = ("", "nudge", "chase", "call", "manager")
READING_NUDGE, READING_CHASE, READING_MANAGER = 18 * HOUR, 48 * HOUR, 10 * DAY
IDLE_DAYS = (10.0, 14.0, 21.0, 30.0)
RECENT = timedelta(days=30)


def in_break_in(picture: Picture) -> bool:
    """Is the build open, and the engine in an aircraft?"""
    return picture.record.state == "open" and picture.record.installed_now


def step_by_time(now: datetime, steps: Sequence[tuple[datetime, int]]) -> tuple[int, tuple[datetime, ...]]:
    """How far a ladder has come by now, and the moments at which it goes on."""
    reached = max((level for moment, level in steps if moment <= now), default=0)
    return reached, tuple(moment for moment, _ in steps)


def answered(asked: Sequence[Asked], nothing: str) -> Answer:
    open_now = [item for item in asked if item.state in ("due_soon", "due", "late")]
    if not open_now:
        return Answer("met", nothing, (), tuple(asked))
    return Answer("not met", open_now[-1].text, (), tuple(asked))


@rule(
    "N1",
    version=1,
    needs=("flight",),
    severity="none",
    title=said("Oil reading after a flight"),
    text="After each flight in break-in an oil level: asked for after 18 h, chased after 48 h or when the next flight "
    "is logged without one, a call at the third flight in a row, the manager at the fifth or after 10 days.",
    judges_log_only=True,
)
def oil_reading(picture: Picture) -> Answer:
    if not in_break_in(picture):
        return Answer("not applicable", "The build is not in break-in.")
    read = {seat for row in picture.oil_rows if row.level_qt is not None for seat in _covers(row.placed.seat)}
    checks = [check for check in picture.record.inspections if check.kind == "oil_check"]
    asked: list[Asked] = []
    row: list[tuple[int, PlacedRun]] = []
    for number, placed in enumerate(picture.clock.runs):
        if not placed.run.is_flight:
            continue
        check = _check_between(picture, number, checks)
        if number in read or check is not None:
            if row:
                asked.append(_reading_done(picture, row, number, check))
            row = []
        else:
            row.append((number, placed))
    if row:
        asked.append(_reading_open(picture, row))
    return answered(asked, "Every flight has its oil reading, or its time has not come.")


def _covers(seat: int) -> tuple[int, ...]:
    """The run that a reading tells of: after run i is seat 2i+1, before run i+1 is seat 2i+2."""
    return ((seat - 1) // 2,) if seat % 2 else ((seat - 2) // 2,)


def _check_between(picture: Picture, number: int, checks: Sequence[InspectionFacts]) -> InspectionFacts | None:
    runs = picture.clock.runs
    end = runs[number + 1].run.at if number + 1 < len(runs) else None
    return next((one for one in checks if runs[number].run.at <= one.at and (end is None or one.at < end)), None)


def _reading_text(row: Sequence[tuple[int, PlacedRun]]) -> Said:
    day = Day(row[0][1].run.local_date)
    if len(row) == 1:
        return said(
            "No oil level since the flight of {day}. Read the dipstick and say what was added, or that nothing was.",
            day=day,
        )
    return said(
        "No oil level after {flights} flights in a row, the first on {day}. Read the dipstick and say what was added.",
        flights=fixed(len(row), 0),
        day=day,
    )


def _reading_open(picture: Picture, row: Sequence[tuple[int, PlacedRun]]) -> Asked:
    first, count = row[0][1].run, len(row)
    nudge, chase = first.at + READING_NUDGE, first.at + READING_CHASE
    steps = [(nudge, 1), (chase, 2), (first.at + READING_MANAGER, 4)]
    steps += [(placed.run.at, level) for (_, placed), level in zip(row[1:], (2, 3, 3, 4), strict=False)]
    reached, moments = step_by_time(picture.now, steps)
    state = "late" if reached >= 2 else "due" if reached == 1 else "waiting"
    return Asked(
        occurrence=str(first.root),
        kind="oil_reading",
        title=said("Oil reading missing") if reached else said("Oil reading"),
        text=_reading_text(row),
        state=state,
        opened_at=first.at,
        escalation=LADDER[reached],
        due_at=nudge,
        evidence=tuple(flight_evidence(placed.run.root, "no oil level") for _, placed in row[:count]),
        changes_at=moments,
    )


def _reading_done(
    picture: Picture, row: Sequence[tuple[int, PlacedRun]], number: int, check: InspectionFacts | None
) -> Asked:
    """A gap that a later reading or a technician's oil check ended."""
    first = row[0][1].run
    reading = next(
        (one for one in picture.oil_rows if one.level_qt is not None and number in _covers(one.placed.seat)), None
    )
    event = reading.placed.event if reading is not None else check
    return Asked(
        occurrence=str(first.root),
        kind="oil_reading",
        title=said("Oil reading missing"),
        text=_reading_text(row),
        state="done",
        opened_at=first.at,
        due_at=first.at + READING_NUDGE,
        evidence=tuple(flight_evidence(placed.run.root, "no oil level") for _, placed in row),
        closed_at=event.at if event else None,
        closed_by_kind="oil" if reading is not None else "inspection",
        closed_by_root=event.root if event else None,
    )


def forecast_on(picture: Picture, due_h: float) -> date | None:
    """The day on which the clock reaches these hours if flying goes on as in the 30 days to the last flight."""
    flights = picture.clock.flights
    if not flights or due_h <= picture.hours:
        return None
    last = flights[-1].run
    recent = [placed for placed in flights if placed.run.at > last.at - RECENT]
    days = max((last.at - recent[0].run.at) / DAY, 1.0)
    flown = sum(placed.end_h - placed.start_h for placed in recent)
    if len(recent) < 2 or flown <= 0:
        return None
    wait = (due_h - picture.hours) / (flown / days)
    found = (last.at + timedelta(days=min(wait, 3650.0))).date()
    # A day that has gone by says only that the aircraft flies less than it did.
    return found if found >= picture.now.date() else None


@rule(
    "N2",
    version=1,
    needs=("plan",),
    severity="none",
    title=said("First oil and filter"),
    text="First oil and filter at the plan's hour, within its window: nudge at the window's start, chase when due, a "
    "call an hour or a week later, the manager three hours later. Only a filter inspection closes it.",
    judges_log_only=True,
)
def first_oil(picture: Picture) -> Answer:
    plan, clock = picture.record.plan, picture.clock
    if plan is None or not (in_break_in(picture) or picture.record.state == "closed"):
        return Answer("not applicable", "The engine is not installed.")
    started = clock.flights[0].run.at if clock.flights else picture.record.opened_at
    looks = [row for row in picture.record.inspections if row.kind == "oil_filter"]
    opened = [row for row in looks if row.results.get("opened") is not False and clock.flights and row.at > started]
    done = opened[0] if opened else None
    text = said(
        "First oil change with the filter opened at {due} h, window {start} to {end} h; {hours} h run.",
        due=fixed(plan.first_oil_h, 0),
        start=fixed(plan.first_oil_from_h, 0),
        end=fixed(plan.first_oil_until_h, 0),
        hours=fixed(clock.hours),
    )
    if picture.record.state == "closed" and done is None:
        return Answer("not met", "No first filter on record.")
    reached, moments = 0, tuple[datetime, ...]()
    due_at = _reached_at(picture, plan.first_oil_h)
    if done is None:
        lines = (
            (plan.first_oil_from_h, 1),
            (plan.first_oil_h, 2),
            (plan.first_oil_h + 1, 3),
            (plan.first_oil_h + 3, 4),
        )
        reached = max((level for line, level in lines if clock.hours >= line - 1e-9), default=0)
        if due_at is not None:
            by_time, moments = step_by_time(picture.now, [(due_at + 7 * DAY, 3)])
            reached = max(reached, by_time)
    late = clock.hours > plan.first_oil_until_h or reached >= 3
    state = "done" if done else "late" if late else ("waiting", "due_soon", "due", "late", "late")[reached]
    item = Asked(
        occurrence="first",
        kind="oil_filter",
        title=said("First oil and filter"),
        text=text,
        state=state,
        opened_at=started,
        escalation="" if done else LADDER[reached],
        from_h=plan.first_oil_from_h,
        due_h=plan.first_oil_h,
        late_h=plan.first_oil_until_h,
        forecast_on=None if done else forecast_on(picture, plan.first_oil_h),
        closed_at=done.at if done else None,
        closed_by_kind="inspection" if done else "",
        closed_by_root=done.root if done else None,
        changes_at=(*moments, *forecast_ends(picture, None if done else plan.first_oil_h)),
    )
    return answered([item], said("Done.") if done else said("Not due yet: {text}", text=text))


def forecast_ends(picture: Picture, due_h: float | None) -> tuple[datetime, ...]:
    """The moment at which a forecast is no longer one."""
    day = forecast_on(picture, due_h) if due_h is not None else None
    return (datetime.combine(day + DAY, time(), UTC),) if day else ()


def _reached_at(picture: Picture, hours: float) -> datetime | None:
    """When the clock reached these hours: the end of the flight that did."""
    return next((placed.run.at for placed in picture.clock.flights if placed.end_h >= hours - 1e-9), None)


@rule(
    "N3",
    version=1,
    needs=("run",),
    severity="none",
    title=said("No flight in break-in"),
    text="Fresh bores rust while the aircraft sits: nudge after 10 days without a flight, chase after 14, a call after "
    "21, the manager after 30: fly, preserve, or ground care by the maker. A ground run is no substitute.",
    judges_log_only=True,
)
def no_flight(picture: Picture) -> Answer:
    if not in_break_in(picture):
        return Answer("not applicable", "The build is not in break-in.")
    plan = picture.record.plan
    days = tuple(plan.idle_days) if plan and len(plan.idle_days) == 4 else IDLE_DAYS
    # A ground run starts the wait of an engine that has not flown, and ends no wait.
    ends = picture.clock.flights or picture.clock.runs[:1]
    asked = [
        _idle(days, before.run, before.run.at + timedelta(days=days[0]), after.run)
        for before, after in pairwise(ends)
        if after.run.at - before.run.at >= timedelta(days=days[0])
    ]
    last = ends[-1].run
    steps = [(last.at + timedelta(days=day), level) for level, day in enumerate(days, start=1)]
    reached, moments = step_by_time(picture.now, steps)
    if reached:
        item = _idle(days, last, steps[0][0], None, reached)
        asked.append(replace(item, changes_at=moments))
    told = answered(asked, f"Last run on {Day(last.local_date)}.")
    return replace(told, changes_at=moments)


def _idle(
    days: Sequence[float], last: RunFacts, due_at: datetime, ended_by: RunFacts | None, reached: int = 1
) -> Asked:
    """A wait without a flight: open, or ended by the flight that followed."""
    # A count of days would be wrong by tomorrow; the sentence keeps to the step, so that it stays true.
    told: Values = {"days": fixed(days[reached - 1], 0), "day": Day(last.local_date)}
    text = sentences(
        said("More than {days} days since the last flight on {day}: wet bores rust.", **told)
        if last.is_flight
        else said("More than {days} days since the last run, and no flight yet on {day}: wet bores rust.", **told),
        said("Fly, preserve, or ground care by the maker; ground running is no substitute."),
    )
    return Asked(
        occurrence=str(last.root),
        kind="flight",
        title=said("No flight"),
        text=text,
        state="done" if ended_by else ("waiting", "due", "due", "late", "late")[reached],
        opened_at=due_at,
        escalation="" if ended_by else LADDER[reached],
        due_at=due_at,
        evidence=(flight_evidence(last.root, "the last run before the wait"),),
        closed_at=ended_by.at if ended_by else None,
        closed_by_kind="flight" if ended_by else "",
        closed_by_root=ended_by.root if ended_by else None,
    )


@rule(
    "N6",
    version=2,
    needs=("flight",),
    severity="none",
    title=said("Leak and torque look after flight 1"),
    text="Cowls off after the first flight: leaks, chafe, clamps, the maker's torque list. Nudge at landing, chase the "
    "next day; when the second flight is logged without it, a call, and the manager is told at once.",
    judges_log_only=True,
)
def leak_look(picture: Picture) -> Answer:
    if not in_break_in(picture):
        return Answer("not applicable", "The build is not in break-in.")
    flights = picture.clock.flights
    first = flights[0].run
    looks = [one for one in picture.record.inspections if one.kind in ("leak", "torque") and one.at > first.at]
    done = looks[0] if looks else None
    steps = [(first.at, 1), (first.at + DAY, 2)]
    if len(flights) > 1:
        # Its people are told of the step below as well, so that the call is made all the same.
        steps.append((flights[1].run.received_at, 4))
    reached, moments = step_by_time(picture.now, steps)
    item = Asked(
        occurrence=str(first.root),
        kind="leak",
        title=said("Leak and torque look"),
        text=said(
            "Cowls off after the flight of {day}: leaks, clamps, the maker's torque list.", day=Day(first.local_date)
        ),
        state="done" if done else "late" if reached >= 3 else "due",
        opened_at=first.at,
        escalation="" if done else LADDER[reached],
        due_at=first.at,
        evidence=(flight_evidence(first.root, "the first flight"),),
        closed_at=done.at if done else None,
        closed_by_kind="inspection" if done else "",
        closed_by_root=done.root if done else None,
        changes_at=() if done else moments,
    )
    return answered([item], "Done after the first flight.")
