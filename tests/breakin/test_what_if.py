"""Two judgements of one build side by side: what another plan would change."""

from __future__ import annotations

from dataclasses import replace

from breakin.what_if import Row, WhatIf, with_plan
from tests.breakin.records import LIGHT, PLAN, after, block, good_build, record, run

NOW = after(12)


def row(found: WhatIf, what: str) -> Row:
    return next(each for each in found.rows if each.what == what)


def test_the_same_plan_changes_nothing() -> None:
    found = with_plan(good_build(6), PLAN, NOW)
    assert not found.changes
    assert (found.appear, found.go) == ((), ())


def test_a_changed_band_changes_the_minutes_the_verdict_and_the_lane() -> None:
    narrow = replace(PLAN, credit={"75": [78, 85], "65": [62, 68]})
    found = with_plan(good_build(6), narrow, NOW)

    hour_1 = row(found, "First hour, credit at 75 %")
    assert (hour_1.before, hour_1.after, hour_1.changed) == (60.0, 0.0, True)
    assert row(found, "Second hour, credit at 75 %").before == 30.0
    verdict = row(found, "First two hours")
    assert (verdict.before, verdict.after) == ("met (stated)", "missed")
    assert (row(found, "Lane on the board").before, row(found, "Lane on the board").after) == (7, 2)
    assert [one.title for one in found.appear] == ["First two hours missed"]
    assert found.go == ()


def test_a_finding_that_the_new_plan_no_longer_makes_goes() -> None:
    narrow = replace(PLAN, credit={"75": [78, 85], "65": [62, 68]})
    found = with_plan(replace(good_build(6), plan=narrow), PLAN, NOW)
    assert [one.title for one in found.go] == ["First two hours missed"]
    assert found.appear == ()


def test_lines_of_oil_and_hours_are_compared_by_themselves() -> None:
    found = with_plan(good_build(10), replace(PLAN, accept_qt_h=0.02), after(25))
    accepted = row(found, "Loss accepted up to")
    assert (accepted.before, accepted.after) == (0.15, 0.02)
    assert not row(found, "First hour, credit at 75 %").changed
    assert row(found, "Lacking for review").changed


def test_a_build_without_a_plan_gets_its_first_minutes() -> None:
    bare = record(run(1, 1.2, blocks=(block(60, LIGHT),)), plan=None)
    found = with_plan(bare, PLAN, NOW)
    light = row(found, "First hour, credit at 75 %")
    assert (light.before, light.after) == (None, 0.0)
    assert row(found, "Alarm above").before is None
