"""The instructor's page: what was missed on the last flight, and how his engines ended after he went home."""

from __future__ import annotations

import html
from datetime import timedelta
from typing import Any

import pytest

from breakin import assess
from breakin.models import Finding
from engines.models import Build, BuildEvent, BuildState, PilotAssignment
from shop.models import Person
from tests import factories
from tests.factories import NOW, Cast, flown

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
PAGE = "/portal/instructor/"


@pytest.fixture
def corin(shop: Cast) -> Person:
    pilot = factories.person("Corin")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=pilot, since=NOW - timedelta(days=40))
    return pilot


def text(answer: Any) -> str:
    return html.unescape(" ".join(answer.content.decode().split()))


def test_the_last_flight_shows_what_the_rules_found_on_it(shop: Cast, as_person: Any, corin: Person) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=3), level_qt=6.0, by=shop.ada)
    last = flown(shop.build_1, 1.1, at=NOW - timedelta(days=1), level_qt=6.0, by=shop.ada, cht_max="433", note="secret")
    assess.assess_build(shop.build_1.pk, NOW)
    found = Finding.objects.filter(build=shop.build_1, happened_at=last.flight.happened_at)
    assert found.exists()
    page = text(as_person(corin).get(PAGE))
    assert found[0].title in page
    assert "66 min in the air" in page
    assert "secret" not in page
    assert "QX-902" not in page


def test_an_aircraft_whose_assignment_ended_shows_how_its_engine_ended(
    shop: Cast, as_person: Any, corin: Person
) -> None:
    PilotAssignment.objects.update(until=NOW - timedelta(days=20))
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=2), level_qt=6.0, by=shop.ada, note="of another time")
    assess.assess_build(shop.build_1.pk, NOW)
    Build.objects.filter(pk=shop.build_1.pk).update(state=BuildState.CLOSED, closed_at=NOW - timedelta(days=1))
    BuildEvent.objects.create(
        build=shop.build_1, kind="closed_out", at=NOW - timedelta(days=1), by=shop.cora, recorded_at=NOW, hours=12.4
    )
    page = text(as_person(corin).get(PAGE))
    assert "You are assigned to no aircraft now." in page
    assert "closed out on 14 Jun 2026 at 12.4 h" in page
    assert "1 closed out so far" in page
    assert "of another time" not in page


def test_an_engine_that_came_after_his_time_is_not_his(shop: Cast, as_person: Any, corin: Person) -> None:
    PilotAssignment.objects.update(since=NOW - timedelta(days=190), until=NOW - timedelta(days=180))
    page = text(as_person(corin).get(PAGE))
    assert str(shop.build_1.engine) not in page


def test_nobody_else_has_such_a_page(shop: Cast, as_person: Any, corin: Person) -> None:
    assert as_person(shop.ada).get(PAGE).status_code == 404
    assert as_person(shop.tom).get(PAGE).status_code == 404
    assert PAGE not in text(as_person(shop.ada).get("/portal/"))
    assert PAGE in text(as_person(corin).get("/portal/"))


def test_its_queries_do_not_grow_with_aircraft(
    shop: Cast, as_person: Any, corin: Person, django_assert_max_num_queries: Any
) -> None:
    for number in range(5):
        plane = factories.aircraft(f"QX-97{number}", shop.ada_customer)
        one = factories.build(factories.engine(), by=shop.cora)
        factories.seat(one.engine, plane, by=shop.tom)
        PilotAssignment.objects.create(aircraft=plane, person=corin, since=NOW - timedelta(days=30))
    client = as_person(corin)
    client.get(PAGE)
    with django_assert_max_num_queries(14):
        client.get(PAGE)
