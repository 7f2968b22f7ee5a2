"""The delivery plan: typed, worked out, kept revision by revision, and its line on the pages around it."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from breakin import assess
from breakin.entries.delivery import DeliveryEntry, HourEntry
from breakin.models import Assessment, DeliveryPlan, DueItem, DueState
from breakin.services.delivery import plan_delivery
from engines.models import Aircraft, PilotAssignment
from shop.errors import Refusal
from shop.models import Role
from tests import factories
from tests.calc.test_charts import FOLDER
from tests.factories import LONG_AGO, NOW, Cast
from tests.reports.acts import error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
AsPerson = Callable[..., Any]


def type_with_chart(name: str = "TAV-4E", **more: Any) -> Any:
    chart = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return factories.type_revision(f"{name} with chart", chart=chart, **more)


def fit(shop: Cast, into: Aircraft, number: str, position: str = "single", **more: Any) -> None:
    build = factories.build(factories.engine(**more), by=shop.cora, number=number)
    factories.seat(build.engine, into, by=shop.tom, position=position)
    assess.assess_build(build.pk, NOW)


@pytest.fixture
def plane(shop: Cast) -> Aircraft:
    """QX-903 at home at a high field, its engine before the first flight. The shop's own field is low."""
    into = factories.aircraft("QX-903", shop.ada_customer, home=factories.place("Quillmesa", elevation_ft=6480))
    fit(shop, into, "B-903", revision=type_with_chart())
    return into


def at(aircraft: Aircraft) -> str:
    return f"/shop/aircraft/{aircraft.pk}/delivery/"


def typed(**changed: Any) -> dict[str, Any]:
    """Both hours from the shop's field, then the ferry home; None takes a field out."""
    usual: dict[str, Any] = {
        "after": "0", "home": "Quillmesa", "hour_1_field": "Tellamoor Field", "hour_1_altitude": "3000",
        "hour_1_altitude_unit": "ft", "ferried": "yes", "ferry_after": "2", "ferry_altitude": "9500",
        "ferry_altitude_unit": "ft", "ferry_time": "3:00", "note": "Collected on Friday.",
    }  # fmt: skip
    return {name: value for name, value in {**usual, **changed}.items() if value is not None}


class TestKeeping:
    def test_what_was_typed_is_what_is_kept(self, shop: Cast, as_person: AsPerson, plane: Aircraft) -> None:
        pilot = factories.person("Corin", role=Role.BREAK_IN_PILOT)
        answer = as_person(shop.tom).post(
            at(plane),
            typed(
                hour_1_oat="20 C", hour_1_pilot=str(pilot.pk), hour_2_field="Far strip", hour_2_elevation="100 m",
                ferry_time="", ferry_distance="330", ferry_speed="110", ferry_pilot=str(shop.ada.pk),
            ),
        )  # fmt: skip

        assert answer.headers["location"] == at(plane), answer.content.decode()
        plan = DeliveryPlan.objects.get()
        assert (plan.revision, plan.home, plan.ferried, plan.made_by) == (1, "Quillmesa", True, shop.tom)
        assert (plan.ferry_min, plan.ferry_altitude_ft, plan.ferry_after_h) == (180, 9500, 2)
        assert (plan.ferry_nm, plan.ferry_kt, plan.ferry_pilot) == (330, 110, shop.ada)
        first, second = plan.hours.order_by("number")
        assert (first.field, first.elevation_ft, first.altitude_ft, first.pilot) == (
            "Tellamoor Field",
            620,
            3000,
            pilot,
        )
        assert first.oat_degf == pytest.approx(68)
        assert second.field == "Far strip"
        assert second.elevation_ft == pytest.approx(328.08, abs=0.01)
        assert (second.altitude_ft, second.oat_degf, second.pilot) == (3000, None, pilot)
        assert plan.typed["hour_1_oat"] == ["20 C", "degC"]

    def test_a_second_plan_is_the_next_revision_and_the_first_stays(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        client.post(at(plane), typed())
        client.post(at(plane), typed(after="1", ferry_altitude="4500"))

        assert list(DeliveryPlan.objects.values_list("revision", "ferry_altitude_ft")) == [(2, 4500), (1, 9500)]
        page = client.get(at(plane)).content.decode()
        assert page.index("Revision 2</h3>") < page.index("Revision 1</h3>")
        assert value_of(client.get(at(plane)), "ferry_altitude") == "4500"

    def test_who_has_not_seen_the_newest_plan_does_not_write_over_it(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        client.post(at(plane), typed())
        again = client.post(at(plane), typed(ferry_altitude="4500"))

        assert again.status_code == 422
        assert "Somebody has kept another plan" in again.content.decode()
        assert value_of(again, "ferry_altitude") == "4500"
        assert DeliveryPlan.objects.count() == 1

    def test_a_look_keeps_nothing(self, shop: Cast, as_person: AsPerson, plane: Aircraft) -> None:
        page = as_person(shop.tom).post(at(plane), typed(preview="1", ferry_after="0")).content.decode()

        assert "Not kept yet." in page
        assert "Hour 1 would be missed" in page
        assert not DeliveryPlan.objects.exists()

    def test_the_rows_are_facts(self, shop: Cast, as_person: AsPerson, plane: Aircraft) -> None:
        as_person(shop.tom).post(at(plane), typed())
        plan = DeliveryPlan.objects.get()

        for rows in (DeliveryPlan.objects.filter(pk=plan.pk), plan.hours.all()):
            with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
                rows.update(**{"home": "x"} if rows.model is DeliveryPlan else {"field": "x"})

    def test_without_an_engine_in_break_in_there_is_nothing_to_plan(self, shop: Cast, as_person: AsPerson) -> None:
        empty = factories.aircraft("QX-904", shop.ada_customer)
        assert "There is nothing to plan" in as_person(shop.tom).get(at(empty)).content.decode()
        hour = HourEntry("Tellamoor Field", 620, 3000)
        entry = DeliveryEntry("Tellamoor Field", (hour, hour), None, "", {})
        with pytest.raises(Refusal, match="in break-in"):
            plan_delivery(
                by=shop.tom, aircraft=empty, entry=entry, pilots=(None, None), ferry_pilot=None, after=0, now=NOW
            )


class TestBadInput:
    @pytest.mark.parametrize(
        ("field", "value", "said"),
        [
            ("home", "", "Where is the aircraft at home?"),
            ("hour_1_field", "", "From which field"),
            ("hour_1_field", "Nowhere", "is not on file: type its elevation"),
            ("hour_1_altitude", "", "At which altitude is hour 1 flown?"),
            ("hour_1_altitude", "high", "Altitude of hour 1"),
            ("hour_1_altitude", "600", "is not above the field, 620 ft"),
            ("hour_2_altitude", "600", "is not above the field, 620 ft"),
            ("hour_1_oat", "200 C", "Outside air temperature of hour 1"),
            ("ferried", "", "Choose yes or no"),
            ("ferry_altitude", "", "At which altitude is it ferried?"),
            ("ferry_time", "", "How long is the ferry?"),
            ("ferry_after", "", "0 is before any, 2 is after both"),
            ("ferry_after", "-1", "is not a number from 0 to 50 h"),
            ("ferry_speed", "fast", "is not a number from 40 to 400 kt"),
        ],
    )
    def test_it_says_what_and_where_and_keeps_what_was_typed(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft, field: str, value: str, said: str
    ) -> None:
        answer = as_person(shop.tom).post(at(plane), typed(**{field: value}))

        assert answer.status_code == 422
        place = "hour_1_elevation" if value == "Nowhere" else field
        assert said in error_at(answer, place)
        assert value_of(answer, "ferry_altitude") == ("" if field == "ferry_altitude" else "9500")
        assert not DeliveryPlan.objects.exists()

    def test_numbers_of_a_ferry_that_is_not_planned_are_not_lost_silently(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        answer = as_person(shop.tom).post(at(plane), typed(ferried="no"))
        assert "No ferry is planned" in error_at(answer, "ferry_altitude")

    def test_no_ferry_from_a_field_that_is_not_home_is_asked_about(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        stays = typed(ferried="no", ferry_altitude=None, ferry_time=None)
        assert "Is it right that it is not flown home?" in client.post(at(plane), stays).content.decode()
        assert client.post(at(plane), {**stays, "confirmed": "ferried"}).status_code == 302

    def test_a_time_that_distance_and_speed_deny_is_asked_about(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        page = as_person(shop.tom).post(at(plane), typed(ferry_distance="110", ferry_speed="110")).content.decode()
        assert "give 60 min, not 180 min" in page


class TestTheAnswer:
    def test_it_says_in_numbers_what_the_ferry_costs_and_what_would_earn_more(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        client.post(at(plane), typed(ferry_after="0", ferry_altitude="13500"))
        page = client.get(at(plane)).content.decode()

        assert "Hour 1 would be missed: 0 min at 75 %, 55 are asked for" in page
        assert "count as light running, below 60 %" in page
        assert "Fly both hours from Tellamoor Field before the ferry. Then both would be met." in page
        assert "±2 % (one sigma)" in page
        assert "at home" not in page.split("<form")[0]

    def test_a_good_plan_is_called_met_and_gets_no_advice(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        client.post(at(plane), typed(hour_1_oat="70 F"))
        page = client.get(at(plane)).content.decode()

        assert "Hour 1 would be met: 60 min at 75 %, 55 are asked for" in page
        assert "Expected day" in page
        assert "What would earn more" not in page

    def test_hours_from_the_high_home_field_are_sent_to_the_shops_own(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        high = typed(hour_1_field="Quillmesa", hour_1_altitude="8500", ferry_after="0", ferry_altitude="9500")
        page = as_person(shop.tom).post(at(plane), {**high, "preview": "1"}).content.decode()

        assert "75 % nowhere at or above the lowest sensible altitude" in page
        assert "Fly the first two hours from Tellamoor Field" in page
        assert "a field at or below" in page

    def test_a_twin_is_answered_for_both_and_says_which_engine_is_in_no_break_in(
        self, shop: Cast, as_person: AsPerson
    ) -> None:
        twin = factories.aircraft("QX-905", shop.ada_customer)
        of = type_with_chart()
        fit(shop, twin, "B-L", "left", revision=of)
        client = as_person(shop.tom)
        factories.seat(factories.engine(of), twin, by=shop.tom, position="right")
        alone = client.post(at(twin), typed(preview="1", home="Tellamoor Field")).content.decode()
        assert "RIGHT engine is not in break-in" in alone
        assert "<h3>LEFT engine</h3>" in alone

        both = factories.aircraft("QX-906", shop.ada_customer)
        fit(shop, both, "B-L2", "left", revision=of)
        fit(shop, both, "B-R2", "right", revision=of)
        said = client.post(at(both), typed(preview="1", home="Tellamoor Field")).content.decode()
        assert said.count("would be met: 60 min") == 1
        assert "<h3>Both engines</h3>" in said

    @pytest.mark.parametrize(
        ("more", "said"),
        [({}, "No power chart of this type is on file"), ({"log_only": True}, "no built-in judgement")],
    )
    def test_a_type_without_chart_or_judgement_says_so_and_is_kept_all_the_same(
        self, shop: Cast, as_person: AsPerson, more: dict[str, Any], said: str
    ) -> None:
        into = factories.aircraft("QX-907", shop.ada_customer)
        fit(shop, into, "B-907", revision=factories.type_revision("Bare", **more))
        client = as_person(shop.tom)
        assert client.post(at(into), typed(home="Tellamoor Field")).status_code == 302
        assert said in client.get(at(into)).content.decode()


class TestWho:
    def test_the_pilot_assigned_to_it_plans_it_the_holder_does_not(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        pilot = factories.person("Corin", role=Role.BREAK_IN_PILOT)
        assert as_person(pilot).get(at(plane)).status_code == 404
        PilotAssignment.objects.create(aircraft=plane, person=pilot, since=LONG_AGO)
        assert as_person(pilot).post(at(plane), typed()).status_code == 302
        assert as_person(shop.ada).get(at(plane)).status_code == 403
        assert as_person(shop.ben).get(at(plane)).status_code == 404

    def test_only_who_may_fly_it_can_be_named(self, shop: Cast, as_person: AsPerson, plane: Aircraft) -> None:
        answer = as_person(shop.tom).post(at(plane), typed(hour_1_pilot=str(shop.ben.pk)))
        assert answer.status_code == 422
        assert not DeliveryPlan.objects.exists()


class TestItsLine:
    def test_the_engine_page_says_whether_it_is_planned_until_the_first_flight(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        client = as_person(shop.tom)
        engine = f"/engines/{plane.installations.get().engine_id}/"
        assert "Delivery not planned" in client.get(engine).content.decode()
        client.post(at(plane), typed())
        page = client.get(engine).content.decode()
        assert "Delivery planned, revision 1" in page
        assert "Ferry home to Quillmesa: 3\u202fh 00\u202fmin at 9500\u202fft, after both." in page

        build = plane.installations.get().engine.builds.get()
        factories.flown(build, 1.1)
        assess.assess_build(build.pk, NOW)
        assert "Delivery planned" not in client.get(engine).content.decode()

    def test_the_holder_reads_the_plan_on_his_page_before_flight_one_and_no_door_to_it(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        portal = f"/portal/aircraft/{plane.pk}/"
        assert "Delivery" not in as_person(shop.ada).get(portal).content.decode()
        as_person(shop.tom).post(at(plane), typed())
        page = as_person(shop.ada).get(portal).content.decode()
        assert "Hour 1: from Tellamoor Field" in page
        assert "Collected on Friday." in page
        assert at(plane) not in page

    def test_the_card_of_these_hours_is_made_for_its_fields_and_says_so(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        card = f"/portal/aircraft/{plane.pk}/card/"
        assert "Left empty: the home field, Quillmesa" in as_person(shop.ada).get(card).content.decode()
        as_person(shop.tom).post(at(plane), typed(hour_2_field="Far strip", hour_2_elevation="1000 ft"))
        ada = as_person(shop.ada)
        page = ada.get(card).content.decode()
        assert "Field and air: Tellamoor Field, by the delivery plan" in page
        assert "Left empty: Tellamoor Field, the field of the delivery plan" in page
        assert "delivery plan" not in ada.get(card, {"elevation": "2100"}).context["card"].content.air.place
        judged = Assessment.objects.filter(build=plane.installations.get().engine.builds.get())
        for stage, said in (("hour_2", "Far strip, by the delivery plan"), ("alternating", "Quillmesa")):
            judged.update(detail={"next": {"stage": stage}})
            assert f"Field and air: {said}<" in ada.get(card).content.decode()

    def test_the_list_of_today_and_the_shop_page_say_so_too(
        self, shop: Cast, as_person: AsPerson, plane: Aircraft
    ) -> None:
        build = plane.installations.get().engine.builds.get()
        DueItem.objects.create(
            build=build, rule="T", occurrence="a", rule_version=1, kind="oil_reading", title="Read the oil",
            text="Before the first flight.", state=DueState.DUE, opened_at=NOW,
        )  # fmt: skip
        Assessment.objects.filter(build=build).update(asks=True)
        client = as_person(shop.tom)
        assert "Delivery not planned" in client.get("/today/").content.decode()
        assert f'href="{at(plane)}"' in client.get("/shop/").content.decode()
        client.post(at(plane), typed())
        assert "Delivery planned" in client.get("/today/").content.decode()
        assert f'href="{at(plane)}"' not in client.get("/shop/").content.decode()

    def test_a_plan_of_an_earlier_build_counts_no_more(self, shop: Cast, as_person: AsPerson, plane: Aircraft) -> None:
        hour = HourEntry("Tellamoor Field", 620, 3000)
        entry = DeliveryEntry("Quillmesa", (hour, hour), None, "", {})
        before = NOW - timedelta(days=90)
        plan_delivery(
            by=shop.tom, aircraft=plane, entry=entry, pilots=(None, None), ferry_pilot=None, after=0, now=before
        )
        engine = f"/engines/{plane.installations.get().engine_id}/"
        assert "Delivery not planned" in as_person(shop.tom).get(engine).content.decode()
