"""The first flight after the work: the form asks about passengers, and keeps what was typed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from breakin.models import Finding, Flight, Severity
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import a_flight, error_at, log_address

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def test_passengers_on_it_are_asked_about_and_kept_as_typed(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    address = log_address(shop.aircraft_1)
    sent = a_flight(ada.get(address), persons_aboard="4")
    asked = ada.post(address, sent)
    assert asked.status_code == 422
    assert "the first flight after the work is for the crew only" in error_at(asked, "persons_aboard")
    assert not Flight.objects.exists()
    ada.post(address, {**sent, "persons_aboard_sure": "4"}, follow=True)
    assert Flight.objects.get().persons_aboard == 4


def test_who_was_aboard_it_is_asked_once_and_may_stay_unsaid(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    address = log_address(shop.aircraft_1)
    sent = a_flight(ada.get(address), persons_aboard="", note="crocus")
    asked = ada.post(address, sent)
    assert asked.status_code == 422
    assert "How many were aboard?" in error_at(asked, "persons_aboard")
    assert "It stays unsaid" in asked.content.decode()
    assert "crocus" in asked.content.decode()
    assert not Flight.objects.exists()
    assert ada.post(address, {**sent, "persons_aboard_sure": ""}).status_code == 302
    flight = Flight.objects.get()
    assert (flight.persons_aboard, flight.absent["persons_aboard"]) == (None, "not_observed")


def test_nobody_is_asked_who_was_aboard_a_ground_run(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    address = log_address(shop.aircraft_1)
    sent = a_flight(ada.get(address), persons_aboard="", kind="ground_run", airborne="0")
    assert error_at(ada.post(address, sent), "persons_aboard") == ""


@pytest.mark.parametrize("aboard", ["1", "2"])
def test_a_crew_is_not_asked_about(shop: Cast, as_person, aboard: str) -> None:
    ada = as_person(shop.ada)
    address = log_address(shop.aircraft_1)
    assert ada.post(address, a_flight(ada.get(address), persons_aboard=aboard)).status_code == 302


@pytest.mark.parametrize("aboard", ["", "4"])
def test_nobody_is_asked_who_was_aboard_a_later_flight(shop: Cast, as_person, aboard: str) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=2), level_qt=6.5)
    ada = as_person(shop.ada)
    address = log_address(shop.aircraft_1)
    page = ada.get(address)
    sent = a_flight(page, persons_aboard=aboard, **{"e0-meter_end": "102.1"})
    assert ada.post(address, sent).status_code == 302
    assert not Finding.objects.filter(severity=Severity.STOP).exists()
