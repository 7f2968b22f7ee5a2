"""Assessing: what is written, that twice writes nothing, and that a Stop shows at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from breakin import assess, counts
from breakin.judgement import judge
from breakin.load import load
from breakin.models import (
    Assessment,
    AssessmentDay,
    DueItem,
    DueState,
    Finding,
    FindingState,
    Lane,
    LaneCount,
    Phase,
    Severity,
)
from breakin.rules import RULES
from breakin.services.corrections import correct_flight, withdraw_flight
from breakin.services.findings import acknowledge, clear
from engines.models import Build
from tests.factories import NOW, Cast, aircraft, build, cast, engine, flown, raw_flight, seat

pytestmark = pytest.mark.django_db
LAST = NOW - timedelta(days=1)


@pytest.fixture
def shop() -> Cast:
    return cast()


def _everything() -> list[dict[str, Any]]:
    models: tuple[Any, ...] = (Assessment, AssessmentDay, Finding, DueItem, LaneCount)
    return [row for model in models for row in model.objects.order_by("pk").values()]


def _row(one: Build) -> Assessment:
    return Assessment.objects.get(build=one)


def _counts() -> dict[int, int]:
    return dict(LaneCount.objects.filter(builds__gt=0).values_list("lane", "builds"))


def _fly(one: Build, at: Any = LAST, **more: Any) -> Any:
    return flown(one, 1.2, at=at, level_qt=7.0, **more)


def test_a_flight_moves_the_build_from_not_flying_to_its_first_hours(shop: Cast) -> None:
    assess.assess_build(shop.build_1.pk, NOW)
    assert (_row(shop.build_1).phase, _row(shop.build_1).lane) == (Phase.AWAITING, Lane.NOT_FLYING)
    _fly(shop.build_1)
    assert assess.assess_build(shop.build_1.pk, NOW)
    row = _row(shop.build_1)
    assert (row.phase, row.lane) == (Phase.HOUR_1, Lane.RUNNING)
    assert row.hours == pytest.approx(1.2)
    assert (row.registration, row.customer_name, row.serial) == ("QX-901", "Ada's flying", shop.build_1.engine.serial)
    assert row.dirty_at is None


def test_assessing_twice_writes_nothing_the_second_time(shop: Cast) -> None:
    for days in (9, 7, 5):
        _fly(shop.build_1, NOW - timedelta(days=days), cht_max=425, ground_before=25)
    flown(shop.build_1, 1.0, at=LAST)
    assert assess.assess_build(shop.build_1.pk, NOW)
    before = _everything()
    assert not assess.assess_build(shop.build_1.pk, NOW)
    assert not assess.assess_build(shop.build_1.pk, NOW + timedelta(seconds=1))
    assert _everything() == before


def test_judging_anew_from_nothing_moved_changes_no_row_that_people_see(shop: Cast) -> None:
    _fly(shop.build_1, cht_max=425, ground_before=25)
    assess.assess_build(shop.build_1.pk, NOW)
    before = [row for row in _everything() if "inputs_digest" not in row]
    Assessment.objects.update(rules_version="older rules")
    assert not assess.assess_build(shop.build_1.pk, NOW)
    assert [row for row in _everything() if "inputs_digest" not in row] == before


def test_time_alone_moves_a_build_at_the_moment_it_promised(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=LAST)
    assess.assess_build(shop.build_1.pk, LAST + timedelta(hours=1))
    due = _row(shop.build_1).next_change_at
    assert due == LAST + timedelta(hours=18)
    assert shop.build_1.pk not in assess.due_ids(due - timedelta(seconds=1))
    assert shop.build_1.pk in assess.due_ids(due)
    assert assess.assess_build(shop.build_1.pk, due)
    item = DueItem.objects.get(build=shop.build_1, kind="oil_reading")
    assert (item.state, item.escalation) == (DueState.DUE, "nudge")


def test_a_stop_stands_on_the_board_before_anything_else_has_run(shop: Cast) -> None:
    assess.assess_build(shop.build_1.pk, LAST)
    logged = _fly(shop.build_1, oil_press_min=20)
    assert [stop.rule for stop in logged.stops] == ["E5"]
    row = _row(shop.build_1)
    assert (row.stopped, row.lane, row.stops) == (True, Lane.STOPPED, 1)
    assert "technician" in row.call_reason
    assert _counts()[Lane.STOPPED] == 1


def test_the_full_judgement_finds_the_same_stop_and_no_second_one(shop: Cast) -> None:
    _fly(shop.build_1, oil_press_min=20)
    first = Finding.objects.get(severity=Severity.STOP)
    assess.assess_build(shop.build_1.pk, NOW)
    assert Finding.objects.get(severity=Severity.STOP).pk == first.pk
    assert _row(shop.build_1).lane == Lane.STOPPED


def test_a_stop_ends_when_a_technician_clears_it_and_stays_cleared(shop: Cast) -> None:
    _fly(shop.build_1, oil_press_min=20)
    assess.assess_build(shop.build_1.pk, NOW)
    stop = Finding.objects.get(severity=Severity.STOP)
    clear(by=shop.tom, finding=stop, verdict="fixed", cause="relief valve stuck", action="valve cleaned", now=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    assert (_row(shop.build_1).stopped, _row(shop.build_1).lane) == (False, Lane.RUNNING)
    Assessment.objects.update(rules_version="older rules")
    assess.assess_build(shop.build_1.pk, NOW)
    assert Finding.objects.get(severity=Severity.STOP).state == FindingState.CLEARED


def _corrected(shop: Cast, logged: Any, **more: Any) -> None:
    from breakin.entries import parse_flight

    meter = {"meter_end": 101.2}
    raw = raw_flight(shop.build_1.engine, LAST, 1.2, **meter, **more)
    entry = parse_flight(raw, units="us", zone="UTC", now=NOW)
    correct_flight(by=shop.ada, flight=logged.flight, entry=entry, reason="mistyped", now=NOW)


def test_a_finding_goes_when_the_fact_was_corrected_away(shop: Cast) -> None:
    logged = _fly(shop.build_1, ground_before=25)
    assess.assess_build(shop.build_1.pk, NOW)
    assert _row(shop.build_1).lane == Lane.CALL
    _corrected(shop, logged, ground_before=5)
    assess.assess_build(shop.build_1.pk, NOW)
    assert Finding.objects.get(rule="E7").state == FindingState.GONE
    assert _row(shop.build_1).lane == Lane.RUNNING


def test_a_stop_stays_when_its_fact_was_corrected_and_says_so(shop: Cast) -> None:
    logged = _fly(shop.build_1, cht_max=505)
    _corrected(shop, logged, cht_max=405)
    assess.assess_build(shop.build_1.pk, NOW)
    stop = Finding.objects.get(rule="E2", severity=Severity.STOP)
    assert stop.state == FindingState.OPEN
    assert "corrected" in stop.text
    assert _row(shop.build_1).stopped
    before = _everything()
    Assessment.objects.update(rules_version="older rules")
    assess.assess_build(shop.build_1.pk, NOW)
    assert [row for row in _everything() if "severity" in row] == [row for row in before if "severity" in row]


def test_an_acknowledged_call_is_not_called_again(shop: Cast) -> None:
    _fly(shop.build_1, ground_before=25)
    assess.assess_build(shop.build_1.pk, NOW)
    acknowledge(by=shop.tom, finding=Finding.objects.get(rule="E7"), now=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    assert (_row(shop.build_1).lane, _row(shop.build_1).calls) == (Lane.RUNNING, 0)
    assert Finding.objects.get(rule="E7").state == FindingState.ACKNOWLEDGED


def test_a_new_version_of_a_rule_neither_reopens_nor_finds_twice(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    _fly(shop.build_1, ground_before=25)
    assess.assess_build(shop.build_1.pk, NOW)
    acknowledge(by=shop.tom, finding=Finding.objects.get(rule="E7"), now=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    opened = Finding.objects.get(rule="E7").opened_at
    monkeypatch.setitem(RULES, "E7", replace(RULES["E7"], version=2))
    monkeypatch.setattr(assess, "RULES_VERSION", "newer rules")
    assess.assess_build(shop.build_1.pk, NOW + timedelta(minutes=1))
    found = Finding.objects.get(rule="E7")
    assert (found.rule_version, found.state, found.opened_at) == (2, FindingState.ACKNOWLEDGED, opened)


def test_the_counts_of_the_lanes_follow_every_move(shop: Cast) -> None:
    assess.assess_many([shop.build_1.pk, shop.build_2.pk], LAST)
    assert _counts() == {Lane.NOT_FLYING: 2}
    _fly(shop.build_1)
    _fly(shop.build_2, cht_max=505)
    assess.assess_many([shop.build_1.pk, shop.build_2.pk], NOW)
    assert _counts() == {Lane.STOPPED: 1, Lane.RUNNING: 1}
    assert counts.recount() == []
    assert _counts() == {Lane.STOPPED: 1, Lane.RUNNING: 1}


def test_one_bad_build_is_named_and_the_others_are_judged(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails_for_one(record: Any, now: Any) -> Any:
        if record.build_id == shop.build_1.pk:
            raise ZeroDivisionError("made up")
        return judge(record, now)

    monkeypatch.setattr(assess, "judge", fails_for_one)
    outcome = assess.assess_many([shop.build_1.pk, shop.build_2.pk], NOW)
    assert (outcome.done, outcome.failed) == (1, (shop.build_1.pk,))
    assert _row(shop.build_2).computed_at == NOW
    with pytest.raises(SystemExit):
        call_command("assess", "--all", verbosity=0)


def test_a_fact_that_comes_in_while_judging_leaves_the_mark_standing(
    shop: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    assess.mark_dirty([shop.build_1.pk], LAST)

    def meanwhile(record: Any, now: Any) -> Any:
        assess.mark_dirty([shop.build_1.pk], NOW)
        return judge(record, now)

    monkeypatch.setattr(assess, "judge", meanwhile)
    assess.assess_build(shop.build_1.pk, NOW)
    assert _row(shop.build_1).dirty_at == NOW


def test_facts_before_the_build_and_of_the_other_engine_stay_out(shop: Cast) -> None:
    _fly(shop.build_1)
    _fly(shop.build_2)
    records = load([shop.build_1.pk, shop.build_2.pk], NOW)
    assert [len(one.runs) for one in records.values()] == [1, 1]
    Build.objects.filter(pk=shop.build_1.pk).update(opened_at=NOW)
    assert load([shop.build_1.pk], NOW)[shop.build_1.pk].runs == ()


def test_loading_and_judging_take_a_fixed_number_of_queries(shop: Cast) -> None:
    def queries(ids: list[int]) -> int:
        Assessment.objects.update(rules_version="older rules")
        with CaptureQueriesContext(connection) as caught:
            assess.assess_many(ids, NOW)
        return len(caught)

    for one in (shop.build_1, shop.build_2):
        _fly(one, ground_before=25)
    assess.assess_many([shop.build_1.pk, shop.build_2.pk], NOW)
    few = queries([shop.build_1.pk])
    more = [build(engine(), by=shop.cora) for _ in range(3)]
    for number, one in enumerate(more):
        seat(one.engine, aircraft(f"QX-91{number}", shop.ada_customer), by=shop.tom)
        _fly(one, ground_before=25, by=shop.ada)
    ids = [shop.build_1.pk, shop.build_2.pk, *(one.pk for one in more)]
    assess.assess_many(ids, NOW)
    assert queries(ids) == few
    assert few <= 32


def test_an_assessment_row_is_kept_for_each_day_on_which_something_changed(shop: Cast) -> None:
    _fly(shop.build_1)
    assess.assess_build(shop.build_1.pk, NOW)
    assess.assess_build(shop.build_1.pk, NOW + timedelta(days=1))
    assert AssessmentDay.objects.filter(build=shop.build_1).count() <= 2
    Assessment.objects.update(rules_version="older rules")
    assess.assess_build(shop.build_1.pk, NOW + timedelta(days=1, minutes=1))
    days = list(AssessmentDay.objects.filter(build=shop.build_1).values_list("day", flat=True))
    assert len(days) == len(set(days))


def test_two_entries_of_one_flight_count_once_until_somebody_merges_them(shop: Cast) -> None:
    _fly(shop.build_1)
    flown(shop.build_1, 1.2, at=LAST + timedelta(minutes=4), meter_end=101.2)
    record = load([shop.build_1.pk], NOW)[shop.build_1.pk]
    assert (len(record.runs), len(record.left_out)) == (1, 1)
    assess.assess_build(shop.build_1.pk, NOW)
    assert _row(shop.build_1).hours == pytest.approx(1.2)
    assert Finding.objects.get(rule="H1").title == "Possible duplicate"


def test_a_call_that_was_shown_at_once_goes_when_its_entry_is_withdrawn_before_the_full_judgement(shop: Cast) -> None:
    assess.assess_build(shop.build_1.pk, LAST)
    logged = _fly(shop.build_1, ground_before=25)
    assert _row(shop.build_1).lane == Lane.CALL
    withdraw_flight(by=shop.ada, flight=logged.flight, reason="duplicate", now=LAST + timedelta(hours=1))
    assess.assess_build(shop.build_1.pk, LAST + timedelta(hours=2))
    assert _row(shop.build_1).lane == Lane.NOT_FLYING
    assert _counts() == {Lane.NOT_FLYING: 1}
