"""Opening and ending builds, plans and cards."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from breakin.models import Assessment, IssuedCard, Phase, PlanStage
from breakin.plan_templates import ensure_templates, template_name_for
from breakin.services import builds, closing
from breakin.services.builds import PositionEntry
from breakin.services.cards import current_card
from breakin.services.plans import issue_plan
from engines.models import Build, BuildEvent
from shop.errors import Refusal
from shop.models import Person
from tests.factories import NOW, build, engine, person, positions, type_revision

pytestmark = pytest.mark.django_db


@pytest.fixture
def cora() -> Person:
    return person("Cora", role="manager")


def refused(cora: Person, **more: Any) -> dict[str, list[str]]:
    with pytest.raises(Refusal) as caught:
        build(more.pop("of", None) or engine(), by=cora, **more)
    return caught.value.by_field()


def test_an_open_build_has_positions_an_event_and_an_assessment(cora: Person) -> None:
    opened = build(engine(), by=cora)
    assert opened.positions.count() == 4
    assert opened.events.get().kind == "opened"
    assert Assessment.objects.get(build=opened).phase == Phase.AWAITING


def test_a_second_overhaul_while_one_is_open_is_refused(cora: Person) -> None:
    one = engine()
    build(one, by=cora, number="B-1")
    assert (
        "B-1 of this engine is open" in refused(cora, of=one, opened_at=NOW - timedelta(days=9), now=NOW)["engine"][0]
    )


def test_a_cylinder_job_supersedes_the_open_build(cora: Person) -> None:
    one = engine()
    first = build(one, by=cora)
    at = NOW - timedelta(days=9)
    second = build(one, by=cora, kind="cylinder", opened_at=at, now=at, positions=[PositionEntry(3, finish="nitrided")])
    first.refresh_from_db()
    assert (first.state, first.closed_at, second.state) == ("superseded", at, "open")
    assert BuildEvent.objects.get(build=first, kind="superseded").reason == f"Superseded by build {second.number}."


def test_chrome_rings_in_a_chrome_bore_need_an_inspectors_reason(cora: Person) -> None:
    chrome = positions(finish="chrome", ring_facing="Chrome")
    problems = refused(cora, positions=chrome)
    assert {f"positions.{index}.ring_facing" for index in range(4)} == set(problems)
    taken = build(engine(), by=cora, positions=chrome, inspector_override="supplier's letter of this lot")
    assert taken.events.get().detail == {"inspector_override": "supplier's letter of this lot"}


def test_chrome_rings_in_a_steel_bore_are_taken(cora: Person) -> None:
    assert build(engine(), by=cora, positions=positions(ring_facing="chrome")).positions.count() == 4


def test_a_disturbed_cylinder_names_its_finish(cora: Person) -> None:
    missing = [*positions(3), PositionEntry(4)]
    assert "Cylinder 4" in refused(cora, positions=missing)["positions.3.finish"][0]
    undisturbed = [*positions(3), PositionEntry(4, disturbed=False)]
    assert build(engine(), by=cora, positions=undisturbed).positions.filter(disturbed=True).count() == 3


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"positions": positions(3)}, "positions"),
        ({"positions": [*positions(4), PositionEntry(5, finish="nitrided")]}, "positions.4.number"),
        ({"positions": [*positions(4), PositionEntry(1, finish="nitrided")]}, "positions.4.number"),
        ({"positions": positions(4, finish="teflon")}, "positions.0.finish"),
        ({"positions": positions(4, ring_gap_in=0.5)}, "positions.0.ring_gap_in"),
        ({"positions": positions(4, hone_angle_deg=3)}, "positions.0.hone_angle_deg"),
        ({"kind": "polish"}, "kind"),
        ({"number": " "}, "number"),
        ({"opened_at": NOW}, "opened_at"),
        ({"total_time_h": -1}, "total_time_h"),
        ({"total_time_h": 100, "time_since_overhaul_h": 200}, "time_since_overhaul_h"),
    ],
)
def test_a_build_sheet_with_a_mistake_is_refused_in_its_field(cora: Person, more: dict[str, Any], field: str) -> None:
    assert field in refused(cora, **more)
    assert not Build.objects.exists()


def test_total_time_never_falls(cora: Person) -> None:
    one = engine()
    first = build(one, by=cora, total_time_h=1200)
    closing.close_incomplete(by=cora, build=first, reason="removed", now=NOW)
    later = NOW + timedelta(days=1)
    assert "never falls" in refused(cora, of=one, total_time_h=1100, opened_at=later, now=later)["total_time_h"][0]


def test_a_build_number_is_given_once(cora: Person) -> None:
    build(engine(), by=cora, number="B-7")
    assert "taken" in refused(cora, number="B-7")["number"][0]


@pytest.mark.parametrize(
    ("hp", "maker", "finish", "rates"),
    [
        # 0.006 x hp x 4 / 7.4 and its quarter and half; the maker's own goes first; chrome keeps a higher loss.
        (180, None, "through_hardened", (0.146, 0.292, 0.584)),
        (285, None, "nitrided", (0.231, 0.462, 0.924)),
        (180, 0.8, "nitrided", (0.2, 0.4, 0.8)),
        (180, None, "chrome", (0.219, 0.438, 0.584)),
    ],
)
def test_the_rates_of_a_plan_follow_from_the_engine(
    cora: Person, hp: float, maker: float | None, finish: str, rates: tuple[float, ...]
) -> None:
    revision = type_revision(f"TEST-{hp}-{maker}", rated_hp=hp, oil_ceiling_qt_h=maker)
    plan = build(engine(revision), by=cora, finish=finish).plans.get()
    assert (plan.accept_qt_h, plan.watch_qt_h, plan.alarm_qt_h) == pytest.approx(rates, abs=0.001)


def test_the_slowest_finish_governs_the_hours(cora: Person) -> None:
    mixed = [*positions(2), PositionEntry(3, finish="nitrided"), PositionEntry(4, finish="chrome")]
    opened = build(engine(), by=cora, positions=mixed)
    plan = opened.plans.get()
    assert (plan.expected_low_h, plan.expected_high_h, plan.minimum_h) == (25, 50, 25)
    assert template_name_for(opened) == "Channel chrome"


def test_a_plan_keeps_its_stages_whatever_becomes_of_the_template(cora: Person) -> None:
    opened = build(engine(), by=cora)
    template = ensure_templates()["Through-hardened steel"]
    template.stages = []
    template.save()
    stage = PlanStage.objects.get(plan=opened.plans.get(), kind="hour_2")
    assert (stage.minutes, stage.cap_h) == ([[15, "75"], [15, "65"], [15, "75"], [15, "65"]], 3.5)


def test_what_the_shop_changed_in_a_template_stays() -> None:
    template = ensure_templates()["Turbocharged"]
    template.minimum_h = 20
    template.save()
    assert ensure_templates()["Turbocharged"].minimum_h == 20


def test_a_plan_is_issued_again_with_a_reason_only(cora: Person) -> None:
    opened = build(engine(), by=cora)
    template = ensure_templates()["Nitrided steel"]
    with pytest.raises(Refusal, match="needs a reason"):
        issue_plan(by=cora, build=opened, template=template, now=NOW)
    plan = issue_plan(
        by=cora,
        build=opened,
        template=template,
        overrides={"accept_qt_h": 0.1, "rpm": 2450},
        reason="maker's letter",
        now=NOW,
    )
    assert (plan.revision, plan.accept_qt_h, plan.stages.get(kind="hour_1").rpm) == (2, 0.1, 2450)


@pytest.mark.parametrize(
    ("overrides", "field"),
    [({"accpt": 1}, "accpt"), ({"accept_qt_h": 9}, "watch_qt_h"), ({"expected_low_h": "soon"}, "expected_low_h")],
)
def test_an_impossible_override_is_refused(cora: Person, overrides: dict[str, Any], field: str) -> None:
    opened = build(engine(), by=cora, template=None)
    with pytest.raises(Refusal) as caught:
        issue_plan(by=cora, build=opened, template=ensure_templates()["Nitrided steel"], overrides=overrides, now=NOW)
    assert field in caught.value.by_field()


def test_the_cooling_cap_of_the_type_goes_into_the_stages(cora: Person) -> None:
    revision = type_revision("TURBO", induction="turbocharged", altitude_cap_ft=7000)
    opened = build(engine(revision), by=cora, finish="nitrided", template="Turbocharged")
    assert opened.plans.get().stages.get(kind="hour_1").altitude_max_ft == 7000
    assert template_name_for(opened) == "Turbocharged"


def test_the_card_is_the_same_until_it_ends_or_the_plan_changes(cora: Person) -> None:
    opened = build(engine(), by=cora)
    card = current_card(by=cora, build=opened, now=NOW)
    assert (card.stage, card.minutes, card.number) == ("hour_1", [[60, "75"]], 1)
    assert current_card(by=cora, build=opened, now=NOW + timedelta(days=7)) == card
    assert current_card(by=cora, build=opened, now=NOW + timedelta(days=7, seconds=1)).number == 2
    template = ensure_templates()["Nitrided steel"]
    issue_plan(by=cora, build=opened, template=template, reason="other finish", now=NOW)
    assert current_card(by=cora, build=opened, now=NOW + timedelta(days=8)).number == 3
    assert IssuedCard.objects.count() == 3


def test_a_new_stage_is_a_new_card(cora: Person) -> None:
    opened = build(engine(), by=cora)
    current_card(by=cora, build=opened, now=NOW)
    Assessment.objects.filter(build=opened).update(phase=Phase.ALTERNATING, detail={})
    card = current_card(by=cora, build=opened, now=NOW)
    assert (card.number, card.stage) == (2, "alternating")


def test_without_a_plan_there_is_no_card(cora: Person) -> None:
    with pytest.raises(Refusal, match="no run-in plan yet"):
        current_card(by=cora, build=build(engine(), by=cora, template=None), now=NOW)


def test_a_cell_run_is_kept_apart(cora: Person) -> None:
    opened = build(engine(), by=cora)
    run = builds.record_cell_run(
        by=cora,
        build=opened,
        run_on=date(2026, 6, 1),
        minutes=90,
        steps=[[1200, 30], [2400, 60]],
        oil_used_qt=0.9,
        now=NOW,
    )
    assert (run.minutes, run.steps) == (90, [[1200, 30], [2400, 60]])
    with pytest.raises(Refusal, match="longer than the whole run"):
        builds.record_cell_run(by=cora, build=opened, run_on=date(2026, 6, 1), minutes=60, steps=[[1200, 62]], now=NOW)


def test_a_new_preservation_ends_the_one_before(cora: Person) -> None:
    opened = build(engine(), by=cora)
    for month in (3, 6):
        builds.preserve(
            by=cora, build=opened, preserved_on=date(2026, month, 1), expires_on=date(2026, month + 3, 1), now=NOW
        )
    assert list(opened.preservations.order_by("pk").values_list("ended_on", flat=True)) == [date(2026, 6, 1), None]
    with pytest.raises(Refusal, match="Check the year"):
        builds.preserve(by=cora, build=opened, preserved_on=date(2026, 6, 1), expires_on=date(2025, 6, 1), now=NOW)
