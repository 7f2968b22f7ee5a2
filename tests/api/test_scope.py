"""Who sees what through the interface: nothing of others (404); what one sees but may not do is refused (403)."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from breakin import assess
from breakin.models import Flight, OilEvent
from engines.models import PilotAssignment
from shop.models import CustomerMember, Person, Role
from tests import factories
from tests.api.doors import a_flight, a_reading

pytestmark = pytest.mark.django_db


def test_a_stranger_finds_nothing(shop: factories.Cast, api) -> None:
    ben = api(shop.ben)

    seen = ben.get(f"engines/{shop.build_1.engine_id}/")
    logged = ben.post("flights/", a_flight(shop.build_1.engine, "QX-901"))
    oiled = ben.post(f"engines/{shop.build_1.engine_id}/oil/", a_reading())

    assert [answer.status_code for answer in (seen, logged, oiled)] == [404, 404, 404]
    assert not Flight.objects.exists()
    assert not OilEvent.objects.exists()


def test_what_is_anothers_and_what_is_nowhere_are_answered_alike(shop: factories.Cast, api) -> None:
    ben = api(shop.ben)
    assert ben.get(f"engines/{shop.build_1.engine_id}/").content == ben.get("engines/999999/").content
    theirs = ben.post("flights/", a_flight(shop.build_1.engine, "QX-901"))
    nobodys = ben.post("flights/", a_flight(shop.build_1.engine, "QX-000"))
    assert theirs.content == nobodys.content


def test_an_engine_of_another_customer_cannot_be_slipped_into_ones_own_flight(shop: factories.Cast, api) -> None:
    answer = api(shop.ben).post("flights/", a_flight(shop.build_1.engine, "QX-902"))

    assert answer.status_code == 400
    assert "engines.0.engine_id" in answer.content.decode()
    assert shop.build_1.engine.serial not in answer.content.decode()


def test_who_sold_it_sees_his_own_time_and_logs_no_more(shop: factories.Cast, api, sold: Person) -> None:
    ada = api(shop.ada)

    logged = ada.post("flights/", a_flight(shop.build_1.engine, "QX-901"))
    oiled = ada.post(f"engines/{shop.build_1.engine_id}/oil/", a_reading())
    seen = ada.get(f"engines/{shop.build_1.engine_id}/")

    assert (logged.status_code, oiled.status_code) == (403, 403)
    assert seen.status_code == 200
    assert (seen.json()["current"], seen.json()["detail"], seen.json()["due"]) == (None, {}, [])


def test_who_bought_it_logs_from_now_on(shop: factories.Cast, api, sold: Person) -> None:
    assert api(sold).post("flights/", a_flight(shop.build_1.engine, "QX-901")).status_code == 201


def test_the_pilot_is_let_in_for_his_period(shop: factories.Cast, api) -> None:
    now = timezone.now()
    corin = factories.person("Corin", role=Role.BREAK_IN_PILOT)
    path = f"engines/{shop.build_1.engine_id}/"
    assert api(corin).get(path).status_code == 404
    period = PilotAssignment.objects.create(
        aircraft=shop.aircraft_1, person=corin, since=now - timedelta(days=2), until=None
    )
    assert api(corin).get(path).status_code == 200
    assert api(corin).get("board/").status_code == 403
    assert api(corin).post("flights/", a_flight(shop.build_1.engine, "QX-901")).status_code == 201

    PilotAssignment.objects.filter(pk=period.pk).update(until=now - timedelta(seconds=1))

    assert api(corin).post(f"{path}oil/", a_reading()).status_code == 403


def test_a_club_member_logs_like_an_owner(shop: factories.Cast, api) -> None:
    mia = factories.person("Mia")
    CustomerMember.objects.create(customer=shop.ada_customer, person=mia, role="club_member")

    assert api(mia).post(f"engines/{shop.build_1.engine_id}/oil/", a_reading()).status_code == 201


@pytest.mark.parametrize("who", ["ben", "ada"])
def test_persons_and_words_of_an_earlier_time_do_not_reach_a_later_holder(
    shop: factories.Cast, api, sold: Person, who: str
) -> None:
    """Ada flew and wrote, Ben bought: what the interface says of the engine holds no name and no word of hers."""
    words = "Zwitscherzimt near the mill"
    factories.flown(
        shop.build_1, 1.2, at=timezone.now() - timedelta(days=9), level_qt=6.5, by=shop.ada, note=words,
        chips=["rough", "oil_seen"], oil_press_min=5,
    )  # fmt: skip
    factories.oil_event(
        shop.build_1, "loss_seen", at=timezone.now() - timedelta(days=8), by=shop.ada, belly_oil=3, note=words
    )
    assess.assess_build(shop.build_1.pk, timezone.now())

    answer = api(shop.ben if who == "ben" else shop.ada).get(f"engines/{shop.build_1.engine_id}/")

    text = answer.content.decode()
    assert answer.json()["findings"], "there is something to leak"
    assert "Zwitscherzimt" not in text
    if who == "ben":
        assert answer.json()["detail"]["oil"]["entries"], "the technical facts are there"
        assert "Ada" not in text.replace("Ada's flying", "")


def test_what_only_the_shop_may_read_stays_in_the_shop(shop: factories.Cast, api) -> None:
    from breakin.models import Finding

    factories.flown(
        shop.build_1, 1.2, at=timezone.now() - timedelta(days=2), level_qt=6.5, by=shop.ada, oil_press_min=5
    )
    Finding.objects.update(for_customer=False)
    path = f"engines/{shop.build_1.engine_id}/"

    assert api(shop.ada).get(path).json()["findings"] == []
    assert api(shop.tom).get(path).json()["findings"] != []
