"""The page of lots: who reads it, what raises an alarm, and that engines of ended builds are named too."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from breakin.models import Assessment, Finding, FindingState, FindingVerdict, Phase, Severity
from engines.models import Build, BuildState
from reports.fleet import lots_page
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast

pytestmark = pytest.mark.django_db
PAGE = "/lots/"


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().replace("\u202f", " ").split())


def of_lot(shop: Cast, lot: str, count: int = 1, *, barrel: bool = False) -> list[Build]:
    name = "barrel_lot" if barrel else "ring_lot"
    return [
        factories.build(factories.engine(), by=shop.cora, positions=factories.positions(4, **{name: lot}))
        for _ in range(count)
    ]


def found(build: Build, rule: str = "O11", severity: Severity = Severity.CALL, **more: Any) -> Finding:
    values = {
        "rule_version": 1, "title": rule, "text": "Found.", "why": "Because.", "source": "plan", "happened_at": NOW,
        "opened_at": NOW, "occurrence": "one", **more,
    }  # fmt: skip
    return Finding.objects.create(build=build, rule=rule, severity=severity, **values)


def page_of(shop: Cast, as_person: Any) -> str:
    answer = as_person(shop.cora).get(PAGE)
    assert answer.status_code == 200
    return text(answer)


def test_one_slow_of_three_raises_nothing(shop: Cast, as_person: Any) -> None:
    found(of_lot(shop, "R7", 3)[0])
    page = page_of(shop, as_person)

    assert "None. One or two slow builds" in page
    assert "Ring lot R7" in page


def test_three_slow_name_every_engine_with_the_lot_and_the_ended_ones_too(shop: Cast, as_person: Any) -> None:
    builds = of_lot(shop, "R7", 4)
    for build in builds[:3]:
        found(build)
    Build.objects.filter(pk=builds[3].pk).update(state=BuildState.CLOSED, closed_at=NOW)
    page = page_of(shop, as_person)

    assert "3 builds were slow to settle of 4 with it." in page
    assert all(f"build {build.number}</a>" in page for build in builds)
    assert f"build {builds[3].number}</a>, closed out</li>" in page


def test_two_stops_of_one_kind_raise_it_and_of_two_kinds_do_not(shop: Cast, as_person: Any) -> None:
    one, two = of_lot(shop, "B3", 2, barrel=True)
    found(one, "I1", Severity.STOP)
    other = found(two, "I2", Severity.STOP)
    assert "Stops of one kind, “" not in page_of(shop, as_person)

    Finding.objects.filter(pk=other.pk).update(rule="I1")
    page = page_of(shop, as_person)
    assert "2 Stops of one kind, “" in page
    assert "in 2 builds of 2 with it." in page


def test_a_lot_written_in_another_case_is_the_same_lot(shop: Cast, as_person: Any) -> None:
    for build in (*of_lot(shop, "R7", 2), *of_lot(shop, " r7")):
        found(build)

    assert "3 builds were slow" in page_of(shop, as_person)


def test_a_false_alarm_counts_for_nothing(shop: Cast, as_person: Any) -> None:
    slow = [found(build) for build in of_lot(shop, "R7", 3)]
    FindingVerdict.objects.create(
        finding=slow[0], verdict="false_alarm", cause="Wrong meter.", action="None.", by=shop.tom, at=NOW
    )

    assert "3 builds were slow" not in page_of(shop, as_person)


def test_slow_that_a_correction_took_back_does_not_count_and_slow_that_settled_does(shop: Cast, as_person: Any) -> None:
    builds = of_lot(shop, "R7", 3)
    for build in builds:
        found(build, state=FindingState.GONE)
    Assessment.objects.filter(build__in=builds).update(phase=Phase.SETTLING)
    assert "3 builds were slow" not in page_of(shop, as_person)

    Assessment.objects.filter(build__in=builds).update(phase=Phase.PROVISIONAL)
    assert "3 builds were slow" in page_of(shop, as_person)


def test_it_costs_the_same_number_of_queries_with_more_lots(shop: Cast, as_person: Any) -> None:
    client = as_person(shop.cora)
    for build in of_lot(shop, "R7", 3):
        found(build)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(PAGE)
    for name in ("R8", "R9"):
        for build in of_lot(shop, name, 3):
            found(build)
    with CaptureQueriesContext(connection) as many:
        client.get(PAGE)

    assert len(many) == len(few)


def test_lots_are_paged_by_name(shop: Cast, as_person: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lots_page, "PAGE", 2)
    for name in ("R1", "R2", "R3"):
        of_lot(shop, name)
    client = as_person(shop.cora)
    first = client.get(PAGE).context["page"]

    assert [row.name for row in first.rows] == ["Ring lot R1", "Ring lot R2"]
    second = client.get(first.next_url).context["page"]
    assert [row.name for row in second.rows] == ["Ring lot R3"]
    assert (second.first_url, second.next_url) == (PAGE, "")


def test_managers_and_build_technicians_read_it_and_the_shop_page_leads_them_there(shop: Cast, as_person: Any) -> None:
    bea = factories.person("Bea", role=Role.BUILD_TECHNICIAN)

    assert as_person(bea).get(PAGE).status_code == 200
    assert f'href="{PAGE}"' in text(as_person(bea).get(reverse("acts")))
    assert as_person(shop.tom).get(PAGE).status_code == 403
    assert f'href="{PAGE}"' not in text(as_person(shop.tom).get(reverse("acts")))
