"""The list of today, and completing what is due from it."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from breakin.assess import assess_build
from breakin.models import Assessment, DueItem, DueState, Finding, Lane, OilEvent, Severity
from engines.models import Build, Inspection
from tests import factories
from tests.factories import Cast
from tests.reports.fleet import row

pytestmark = pytest.mark.django_db


def due(build: Build, **more: object) -> DueItem:
    values = {
        "rule": "T",
        "occurrence": str(uuid4()),
        "rule_version": 1,
        "kind": "oil_reading",
        "title": "Oil reading missing",
        "text": "No level after the flight of 1.2 h.",
        "state": DueState.DUE,
        "opened_at": factories.NOW,
        **more,
    }
    Assessment.objects.filter(build=build).update(asks=values["state"] in ("due_soon", "due", "late"))
    return DueItem.objects.create(build=build, **values)


def check(**more: str) -> dict[str, str]:
    moment = timezone.now() - timedelta(minutes=30)
    return {
        "client_id": str(uuid4()),
        "local_date": f"{moment:%Y-%m-%d}",
        "local_time": f"{moment:%H:%M}",
        "level": "7.25",
        "level_unit": "qt",
        "minutes_since_shutdown": "10-30",
        "level_ground": "yes",
        "wiped_twice": "yes",
        "belly_oil": "none",
        **more,
    }


@pytest.fixture(autouse=True)
def _judged(shop: Cast) -> None:
    shop.tom.zone = "UTC"
    shop.tom.save()
    for build in (shop.build_1, shop.build_2):
        assess_build(build.pk, factories.NOW)
    # Each test says itself what is due.
    DueItem.objects.update(state=DueState.GONE)
    Assessment.objects.update(asks=False)


def test_nothing_due_reads_as_an_answer(shop: Cast, as_person) -> None:
    page = as_person(shop.tom).get("/today/").content.decode()
    assert "Nothing is due and nobody is to be called." in page
    assert "Order of authority." in page


def test_an_owner_does_not_see_the_list(shop: Cast, as_person) -> None:
    assert as_person(shop.ada).get("/today/").status_code == 403


def test_what_is_due_stands_under_its_airfield_and_customer(shop: Cast, as_person) -> None:
    away = factories.place("Saltreach", elevation_ft=15)
    other = factories.aircraft("QX-820", factories.customer("Charter"), home=away)
    due(row("QX-820", aircraft=other, customer_name="Charter").build, title="First oil and filter")
    due(shop.build_1)
    due(shop.build_2, state=DueState.WAITING, title="Later some day")
    page = as_person(shop.tom).get("/today/").content.decode()
    order = [
        page.index(text) for text in (">Saltreach</h2>", ">Charter</h3>", "QX-820", ">Tellamoor Field</h2>", "QX-901")
    ]
    assert order == sorted(order)
    assert "Later some day" not in page


def test_one_airfield_can_be_chosen(shop: Cast, as_person) -> None:
    away = factories.place("Saltreach", elevation_ft=15)
    due(row("QX-820", aircraft=factories.aircraft("QX-820", home=away)).build)
    due(shop.build_1)
    page = as_person(shop.tom).get("/today/?place=Saltreach").content.decode()
    assert "QX-820" in page
    assert "QX-901" not in page


def test_an_engine_that_is_not_installed_is_listed_in_the_shop(shop: Cast, as_person) -> None:
    due(row("", serial="L-31").build, kind="preservation", title="Preservation ends", state=DueState.DUE_SOON)
    page = as_person(shop.tom).get("/today/").content.decode()
    assert "In the shop, Test shop" in page
    assert "s/n L-31" in page


def found(build: Build, severity: Severity, state: str = "open") -> None:
    one = factories.assessment(build)
    one.stops, one.lane, one.asks = 1, Lane.STOPPED, True
    one.save()
    Finding.objects.create(
        build=build,
        rule="E1",
        occurrence=f"{severity} {state}",
        rule_version=1,
        severity=severity,
        state=state,
        title=f"Fuel flow low, {state}",
        text="14.1 gal/h.",
        why="It overheats.",
        source="type",
        happened_at=factories.NOW,
        opened_at=factories.NOW,
    )


def test_stops_and_calls_stand_with_what_is_due(shop: Cast, as_person) -> None:
    found(shop.build_1, Severity.STOP)
    assert "Fuel flow low" in as_person(shop.tom).get("/today/").content.decode()


@pytest.mark.parametrize(("severity", "shown"), [(Severity.STOP, True), (Severity.CALL, False)])
def test_what_somebody_took_up_is_asked_for_no_more_unless_it_is_a_stop(
    shop: Cast, as_person, severity: Severity, shown: bool
) -> None:
    found(shop.build_1, severity, "acknowledged")
    assert ("Fuel flow low" in as_person(shop.tom).get("/today/").content.decode()) is shown


def test_the_list_costs_the_same_queries_for_more_engines(shop: Cast, as_person, django_assert_num_queries) -> None:
    client = as_person(shop.tom)
    due(shop.build_1)
    client.get("/today/")
    for number in range(12):
        due(row(f"QX-83{number}").build)
    with django_assert_num_queries(11):
        client.get("/today/")


def test_a_technician_completes_an_oil_check_from_the_list(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/", check())
    item.refresh_from_db()
    assert answer.headers["location"] == f"/today/?done={item.pk}"
    assert item.state == DueState.DONE
    assert Inspection.objects.get().performed_by == shop.tom
    assert OilEvent.objects.get(kind="reading").level_qt == 7.25


def test_sending_the_check_twice_enters_it_once(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    typed = check()
    client = as_person(shop.tom)
    client.post(f"/due/{item.pk}/complete/", typed)
    client.post(f"/due/{item.pk}/complete/", typed)
    assert Inspection.objects.count() == 1


def test_a_decimal_comma_is_understood(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    as_person(shop.tom).post(f"/due/{item.pk}/complete/", check(level="7,25"))
    assert OilEvent.objects.get(kind="reading").level_qt == 7.25


def test_a_wrong_number_is_said_at_its_field_and_kept(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/", check(level="seven"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "seven" in page
    assert re.search(r'name="level"[^>]*value="seven"', page)
    assert not Inspection.objects.exists()


def test_in_place_the_form_and_the_answer_come_without_the_page(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    client = as_person(shop.tom)
    form = client.get(f"/due/{item.pk}/complete/", headers={"HX-Request": "true"}).content.decode()
    assert "<form" in form
    assert "<html" not in form
    done = client.post(f"/due/{item.pk}/complete/", check(), headers={"HX-Request": "true"}).content.decode()
    assert "Oil reading missing: oil check entered." in done
    assert f'<meta name="draft-done" content="due-{item.pk}">' in done  # nothing of it is left on the device


def test_from_the_engine_page_it_leads_back_there(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/?next=engine", check())
    assert answer.headers["location"] == f"/engines/{shop.build_1.engine_id}/?done={item.pk}#due"


def test_a_filter_is_entered_with_its_oil(shop: Cast, as_person) -> None:
    item = due(shop.build_1, kind="oil_filter", title="First oil and filter")
    typed = {
        "client_id": str(uuid4()),
        "drained": "6.5",
        "drained_unit": "qt",
        "filled": "7",
        "filled_unit": "qt",
        "oil_kind": "mineral",
        "filter_changed": "yes",
        "opened": "yes",
        "material": "fuzz",
        "count": "few",
        "magnet": "fuzz",
        "longest_mm": "0,5",
        "result": "normal",
    }
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/", typed)
    assert answer.status_code == 302, answer.content.decode()
    assert Inspection.objects.get().results["longest_mm"] == 0.5
    assert OilEvent.objects.get(kind="drain_fill").filled_qt == 7


@pytest.mark.parametrize(
    ("kind", "typed"),
    [
        ("leak", {"spot_1_where": "rocker cover no. 2", "spot_1_grade": "1", "torque_done": "yes", "result": "normal"}),
        ("fuel_flow", {"full_gph": "16.2", "full_gph_unit": "gal/h", "gauge": "G-3", "result": "normal"}),
        ("preservation", {"expires_on": "2099-01-01", "preservative": "storage oil", "result": "normal"}),
    ],
)
def test_the_other_checks_are_entered_with_their_own_fields(
    shop: Cast, as_person, kind: str, typed: dict[str, str]
) -> None:
    item = due(shop.build_1, kind=kind)
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/", {"client_id": str(uuid4()), **typed})
    item.refresh_from_db()
    assert answer.status_code == 302, answer.content.decode()
    assert (item.state, Inspection.objects.get().kind) == (DueState.DONE, kind)


def test_what_only_a_flight_closes_has_no_form(shop: Cast, as_person) -> None:
    item = due(shop.build_1, kind="flight", title="No flight for 24 days")
    assert "No form closes this." in as_person(shop.tom).get(f"/due/{item.pk}/complete/").content.decode()


def test_only_a_technician_completes(shop: Cast, as_person) -> None:
    item = due(shop.build_1)
    assert as_person(shop.cora).post(f"/due/{item.pk}/complete/", check()).status_code == 403
    assert as_person(shop.ada).post(f"/due/{item.pk}/complete/", check()).status_code == 403
    assert as_person(shop.ben).post(f"/due/{item.pk}/complete/", check()).status_code == 404
    assert not Inspection.objects.exists()


def test_what_is_closed_says_so_instead_of_asking_again(shop: Cast, as_person) -> None:
    item = due(shop.build_1, state=DueState.DONE)
    assert "This is closed already." in as_person(shop.tom).get(f"/due/{item.pk}/complete/").content.decode()


def test_a_long_list_goes_on_where_the_page_before_ended(shop: Cast, as_person, monkeypatch) -> None:
    monkeypatch.setattr("reports.fleet.today.PAGE", 2)
    for number in range(5):
        due(row(f"QX-84{number}").build)
    client, seen, address = as_person(shop.tom), [], "/today/"
    while address:
        page = client.get(address).content.decode()
        assert "5 engines ask for something" in page
        seen += re.findall(r"QX-84\d", page)
        following = re.search(r'href="(/today/\?after=[^"]+)"', page)
        address = following.group(1) if following else ""
    assert list(dict.fromkeys(seen)) == [f"QX-84{number}" for number in range(5)]


@pytest.mark.parametrize("after", ["x", "%5B%5D", "bnVsbA", "WzEsMiwzLDQsNV0"])
def test_an_address_that_no_page_wrote_shows_the_first_page(shop: Cast, as_person, after: str) -> None:
    due(shop.build_1)
    assert "QX-901" in as_person(shop.tom).get(f"/today/?after={after}").content.decode()
