"""Reminders: when each thing is asked for, how far the ladder has come, and what closes it.

Hours and days are common practice of the trade without a published source; those of the first oil change and of
standing idle are the plan's.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from breakin.picture.picture import Picture
from breakin.record import BuildRecord, EventFacts, PreservationFacts
from breakin.rules import RULES
from tests.breakin.records import OPENED, SEAT, after, checked, level, metered, record, run, with_plan


def ask(one: BuildRecord, rule: str, now: datetime) -> Any:
    return RULES[rule].ask(Picture(one, now))


def due(one: BuildRecord, rule: str, now: datetime) -> list[tuple[str, str]]:
    return [(item.state, item.escalation) for item in ask(one, rule, now).asked]


READING = [
    (0.7, [("waiting", "")]),
    (0.75, [("due", "nudge")]),
    (1.99, [("due", "nudge")]),
    (2.0, [("late", "chase")]),
    (9.99, [("late", "chase")]),
    (10.0, [("late", "manager")]),
]


@pytest.mark.parametrize(("days", "state"), READING)
def test_a_missing_reading_is_asked_for_after_18_hours_and_chased_after_48(
    days: float, state: list[tuple[str, str]]
) -> None:
    assert due(record(run(1)), "N1", after(1 + days)) == state


@pytest.mark.parametrize(("flights", "step"), [(1, ""), (2, "chase"), (3, "call"), (4, "call"), (5, "manager")])
def test_each_flight_without_a_reading_brings_it_a_step_further(flights: int, step: str) -> None:
    hourly = record(*(run(1 + n / 24, 0.5) for n in range(flights)))
    assert due(hourly, "N1", after(1, 5))[-1][1] == step


def test_a_reading_ends_the_row_of_missing_ones() -> None:
    one = record(run(1), run(2), run(3), oil=(level(3, 6.0),))
    asked = ask(one, "N1", after(4)).asked
    assert [(item.state, item.closed_by_kind) for item in asked] == [("done", "oil")]


def test_a_reading_before_the_next_flight_counts_for_the_last() -> None:
    one = record(run(1), run(2), oil=(level(2, 6.0, when="before", minutes_since_shutdown=600.0), level(2, 5.75)))
    assert due(one, "N1", after(3)) == []


def test_a_technicians_oil_check_answers_a_missing_reading() -> None:
    one = record(run(1), inspections=(checked(2, "oil_check"),))
    assert due(one, "N1", after(4)) == []


@pytest.mark.parametrize(
    ("hours", "state"),
    [
        (7.9, ("waiting", "")),
        (8.0, ("due_soon", "nudge")),
        (9.9, ("due_soon", "nudge")),
        (10.0, ("due", "chase")),
        (11.0, ("late", "call")),
        (13.0, ("late", "manager")),
    ],
)
def test_first_oil_and_filter_by_hours(hours: float, state: tuple[str, str]) -> None:
    assert due(record(run(1, hours)), "N2", after(2)) == [state]


def test_first_oil_a_week_after_it_was_due_asks_for_a_call() -> None:
    one = record(run(1, 10.2))
    assert due(one, "N2", after(7.9)) == [("due", "chase")]
    assert due(one, "N2", after(8)) == [("late", "call")]


def test_only_a_filter_inspection_closes_the_first_oil_change() -> None:
    drained = level(2, 0.0, kind="drain_fill", level_qt=None, filled_qt=7.0, filter_changed=True)
    one = record(run(1, 10.2), oil=(drained,))
    assert due(one, "N2", after(3)) == [("due", "chase")]
    assert due(replace(one, inspections=(checked(2),)), "N2", after(3)) == [("done", "")]


@pytest.mark.parametrize(
    ("days", "state"),
    [
        (9.9, []),
        (10, [("due", "nudge")]),
        (14, [("due", "chase")]),
        (21, [("late", "call")]),
        (30, [("late", "manager")]),
    ],
)
def test_standing_idle_by_days(days: float, state: list[tuple[str, str]]) -> None:
    assert due(record(run(1)), "N3", after(1 + days)) == state


def test_a_ground_run_does_not_end_a_wait() -> None:
    shaken = run(12, 0.0, kind="ground_run", airborne_min=0.0)
    assert due(record(run(1), shaken), "N3", after(13)) == [("due", "nudge")]


def test_the_next_flight_answers_a_wait() -> None:
    asked = ask(record(run(1), run(13)), "N3", after(14)).asked
    assert [(item.state, item.closed_by_kind, item.closed_by_root) for item in asked] == [
        ("done", "flight", run(13).root)
    ]


@pytest.mark.parametrize(("days", "state"), [(0, "nudge"), (3, "chase"), (7, "call"), (14, "manager")])
def test_unlogged_running_is_asked_on_sight(days: float, state: str) -> None:
    one = record(metered(10.0, 11.2, 1), metered(13.3, 14.5, 2))
    assert due(one, "N4", after(2 + days, 1))[0][1] == state


@pytest.mark.parametrize(
    ("day", "state"),
    [(15, ("waiting", "")), (16, ("due_soon", "chase")), (30, ("due_soon", "chase")), (31, ("late", "call"))],
)
def test_preservation_is_chased_two_weeks_before_it_ends(day: int, state: tuple[str, str]) -> None:
    held = PreservationFacts(OPENED.date(), datetime(2026, 6, 30).date())  # noqa: DTZ001 - a calendar day
    one = record(installations=(), preservations=(held,))
    assert due(one, "N5", datetime(2026, 6, day, 12, tzinfo=OPENED.tzinfo) if day <= 30 else after(30, 12)) == [state]


def test_preservation_is_not_asked_of_an_installed_engine() -> None:
    held = PreservationFacts(OPENED.date(), OPENED.date())
    assert ask(record(preservations=(held,)), "N5", after(40)).word == "not applicable"


def test_leak_look_is_called_for_when_flight_two_is_logged_without_it() -> None:
    assert due(record(run(1)), "N6", after(1, 1)) == [("due", "nudge")]
    assert due(record(run(1)), "N6", after(2)) == [("due", "chase")]
    assert due(record(run(1), run(2)), "N6", after(2, 1)) == [("late", "manager")]
    assert due(record(run(1), run(2), inspections=(checked(1, "leak"),)), "N6", after(2, 1)) == [("done", "")]


def test_reminders_are_for_engines_in_break_in_only() -> None:
    gone = record(run(1), installations=(replace(SEAT, until=after(2)),))
    assert all(ask(gone, rule, after(40)).word == "not applicable" for rule in ("N1", "N3", "N6"))


CLOSED = EventFacts("closed_out", after(10), 10.0)


@pytest.mark.parametrize(
    ("hours", "state"),
    [
        (7.9, ("waiting", "")),
        (8.0, ("due_soon", "nudge")),
        (10.0, ("due", "chase")),
        (12.0, ("late", "call")),
        (15.0, ("late", "manager")),
    ],
)
def test_a_follow_up_is_due_by_the_hours_after_close_out(hours: float, state: tuple[str, str]) -> None:
    one = record(run(1, 10.0), run(11, hours), state="closed", closed_at=after(10), events=(CLOSED,))
    assert due(one, "N7", after(12))[0] == state


@pytest.mark.parametrize(
    ("days", "state"),
    [
        (23.9, ("waiting", "")),
        (24.0, ("due_soon", "nudge")),
        (30.0, ("due", "chase")),
        (36.0, ("late", "call")),
        (45.0, ("late", "manager")),
    ],
)
def test_a_follow_up_is_due_by_the_days_after_close_out_where_its_hours_were_not_flown(
    days: float, state: tuple[str, str]
) -> None:
    one = record(run(1, 10.0), run(11, 1.0), state="closed", closed_at=after(10), events=(CLOSED,))
    assert due(one, "N7", after(10 + days))[0] == state
    first = ask(one, "N7", after(10 + days)).asked[0]
    assert (first.due_h, first.due_at) == (20.0, after(40))


@pytest.mark.parametrize(("day", "state"), [(33, ["late"]), (34, ["done"])])
def test_an_oil_check_closes_a_follow_up_from_four_fifths_of_its_days_on(day: int, state: list[str]) -> None:
    one = record(run(1, 10.0), run(11, 1.0), state="closed", closed_at=after(10), events=(CLOSED,))
    one = replace(one, inspections=(checked(day, "oil_check"),))
    assert [found for found, _ in due(one, "N7", after(48))] == [*state, "waiting", "waiting"]


def test_a_plan_without_days_asks_by_hours_alone() -> None:
    one = record(run(1, 10.0), run(11, 1.0), state="closed", closed_at=after(10), events=(CLOSED,))
    told = ask(with_plan(one, follow_up_days=()), "N7", after(400))
    assert [(item.state, item.due_at) for item in told.asked] == [("waiting", None)] * 3
    assert told.changes_at == ()


def test_an_oil_check_closes_the_follow_up_it_came_in_time_for() -> None:
    one = record(run(1, 10.0), run(11, 9.0), state="closed", closed_at=after(10), events=(CLOSED,))
    one = replace(one, inspections=(checked(12, "oil_check"),))
    assert [state for state, _ in due(one, "N7", after(13))] == ["done", "waiting", "waiting"]


def test_a_reopened_build_has_no_follow_ups() -> None:
    one = record(run(1, 10.0), run(11, 15.0), events=(CLOSED, EventFacts("reopened", after(12))))
    assert due(one, "N7", after(13)) == []
