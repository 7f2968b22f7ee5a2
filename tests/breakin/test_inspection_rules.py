"""What the rules of inspections ask of the shop, and the filter that nobody cut. Their lines: the table of rules."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from breakin.calc.inspection import flow_at_sea_level_gph, loss_pct
from breakin.judgement import judge
from breakin.picture.picture import Picture
from breakin.record import BuildRecord, DecisionFacts, InspectionFacts
from breakin.rules import RULES
from tests.breakin.inspection_cases import at_h, cut, look, pressed
from tests.breakin.records import after, blocks, good_build, level, record, run


def ask(one: BuildRecord, rule: str, day: float = 10) -> Any:
    return RULES[rule].ask(Picture(one, after(day)))


INSPECT_SOON: list[tuple[str, str, InspectionFacts, InspectionFacts, str]] = [
    ("metal, by a later filter", "I2", cut(2, material="flake", longest_mm=1.5), cut(5, material="fuzz"), "done"),
    ("metal, by the borescope", "I2", cut(2, material="flake", longest_mm=1.5), look(5, "borescope"), "done"),
    ("metal, not by compression", "I2", cut(2, material="flake", longest_mm=1.5), pressed(5, 70, 70), "due"),
    ("metal, not by a filter nobody opened", "I2", cut(2, material="flake", longest_mm=1.5),
     look(5, "oil_filter", opened=False), "due"),
    ("metal, not by an earlier look", "I2", cut(2, material="flake", longest_mm=1.5), look(1, "borescope"), "due"),
    ("rings, by the borescope", "I3", pressed(2, 50, 50), look(5, "borescope"), "done"),
    ("rings, not by a filter", "I3", pressed(2, 50, 50), cut(5, material="fuzz"), "due"),
    ("breather, by compression", "I4", look(2, "leak", breather=3), pressed(5, 70, 70), "done"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "found", "then", "state"), [c[1:] for c in INSPECT_SOON], ids=[c[0] for c in INSPECT_SOON]
)
def test_inspect_soon_is_due_until_a_fitting_look(
    rule: str, found: InspectionFacts, then: InspectionFacts, state: str
) -> None:
    looks = sorted((found, then), key=lambda row: row.at)
    items = ask(record(run(1, 30.0), inspections=tuple(looks)), rule, 6).asked
    assert [item.state for item in items if item.occurrence == str(found.root)] == [state]


def test_a_look_that_is_asked_for_becomes_a_call_after_a_week() -> None:
    one = at_h(1, cut(2, material="flake", longest_mm=1.5))
    states = [(ask(one, "I2", day).asked[0].state, ask(one, "I2", day).asked[0].escalation) for day in (3, 9.2, 16.2)]
    assert states == [("due", "chase"), ("late", "call"), ("late", "manager")]


class TestFilterThatNobodyCut:
    CHANGED = level(2, 7.0, kind="drain_fill", level_qt=None, filled_qt=7.0, filter_changed=True, flight_root=None)

    def test_a_changed_filter_without_a_look_stays_open(self) -> None:
        said = ask(record(run(1), oil=(self.CHANGED,)), "I6")
        assert (said.word, [item.state for item in said.asked]) == ("not met", ["late"])

    def test_an_oil_change_without_its_filter_asks_for_nothing(self) -> None:
        one = replace(self.CHANGED, filter_changed=False)
        assert ask(record(run(1), oil=(one,)), "I6").word == "not observed"

    def test_the_look_of_the_same_moment_answers_it(self) -> None:
        same = replace(cut(2, material="fuzz"), at=self.CHANGED.at)
        assert not ask(record(run(1), oil=(self.CHANGED,), inspections=(same,)), "I6").asked

    def test_a_filter_said_not_to_be_opened_is_answered_by_the_next_one(self) -> None:
        shut = look(2, "oil_filter", opened=False)
        assert ask(at_h(1, shut), "I6").word == "not met"
        assert ask(at_h(1, shut, cut(5, material="fuzz")), "I6").word == "met"

    def test_it_does_not_answer_the_first_oil_and_filter(self) -> None:
        states = [
            [item.state for item in ask(at_h(10.0, row), "N2").asked]
            for row in (look(2, "oil_filter", opened=False), cut(2, material="fuzz"))
        ]
        assert states == [["late"], ["done"]]

    def test_it_keeps_the_build_from_review(self) -> None:
        one = good_build(12)
        shut = look(20, "oil_filter", opened=False)
        words = [
            row["what"]
            for row in judge(replace(one, inspections=(*one.inspections, shut)), after(30)).detail["review"]["lacking"]
        ]
        assert "Every filter that came off was looked into" in words
        assert "Every filter that came off was looked into" not in [
            row["what"] for row in judge(one, after(30)).detail["review"]["lacking"]
        ]


def test_a_missed_start_asks_for_the_borescope_at_the_first_check() -> None:
    light = blocks((60, 21.9))
    missed = record(*(run(day, 1.0, blocks=light) for day in range(1, 6)))
    near = replace(missed, runs=(*missed.runs, run(6, 20.0)))
    assert [item.state for item in ask(missed, "I8", 20).asked] == ["waiting"]
    assert [item.state for item in ask(near, "I8", 20).asked] == ["due"]
    looked = replace(near, inspections=(look(7, "borescope", grades={"1": 0}),))
    assert [item.state for item in ask(looked, "I8", 20).asked] == ["done"]
    assert ask(good_build(3), "I8").word == "not applicable"


def test_a_loss_of_a_cylinder_is_a_share_of_the_input() -> None:
    assert loss_pct(60, 80) == pytest.approx(25)
    assert loss_pct(80, 80) == 0


def test_a_flow_at_sea_level_is_the_flow_as_read() -> None:
    assert flow_at_sea_level_gph(16.0, 0.0) == pytest.approx(16.0)
    assert flow_at_sea_level_gph(16.0, 6000.0) > 18.0


HOT: dict[str, Any] = {"cht_falling_by_3000": "no", "cht_max_degf": 430.0}
LOW: dict[str, Any] = {"takeoff_map_inhg": 26.5, "field_elevation_ft": 600.0, "altimeter_inhg": 29.92}


@pytest.mark.parametrize(
    ("flight", "kind", "fitting", "other"),
    [(HOT, "look_cooling", "timing", "induction"), (LOW, "look_induction", "induction", "baffle")],
)
def test_heat_and_low_pressure_ask_for_a_look_that_only_a_fitting_one_answers(
    flight: dict[str, Any], kind: str, fitting: str, other: str
) -> None:
    twice = record(run(1, **flight), run(3, **flight))
    (item,) = ask(twice, "I9", 4).asked
    assert (item.kind, item.state, item.escalation) == (kind, "due", "chase")
    assert item.occurrence.startswith(str(twice.runs[0].root))
    (still,) = ask(replace(twice, inspections=(look(4, other),)), "I9", 5).asked
    assert still.state == "due"
    (done,) = ask(replace(twice, inspections=(look(4, fitting),)), "I9", 5).asked
    assert (done.state, done.closed_by_kind) == ("done", "inspection")
    # What shows again after the look asks anew.
    between = replace(twice, inspections=(look(2, fitting),))
    assert [each.state for each in ask(between, "I9", 4).asked] == ["done", "due"]


def test_heads_that_came_down_and_full_throttle_near_the_air_outside_ask_for_no_look() -> None:
    well = {**HOT, "cht_falling_by_3000": "yes", **LOW, "takeoff_map_inhg": 28.5}
    assert ask(record(run(1, **well)), "I9", 4).asked == ()


def test_a_look_for_a_cause_is_called_for_after_a_week_and_dropped_when_the_finding_is_cleared() -> None:
    hot = record(run(1, **HOT))
    assert [ask(hot, "I9", day).asked[0].escalation for day in (2, 9, 16)] == ["chase", "call", "manager"]
    (hit,) = ask(hot, "E3", 2).hits
    cleared = DecisionFacts("E3", hit.key, "cleared", severity=hit.severity)
    assert ask(replace(hot, decisions=(cleared,)), "I9", 16).asked == ()
