"""The kept counts follow what they count, through every act that moves it; what went astray is found and mended."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from breakin import jobs, tasks
from breakin.assess import assess_build
from breakin.counts import recount
from breakin.models import Assessment, DueItem, Finding, FindingState, LaneCount, RuleCount
from breakin.services.corrections import withdraw_flight
from breakin.services.findings import acknowledge, clear
from breakin.services.waiving import waive_due
from shop.models import JobRun
from tests import factories
from tests.factories import NOW, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Cast:
    return factories.cast()


def _rule(name: str) -> dict[str, int]:
    row = RuleCount.objects.get(rule=name)
    return {each: getattr(row, each) for each in ("found", "builds", "standing", "agree", "false_alarm")}


def test_counts_of_a_rule_follow_its_findings_and_what_people_say_of_them(shop: Cast) -> None:
    for minutes in (25, 30):
        factories.flown(shop.build_1, 1.0, ground_before=minutes)
    for build in (shop.build_1, shop.build_2):
        assess_build(build.pk, NOW)
    assert recount() == []
    first, second = Finding.objects.filter(rule="E7").order_by("pk")
    assert _rule("E7") == {"found": 2, "builds": 1, "standing": 2, "agree": 0, "false_alarm": 0}
    acknowledge(by=shop.tom, finding=first, now=NOW)
    clear(by=shop.tom, finding=second, verdict="false_alarm", cause="A typo.", action="Asked.", now=NOW)
    assert _rule("E7") == {"found": 2, "builds": 1, "standing": 1, "agree": 0, "false_alarm": 1}
    assert recount() == []


def test_a_finding_that_goes_and_a_due_item_that_is_waived_leave_the_counts_right(shop: Cast) -> None:
    logged = factories.flown(shop.build_1, 1.0, ground_before=25)
    assess_build(shop.build_1.pk, NOW)
    item = DueItem.objects.filter(state__in=("waiting", "due", "due_soon", "late")).first()
    assert item is not None
    before = RuleCount.objects.get(rule=item.rule)
    waive_due(by=shop.cora, due_item=item, reason="Not wanted.", now=NOW)
    after = RuleCount.objects.get(rule=item.rule)
    assert (after.asked, after.asking) == (before.asked, before.asking - 1)
    withdraw_flight(by=shop.tom, flight=logged.flight, reason="wrong_engine", now=NOW)
    assess_build(shop.build_1.pk, NOW + timedelta(minutes=1))
    assert Finding.objects.get(rule="E7").state == FindingState.GONE
    assert _rule("E7")["standing"] == 0
    assert recount() == []


def test_a_count_that_went_astray_is_named_and_mended(shop: Cast) -> None:
    factories.flown(shop.build_1, 1.0, ground_before=25)
    assess_build(shop.build_1.pk, NOW)
    RuleCount.objects.filter(rule="E7").update(found=7)
    LaneCount.objects.update(builds=9)
    said = StringIO()
    call_command("recount", stdout=said)
    assert "Rule E7: found stood at 7, 1 is right." in said.getvalue()
    assert "Lane Call today: builds stood at 9, 1 is right." in said.getvalue()
    assert recount() == []


def test_counts_are_mended_once_a_night(shop: Cast) -> None:
    assess_build(shop.build_1.pk, NOW)
    LaneCount.objects.update(builds=9)
    tasks.recount()
    assert list(LaneCount.objects.filter(builds__gt=0).values_list("builds", flat=True)) == [1]
    LaneCount.objects.update(builds=9)
    tasks.recount()  # has run already
    assert set(LaneCount.objects.values_list("builds", flat=True)) == {9}
    assert JobRun.objects.filter(name=jobs.COUNTS).count() == 1


def test_an_engine_leaves_the_list_of_today_with_the_last_thing_it_asked_for(shop: Cast) -> None:
    factories.flown(shop.build_1, 1.2)
    assess_build(shop.build_1.pk, NOW)
    row = Assessment.objects.get(build=shop.build_1)
    asked = list(DueItem.objects.filter(build=shop.build_1, state__in=("due_soon", "due", "late")))
    assert row.asks
    assert asked
    Assessment.objects.filter(build=shop.build_1).update(lane=7)
    for number, item in enumerate(asked, start=1):
        waive_due(by=shop.cora, due_item=item, reason="Not wanted.", now=NOW)
        row.refresh_from_db()
        assert row.asks is (number < len(asked))
