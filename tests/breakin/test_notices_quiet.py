"""Quiet hours: a person's own clock decides, over midnight and over a clock change."""

from __future__ import annotations

from datetime import UTC, datetime, time

import pytest

from breakin.notices.quiet import first_moment, is_quiet, next_day
from shop.models import Person


def reader(zone: str, start: str = "21:00", end: str = "07:00") -> Person:
    return Person(name="Ines", zone=zone, quiet_from=time.fromisoformat(start), quiet_until=time.fromisoformat(end))


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ("2026-06-10 02:59", "2026-06-10 02:59"),  # 20:59
        ("2026-06-10 03:00", "2026-06-10 13:00"),  # 21:00
        ("2026-06-10 12:59", "2026-06-10 13:00"),  # 06:59
        ("2026-06-10 13:00", "2026-06-10 13:00"),  # 07:00
    ],
)
def test_quiet_hours_over_midnight_end_in_the_morning_of_the_readers_zone(now: str, expected: str) -> None:
    assert first_moment(reader("Etc/GMT+6"), at(now)) == at(expected)


def test_quiet_hours_by_day_end_the_same_day() -> None:
    napper = reader("UTC", "13:00", "15:00")
    assert first_moment(napper, at("2026-06-10 14:00")) == at("2026-06-10 15:00")
    assert first_moment(napper, at("2026-06-10 16:00")) == at("2026-06-10 16:00")


def test_equal_times_mean_no_quiet_hours() -> None:
    assert not is_quiet(reader("UTC", "00:00", "00:00"), at("2026-06-10 00:00"))


def test_the_night_in_which_clocks_go_forward_ends_an_hour_earlier_in_utc() -> None:
    oslo = reader("Europe/Oslo")
    assert first_moment(oslo, at("2026-03-27 23:00")) == at("2026-03-28 06:00")
    assert first_moment(oslo, at("2026-03-28 23:00")) == at("2026-03-29 05:00")


def test_the_night_in_which_clocks_go_back_ends_an_hour_later_in_utc() -> None:
    assert first_moment(reader("Europe/Oslo"), at("2026-10-24 22:00")) == at("2026-10-25 06:00")


def test_an_end_that_the_clock_change_leaves_out_is_the_moment_after_it() -> None:
    # 02:30 does not exist on 29 March in Oslo: the clock jumps from 02:00 to 03:00 at 01:00 UTC.
    assert first_moment(reader("Europe/Oslo", "21:00", "02:30"), at("2026-03-28 23:00")) == at("2026-03-29 01:30")


def test_an_end_that_the_clock_change_repeats_is_its_second_passing() -> None:
    assert first_moment(reader("Europe/Oslo", "21:00", "02:30"), at("2026-10-24 22:00")) == at("2026-10-25 01:30")


def test_the_next_day_begins_after_the_quiet_hours_of_that_day() -> None:
    assert next_day(reader("Etc/GMT+6"), at("2026-06-10 18:00")) == at("2026-06-11 13:00")
    assert next_day(reader("Etc/GMT+6", "00:00", "00:00"), at("2026-06-10 18:00")) == at("2026-06-11 06:00")
