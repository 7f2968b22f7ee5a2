"""Each rule that reads an inspection, on both sides of its line.

The lines are common practice of the trade without a published source; the numbers of the plan's table, the growth of a
filter and the rise above the baseline are the shop's own choice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from breakin.calc.inspection import flow_at_sea_level_gph, loss_pct
from breakin.judgement import judge
from breakin.picture.picture import Picture
from breakin.record import BuildRecord, InspectionFacts
from breakin.rules import RULES
from breakin.rules.base import CALL, STOP, WATCH
from tests.breakin.records import after, blocks, checked, good_build, level, record, run, with_plan, with_type

Case = tuple[str, str, BuildRecord, list[int]]


def look(day: float, kind: str, result: str = "normal", **results: Any) -> InspectionFacts:
    return replace(checked(day, kind, result), results=results)


def cut(day: float, **results: Any) -> InspectionFacts:
    return look(day, "oil_filter", opened=True, **results)


def pressed(day: float, *psi: float, **more: Any) -> InspectionFacts:
    readings = {str(number): each for number, each in enumerate(psi, start=1)}
    return look(day, "compression", input_psi=80.0, readings=readings, **more)


def sampled(day: float, hours: float | None = 10.0, **ppm: float) -> InspectionFacts:
    return look(day, "oil_analysis", ppm=ppm, hours_on_oil=hours)


def at_h(hours: float, *looks: InspectionFacts, **more: Any) -> BuildRecord:
    """So many hours flown on the first day, then these looks."""
    return record(run(1, hours), inspections=looks, **more)


def table(one: BuildRecord) -> BuildRecord:
    return with_plan(one, filter_table={"sliver": "few", "flake": "some"})


BREATHER = {"leak_heard": {"1": "breather", "3": "breather"}}
BASE = (sampled(2, fe=60.0, cu=20.0), sampled(3, fe=48.0, cu=12.0))
FF, AS_READ = {"fuel_flow_compensates": True}, {"fuel_flow_compensates": False}

CASES: list[Case] = [
    # Metal in the filter.
    ("fuzz is usual with new rings", "I2", at_h(1, cut(2, material="fuzz", count="many", amount="trace")), []),
    ("a flake of 0.9 mm is usual", "I2", at_h(1, cut(2, material="flake", longest_mm=0.9)), []),
    ("a flake of 1 mm is looked at soon", "I2", at_h(1, cut(2, material="flake", longest_mm=1.0)), [WATCH]),
    ("a sliver of 2 mm is looked at soon", "I2", at_h(1, cut(2, material="sliver", longest_mm=2.0)), [WATCH]),
    ("a sliver of 2.1 mm stops", "I2", at_h(1, cut(2, material="sliver", longest_mm=2.1)), [STOP]),
    ("a chunk stops", "I2", at_h(1, cut(2, material="chunk", longest_mm=0.5)), [STOP]),
    ("as many slivers as the plan takes", "I2", table(at_h(1, cut(2, material="sliver", count="few"))), []),
    ("more slivers than the plan takes stop", "I2", table(at_h(1, cut(2, material="sliver", count="some"))), [STOP]),
    ("more flakes than the plan takes stop", "I2", table(at_h(1, cut(2, material="flake", count="many"))), [STOP]),
    (
        "the same amount again is no growth",
        "I2",
        at_h(1, cut(2, material="fuzz", amount="quarter"), cut(9, material="fuzz", amount="quarter")),
        [],
    ),
    (
        "an amount that grows stops",
        "I2",
        at_h(1, cut(2, material="fuzz", amount="trace"), cut(9, material="fuzz", amount="quarter")),
        [STOP],
    ),
    (
        "a first trace after a clean filter is no growth",
        "I2",
        at_h(1, cut(2, material="none", amount="none"), cut(9, material="fuzz", amount="trace")),
        [],
    ),
    (
        "more flakes than in the filter before stop",
        "I2",
        at_h(1, cut(2, material="flake", count="few"), cut(9, material="flake", count="some")),
        [STOP],
    ),
    (
        "fewer flakes than before are fine",
        "I2",
        at_h(1, cut(2, material="flake", count="some"), cut(9, material="flake", count="few")),
        [],
    ),
    # Differential compression.
    ("two low cylinders before 25 h say nothing", "I3", at_h(25.0, pressed(2, 40, 45, 70, 70)), []),
    ("two low cylinders after 25 h are looked at soon", "I3", at_h(25.1, pressed(2, 59, 59, 70, 70)), [WATCH]),
    ("one low cylinder after 25 h is not", "I3", at_h(25.1, pressed(2, 59, 60, 70, 70)), []),
    (
        "two low cylinders before the plan's first check say nothing",
        "I3",
        with_plan(at_h(40.0, pressed(2, 40, 45, 70, 70)), first_check_h=50.0),
        [],
    ),
    (
        "air at the breather on two cylinders after 25 h speaks before the plan's first check",
        "I3",
        with_plan(at_h(40.0, pressed(2, 70, 70, 70, 70, **BREATHER)), first_check_h=50.0),
        [WATCH],
    ),
    ("air at the breather before 25 h says nothing", "I3", at_h(24.0, pressed(2, 70, 70, 70, 70, **BREATHER)), []),
    (
        "air at the breather on one cylinder says nothing",
        "I3",
        at_h(30.0, pressed(2, 70, 70, 70, 70, leak_heard={"1": "breather", "2": "exhaust"})),
        [],
    ),
    ("both at once ask for a call", "I3", at_h(30.0, pressed(2, 50, 50, 70, 70, **BREATHER)), [CALL]),
    # Oil at the breather: 0 dry to 3 heavy.
    ("drips at the breather are fine", "I4", at_h(5, look(2, "leak", breather=2)), []),
    ("a breather heavy with oil is looked at soon", "I4", at_h(5, look(2, "leak", breather=3)), [WATCH]),
    # Oil analysis: two samples of baseline, a quarter and 5 ppm above both.
    ("a first sample says nothing, however high", "I5", at_h(10, sampled(2, fe=400.0)), []),
    ("a second sample that rose says nothing", "I5", at_h(10, BASE[1], sampled(5, fe=200.0)), []),
    ("a third sample a quarter above both is not a rise", "I5", at_h(30, *BASE, sampled(5, fe=75.0)), []),
    ("a third sample clearly above both is watched", "I5", at_h(30, *BASE, sampled(5, fe=75.1)), [WATCH]),
    ("a few ppm of a rare metal are no rise", "I5", at_h(30, *BASE, sampled(5, cu=24.9)), []),
    ("twice the hours on the oil give twice the metal", "I5", at_h(30, *BASE, sampled(5, 20.0, fe=120.0)), []),
    (
        "coarse metal counts from the first sample",
        "I5",
        at_h(10, replace(sampled(2, fe=60.0), results={"ppm": {"fe": 60.0}, "coarse_metal": True})),
        [WATCH],
    ),
    # Fuel flow as left, band 15 to 17 gal/h.
    ("a set-up in the band is fine", "I7", at_h(1, look(2, "fuel_flow", full_gph=15.0)), []),
    ("a set-up under the band asks for a call", "I7", at_h(1, look(2, "fuel_flow", full_gph=14.9)), [CALL]),
    ("a set-up over the band asks for a call", "I7", at_h(1, look(2, "fuel_flow", full_gph=17.1)), [CALL]),
    (
        "high up a flow that follows density is brought to sea level",
        "I7",
        with_type(at_h(1, look(2, "fuel_flow", full_gph=12.9, density_altitude_ft=6000.0)), **FF),
        [],
    ),
    (
        "high up a flow that does not follow density is compared as read",
        "I7",
        with_type(at_h(1, look(2, "fuel_flow", full_gph=12.9, density_altitude_ft=6000.0)), **AS_READ),
        [CALL],
    ),
    (
        "the newest set-up counts",
        "I7",
        at_h(1, look(2, "fuel_flow", full_gph=14.0), look(3, "fuel_flow", full_gph=16.0)),
        [],
    ),
    # One cause is one thing to clear.
    (
        "what the rule of metal says is not said again",
        "I1",
        at_h(1, look(2, "oil_filter", "stop", opened=True, material="chunk")),
        [],
    ),
    (
        "a technician who finds it graver than the rule is heard",
        "I1",
        at_h(1, look(2, "oil_filter", "stop", opened=True, material="flake", longest_mm=1.5)),
        [STOP],
    ),
]  # fmt: skip


def ask(one: BuildRecord, rule: str, day: float = 10) -> Any:
    return RULES[rule].ask(Picture(one, after(day)))


@pytest.mark.parametrize(("sentence", "rule", "facts", "severities"), CASES, ids=[case[0] for case in CASES])
def test_each_rule_on_both_sides_of_its_line(
    sentence: str, rule: str, facts: BuildRecord, severities: list[int]
) -> None:
    said = ask(facts, rule)
    assert [hit.severity for hit in said.hits] == severities, said
    assert (said.word == "met") is not bool(severities)
    assert all(hit.text and hit.source and hit.title and hit.evidence for hit in said.hits)


def test_every_rule_here_has_a_case_that_is_met_and_one_that_is_not() -> None:
    for wanted in ("I2", "I3", "I4", "I5", "I7"):
        assert any(rule == wanted and hits for _, rule, _, hits in CASES)
        assert any(rule == wanted and not hits for _, rule, _, hits in CASES)


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
