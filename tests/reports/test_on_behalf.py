"""A flight that a pilot told on the phone: who may log it for him, how good a witness it is, and what is shown."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.models import Flight
from engines.models import PilotAssignment
from shop.facts import Grade
from shop.models import Person
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.portal_forms import a_flight, error_at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def at(shop: Cast) -> str:
    return f"/portal/aircraft/{shop.aircraft_1.pk}/log/"


@pytest.fixture
def corin(shop: Cast) -> Person:
    """A break-in pilot who is assigned to the aircraft today."""
    pilot = factories.person("Corin")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=pilot, since=NOW - timedelta(days=3))
    return pilot


@pytest.mark.parametrize("who", ["technician", "assigned pilot"])
def test_a_flight_told_by_phone_is_kept_for_its_pilot_at_grade_c(
    shop: Cast, corin: Person, as_person: Any, who: str
) -> None:
    person = shop.tom if who == "technician" else corin
    client = as_person(person)
    sent = a_flight(client.get(at(shop)), pilot=str(shop.ada.pk), source="phone")
    assert client.post(at(shop), sent).status_code == 302

    flight = Flight.objects.get()
    assert (flight.entered_by, flight.on_behalf_of, flight.pilot) == (person, shop.ada, shop.ada)
    assert (flight.source, flight.grade) == ("phone", Grade.LATER)
    page = as_person(shop.tom).get(f"/engines/{shop.build_1.engine_id}/").content.decode()
    assert f"Entered by {person.name} on behalf of {shop.ada.name}, phone call".lower() in page.lower()


def test_who_phoned_must_be_said(shop: Cast, corin: Person, as_person: Any) -> None:
    client = as_person(corin)
    answer = client.post(at(shop), a_flight(client.get(at(shop)), source="phone"))
    assert answer.status_code == 422
    assert "Choose who flew" in error_at(answer, "pilot")
    assert not Flight.objects.exists()


def test_an_assigned_pilot_who_says_nothing_logs_his_own_flight(shop: Cast, corin: Person, as_person: Any) -> None:
    client = as_person(corin)
    assert client.post(at(shop), a_flight(client.get(at(shop)))).status_code == 302
    flight = Flight.objects.get()
    assert (flight.on_behalf_of, flight.pilot, flight.source, flight.grade) == (None, corin, "portal", Grade.AT_ONCE)


def test_an_owner_can_log_for_nobody_whatever_he_sends(shop: Cast, corin: Person, as_person: Any) -> None:
    ada = as_person(shop.ada)
    page = ada.get(at(shop))
    assert "Logged for" not in page.content.decode()
    sent = a_flight(page, pilot=str(corin.pk), source="phone", on_behalf_of=str(corin.pk))
    assert ada.post(at(shop), sent).status_code == 302
    flight = Flight.objects.get()
    assert (flight.entered_by, flight.on_behalf_of, flight.source) == (shop.ada, None, "portal")
    assert flight.pilot == corin  # who flew is a fact that he may tell


def test_somebody_who_does_not_fly_the_aircraft_is_refused(shop: Cast, as_person: Any) -> None:
    tom = as_person(shop.tom)
    answer = tom.post(at(shop), a_flight(tom.get(at(shop)), pilot=str(shop.ben.pk), source="phone"))
    assert answer.status_code == 422
    assert not Flight.objects.exists()
