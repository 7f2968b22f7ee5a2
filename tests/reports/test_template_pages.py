"""Plan templates on their pages: taken over, copied, revised with a look at what differs, and used for plans."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from breakin.models import PlanTemplate, RunInPlan
from breakin.plan_templates import ensure_templates
from breakin.services.plans import issue_plan
from engines.models import Build
from shop.models import AuditEvent, Role, User
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import a_build, error_at, type_address
from tests.reports.type_forms import keep, looked, posted_again

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
STEEL = "Through-hardened steel"


@pytest.fixture
def manager(shop: Cast, as_person: Any) -> Any:
    return as_person(shop.cora)


@pytest.fixture
def steel(shop: Cast) -> PlanTemplate:
    return ensure_templates()[STEEL]


def at(template: PlanTemplate, act: str = "") -> str:
    return f"/shop/templates/{template.pk}/{act}"


def begun(client: Client, address: str, **changed: Any) -> dict[str, Any]:
    """What the form sends when nothing but these fields was touched; None takes a field out."""
    sent = posted_again(client.get(address))
    return {name: value for name, value in {**sent, **changed}.items() if value is not None}


def in_words(answer: Any) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode().replace("\u202f", " ")).split())


class TestTakingOver:
    def test_the_starting_templates_come_into_the_book_once(self, db: None, as_person: Any) -> None:
        manager = as_person(factories.person("Cora", role=Role.MANAGER))
        assert "Not in the book yet: Channel chrome" in in_words(manager.get("/shop/templates/"))
        manager.post("/shop/templates/take/")
        manager.post("/shop/templates/take/")
        assert PlanTemplate.objects.count() == 8
        page = in_words(manager.get("/shop/templates/"))
        assert "Not in the book yet" not in page
        assert "common practice, no source" in page


class TestRevising:
    def test_a_form_that_was_not_touched_differs_in_nothing(self, manager: Any, steel: PlanTemplate) -> None:
        for template in ensure_templates().values():
            look = manager.post(at(template, "revise/"), begun(manager, at(template, "revise/")))
            assert look.status_code == 200, (template, look.content.decode())
            assert "Nothing differs from" in look.content.decode(), template

    def test_what_differs_is_shown_in_words_before_it_is_kept(self, manager: Any, steel: PlanTemplate) -> None:
        address = at(steel, "revise/")
        typed = begun(
            manager, address, first_oil_h="9,5", s_hour_2_minutes="20 at 75, 10 at 65", filter_flake="few",
            s_climb_climb_to_ft="1500", s_climb_climb_to_ft_unit="m",
        )  # fmt: skip
        look = manager.post(address, typed)
        page = in_words(look)
        assert "First oil and filter 10 h 9.5 h" in page
        assert "Hour 2, 15 min and 15 min: minutes" in page
        assert "15 at 75, 15 at 65, 15 at 75, 15 at 65" in page
        assert "4921 ft above the field" in page
        assert PlanTemplate.objects.filter(name=STEEL).count() == 1

        assert manager.post(address, {**typed, "looked": looked(look)}).status_code == 302
        new = PlanTemplate.objects.get(name=STEEL, revision=2)
        assert (new.first_oil_h, new.copied_from, new.filter_table["flake"]) == (9.5, steel, "few")
        steel.refresh_from_db()
        assert steel.first_oil_h == 10
        assert AuditEvent.objects.filter(act="save_template").count() == 1
        assert "What differs" in in_words(manager.get(at(new)))
        assert manager.get(address).headers["location"] == at(new, "revise/")

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"source_kind": None}, "source_kind", "say openly that there is none"),
            ({"source_kind": "document"}, "source", "The document is missing"),
            (
                {"source_kind": "document", "source": "Instruction 7", "source_revision": ""},
                "source_revision",
                "changes",
            ),
            ({"source": "Instruction 7"}, "source_kind", "A document is named below"),
            ({"band_75_low": "7x"}, "band_75_low", "“7x” is not a number from 40 to 100"),
            ({"band_75_low": "66"}, "band_75_low", "The two bands overlap"),
            ({"band_65_high": "61"}, "band_65_high", "end above its beginning"),
            ({"low": "64"}, "low", "at or below the 65 % band"),
            ({"expected_low_h": "20"}, "expected_high_h", "must rise"),
            ({"minimum_h": "99"}, "expected_high_h", "can't be"),
            ({"watch_qt_h": "9"}, "alarm_qt_h", "must rise in this order"),
            ({"follow_up_h": "10, 25 50"}, "follow_up_h", "“25 50” is not a number"),
            ({"follow_up_h": "25, 10"}, "follow_up_h", "have to rise"),
            ({"follow_up_days": "30, 90"}, "follow_up_days", "2 days for 3 follow-ups"),
            ({"idle_days": "10, 14"}, "idle_days", "Four are needed"),
            ({"ground_call_min": "5"}, "ground_call_min", "after the note"),
            ({"s_hour_1_minutes": "60 at 80"}, "s_hour_1_minutes", "“60 at 80” is not minutes at 75 or at 65"),
            ({"s_hour_2_minutes": ""}, "s_hour_2_minutes", "needs its minutes"),
            ({"s_hour_1_rpm": "99"}, "s_hour_1_rpm", "from 500 to 6500"),
            ({"s_hour_1_altitude_max_ft": "99000"}, "s_hour_1_altitude_max_ft", "outside 500 to 30000 ft"),
        ],
    )
    def test_what_cannot_be_is_refused_at_its_field(
        self, manager: Any, steel: PlanTemplate, changed: dict[str, Any], field: str, said: str
    ) -> None:
        address = at(steel, "revise/")
        answer = keep(manager, address, begun(manager, address, **changed))
        assert answer.status_code == 422
        assert said in error_at(answer, field)
        assert PlanTemplate.objects.filter(name=STEEL).count() == 1

    def test_a_second_press_makes_no_third_revision(self, manager: Any, steel: PlanTemplate) -> None:
        address = at(steel, "revise/")
        typed = begun(manager, address, first_oil_h="9")
        signed = {**typed, "looked": looked(manager.post(address, typed))}
        manager.post(address, signed)
        manager.post(address, signed)
        assert PlanTemplate.objects.filter(name=STEEL).count() == 2


class TestCopying:
    def test_a_copy_follows_the_shops_document_and_is_offered_and_used(
        self, shop: Cast, manager: Any, steel: PlanTemplate
    ) -> None:
        address = at(steel, "copy/")
        own = {
            "name": "House steel", "source_kind": "document", "source": "Instruction 7 of the supplier",
            "source_revision": "C, 2026-02-01", "hours_by_finish": None, "expected_low_h": "6", "expected_high_h": "9",
            "minimum_h": "5", "rates_by_type": None, "accept_qt_h": "0.1", "watch_qt_h": "0.2", "alarm_qt_h": "0.4",
        }  # fmt: skip
        assert keep(manager, address, begun(manager, address, **own)).status_code == 302

        answer = manager.post(type_address(shop.build_1.type_revision), a_build(plan="House steel"))
        assert answer.status_code == 302, answer.content.decode()
        plan = RunInPlan.objects.get(build__number="B-71")
        assert (plan.source, plan.source_revision) == ("Instruction 7 of the supplier", "C, 2026-02-01")
        assert (plan.expected_low_h, plan.expected_high_h, plan.minimum_h) == (6, 9, 5)
        assert (plan.accept_qt_h, plan.alarm_qt_h) == (0.1, 0.4)
        assert "House steel" in manager.get(f"/shop/builds/{plan.build_id}/plan/").content.decode()

    def test_a_name_that_is_taken_is_refused_in_any_case(self, manager: Any, steel: PlanTemplate) -> None:
        address = at(steel, "copy/")
        answer = keep(manager, address, begun(manager, address, name="CHANNEL CHROME"))
        assert "There is a template “Channel chrome” already" in error_at(answer, "name")


class TestIssuing:
    def test_the_newest_revision_is_issued_and_old_plans_keep_theirs(
        self, shop: Cast, manager: Any, steel: Any
    ) -> None:
        old = shop.build_1.plans.get()
        address = at(steel, "revise/")
        keep(manager, address, begun(manager, address, first_oil_h="9"))
        build = factories.build(factories.engine(), by=shop.cora)

        assert build.plans.get().first_oil_h == 9
        newest = PlanTemplate.objects.get(name=STEEL, revision=2)
        assert build.plans.get().template == newest
        old.refresh_from_db()
        assert (old.first_oil_h, old.template) == (10, steel)
        assert "plans of 1 open build" in in_words(manager.get(at(newest)))

    def test_the_lower_of_two_altitude_limits_holds(self, shop: Cast, steel: PlanTemplate) -> None:
        for limit, highest in ((5000.0, 5000.0), (9000.0, 8000.0), (None, 8000.0)):
            for stage in steel.stages:
                stage["altitude_max_ft"] = limit
            capped = factories.type_revision(f"TAV-{limit}", altitude_cap_ft=8000)
            build: Build = factories.build(factories.engine(capped), by=shop.cora, template=None)
            plan = issue_plan(by=shop.cora, build=build, template=steel, now=NOW)
            assert plan.stages.get(kind="hour_1").altitude_max_ft == highest


class TestWho:
    def test_a_technician_reads_and_only_the_manager_writes(
        self, shop: Cast, as_person: Any, steel: PlanTemplate
    ) -> None:
        client = as_person(shop.tom)
        assert client.get(at(steel)).status_code == 200
        assert "Revise it" not in client.get(at(steel)).content.decode()
        assert client.post("/shop/templates/take/").status_code == 403
        assert client.get(at(steel, "copy/")).status_code == 403

    def test_the_records_change_none(self, steel: PlanTemplate) -> None:
        root = Client()
        root.force_login(User.objects.create_superuser("root@example.org", "a good long password"))
        assert root.post(f"/admin/breakin/plantemplate/{steel.pk}/change/", {"name": "x"}).status_code == 403
