"""The first page of each reader, the people list, invitations."""

from __future__ import annotations

import pytest
from django.core import mail
from django.test import Client

from shop.models import CustomerMember, Person, ShopRole
from tests import factories
from tests.factories import Cast

pytestmark = pytest.mark.django_db


def test_each_reader_starts_on_the_page_of_his_work(shop: Cast, as_person) -> None:
    assert as_person(shop.cora).get("/").headers["location"] == "/board/"
    assert as_person(shop.tom).get("/").headers["location"] == "/today/"
    assert as_person(shop.ada).get("/").headers["location"] == "/portal/"
    assert Client().get("/").headers["location"].startswith("/accounts/login/")


def test_only_the_manager_sees_people_and_invites(shop: Cast, as_person) -> None:
    for address in ("/people/", "/people/invite/"):
        assert as_person(shop.cora).get(address).status_code == 200
        assert as_person(shop.tom).get(address).status_code == 403
        assert as_person(shop.ada).get(address).status_code == 403


def test_a_link_to_the_people_is_offered_to_whoever_may_follow_it(shop: Cast, as_person) -> None:
    assert 'href="/people/"' in as_person(shop.cora).get("/board/").content.decode()
    assert 'href="/people/"' not in as_person(shop.tom).get("/board/").content.decode()


def test_people_are_listed_with_roles_customers_and_sign_in(shop: Cast, as_person) -> None:
    factories.person("Quentin", with_user=False)
    page = as_person(shop.cora).get("/people/").content.decode()
    assert "line technician" in page
    assert "Ada&#x27;s flying (owner, first contact)" in page
    assert "no login" in page
    found = as_person(shop.cora).get("/people/?q=que").content.decode()
    assert "Quentin" in found
    assert "Ada&#x27;s" not in found
    assert "Nobody is called like this." in as_person(shop.cora).get("/people/?q=zz").content.decode()


def test_an_invited_owner_gets_a_mail_with_an_address_that_opens(shop: Cast, as_person) -> None:
    typed = {"name": "Ines", "email": "ines@example.org", "role": "owner", "customer": shop.ada_customer.pk}
    assert as_person(shop.cora).post("/people/invite/", typed).headers["location"] == "/people/"
    ines = Person.objects.get(name="Ines")
    letter = mail.outbox[0]
    address = next(line for line in letter.body.splitlines() if line.startswith("http"))
    path = "/" + address.split("/", 3)[3]
    assert CustomerMember.objects.get(person=ines).role == "owner"
    assert letter.to == ["Ines <ines@example.org>"]
    assert "Engine maker's current instructions come first" in letter.body
    assert Client().get(path, follow=True).status_code == 200


def test_an_invitation_speaks_the_language_of_the_person_and_so_does_the_page_behind_it(shop: Cast, as_person) -> None:
    typed = {"name": "Sunniva", "email": "s@example.org", "role": "owner", "customer": shop.ada_customer.pk}
    as_person(shop.cora).post("/people/invite/", {**typed, "language": "de"})
    assert Person.objects.get(name="Sunniva").language == "de"
    letter = mail.outbox[0]
    assert letter.subject.endswith("Passwort wählen")
    assert "Guten Tag Sunniva," in letter.body
    assert "Zuerst gelten die aktuellen Anweisungen des Motorherstellers" in letter.body
    address = next(line for line in letter.body.splitlines() if line.startswith("http"))
    page = Client().get("/" + address.split("/", 3)[3], follow=True).content.decode()
    assert '<html lang="de">' in page
    assert "Passwort wählen" in page

    as_person(shop.cora).post("/people/invite/", typed)  # a second invitation leaves the language as it is
    assert Person.objects.get(name="Sunniva").language == "de"


def test_an_owner_without_a_customer_and_a_technician_with_one_are_refused(shop: Cast, as_person) -> None:
    client = as_person(shop.cora)
    typed = {"name": "Ines", "email": "ines@example.org"}
    answer = client.post("/people/invite/", {**typed, "role": "owner"})
    assert answer.status_code == 422
    assert "Whose owner or member?" in answer.content.decode()
    with_customer = {**typed, "role": "signatory", "customer": shop.ada_customer.pk}
    assert client.post("/people/invite/", with_customer).status_code == 422
    assert not Person.objects.filter(name="Ines").exists()
    assert mail.outbox == []


def test_a_bad_address_is_said_and_nothing_is_kept(shop: Cast, as_person) -> None:
    typed = {"name": "Ines", "email": "ines at home", "role": "signatory"}
    answer = as_person(shop.cora).post("/people/invite/", typed)
    assert answer.status_code == 422
    assert "is not an e-mail address" in answer.content.decode()
    assert 'value="ines at home"' in answer.content.decode()
    assert not ShopRole.objects.filter(person__name="Ines").exists()
