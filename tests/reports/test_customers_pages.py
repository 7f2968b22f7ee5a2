"""Customers and their people, changed by the shop on pages, with what stood there before."""

from __future__ import annotations

from typing import Any

import pytest

from breakin import assess
from breakin.models import Assessment
from shop.customers import change_person_of
from shop.errors import Refusal
from shop.models import AuditEvent, Customer, CustomerMember
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import chosen, error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def person(**changed: str) -> dict[str, str]:
    return {"name": "Ada", "phone": "555-0177", "language": "de", "units": "si", "zone": "Etc/GMT+5", **changed}


def test_a_customer_is_found_and_its_name_and_phone_changed_with_what_was_there(shop: Cast, as_person: Any) -> None:
    technician, address = as_person(shop.tom), f"/shop/customers/{shop.ada_customer.pk}/"
    listed = technician.get("/shop/customers/?q=ada").content.decode()
    assert f'href="{address}"' in listed
    assert "QX-901" in listed
    assert "Ben&#x27;s flying" not in listed
    assert value_of(technician.get(address), "phone") == "555-0100"
    assert technician.post(address, {"name": "Ada's club", "phone": "555-0111"}).status_code == 302
    page = technician.get(address).content.decode()
    assert "name: “Ada&#x27;s flying” became “Ada&#x27;s club”; phone: “555-0100” became “555-0111”" in page
    assess.assess_build(shop.build_1.pk, NOW)
    assert Assessment.objects.get(build=shop.build_1).customer_name == "Ada's club"


@pytest.mark.parametrize(("name", "words"), [("", "is missing"), ("ben's FLYING", "There is another customer")])
def test_a_name_that_is_missing_or_taken_is_refused_and_stays_typed(
    shop: Cast, as_person: Any, name: str, words: str
) -> None:
    answer = as_person(shop.tom).post(f"/shop/customers/{shop.ada_customer.pk}/", {"name": name, "phone": "1"})
    assert answer.status_code == 422
    assert words in error_at(answer, "name")
    assert value_of(answer, "phone") == "1"
    assert Customer.objects.get(pk=shop.ada_customer.pk).phone == "555-0100"


def test_the_details_of_its_people_are_changed_and_written_down_once(shop: Cast, as_person: Any) -> None:
    technician, address = as_person(shop.tom), f"/shop/customers/{shop.ada_customer.pk}/people/{shop.ada.pk}/"
    assert chosen(technician.get(address), "units") == ["us"]
    assert technician.post(address, person()).status_code == 302
    shop.ada.refresh_from_db()
    assert (shop.ada.phone, shop.ada.language, shop.ada.units, shop.ada.zone) == ("555-0177", "de", "si", "Etc/GMT+5")
    technician.post(address, person())
    event = AuditEvent.objects.get(act="change_person")
    assert event.actor == shop.tom
    assert event.detail["changed"]["units"] == ["us", "si"]
    wrong = technician.post(address, person(zone="Nowhere"))
    assert wrong.status_code == 422
    assert "Nowhere" in error_at(wrong, "zone")


def test_nobody_else_is_changed_there(shop: Cast, as_person: Any) -> None:
    technician = as_person(shop.tom)
    of_ada = f"/shop/customers/{shop.ada_customer.pk}/people"
    assert technician.post(f"{of_ada}/{shop.ben.pk}/", person()).status_code == 404
    CustomerMember.objects.create(customer=shop.ada_customer, person=shop.cora, role="owner", since=factories.LONG_AGO)
    answer = technician.post(f"{of_ada}/{shop.cora.pk}/", person(name="Cora"))
    assert answer.status_code == 422
    assert "works for the shop" in answer.content.decode()
    with pytest.raises(Refusal, match="does not belong"):
        change_person_of(by=shop.tom, customer=shop.ada_customer, person=shop.ben, phone="1", now=NOW)
    with pytest.raises(TypeError, match="email"):
        change_person_of(by=shop.tom, customer=shop.ada_customer, person=shop.ada, email="x@example.org", now=NOW)


def test_a_new_customer_is_entered(shop: Cast, as_person: Any) -> None:
    answer = as_person(shop.tom).post("/shop/customers/new/", {"name": "Cleo's flying", "phone": ""})
    made = Customer.objects.get(name="Cleo's flying")
    assert answer.headers["location"] == f"/shop/customers/{made.pk}/"
