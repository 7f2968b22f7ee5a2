"""Accessories with clocks of their own: when each is due, what resets it, and what does not.

The steps before and after the end of an interval are common practice without a published source; the interval is what
the shop typed from the maker's document.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from breakin import assess
from breakin.load import load
from breakin.models import DueItem
from breakin.picture.accessories import clocks_of, months_after, total_time
from breakin.picture.picture import Picture
from breakin.record import AccessoryEventFacts, AccessoryFacts, BuildRecord
from breakin.rules import RULES
from breakin.services.accessories import AccessoryEntry, enter_accessory, record_event, take_back
from engines.models import AccessoryEvent, Build
from shop.errors import Refusal
from tests import factories
from tests.breakin.records import OPENED, after, record, root, run
from tests.factories import NOW, Cast

DAY = OPENED.date()


def event(day: float, act: str = "inspected", **more: Any) -> AccessoryEventFacts:
    at = after(day)
    return AccessoryEventFacts(root(f"{act} {day}"), act, at.date(), at, **more)


def carrying(*events: AccessoryEventFacts, hours: float = 0.0, **more: Any) -> BuildRecord:
    magneto = AccessoryFacts(7, "magneto", "left", events)
    return record(run(1, hours), accessories=(magneto,), **{"total_time_h": 1000.0, **more})


def asked(one: BuildRecord, day: float = 2) -> list[tuple[str, str]]:
    return [(item.state, item.escalation) for item in RULES["N9"].ask(Picture(one, after(day))).asked]


@pytest.mark.parametrize(
    ("hours", "state"),
    [
        (4.9, ("waiting", "")),
        (5.0, ("due_soon", "nudge")),
        (30.0, ("due", "chase")),
        (35.0, ("late", "call")),
        (55.0, ("late", "manager")),
    ],
)
def test_it_is_due_by_hours_on_the_total_time_of_the_engine(hours: float, state: tuple[str, str]) -> None:
    """500 h after an inspection at 530 h: at 1030 h, which is 30 h after a build at 1000 h."""
    one = carrying(event(-300, total_time_h=530.0, interval_h=500.0), hours=hours)
    assert asked(one) == [state]


@pytest.mark.parametrize(
    ("day", "state"),
    [(-1, ("waiting", "")), (0, ("due_soon", "nudge")), (30, ("due", "chase")), (36, ("late", "call"))],
)
def test_or_by_date_whichever_comes_first(day: int, state: tuple[str, str]) -> None:
    done = event(-400, total_time_h=900.0, interval_h=5000.0, interval_months=24)
    due_on = months_after(done.done_on, 24)
    # It holds through its last day; the asking begins 30 days before.
    ends = (due_on - DAY).days + 1
    assert asked(carrying(done), ends - 30 + day + (0 if day < 0 else -8 / 24)) == [state]


def test_hours_that_it_had_behind_it_shorten_what_is_left() -> None:
    one = carrying(event(0.5, "replaced", total_time_h=1000.0, own_hours_h=120.0, interval_h=500.0), hours=2.0)
    (clock,) = clocks_of(one, Picture(one, after(2)).clock)
    assert (clock.ran_h, clock.left_h, clock.due_total_h) == (122.0, 378.0, 1380.0)


def test_without_a_total_time_it_counts_what_lies_in_this_build_and_nothing_from_before() -> None:
    inside = carrying(event(2, interval_h=100.0), hours=3.0, total_time_h=None)
    assert [each.left_h for each in clocks_of(inside, Picture(inside, after(2)).clock)] == [100.0]
    before = carrying(event(-9, total_time_h=530.0, interval_h=500.0), hours=3.0, total_time_h=None)
    answer = RULES["N9"].ask(Picture(before, after(2)))
    assert (answer.word, answer.asked[0].state) == ("not known", "waiting")
    assert "not counted" in answer.asked[0].text
    # A total time that was told with it since then mends that.
    reading = event(2, "interval", total_time_h=1003.0, interval_h=500.0)
    told = carrying(*before.accessories[0].events, reading, hours=3.0, total_time_h=None)
    assert total_time(told, Picture(told, after(2)).clock) == 1003.0
    assert [each.left_h for each in clocks_of(told, Picture(told, after(2)).clock)] == [27.0]


def test_only_the_next_event_on_it_closes_what_was_asked() -> None:
    first, second = event(-300, total_time_h=530.0, interval_h=500.0), event(3, total_time_h=1040.0, interval_h=500.0)
    one = carrying(first, second, hours=40.0)
    items = RULES["N9"].ask(Picture(one, after(4))).asked
    assert [(item.state, item.closed_by_root) for item in items] == [("done", second.root), ("waiting", None)]
    assert [item.due_h for item in items] == [None, 540.0]
    assert items[0].occurrence != items[1].occurrence


def test_another_interval_moves_the_end_and_resets_nothing() -> None:
    first = event(-300, total_time_h=530.0, interval_h=500.0)
    one = carrying(first, event(1, "interval", interval_h=400.0), hours=2.0)
    (item,) = RULES["N9"].ask(Picture(one, after(2))).asked
    assert (item.state, item.due_h) == ("late", None)  # 930 h went by before the build
    assert "due at 930.0 h total time of the engine, which is at 1002.0 h" in item.text


def test_what_is_no_longer_watched_is_not_asked_for() -> None:
    first = event(-300, total_time_h=530.0, interval_h=500.0)
    assert asked(carrying(first, event(1, "removed", interval_h=500.0), hours=40.0)) == [("done", "")]


def test_without_accessories_the_rule_observed_nothing_and_an_ended_build_is_not_asked() -> None:
    assert RULES["N9"].ask(Picture(record(run(1)), after(2))).word == "not observed"
    ended = replace(carrying(event(-300, total_time_h=530.0, interval_h=500.0)), state="superseded")
    assert RULES["N9"].ask(Picture(ended, after(2))).word == "not applicable"


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2026, 11, 15), 2, date(2027, 1, 15)),
    ],
)
def test_months_go_by_the_calendar(day: date, months: int, then: date) -> None:
    assert months_after(day, months) == then


# --- through the services -------------------------------------------------------------------------------------------


@pytest.fixture
def shop(db: None) -> Cast:
    return factories.cast()


def entry(act: str = "overhauled", **more: Any) -> AccessoryEntry:
    usual = {"done_on": NOW.date(), "interval_h": 500.0, "source": "maker's manual, rev. 7", "total_time_h": 1000.0}
    return AccessoryEntry(act, **{**usual, **more})


def enter(shop: Cast, name: str = "left", **more: Any) -> Any:
    engine = shop.build_1.engine
    return enter_accessory(by=shop.tom, engine=engine, kind="magneto", name=name, entry=entry(**more), now=NOW)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"interval_h": None}, "interval_h"),
        ({"interval_h": 0.0}, "interval_h"),
        ({"interval_months": 0}, "interval_months"),
        ({"source": " "}, "source"),
        ({"done_on": NOW.date() + timedelta(days=1)}, "done_on"),
        ({"total_time_h": -1.0}, "total_time_h"),
        ({"own_hours_h": -0.1}, "own_hours_h"),
        ({"act": "interval"}, "act"),
        ({"done_on": date(2020, 1, 1), "total_time_h": None}, "total_time_h"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(shop: Cast, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        enter(shop, **wrong)
    assert [problem.field for problem in refused.value.problems] == [field]
    assert not AccessoryEvent.objects.exists()


def test_the_same_one_is_entered_once_and_total_time_never_falls(shop: Cast) -> None:
    magneto = enter(shop)
    with pytest.raises(Refusal, match="on this engine already"):
        enter(shop, name="LEFT")
    later = entry("inspected", done_on=NOW.date() - timedelta(days=1))
    with pytest.raises(Refusal, match="It was last done on"):
        record_event(by=shop.tom, accessory=magneto, entry=later, now=NOW)
    with pytest.raises(Refusal, match="never falls"):
        record_event(by=shop.tom, accessory=magneto, entry=entry("inspected", total_time_h=990.0), now=NOW)


def test_an_entry_is_never_changed_and_one_taken_back_counts_for_nothing(shop: Cast) -> None:
    magneto = enter(shop, done_on=NOW.date() - timedelta(days=30), total_time_h=900.0)
    wrong = record_event(by=shop.tom, accessory=magneto, entry=entry("replaced"), now=NOW)
    with pytest.raises(DatabaseError), transaction.atomic():
        AccessoryEvent.objects.filter(pk=wrong.pk).update(total_time_h=1.0)
    take_back(by=shop.cora, event=wrong, reason="The other engine's.", now=NOW)
    with pytest.raises(Refusal, match="taken back already"):
        take_back(by=shop.cora, event=wrong, reason="Again.", now=NOW)
    (carried,) = load([shop.build_1.pk], NOW)[shop.build_1.pk].accessories
    assert [each.total_time_h for each in carried.events] == [900.0]


def test_it_stays_asked_for_after_close_out_and_the_next_build_takes_it_over(shop: Cast) -> None:
    enter(shop)
    factories.flown(shop.build_1, 1.2, at=NOW - timedelta(days=3), level_qt=6.0)
    Build.objects.filter(pk=shop.build_1.pk).update(state="closed", closed_at=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    assert DueItem.objects.get(build=shop.build_1, kind="accessory").state == "waiting"
    assert factories.assessment(shop.build_1).live
    new = factories.build(shop.build_1.engine, by=shop.cora, opened_at=NOW, total_time_h=1001.2, now=NOW)
    assert factories.assessment(shop.build_1).dirty_at == NOW
    assess.assess_many([shop.build_1.pk, new.pk], NOW)
    assert DueItem.objects.get(build=shop.build_1, kind="accessory").state == "gone"
    assert DueItem.objects.get(build=new, kind="accessory").state == "waiting"
