"""Opening a build, its plan, its cell runs and preservation, its close and its reopening, on their pages."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from breakin.models import Assessment, PlanTemplate, RunInPlan
from breakin.services import closing, plans
from engines.models import Build, BuildState, CellRun, Engine, Preservation
from shop.errors import Refusal
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import a_build, chosen, error_at, issued_after_a_look, type_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def manager(shop: Cast, as_person: Any) -> Any:
    return as_person(shop.cora)


@pytest.fixture
def address(shop: Cast) -> str:
    return type_address(factories.type_revision())


class TestOpening:
    def test_same_for_all_holds_for_every_row_that_says_nothing_else(self, manager: Any, address: str) -> None:
        typed = a_build(
            p3_finish="through_hardened", p3_ring_lot="R9", p2_ring_gap="0,025", p4_bore="+010", plan="none"
        )
        answer = manager.post(address, typed)

        assert answer.status_code == 302, answer.content.decode()
        positions = list(Build.objects.get(number="B-71").positions.order_by("number"))
        assert [each.finish for each in positions] == ["nitrided", "nitrided", "through_hardened", "nitrided"]
        assert [each.ring_lot for each in positions] == ["R7", "R7", "R9", "R7"]
        assert [each.ring_gap_in for each in positions] == [None, 0.025, None, None]
        assert [each.bore for each in positions] == ["", "", "", "+010"]
        assert all(each.disturbed for each in positions)

    def test_the_plan_that_fits_the_slowest_finish_is_issued(self, manager: Any, address: str) -> None:
        mixed = a_build(all_finish="through_hardened", p1_finish="chrome", p1_ring_facing="cast iron")
        asked = manager.post(address, mixed)
        assert asked.status_code == 422
        assert "Do the instructions of every cylinder&#x27;s supplier name the oil" in asked.content.decode()
        manager.post(address, mixed | {"confirmed": ["plan"]})

        plan = RunInPlan.objects.get(build__number="B-71")
        assert plan.template == PlanTemplate.objects.get(name="Channel chrome")
        assert (plan.expected_low_h, plan.expected_high_h) == (25, 50)

    def test_what_went_in_and_how_it_was_honed_is_kept(self, manager: Any, address: str) -> None:
        typed = a_build(
            assembly_lube="tacky grease", all_hone_angle="32,5", p2_hone_angle="45", all_piston="P-1", p3_piston="P-2"
        )
        assert manager.post(address, typed).status_code == 302

        build = Build.objects.get(number="B-71")
        assert build.assembly_lube == "tacky grease"
        positions = list(build.positions.order_by("number"))
        assert [each.hone_angle_deg for each in positions] == [32.5, 45, 32.5, 32.5]
        assert [each.piston for each in positions] == ["P-1", "P-1", "P-2", "P-1"]
        sheet = manager.get(f"/builds/{build.pk}/sheet/").content.decode()
        assert "tacky grease" in sheet
        assert "32.5°" in sheet
        assert "P-2" in sheet

    def test_who_built_it_does_not_inspect_it(self, shop: Cast, manager: Any, address: str) -> None:
        both = factories.person("Ansa", role=Role.SIGNATORY)
        answer = manager.post(address, a_build(builder=both.pk, inspector=both.pk))

        assert answer.status_code == 422
        assert "two different persons" in error_at(answer, "inspector")
        assert not Build.objects.filter(number="B-71").exists()
        assert manager.post(address, a_build(builder=shop.tom.pk, inspector=both.pk)).status_code == 302

    def test_the_plan_may_wait(self, manager: Any, address: str) -> None:
        manager.post(address, a_build(plan="none"))

        build = Build.objects.get(number="B-71")
        assert not build.plans.exists()
        page = manager.get("/shop/").content.decode()
        assert f'href="/shop/builds/{build.pk}/plan/"' in page
        assert Assessment.objects.get(build=build).live

    def test_a_cylinder_job_ends_the_open_build_and_counts_what_was_disturbed(self, shop: Cast, manager: Any) -> None:
        engine = shop.build_1.engine
        page = manager.get(f"/shop/builds/new/?type={engine.engine_type_id}&engine={engine.pk}")
        assert value_of(page, "serial") == engine.serial
        assert chosen(page, "known") == ["known"]

        typed = a_build(serial=engine.serial.lower(), known="known", kind="cylinder", p3_disturbed="yes")
        answer = manager.post(f"/shop/builds/new/?type={engine.engine_type_id}", typed)
        assert answer.status_code == 302, answer.content.decode()
        new = Build.objects.get(number="B-71")
        assert [each.number for each in new.positions.filter(disturbed=True)] == [3]
        assert new.positions.get(number=3).finish == "nitrided"
        assert new.positions.get(number=1).finish == ""
        shop.build_1.refresh_from_db()
        assert shop.build_1.state == BuildState.SUPERSEDED

    def test_an_overhaul_of_an_engine_with_an_open_build_is_refused_at_the_serial(
        self, shop: Cast, manager: Any, address: str
    ) -> None:
        answer = manager.post(address, a_build(serial=shop.build_1.engine.serial, known="known"))

        assert answer.status_code == 422
        assert "is open. Close it out" in error_at(answer, "serial")
        assert not Build.objects.filter(number="B-71").exists()

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"serial": ""}, "serial", "It stands on the data plate"),
            ({"known": None}, "known", "new to this book, or in it already?"),
            ({"known": "known"}, "serial", "There is no TAV-4E with serial E-7001"),
            ({"number": "B-QX-901"}, "number", "is taken"),
            ({"kind": ""}, "kind", "The kind of work is missing"),
            ({"opened_date": "2026-07-01"}, "opened_date", "lies in the future"),
            ({"opened_date": "soon"}, "opened_date", "“soon” is not a date"),
            ({"total_time_h": "1,234"}, "total_time_h", "could be 1.234 or 1234"),
            (
                {"time_since_overhaul_h": "40", "total_time_h": "30"},
                "time_since_overhaul_h",
                "more than the total time",
            ),
            ({"all_finish": ""}, "p1_finish", "its finish must be named"),
            (
                {"p2_finish": "chrome", "p2_ring_facing": "chrome", "plan": "none"},
                "p2_ring_facing",
                "do not belong in a chrome bore",
            ),
            ({"p2_ring_gap": "wide"}, "p2_ring_gap", "“wide” is not a number"),
            ({"p2_ring_gap": "0.5"}, "p2_ring_gap", "outside 0.002 to 0.2 in"),
            ({"inspector_override": "by the supplier"}, "inspector", "Whose reason is it?"),
            ({"kind": "cylinder"}, "p1_disturbed", "there is nothing to break in"),
        ],
    )
    def test_what_cannot_be_is_said_at_its_field_and_the_rest_stays(
        self, manager: Any, address: str, changed: dict[str, Any], field: str, said: str
    ) -> None:
        engines = Engine.objects.count()
        answer = manager.post(address, a_build(note="kept <i>words</i>", **changed))

        assert answer.status_code == 422
        assert said in error_at(answer, field)
        assert "kept &lt;i&gt;words&lt;/i&gt;" in answer.content.decode()
        assert Engine.objects.count() == engines

    def test_a_serial_that_is_known_is_not_entered_twice_in_another_case(
        self, shop: Cast, manager: Any, address: str
    ) -> None:
        answer = manager.post(address, a_build(serial=shop.build_1.engine.serial.lower()))

        assert "is in the book already" in error_at(answer, "serial")

    def test_an_unusual_value_is_asked_about_and_taken_when_confirmed(self, manager: Any, address: str) -> None:
        typed = a_build(time_since_overhaul_h="5200", total_time_h="9000")
        asked = manager.post(address, typed)

        assert asked.status_code == 422
        assert "Is this right? Nothing is saved yet." in asked.content.decode()
        assert not Build.objects.filter(number="B-71").exists()
        assert manager.post(address, {**typed, "confirmed": ["time_since_overhaul_h"]}).status_code == 302
        assert Build.objects.get(number="B-71").time_since_overhaul_h == 5200

    def test_an_inspector_lets_chrome_faced_rings_stay_with_his_reason(self, manager: Any, address: str) -> None:
        sig = factories.person("Sig", role=Role.SIGNATORY)
        typed = a_build(all_finish="chrome", all_ring_facing="chrome", inspector_override="the supplier allows it")
        assert manager.post(address, {**typed, "inspector": sig.pk}).status_code == 302

        build = Build.objects.get(number="B-71")
        assert build.inspector == sig
        assert build.events.get().detail == {"inspector_override": "the supplier allows it"}


class TestPlan:
    def at(self, build: Build) -> str:
        return f"/shop/builds/{build.pk}/plan/"

    def test_the_page_shows_what_holds_and_what_fits(self, shop: Cast, manager: Any) -> None:
        page = manager.get(self.at(shop.build_1)).content.decode()

        assert "The plan that holds now" in page
        assert "What “Through-hardened steel” gives for this build" in page
        assert "8 to 12\u202fh" in page
        for name in ("Channel chrome", "Turbocharged", "Fixed pitch"):
            assert name in page

    def test_what_differs_is_kept_with_its_source_and_the_reason(self, shop: Cast, manager: Any) -> None:
        typed = {
            "after": "1", "template": "Nitrided steel", "reason": "the maker's instruction changed",
            "accept_qt_h": "0,1", "accept_qt_h_unit": "L", "minimum_h": "20", "expected_high_h": "40",
            "oil_kind": "ad", "source": "Maker's instruction 12", "source_revision": "C", "rpm": "2450",
        }  # fmt: skip
        answer = issued_after_a_look(manager, self.at(shop.build_1), typed)

        assert answer.status_code == 302, answer.content.decode()
        plan = shop.build_1.plans.order_by("-revision").first()
        assert plan is not None
        assert (plan.revision, plan.reason) == (2, "the maker's instruction changed")
        assert plan.accept_qt_h == pytest.approx(0.1 / 0.946353, rel=1e-5)  # exact: 1 US quart is 0.946352946 L
        assert (plan.minimum_h, plan.expected_low_h, plan.expected_high_h) == (20, 8, 40)
        assert (plan.oil_kind, plan.source, plan.source_revision) == ("ad", "Maker's instruction 12", "C")
        assert {stage.rpm for stage in plan.stages.exclude(minutes=[])} == {2450}

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"reason": ""}, "reason", "A re-issue needs a reason"),
            ({"template": ""}, "template", "The template is missing"),
            ({"accept_qt_h": "0.9", "accept_qt_h_unit": "qt"}, "watch_qt_h", "must rise in this order"),
            ({"expected_low_h": "40"}, "expected_high_h", "must rise"),
            ({"minimum_h": "900"}, "minimum_h", "outside 0 to 400 h"),
            ({"source": "Maker's instruction 12"}, "source_revision", "Which revision"),
        ],
    )
    def test_a_plan_that_cannot_be_is_refused_at_its_field(
        self, shop: Cast, manager: Any, changed: dict[str, str], field: str, said: str
    ) -> None:
        typed = {"after": "1", "template": "Nitrided steel", "reason": "because", **changed}
        answer = issued_after_a_look(manager, self.at(shop.build_1), typed)

        assert answer.status_code == 422
        assert said in error_at(answer, field)
        assert shop.build_1.plans.count() == 1

    def test_a_second_press_issues_no_third_revision(self, shop: Cast, manager: Any) -> None:
        typed = {"after": "1", "template": "Nitrided steel", "reason": "because"}
        looked = value_of(manager.post(self.at(shop.build_1), {**typed, "preview": "1"}), "looked")
        typed["looked"] = looked
        manager.post(self.at(shop.build_1), typed)
        again = manager.post(self.at(shop.build_1), typed)

        assert again.status_code == 422
        assert "Revision 2 of the plan was issued since you opened this page." in again.content.decode()
        assert value_of(again, "after") == "2"
        assert shop.build_1.plans.count() == 2

    def test_the_shops_own_template_is_offered_and_used(self, shop: Cast, manager: Any) -> None:
        own = PlanTemplate.objects.get(name="Nitrided steel")
        own.pk, own.name = None, "Our long one"
        own.save()
        assert "Our long one" in manager.get(self.at(shop.build_1)).content.decode()
        typed = {"after": "1", "template": "Our long one", "reason": "trial"}
        issued_after_a_look(manager, self.at(shop.build_1), typed)

        assert shop.build_1.plans.get(revision=2).template == own

    def test_a_closed_build_gets_none(self, shop: Cast, manager: Any) -> None:
        closing.close_incomplete(by=shop.cora, build=shop.build_1, reason="sold", now=NOW)

        assert "This build is not open." in manager.get(self.at(shop.build_1)).content.decode()
        answer = manager.post(self.at(shop.build_1), {"after": "1", "template": "Nitrided steel", "reason": "x"})
        assert answer.status_code == 422
        assert "A plan is issued for an open build." in answer.content.decode()


class TestCellAndPreservation:
    def test_a_cell_run_is_kept_with_its_steps(self, shop: Cast, manager: Any) -> None:
        typed = {
            "run_on": "2026-06-01", "minutes": "1:30", "steps": "1200 10\n1700 rpm, 20 min\r\n2500 60",
            "oil_kind": "mineral", "oil_used_qt": "0.9", "oil_used_qt_unit": "qt", "cht_max_degf": "205",
            "cht_max_degf_unit": "degC", "full_throttle_ff_gph": "25.8", "full_throttle_ff_gph_unit": "gph",
            "leaks": "none",
        }  # fmt: skip
        assert manager.post(f"/shop/builds/{shop.build_1.pk}/cell/", typed).status_code == 302

        run = CellRun.objects.get()
        assert (run.minutes, run.steps, run.oil_used_qt) == (90, [[1200, 10], [1700, 20], [2500, 60]], 0.9)
        assert run.cht_max_degf == pytest.approx(401)
        assert (run.full_throttle_ff_gph, run.leaks) == (25.8, "none")

    def test_the_same_run_again_is_asked_about(self, shop: Cast, manager: Any) -> None:
        address, typed = f"/shop/builds/{shop.build_1.pk}/cell/", {"run_on": "2026-06-01", "minutes": "90"}
        manager.post(address, typed)

        assert "is in the book already. Is it another?" in manager.post(address, typed).content.decode()
        assert CellRun.objects.count() == 1
        manager.post(address, {**typed, "confirmed": ["run_on"]})
        assert CellRun.objects.count() == 2

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"run_on": ""}, "run_on", "the date is missing"),
            ({"run_on": "2026-06-30"}, "run_on", "lies in the future"),
            ({"minutes": ""}, "minutes", "is missing"),
            ({"steps": "1200 10\nfull power"}, "steps", "“full power” is not rpm and minutes"),
            ({"steps": "1200 95"}, "steps", "longer than the whole run"),
        ],
    )
    def test_a_run_that_cannot_be_is_refused(
        self, shop: Cast, manager: Any, changed: dict[str, str], field: str, said: str
    ) -> None:
        typed = {"run_on": "2026-06-01", "minutes": "90", **changed}
        answer = manager.post(f"/shop/builds/{shop.build_1.pk}/cell/", typed)

        assert said in error_at(answer, field)
        assert not CellRun.objects.exists()

    def test_a_preservation_ends_the_one_before_and_is_not_taken_twice(self, shop: Cast, manager: Any) -> None:
        address = f"/shop/builds/{shop.build_1.pk}/preserve/"
        typed = {"preserved_on": "2026-06-01", "expires_on": "2026-06-25", "preservative": "oil C"}
        assert manager.post(address, typed).status_code == 302
        assert "good until 25 Jun 2026. A new one ends it." in manager.get(address).content.decode()
        assert "is in the book already" in error_at(manager.post(address, typed), "preserved_on")
        assert "build B-QX-901: until 25 Jun 2026" in manager.get("/shop/").content.decode()
        manager.post(address, {**typed, "preserved_on": "2026-06-14", "expires_on": "2026-12-01"})

        assert [each.ended_on for each in Preservation.objects.order_by("id")] == [date(2026, 6, 14), None]
        assert "build B-QX-901: until" not in manager.get("/shop/").content.decode()

    def test_a_preservation_that_ends_before_it_begins_is_refused(self, shop: Cast, manager: Any) -> None:
        typed = {"preserved_on": "2026-06-01", "expires_on": "2025-06-25"}
        answer = manager.post(f"/shop/builds/{shop.build_1.pk}/preserve/", typed)

        assert "Check the year" in error_at(answer, "expires_on")


def test_a_plan_is_issued_only_after_the_revision_that_was_seen(shop: Cast) -> None:
    template = PlanTemplate.objects.get(name="Nitrided steel")
    plans.issue_plan(by=shop.cora, build=shop.build_1, template=template, reason="a", after=1, now=NOW)
    with pytest.raises(Refusal, match="Revision 2"):
        plans.issue_plan(by=shop.cora, build=shop.build_1, template=template, reason="b", after=1, now=NOW)
