"""The first visit of a pilot: invited by mail, a link that works once, a password, the tour, his own aircraft only."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.utils import timezone

from breakin import assess
from engines.models import PilotAssignment
from shop.models import AuditEvent, Person
from tests import factories
from tests.factories import NOW, Cast, flown

pytestmark = pytest.mark.django_db

PASSWORD = "walnut kettle drizzle"
CARDS = (
    "What break-in is", "Before the first flight", "The first two hours", "Oil: when to read, when not to pour",
    "Log in a minute",
)  # fmt: skip


def invited(shop: Cast, as_person) -> str:
    """Ida, who flies with Ada, is invited by the manager: the address in her mail."""
    form = {"name": "Ida", "email": "ida@example.org", "role": "owner", "customer": str(shop.ada_customer.pk)}
    assert as_person(shop.cora).post("/people/invite/", form).status_code == 302
    (message,) = mail.outbox
    assert message.to == ["Ida <ida@example.org>"]
    found = re.search(r"https?://[^/\s]+(/accounts/password/reset/key/\S+)", str(message.body))
    assert found
    return found[1]


def opened(client: Client, path: str) -> str:
    """The address of the form behind the link."""
    return client.get(path, follow=True).redirect_chain[-1][0]


def chosen(client: Client, path: str) -> Any:
    return client.post(opened(client, path), {"password1": PASSWORD, "password2": PASSWORD}, follow=True)


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.content.decode()


def test_from_the_invitation_to_the_own_aircraft(shop: Cast, as_person) -> None:
    assess.assess_build(shop.build_1.pk, NOW)
    path, ida = invited(shop, as_person), Client()
    tour = chosen(ida, path)
    assert tour.redirect_chain[-1][0] == "/portal/tour/"
    page = tour.content.decode()
    places = [page.index(f"<h2>{card}</h2>") for card in CARDS]
    assert places == sorted(places)
    assert "QX-901" in page
    assert "QX-902" not in page
    assert "/accounts/2fa/webauthn/add/" in page
    assert "/accounts/2fa/totp/activate/" in page
    for door in ("/accounts/2fa/webauthn/add/", "/accounts/2fa/totp/activate/"):
        assert ida.get(door).status_code == 200, "no password is asked for again right after it was chosen"
    with time_machine.travel(timezone.now() + timedelta(minutes=6), tick=False):
        assert ida.get("/accounts/2fa/webauthn/add/").status_code == 302, "later the password is asked for once more"
    assert ida.post("/portal/tour/").headers["location"] == "/portal/"
    assert "QX-901" in text_of(ida, "/portal/")
    assert ida.get(f"/portal/aircraft/{shop.aircraft_2.pk}/").status_code == 404
    assert ida.get(f"/portal/aircraft/{shop.aircraft_2.pk}/tour/").status_code == 404


def test_the_link_works_once_and_says_afterwards_what_to_do(shop: Cast, as_person) -> None:
    path = invited(shop, as_person)
    chosen(Client(), path)
    page = Client().get(path, follow=True).content.decode()
    assert "This link no longer works" in page
    assert "You have chosen a password with it already? Then sign in with it." in page
    assert 'href="/accounts/login/"' in page
    assert 'href="/accounts/password/reset/"' in page
    assert 'name="password1"' not in page


def test_a_link_that_ran_out_leads_to_a_new_one_by_mail(shop: Cast, as_person) -> None:
    path = invited(shop, as_person)
    with time_machine.travel(NOW + timedelta(days=3650), tick=False):
        assert "This link no longer works" in Client().get(path, follow=True).content.decode()
    Client().post("/accounts/password/reset/", {"email": "ida@example.org"})
    assert len(mail.outbox) == 2
    assert "/accounts/password/reset/key/" in mail.outbox[1].body


class TestTour:
    def sign_in(self, person: Person) -> Client:
        client = Client()
        assert person.user is not None
        client.post("/accounts/login/", {"login": person.email, "password": "a good long password"})
        return client

    def lands(self, person: Person) -> str:
        form = {"login": person.email, "password": "a good long password"}
        return Client().post("/accounts/login/", form).headers["location"]

    @pytest.mark.parametrize("button", [{}, {"later": "1"}], ids=["read", "later"])
    def test_is_offered_at_sign_in_until_it_is_read_or_left(self, shop: Cast, button: dict[str, str]) -> None:
        assert self.lands(shop.ada) == "/portal/tour/"
        client = self.sign_in(shop.ada)
        text_of(client, "/portal/tour/")
        assert self.lands(shop.ada) == "/portal/tour/", "looking is not yet an answer"
        client.post("/portal/tour/", button)
        assert self.lands(shop.ada) == "/"
        assert AuditEvent.objects.filter(act="end_tour", actor=shop.ada).count() == 1

    def test_is_found_again(self, shop: Cast, as_person) -> None:
        ada = as_person(shop.ada)
        ada.post("/portal/tour/")
        ada.post("/portal/tour/")
        assert 'href="/portal/tour/"' in text_of(ada, "/portal/")
        assert "Not now" not in text_of(ada, "/portal/tour/")
        assert AuditEvent.objects.filter(act="end_tour").count() == 1

    def test_is_not_for_who_works_in_the_shop(self, shop: Cast) -> None:
        assert self.lands(shop.cora) == "/"

    def test_has_the_numbers_of_the_plan_and_the_type(self, shop: Cast, as_person) -> None:
        assess.assess_build(shop.build_1.pk, NOW)
        page = text_of(as_person(shop.ada), "/portal/tour/")
        assert "Engines of this kind usually take 8 to 12 h." in page
        assert "Tellamoor Field" in page
        assert "Crew only." in page
        assert "0:00 to 1:00" in page
        assert "Heads up to 400\u202f°F to 420\u202f°F are seen early" in page
        assert "Hold line" in page
        assert 'href="tel:555-0199"' in page

    def test_is_of_the_aircraft_that_awaits_its_first_flight(self, shop: Cast, as_person) -> None:
        flown(shop.build_1, 1.0, at=NOW - timedelta(days=1), level_qt=6.5, added_qt=0)
        into = factories.aircraft("QX-999", shop.ada_customer)
        engine = factories.engine()
        build = factories.build(engine, by=shop.cora)
        factories.seat(engine, into, by=shop.tom)
        for each in (shop.build_1, build):
            assess.assess_build(each.pk, NOW)
        page = text_of(as_person(shop.ada), "/portal/tour/")
        assert '<span class="reg">QX-999</span>:' in page
        assert f'href="/portal/aircraft/{shop.aircraft_1.pk}/tour/"' in page
        assert f'href="/portal/aircraft/{into.pk}/tour/"' in text_of(
            as_person(shop.ada), f"/portal/aircraft/{into.pk}/"
        )

    def test_has_no_numbers_of_an_aircraft_that_is_not_his_today(self, shop: Cast, as_person) -> None:
        corin = factories.person("Corin", role="break_in_pilot")
        ended = NOW - timedelta(days=1)
        PilotAssignment.objects.create(
            aircraft=shop.aircraft_1, person=corin, since=ended - timedelta(days=5), until=ended
        )
        page = text_of(as_person(corin), "/portal/tour/")
        assert "QX-901" not in page
        assert "Tellamoor" not in page
        assert "No passengers on the first flight." in page
