"""Failure stories of the trade, told as logs, and what the oil rules and the judgement make of them."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from breakin.calc.oil.prior import BUILT_IN
from breakin.judgement import judge
from breakin.picture.oil_estimate import believed
from breakin.picture.picture import Picture
from breakin.record import BuildRecord, DecisionFacts
from breakin.rules import RULES
from breakin.rules.base import CALL, NOTE, STOP, WATCH
from breakin.rules.oil import settling
from tests.breakin.oil_cases import (
    GOOD_FIT,
    HIDDEN,
    TOPPED,
    climbing,
    falling,
    filled,
    levels,
    logged,
    partial,
    steady,
    with_level,
)
from tests.breakin.records import added, after, level, record, root, run


def ask(one: BuildRecord, rule: str) -> Any:
    return RULES[rule].ask(Picture(one, after(60)))


def oil(one: BuildRecord) -> dict[str, Any]:
    """The oil part of the judgement, as pages read it."""
    judged = judge(one, after(60)).detail["oil"]
    return dict(json.loads(json.dumps(judged)))


def over_filled() -> BuildRecord:
    """Story 1: filled to 8 qt before each flight; what lies above 6 qt goes out of the breather."""
    days = range(1, 11)
    rows = (row for day in days for row in (level(day, 7.25 if day % 2 else 7.0), added(day, 0.75 if day % 2 else 1.0)))
    return record(*(run(day, 1.5) for day in days), oil=tuple(rows))


def test_topping_to_full_for_ever_gives_no_rate_on_paper_and_no_alarm() -> None:
    told = oil(over_filled())
    assert told["windows"]
    assert not any(window["assessable"] for window in told["windows"])
    assert all("over-fill" in window["why_not"] for window in told["windows"] if window["over_fill_qt"])
    assert told["word"] == "not enough readings"
    assert told["paper"]["verdict"] == "too short"
    for rule in ("O4", "O6"):
        assert not [hit for hit in ask(over_filled(), rule).hits if hit.severity >= CALL]


def test_swings_of_a_reader_straight_after_shutdown_are_no_consumption() -> None:
    """Story 4: hot, cold, on a slope: swings of a quart."""
    how: list[tuple[float, dict[str, Any]]] = [
        (6.0, {}),
        (5.0, {"minutes_since_shutdown": 3.0}),
        (6.0, {"minutes_since_shutdown": 600.0}),
        (5.0, {"level_ground": False}),
        (5.75, {}),
        (4.75, {"minutes_since_shutdown": 2.0}),
        (5.75, {}),
    ]
    rows = tuple(level(day, quarts, **more) for day, (quarts, more) in enumerate(how, 1))
    one = record(*(run(day, 1.2) for day in range(1, 8)), oil=rows)
    assert not any(ask(one, rule).hits for rule in ("O4", "O7", "O8"))
    reasons = {entry["root"]: entry["why_not"] for entry in oil(one)["entries"] if not entry["anchor"]}
    assert len(reasons) == 3
    assert any("hot" in why for why in reasons.values())


def test_a_leak_counts_neither_for_nor_against_settling() -> None:
    """Story 23: two quarts on the belly."""
    one = logged(falling(0.06, 3.0), 12)
    leaking = replace(
        one, oil=tuple(replace(row, belly_oil=2) if row.root == level(9, 0.0).root else row for row in one.oil)
    )
    assert not settling(Picture(one, after(60))).vetoes
    assert settling(Picture(leaking, after(60))).vetoes == ("A leak is open.",)
    told = oil(leaking)
    assert told["leak_open"]
    assert "a leak was open" in told["windows"][-1]["why_not"]


def test_a_rise_is_asked_first_and_stops_when_it_is_confirmed() -> None:
    """Story 25: 7.25 to 8.0 with nothing added: a reader, a helper, or fuel."""
    asked = ask(levels(5.5, 6.25), "O8").hits
    assert [hit.severity for hit in asked] == [CALL]
    assert "did someone else add?" in asked[0].text
    assert [each["kind"] for each in asked[0].evidence] == ["oil", "oil"]
    assert ask(levels(5.5, 6.25, 6.0), "O8").hits[0].severity == STOP
    assert not ask(record(run(1), run(2), oil=(level(1, 5.5), added(1, 0.75), level(2, 6.25))), "O8").hits


def test_a_rise_that_was_explained_does_not_make_the_next_one_a_stop() -> None:
    one = levels(6.0, 6.5, 6.0, 6.5)
    first = ask(one, "O8").hits[0]
    told = replace(one, decisions=(DecisionFacts("O8", first.key, "cleared"),))
    assert [hit.severity for hit in ask(one, "O8").hits] == [CALL, STOP]
    assert [hit.severity for hit in ask(told, "O8").hits] == [CALL, CALL]


def test_what_the_test_cell_used_enters_no_rate() -> None:
    """Story 26: 0.9 qt in 1.5 h on the cell."""
    from breakin.record import CellRunFacts

    cell = replace(GOOD_FIT, cell_runs=(CellRunFacts(after(0).date(), 90.0, 0.9),))
    assert oil(cell)["rate_qt_h"] == oil(GOOD_FIT)["rate_qt_h"]
    assert oil(cell)["windows"] == oil(GOOD_FIT)["windows"]


def test_stable_but_bad_is_never_settled() -> None:
    """Story 29: a quart in 2.2 h for 20 h."""
    one = logged(steady(0.45), 14)
    told = oil(one)
    assert told["word"] == "flat but high"
    assert not told["provisional"]
    hit = ask(one, "O6").hits[0]
    assert hit.severity == CALL
    assert hit.numbers["rate_qt_h"] - hit.numbers["u_qt_h"] > hit.numbers["accept_qt_h"]
    assert {each["root"] for each in hit.evidence} <= {str(row.root) for row in one.oil}


def test_nothing_logged_is_no_evidence_that_nothing_was_added() -> None:
    """Story 30: six hours without a reading."""
    silent = record(*(run(day, 1.5) for day in range(1, 9)), oil=(level(1, 6.0), level(2, 5.75)))
    told = oil(silent)
    assert not told["provisional"]
    assert told["word"] == "not enough readings"


def test_the_helpful_fill_is_asked_for_and_the_engine_is_not_called_glazed_for_it() -> None:
    """Story 47: somebody topped it off, without a rise that the stick alone would show."""
    hit = ask(HIDDEN, "O15").hits[0]
    assert hit.severity == WATCH
    assert "did someone else add?" in hit.text
    assert oil(HIDDEN)["unnoted"] == [hit.occurrence]


def test_the_drop_on_the_first_run_after_an_oil_change_is_filter_and_cooler() -> None:
    """Story 48: filled to 7, read 6 after the first run."""
    rows = (level(1, 6.0), filled(2, 7.0), level(2, 7.0, order=3), level(3, 6.0), level(4, 6.0))
    one = record(*(run(day, 1.5) for day in range(1, 5)), oil=rows)
    assert not any(ask(one, rule).hits for rule in ("O4", "O7"))
    told = oil(one)
    fresh = next(entry for entry in told["entries"] if entry["level_qt"] == 7.0)
    assert not fresh["anchor"]
    assert "filter and cooler" in fresh["why_not"]
    assert any("first run after the fill" in row["why"] for row in told["left_out"])
    assert all(window["from_h"] >= 4.5 or window["to_h"] <= 3.0 for window in told["windows"])


def test_one_cylinder_is_compared_with_the_rate_before_the_change() -> None:
    """Story 14: one of four new; the loss of the others is not break-in."""
    one = partial(0.12, 0.1, 14)
    before = oil(one)["before"]
    assert before["rate_qt_h"] == pytest.approx(0.12, abs=0.04)
    assert "before the change" in ask(one, "O12").text
    assert "compression not looked at yet" in ask(one, "O12").text.lower()
    assert ask(replace(one, earlier_oil=(), earlier_runs=()), "O12").word == "not known"
    assert ask(logged(steady(0.1), 12), "O12").word == "not applicable"


def test_a_partial_build_is_believed_to_return_to_its_own_loss_before() -> None:
    """One of four new: few readings after it lean on the loss before; without that, on a whole engine's."""
    one = partial(0.22, 0.22, 4)
    lean, plain = oil(one), oil(replace(one, earlier_oil=(), earlier_runs=()))
    before = lean["before"]["rate_qt_h"]
    assert lean["prior"] == f"built in, 25% of the cylinders new, {before:.2f} qt/h before"
    assert plain["prior"] == "built in"
    assert lean["rate_hi_qt_h"] - lean["rate_lo_qt_h"] < plain["rate_hi_qt_h"] - plain["rate_lo_qt_h"]
    assert lean["rate_lo_qt_h"] < 0.22 < lean["rate_hi_qt_h"]


@pytest.mark.parametrize("before", [None, (0.0, 0.02), (-0.03, 0.02)])
def test_a_partial_build_without_a_usable_loss_before_has_the_prior_of_a_whole_engine(before) -> None:
    assert believed(partial(0.12, 0.1, 4), BUILT_IN, before) == BUILT_IN


def test_a_doubtful_loss_before_is_leaned_on_less() -> None:
    sure, doubtful = (believed(partial(0.12, 0.1, 4), BUILT_IN, (0.12, u)).unknown for u in (0.01, 0.08))
    assert sure.plateau_qt_h == doubtful.plateau_qt_h == 0.12
    assert 2 * sure.plateau_spread < doubtful.plateau_spread


def test_a_forecast_is_a_range_never_a_promise_and_needs_six_good_readings() -> None:
    slow = falling(0.08, 10.0)
    early, later = ask(logged(slow, 5), "O13"), ask(logged(slow, 8), "O13")
    assert "5 good readings of 6" in early.text
    assert "between" in later.text
    assert "Not a promise" in later.text
    assert oil(logged(slow, 5))["forecast_h"] is None
    low, high = oil(logged(slow, 8))["forecast_h"]
    assert 12.0 <= low < high
    assert oil(GOOD_FIT)["forecast_h"] is None


def test_a_climbing_loss_has_its_readings_and_its_own_finding() -> None:
    one = logged(climbing(0.03), 20)
    hit = ask(one, "O14").hits[0]
    assert len(hit.evidence) == 4
    assert oil(one)["word"] == "rising"


def test_a_bad_reading_is_kept_marked_and_left_out() -> None:
    one = with_level(GOOD_FIT, 9, 3.75)
    hit = ask(one, "O17").hits[0]
    assert hit.severity == NOTE
    assert hit.numbers["off_qt"] == pytest.approx(-1.25, abs=0.3)
    told = oil(one)
    marked = [entry for entry in told["entries"] if entry["bad"]]
    assert [entry["level_qt"] for entry in marked] == [3.75]
    assert "lower than the log explains" in marked[0]["bad"]


def test_where_estimate_and_paper_differ_the_reasons_are_told() -> None:
    told = oil(TOPPED)
    assert told["paper"]["verdict"] == "too short"
    assert "over-fill" in " ".join(told["paper"]["why"])
    calm = logged(falling(0.06, 3.0), 14, low=4.0)
    assert oil(calm)["paper"]["verdict"] == "agrees"
    assert oil(calm)["paper"]["why"] == []


def test_a_bad_reading_at_the_end_of_the_paper_window_is_named_as_the_reason() -> None:
    one = with_level(GOOD_FIT, 12, 4.5)
    told = oil(one)
    assert told["paper"]["verdict"] == "disagrees"
    assert "starts or ends at a reading that the estimate leaves out" in " ".join(told["paper"]["why"])


def test_every_window_can_be_worked_out_again_from_its_own_numbers() -> None:
    for window in oil(logged(steady(0.3), 14))["windows"]:
        lost = window["level_from"] - window["level_to"] + window["added_qt"]
        assert lost / (window["to_h"] - window["from_h"]) == pytest.approx(window["rate_qt_h"], abs=2e-4)


def test_an_occurrence_is_the_root_of_a_fact_so_that_a_later_reading_finds_nothing_twice() -> None:
    short, longer = logged(climbing(0.03), 20), logged(climbing(0.03), 21)
    assert ask(short, "O14").hits[0].key == ask(longer, "O14").hits[0].key
    assert ask(logged(steady(0.45), 14), "O6").hits[0].key == ask(logged(steady(0.45), 15), "O6").hits[0].key


def test_the_judgement_of_a_whole_break_in_stays_small() -> None:
    one = logged(falling(0.1, 6.0), 25)
    assert len(json.dumps(judge(one, after(60)).detail["oil"])) < 30_000


def test_oil_of_another_kind_is_counted_by_fill() -> None:
    rows = (added(1, oil_kind="ad"), added(2, oil_kind="ad"), filled(3, 7.0), added(4, oil_kind="ad"))
    one = record(*(run(day) for day in range(1, 5)), oil=rows)
    assert [hit.severity for hit in ask(one, "O10").hits] == [NOTE, WATCH, NOTE]


def test_a_step_is_told_while_the_pilot_is_still_there() -> None:
    assert RULES["O7"].safety
    hit = ask(levels(6.0, 4.25), "O7").hits[0]
    assert hit.severity == STOP
    assert hit.occurrence == str(root("level 2 after 0"))
