"""The judgement of a build: phase, lane, what is lacking, and what a person's decision changes."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from breakin.doubles import with_runs
from breakin.judgement import judge, whole_sentences
from breakin.lanes import CALL, FOLLOW_UP, LATE, NOT_FLYING, QUIET, REVIEW, RUNNING, SLOW, STOPPED
from breakin.record import (
    BuildRecord,
    CellRunFacts,
    DecisionFacts,
    EventFacts,
    PreservationFacts,
    StandingStop,
)
from breakin.rules import RULES
from breakin.rules.base import CALL as CALL_SEVERITY
from breakin.rules.base import NOTE as NOTE_SEVERITY
from tests.breakin.records import (
    HALVES,
    HOUR_1,
    HOUR_2,
    OPENED,
    SEAT,
    added,
    after,
    checked,
    good_build,
    level,
    metered,
    record,
    root,
    run,
    with_plan,
    with_type,
)

READ = 6.0
LONG_RUN = record(
    *(run(day, 2.0, blocks=HALVES) for day in range(1, 11)),
    oil=tuple(
        event
        for day in range(1, 11)
        # Half a quart every flight, a quart poured in after every second one.
        for event in (level(day, 6.0 if day % 2 else 5.5), *(() if day % 2 else (added(day),)))
    ),
    inspections=(checked(1, "leak"), checked(6)),
)
QUICK: dict[str, Any] = {"oil": (level(1, READ),), "inspections": (checked(1, "leak"),)}


def one_flight(**more: Any) -> BuildRecord:
    return record(run(1, **more), **QUICK)


def decided(one: BuildRecord, state: str, **only: Any) -> BuildRecord:
    """The record after a person acknowledged or cleared everything that was found."""
    rows = tuple(
        DecisionFacts(hit.rule.id, hit.hit.key, state, after(2), hit.hit.severity)
        for hit in judge(one, after(2)).findings
    )
    return replace(one, decisions=rows, **only)


LANES: list[tuple[str, BuildRecord, Any, int]] = [
    ("a Stop goes first", one_flight(takeoff_ff_gph=10.0, chips=("rough",)), after(40), STOPPED),
    ("then a call", one_flight(chips=("rough",)), after(40), CALL),
    ("a reminder that came to the call is a call", one_flight(), after(22), CALL),
    ("then what is late", replace(one_flight(), oil=()), after(3.5), LATE),
    (
        "then an engine that does not settle",
        decided(with_plan(LONG_RUN, expected_high_h=12.0), "acknowledged"),
        after(12),
        SLOW,
    ),
    ("then an aircraft that sits", one_flight(), after(11.5), QUIET),
    ("then ready for review", good_build(11), after(22), REVIEW),
    ("then running in", one_flight(), after(2), RUNNING),
    (
        "then follow-up",
        replace(good_build(11), state="closed", events=(EventFacts("closed_out", after(22), 13.0),)),
        after(40),
        FOLLOW_UP,
    ),
    ("last, not flying yet", record(), after(2), NOT_FLYING),
]


@pytest.mark.parametrize(("sentence", "facts", "now", "lane"), LANES, ids=[row[0] for row in LANES])
def test_the_first_lane_that_holds(sentence: str, facts: BuildRecord, now: Any, lane: int) -> None:
    found = judge(facts, now)
    assert found.lane == lane
    assert found.board["sort_key"].startswith(f"{lane}|")
    assert bool(found.lane_reasons) == (lane not in (RUNNING, NOT_FLYING))


PHASES: list[tuple[str, BuildRecord]] = [
    ("awaiting", record()),
    ("awaiting", record(run(1, 0.0, kind="ground_run", airborne_min=0.0))),
    (
        "preserved",
        record(installations=(), preservations=(PreservationFacts(OPENED.date(), after(100).date()),)),
    ),
    ("hour_1", record(run(1, 0.5, airborne_min=30.0))),
    ("hour_2", record(run(1, 1.1, blocks=HOUR_1))),
    ("hour_2", record(run(1, 2.0))),
    ("alternating", record(run(1, 1.1, blocks=HOUR_1), run(2, 1.1, blocks=HOUR_2))),
    ("alternating", record(run(1, 2.0), run(2, 1.5))),
    ("settling", record(run(1, 1.1, blocks=HOUR_1), run(2, 1.1, blocks=HOUR_2), run(3, 3.0))),
    ("provisional", replace(good_build(11), inspections=())),
    ("review", good_build(11)),
    ("closed", replace(good_build(11), state="closed")),
    ("follow_up", replace(good_build(11), state="closed", events=(EventFacts("closed_out", after(22), 13.2),))),
    ("incomplete", replace(good_build(4), state="incomplete")),
    ("log_only", with_type(good_build(11), log_only=True)),
]


@pytest.mark.parametrize(("phase", "facts"), PHASES, ids=[f"{n} {row[0]}" for n, row in enumerate(PHASES)])
def test_the_phase_of_a_build(phase: str, facts: BuildRecord) -> None:
    assert judge(facts, after(22)).phase == phase


def test_a_stop_never_overwrites_the_phase() -> None:
    found = judge(one_flight(takeoff_ff_gph=10.0), after(2))
    assert (found.stopped, found.phase) == (True, "hour_1")
    assert "technician" in found.call_reason


def test_an_acknowledged_call_leaves_the_lane_of_calls() -> None:
    called = one_flight(chips=("rough",))
    assert judge(called, after(2)).lane == CALL
    found = judge(decided(called, "acknowledged"), after(2))
    assert (found.lane, found.board["calls"], found.call_reason) == (RUNNING, 0, "")


def test_a_new_occurrence_comes_back_to_the_lane_of_calls() -> None:
    first = decided(one_flight(chips=("rough",)), "acknowledged")
    again = replace(first, runs=(*first.runs, run(2, chips=("rough",))), oil=(*first.oil, level(2, READ)))
    assert judge(again, after(2, 2)).lane == CALL


def test_an_acknowledged_stop_is_still_a_stop() -> None:
    assert judge(decided(one_flight(takeoff_ff_gph=10.0), "acknowledged"), after(2)).lane == STOPPED


def test_only_clearing_ends_a_stop() -> None:
    found = judge(decided(one_flight(takeoff_ff_gph=10.0), "cleared"), after(2))
    assert (found.stopped, found.lane) == (False, RUNNING)


def test_acknowledging_a_note_does_not_answer_a_call_of_the_same_flight() -> None:
    noted = one_flight(ground_before_min=15.0)
    said = judge(noted, after(2)).findings[0]
    assert said.hit.severity == NOTE_SEVERITY
    longer = replace(decided(noted, "acknowledged"), runs=(run(1, ground_before_min=25.0),))
    found = judge(longer, after(2))
    assert found.findings[0].hit.severity == CALL_SEVERITY
    assert found.lane == CALL


def test_a_stop_stays_when_the_entry_behind_it_was_corrected_away() -> None:
    standing = StandingStop("E1", "gone:stop", "Full-throttle fuel flow low", "It was low.")
    found = judge(replace(one_flight(), standing_stops=(standing,)), after(2))
    assert (found.stopped, found.lane_reasons) == (True, ("It was low.",))


def test_what_the_book_says_already_is_no_input_of_the_judgement() -> None:
    one = one_flight()
    standing = StandingStop("E1", "x", "Low", "It was low.")
    assert replace(one, standing_stops=(standing,)).digest() == one.digest()


def test_a_decision_a_corrected_value_and_a_new_plan_each_move_the_digest() -> None:
    one = one_flight()
    others = [
        replace(one, decisions=(DecisionFacts("E1", "x", "cleared", after(2), 4),)),
        replace(one, runs=(run(1, cht_max_degf=391.0),)),
        with_plan(one, revision=2),
        with_type(one, revision=2),
    ]
    assert len({one.digest(), *(other.digest() for other in others)}) == 5


def test_the_same_record_gives_the_same_judgement() -> None:
    assert judge(good_build(), after(20)) == judge(good_build(), after(20))


def test_nothing_changes_between_now_and_the_next_moment_that_was_promised() -> None:
    one = replace(one_flight(), oil=())
    now = after(1.1)
    for _ in range(12):
        found = judge(one, now)
        if found.next_change_at is None:
            break
        assert found.next_change_at > now
        just_before = judge(one, found.next_change_at - (after(0, 0.001) - OPENED))
        assert just_before == found
        now = found.next_change_at
        assert judge(one, now) != found or judge(one, now).next_change_at != found.next_change_at
    assert now >= after(31)


def test_a_review_says_exactly_what_is_lacking_and_how_to_mend_it() -> None:
    found = judge(replace(good_build(11), inspections=()), after(22))
    lacking = found.detail["review"]["lacking"]
    assert [row["what"] for row in lacking] == ["First filter opened and normal", "Leak and torque look done"]
    assert all(row["why"] and row["mend"] for row in lacking)


def test_a_filter_that_was_not_normal_keeps_a_build_from_review() -> None:
    worn = replace(good_build(11), inspections=(checked(1, "leak"), checked(15, "oil_filter", "watch")))
    assert judge(worn, after(22)).phase == "provisional"


@pytest.mark.parametrize(("poor", "phase"), [(3, "review"), (4, "provisional")])
def test_seven_flights_in_ten_need_good_evidence(poor: int, phase: str) -> None:
    one = good_build(11)
    runs = tuple(replace(row, grade="D" if number < poor else "B") for number, row in enumerate(one.runs))
    assert judge(replace(one, runs=runs), after(22)).phase == phase


def test_over_a_tenth_of_unknown_hours_keeps_a_build_from_review() -> None:
    one = good_build(11)
    runs = tuple(replace(row, hours_estimated=number < 2) for number, row in enumerate(one.runs))
    lacking = judge(replace(one, runs=runs), after(22)).detail["review"]["lacking"]
    assert "Hours known" in [row["what"] for row in lacking]


def test_an_open_leak_is_a_veto_and_a_look_that_finds_nothing_ends_it() -> None:
    one = good_build(11)
    dripping = replace(one, oil=(*one.oil[:-1], replace(one.oil[-1], belly_oil=2)))
    assert judge(dripping, after(22)).phase == "settling"
    assert "A leak is open." in judge(dripping, after(22)).detail["oil"]["vetoes"]
    mended = replace(dripping, inspections=(*dripping.inspections, checked(21, "leak")))
    assert judge(mended, after(22)).detail["oil"]["leak_open"] is False


def test_an_owner_who_tops_to_full_is_never_told_that_his_engine_has_settled() -> None:
    one = good_build(11)
    topped = replace(one, oil=tuple(replace(row, level_qt=(row.level_qt or 0.0) + 1.5) for row in one.oil))
    found = judge(topped, after(22))
    assert (found.phase, found.board["oil_word"]) == ("settling", "not enough readings")
    assert "over-fill" in found.detail["oil"]["vetoes"][0]


def test_loss_with_an_open_leak_counts_for_no_window() -> None:
    one = good_build(8)
    dripping = replace(one, oil=(*one.oil[:-1], replace(one.oil[-1], belly_oil=3)))
    last = judge(dripping, after(16)).detail["oil"]["windows"][-1]
    assert not last["assessable"]
    assert "leak" in last["why_not"]


def test_cell_oil_is_shown_and_enters_no_rate() -> None:
    one = good_build(8)
    with_cell = replace(one, cell_runs=(CellRunFacts(OPENED.date(), 90.0, 0.9),))
    before, now = judge(one, after(16)).detail, judge(with_cell, after(16)).detail
    assert now["oil"] == before["oil"]
    assert now["clock"]["cell_min"] == 90.0
    assert now["clock"]["hours"] == before["clock"]["hours"]


def test_a_dipstick_offset_moves_every_level_and_no_rate() -> None:
    one = good_build(8)
    shifted = replace(one, installations=(replace(SEAT, dipstick_offset_qt=0.5),))
    before, now = judge(one, after(16)).detail["oil"], judge(shifted, after(16)).detail["oil"]
    assert now["level_qt"] == pytest.approx(before["level_qt"] + 0.5)
    assert [row["rate_qt_h"] for row in now["windows"]] == pytest.approx(
        [row["rate_qt_h"] for row in before["windows"]]
    )


def test_readings_follow_the_engine_through_a_swap() -> None:
    one = good_build(8)
    left = replace(SEAT, id=1, position="left", until=after(8))
    right = replace(SEAT, id=2, position="right", since=after(8))
    swapped = judge(replace(one, installations=(left, right), twin=True), after(16))
    assert swapped.board["side"] == "right"
    assert swapped.detail["oil"]["windows"] == judge(one, after(16)).detail["oil"]["windows"]


def test_unlogged_running_moves_the_clock_and_spoils_the_window_over_it() -> None:
    one = record(
        metered(10.0, 12.0, 1),
        metered(14.5, 16.5, 2),
        oil=(level(1, 6.0), level(2, 5.5)),
        inspections=(checked(1, "leak"),),
    )
    found = judge(one, after(2, 2)).detail
    assert found["clock"]["hours"] == pytest.approx(6.5)
    assert found["clock"]["unlogged"][0]["hours"] == pytest.approx(2.5)
    assert "not logged" in found["oil"]["windows"][0]["why_not"]


def test_two_entries_of_one_flight_count_once_and_the_better_graded_one() -> None:
    poor = run(1, 1.2, grade="D", root=root("poor"), cht_max_degf=450.0)
    one = with_runs(record(), (poor, run(1, 1.2)))
    assert one.left_out == ((poor.root, run(1).root),)
    assert judge(one, after(2)).board["hours"] == pytest.approx(1.2)


def test_flights_that_follow_one_another_on_the_meter_are_two() -> None:
    one = with_runs(record(), (metered(10.0, 11.2, 1), metered(11.2, 12.4, 1.01)))
    assert len(one.runs) == 2


def test_a_waived_due_item_is_no_longer_late() -> None:
    unread = replace(one_flight(), oil=())
    waived = replace(unread, decisions=(DecisionFacts("N1", str(root("flight 1")), "waived", after(2)),))
    assert judge(unread, after(3.5)).lane == LATE
    assert judge(waived, after(3.5)).lane == RUNNING


def test_the_detail_is_json_and_answers_every_rule() -> None:
    found = judge(good_build(), after(20))
    assert json.loads(json.dumps(found.detail, allow_nan=False)) == found.detail
    assert [row["rule"] for row in found.detail["rules"]] == list(RULES)
    words = {"met", "not met", "not observed", "not known", "not applicable"}
    assert {row["answer"] for row in found.detail["rules"]} <= words
    assert all(row["text"] for row in found.detail["rules"])


def test_not_enough_readings_is_an_answer() -> None:
    found = judge(one_flight(), after(2))
    assert found.board["oil_word"] == "not enough readings"
    assert "Not enough readings" in found.detail["oil"]["sentence"]
    assert found.board["oil_rate_qt_h"] is None


def test_a_log_only_type_gets_no_word_of_settling() -> None:
    found = judge(with_type(good_build(11), log_only=True), after(22))
    assert found.board["oil_word"] == "log only"
    assert found.detail["oil"]["stabilized"] is None
    assert found.detail["next"] is None


def test_the_next_stage_says_what_is_still_owed() -> None:
    owed = judge(record(run(1, 0.8, airborne_min=48.0, blocks=HOUR_1[:0])), after(2)).detail["next"]
    assert (owed["stage"], owed["owed"]) == ("hour_1", {"75": 60.0})
    started = judge(record(run(1, 0.8, airborne_min=45.0, blocks=(replace(HOUR_1[0], duration_min=40.0),))), after(2))
    assert started.detail["next"]["owed"] == {"75": pytest.approx(20.0)}


def test_forbidden_words_stand_in_no_sentence() -> None:
    texts = [one.text + one.title for one in RULES.values()]
    for facts in (good_build(11), one_flight(takeoff_ff_gph=10.0, chips=("rough",)), LONG_RUN):
        found = judge(facts, after(22))
        texts += [hit.hit.text for hit in found.findings] + [item.asked.text for item in found.due]
        texts.append(json.dumps(found.detail))
    said = " ".join(texts).lower()
    assert not [
        word for word in ("airworthy", "cleared to fly", "is safe", "released", "return to service") if word in said
    ]


def test_additions_stand_in_the_oil_entries_with_their_hours() -> None:
    one = record(run(1), run(2), oil=(level(1, 6.0), added(1), level(2, 6.75)))
    rows = judge(one, after(3)).detail["oil"]["entries"]
    assert [(row["kind"], row["hours"], row["anchor"]) for row in rows] == [
        ("reading", 1.2, True),
        ("addition", 1.2, False),
        ("reading", 2.4, True),
    ]


def test_a_ground_run_moves_its_own_budget_and_not_the_clock() -> None:
    shaken = run(1, 0.4, kind="ground_run", airborne_min=0.0, ground_before_min=15.0, ground_after_min=None)
    found = judge(record(shaken, run(2, 1.2)), after(3))
    assert found.board["hours"] == pytest.approx(1.2)
    assert found.detail["clock"]["ground_min"] == pytest.approx(24.0)


def test_a_long_reason_to_call_ends_with_a_whole_sentence():
    said = "First two hours missed. Hour 1: 12 min at 75 %. Talk to the pilot today."
    assert whole_sentences(said, 60) == "First two hours missed. Hour 1: 12 min at 75 %."
    assert whole_sentences(said, len(said)) == said
    assert whole_sentences("Loss 0.11 qt/h of one sentence without an end", 20) == "Loss 0.11 qt/h of…"
