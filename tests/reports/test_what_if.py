"""Looking at what a plan would change, before it is signed: on the page, and nothing of it is kept."""

from __future__ import annotations

import html
from datetime import timedelta
from typing import Any

import pytest

from breakin.models import Assessment, Finding, PlanStage, PlanTemplate, RunInPlan
from engines.models import Build
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.acts import error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

RPM, MAP = [2000.0, 2300.0, 2500.0, 2700.0], [14.0, 18.0, 22.0, 26.0, 29.0]
# An engine made up for this test: power rises in a straight line with rpm and manifold pressure.
CHART = {
    "kind": "map_rpm",
    "source": "invented for tests",
    "revision": "1",
    "rpm": RPM,
    "map_inhg": MAP,
    "hp": [[180.0 * rpm / 2700.0 * (manifold - 4.0) / 25.0 for manifold in MAP] for rpm in RPM],
    "full_throttle": {"rpm": RPM, "map_inhg": [29.0] * 4, "hp": [180.0 * rpm / 2700.0 for rpm in RPM]},
    "critical_altitude_ft": None,
}
TYPED = {"after": "1", "template": "Narrow", "reason": "the maker asks for more", "preview": "1"}


def at(build: Build) -> str:
    return f"/shop/builds/{build.pk}/plan/"


@pytest.fixture
def flying(shop: Cast) -> Cast:
    """Two flights whose pilot gave his settings, and a template with a narrower band at 75 %."""
    revision = shop.build_1.type_revision
    revision.pk, revision.number, revision.chart = None, revision.number + 1, CHART
    revision.save()
    Build.objects.filter(pk=shop.build_1.pk).update(type_revision=revision)
    block = {"duration": 60, "pressure_altitude": 2500, "oat": 60, "rpm": 2450, "map": 24.5}
    for day in (3, 2):
        flown(shop.build_1, 1.2, at=NOW - timedelta(days=day), level_qt=7, blocks=[block])
    template = PlanTemplate.objects.get(name="Nitrided steel")
    template.pk, template.name = None, "Narrow"
    template.credit = {"75": [99, 100], "65": [97, 98]}
    template.save()
    return shop


def kept() -> tuple[Any, ...]:
    assessments = Assessment.objects.values("build", "lane", "phase", "detail", "inputs_digest").order_by("build")
    return (
        RunInPlan.objects.count(),
        PlanStage.objects.count(),
        PlanTemplate.objects.count(),
        list(Finding.objects.values("rule", "occurrence", "state").order_by("pk")),
        list(assessments),
    )


def test_a_look_shows_the_minutes_that_change_and_keeps_nothing(flying: Cast, as_person: Any) -> None:
    manager = as_person(flying.cora)
    before = kept()
    answer = manager.post(at(flying.build_1), TYPED)
    text = html.unescape(answer.content.decode())

    assert answer.status_code == 200
    assert f"What would change, build {flying.build_1.number}" in text
    changed = text[text.index("What would change, build") : text.index("What would stay")]
    assert "First hour, credit at" in changed
    assert kept() == before
    assert "the maker asks for more</textarea>" in text


def test_what_was_looked_at_is_what_is_issued(flying: Cast, as_person: Any) -> None:
    manager = as_person(flying.cora)
    looked = value_of(manager.post(at(flying.build_1), TYPED), "looked")
    assert looked
    typed = {name: value for name, value in TYPED.items() if name != "preview"} | {"looked": looked}

    changed = manager.post(at(flying.build_1), {**typed, "minimum_h": "20"})
    assert changed.status_code == 422
    assert "Not issued yet: look first." in changed.content.decode()
    assert flying.build_1.plans.count() == 1

    assert manager.post(at(flying.build_1), typed).status_code == 302
    assert flying.build_1.plans.count() == 2


@pytest.mark.parametrize("looked", ["", "1", "0" * 64])
def test_without_a_look_nothing_is_issued_and_the_answer_is_the_look(flying: Cast, as_person: Any, looked: str) -> None:
    before = kept()
    typed = {name: value for name, value in TYPED.items() if name != "preview"} | {"looked": looked}
    answer = as_person(flying.cora).post(at(flying.build_1), typed)
    text = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "Not issued yet: look first." in text
    assert f"What would change, build {flying.build_1.number}" in text
    assert value_of(answer, "looked") not in ("", looked)
    assert kept() == before


def test_the_look_at_one_build_is_no_look_at_another(flying: Cast, as_person: Any) -> None:
    manager = as_person(flying.cora)
    looked = value_of(manager.post(at(flying.build_1), TYPED), "looked")
    typed = {name: value for name, value in TYPED.items() if name != "preview"} | {"looked": looked}
    assert manager.post(at(flying.build_2), typed).status_code == 422
    assert flying.build_2.plans.count() == 1


def test_before_a_look_the_page_offers_only_to_look(shop: Cast, as_person: Any) -> None:
    page = as_person(shop.cora).get(at(shop.build_1)).content.decode()
    assert "See what it changes" in page
    assert ">Issue the plan</button>" not in page


def test_a_template_that_was_never_used_is_looked_at_without_being_kept(shop: Cast, as_person: Any) -> None:
    PlanTemplate.objects.filter(name="Channel chrome").delete()
    before = kept()
    answer = as_person(shop.cora).post(at(shop.build_1), {**TYPED, "template": "Channel chrome"})
    assert answer.status_code == 200
    assert kept() == before


def test_what_cannot_be_is_said_at_its_field(shop: Cast, as_person: Any) -> None:
    typed = {**TYPED, "template": "Nitrided steel", "accept_qt_h": "0.9", "accept_qt_h_unit": "qt"}
    answer = as_person(shop.cora).post(at(shop.build_1), typed)
    assert answer.status_code == 422
    assert "must rise in this order" in error_at(answer, "watch_qt_h")


@pytest.mark.parametrize(("role", "status"), [(Role.BUILD_TECHNICIAN, 200), (Role.LINE_TECHNICIAN, 403)])
def test_a_look_is_for_who_may_issue(flying: Cast, as_person: Any, role: str, status: int) -> None:
    somebody = factories.person("Somebody", role=role)
    assert as_person(somebody).post(at(flying.build_1), TYPED).status_code == status


def test_an_owner_cannot_look_and_a_stranger_finds_nothing(flying: Cast, as_person: Any) -> None:
    assert as_person(flying.ada).post(at(flying.build_1), TYPED).status_code == 403
    assert as_person(flying.ben).post(at(flying.build_1), TYPED).status_code == 404
