from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import BadLog
from breakin.calc.oil import OilEntry, anchors, paper_window, protocol_of, sliding_windows, windows


def read(hours: float, level: float, u: float = 0.15, protocol: str = "cold", **more: Any) -> OilEntry:
    return OilEntry(hours, "reading", level_qt=level, u_qt=u, protocol=protocol, root=f"r{hours}", **more)


def add(hours: float, amount: float) -> OilEntry:
    return OilEntry(hours, "addition", amount_qt=amount, root=f"a{hours}")


def fill(hours: float, amount: float) -> OilEntry:
    return OilEntry(hours, "drain_fill", fill_qt=amount, root=f"f{hours}")


def test_only_good_readings_are_anchors():
    found = anchors([read(1, 6), read(2, 6, u=0.16), read(3, 6)])
    assert [anchor.hours for anchor in found] == [1, 3]


def test_after_a_fill_the_anchor_is_the_first_good_reading_after_the_first_run():
    found = anchors([fill(0, 8), read(0, 8), read(1.2, 7.0), read(2.4, 6.9)])
    assert [anchor.hours for anchor in found] == [1.2, 2.4]


@pytest.mark.parametrize(("hours", "u_rate"), [(1, 0.212), (4, 0.053), (8, 0.0265)])
def test_doubt_of_a_loss_shrinks_with_hours(hours, u_rate):
    (window,) = windows([read(0, 6), read(hours, 5.5)], 6)
    assert window.rate == pytest.approx(0.5 / hours)
    assert window.u_rate == pytest.approx(u_rate, abs=0.0005)


@pytest.mark.parametrize(("hours", "assessable"), [(3.9, False), (4.0, True)])
def test_four_hours_are_needed_to_judge(hours, assessable):
    (window,) = windows([read(0, 6), read(hours, 5.5)], 6)
    assert window.assessable is assessable
    assert (window.why_not is None) is assessable


def test_additions_count_with_their_own_doubt():
    (window,) = windows([read(0, 6), add(3, 1), read(5, 6.2)], 6)
    assert window.added == 1
    assert window.rate == pytest.approx(0.16)
    assert window.u_rate == pytest.approx((0.15**2 * 2 + 0.05**2) ** 0.5 / 5)
    assert window.roots == ("r0", "a3", "r5")


def test_a_window_never_spans_a_drain():
    assert windows([read(0, 6), fill(4, 8), read(8, 6)], 6) == []


def test_hot_is_not_compared_with_cold():
    entries = [read(0, 6), read(2, 5, protocol="hot"), read(5, 5.6)]
    (window,) = windows(entries, 6)
    assert (window.h1, window.h2) == (0, 5)


@pytest.mark.parametrize(("level", "over_fill"), [(6.5, 0.0), (6.75, 0.75)])
def test_over_fill_is_told_apart_and_never_judged(level, over_fill):
    (window,) = windows([read(0, level), read(5, 5.5)], 6)
    assert window.over_fill_qt == over_fill
    assert window.assessable is (over_fill == 0)


def test_an_addition_above_the_settling_level_is_over_fill_too():
    (window,) = windows([read(0, 6), add(0, 2), read(5, 6.4)], 6)
    assert window.over_fill_qt == 2
    assert "over-fill" in (window.why_not or "")


def test_a_level_that_rose_gives_a_negative_loss():
    (window,) = windows([read(0, 5.5), read(5, 6.0)], 6)
    assert window.rate == pytest.approx(-0.1)


@pytest.mark.parametrize(
    ("flag", "tells"), [("leak_open", "leak"), ("unlogged", "not logged"), ("estimated_hours", "estimated")]
)
def test_shadowed_windows_are_shown_but_not_judged(flag, tells):
    flagged: dict[str, Any] = {flag: True}
    (window,) = windows([read(0, 6), replace(read(5, 5.5), **flagged)], 6)
    assert not window.assessable
    assert tells in (window.why_not or "")


def test_a_sliding_window_is_the_shortest_of_four_hours_at_each_reading():
    entries = [read(hour, 6 - 0.1 * hour) for hour in range(0, 8)]
    found = sliding_windows(entries, 6)
    assert [(window.h1, window.h2) for window in found] == [(0, 4), (1, 5), (2, 6), (3, 7)]
    assert all(window.rate == pytest.approx(0.1) for window in found)


@pytest.mark.parametrize(
    ("entries", "tells"),
    [
        ([read(2, 6), read(1, 6)], "oil entry 2"),
        ([OilEntry(1, "reading")], "without its hours or quarts"),
        ([OilEntry(1, "addition", amount_qt=0)], "addition of 0"),
        ([OilEntry(float("nan"), "reading", level_qt=6)], "oil entry 1"),
    ],
)
def test_entries_that_are_no_log_are_refused(entries, tells):
    with pytest.raises(BadLog, match=tells):
        windows(entries, 6)


def test_no_entries_no_windows():
    assert windows([], 6) == [] == anchors([])


@settings(max_examples=50, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.floats(0.3, 2), st.floats(-0.2, 0.5), st.sampled_from([0, 0, 1])), min_size=1, max_size=12)
)
def test_losses_of_neighbouring_windows_add_up_to_what_went_in_and_came_out(steps):
    hours, level, poured = 0.0, 8.0, 0.0
    entries = [read(0, level)]
    for step_h, lost, quarts in steps:
        if quarts:
            entries.append(add(hours, quarts))
            level, poured = level + quarts, poured + quarts
        hours, level = hours + step_h, level - lost
        entries.append(read(hours, level))
    total = sum(window.rate * (window.h2 - window.h1) for window in windows(entries, 6))
    assert total == pytest.approx(8.0 + poured - level, abs=1e-6)


GOOD = [read(3.2, 6.0), read(4.4, 5.75), read(5.8, 5.75), read(7.4, 5.75)]
LIMITS: dict[str, Any] = {"accept_qt_per_h": 0.15, "no_go_qt": 4.0}


def test_a_quiet_window_passes_on_paper():
    paper = paper_window(GOOD, 6, **LIMITS)
    assert paper.verdict == "passes"
    assert "0.06 ± 0.05 qt/h between 3.2 h and 7.4 h" in paper.reasons[0]


def test_loss_not_clear_of_the_accept_rate_fails():
    lossy = [read(hours, 6 - 0.12 * (hours - 3.2)) for hours in (3.2, 4.4, 5.8, 7.4)]
    assert paper_window(lossy, 6, **LIMITS).verdict == "fails"


@pytest.mark.parametrize(
    ("entries", "tells"),
    [
        (GOOD[:3], "2.6 h of 4 h"),
        ([GOOD[0], GOOD[3]], "2 good readings of 3"),
        ([read(hour, 5.9) for hour in (1.0, 2.0, 3.1, 5.2)], "before 3 h"),
        ([GOOD[0]], "Two good readings"),
        ([], "Two good readings"),
        ([*GOOD[:2], add(5, 1), read(5.8, 6.7), read(7.4, 6.6)], "1.00 qt were added"),
    ],
)
def test_too_short_says_what_is_lacking(entries, tells):
    paper = paper_window(entries, 6, **LIMITS)
    assert paper.verdict == "too short"
    assert tells in " ".join(paper.reasons)


def test_an_open_leak_or_a_level_under_the_minimum_fails():
    leaking = [*GOOD[:3], read(7.4, 5.75, leak_open=True)]
    assert paper_window(leaking, 6, **LIMITS).verdict == "fails"
    assert paper_window(GOOD, 6, accept_qt_per_h=0.15, no_go_qt=5.8).verdict == "fails"


def test_an_unexplained_rise_fails():
    rising = [read(3.2, 5.5), read(4.4, 5.25), read(5.8, 5.75), read(7.4, 5.5)]
    paper = paper_window(rising, 6, **LIMITS)
    assert paper.verdict == "fails"
    assert "rose by 0.50 qt" in " ".join(paper.reasons)


def test_without_a_minimum_on_record_it_cannot_pass():
    assert paper_window(GOOD, 6, accept_qt_per_h=0.15, no_go_qt=None).verdict == "too short"


def test_flights_can_be_counted_from_the_log_instead():
    few = paper_window(GOOD, 6, **LIMITS, flight_ends_h=[5.8, 7.4])
    assert few.verdict == "too short"
    assert "2 flights of 3" in " ".join(few.reasons)


@pytest.mark.parametrize(
    ("told", "u", "kind"),
    [
        ({"minutes_since_shutdown": 45, "level_ground": True}, 0.15, "rested"),
        ({"minutes_since_shutdown": 600, "level_ground": True}, 0.15, "cold"),
        ({"minutes_since_shutdown": 5, "level_ground": True}, 0.3, "hot"),
        ({"minutes_since_shutdown": 9, "level_ground": True}, 0.3, "hot"),
        ({"minutes_since_shutdown": 10, "level_ground": True}, 0.15, "rested"),
        ({"minutes_since_shutdown": None, "level_ground": True}, 0.3, "unknown"),
        ({"minutes_since_shutdown": 600, "level_ground": False}, 0.5, "cold"),
        ({"minutes_since_shutdown": 600, "level_ground": True, "recalled": True}, 0.6, "cold"),
        ({"minutes_since_shutdown": 600, "level_ground": True, "wiped_twice": False}, 0.3, "cold"),
        ({"minutes_since_shutdown": 5, "level_ground": True, "u_qt": 0.1}, 0.1, "hot"),
    ],
)
def test_a_reading_is_as_good_as_its_protocol(told, u, kind):
    protocol = protocol_of(**told)
    assert (protocol.u_qt, protocol.kind) == (u, kind)
