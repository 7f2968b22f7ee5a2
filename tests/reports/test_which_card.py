"""By which card a flight was flown: asked only where more than one may have been, and the newest that held is meant."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from breakin.models import Flight, IssuedCard, RunInPlan
from tests.factories import NOW, Cast
from tests.reports.portal_forms import a_flight, error_at, log_address

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def cards(shop: Cast, *ages_h: float) -> list[IssuedCard]:
    plan = RunInPlan.objects.get(build=shop.build_1)
    return [
        IssuedCard.objects.create(
            build=shop.build_1,
            plan=plan,
            number=number,
            stage="hour_1",
            minutes=[[60.0, "75"]],
            issued_at=NOW - timedelta(hours=age),
            valid_until=NOW - timedelta(hours=age) + timedelta(days=7),
        )
        for number, age in enumerate(ages_h, start=1)
    ]


def flown_by(shop: Cast, client: Any, **typed: Any) -> IssuedCard | None:
    path = log_address(shop.aircraft_1)
    page = client.get(path)
    assert "By which card?" in page.content.decode()
    sent = a_flight(page, e0_as_on_card="yes", airborne="60", e0_meter_end="101.0", **typed)
    assert client.post(path, sent).status_code == 302
    return Flight.objects.latest("pk").engines.get().as_on_card


def test_nobody_is_asked_while_there_is_one(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    cards(shop, 5)
    assert "By which card?" not in ada.get(log_address(shop.aircraft_1)).content.decode()


def test_the_newest_that_held_at_take_off_is_meant_unless_another_is_chosen(shop: Cast, as_person) -> None:
    # The third was looked at after landing: nobody has flown by it.
    _old, held, _after = cards(shop, 20, 3, 0.5)
    assert flown_by(shop, as_person(shop.ada)) == held


def test_an_older_one_may_be_chosen_and_stays_chosen_in_a_correction(shop: Cast, as_person) -> None:
    old, *_newer = cards(shop, 20, 3, 0.5)
    ada = as_person(shop.ada)
    assert flown_by(shop, ada, **{"e0-card": str(old.pk)}) == old
    page = ada.get(reverse("correct_flight", args=[Flight.objects.latest("pk").pk])).content.decode()
    assert f'<option value="{old.pk}" selected>' in page


def test_a_card_of_another_engine_is_refused_at_the_choice(shop: Cast, as_person) -> None:
    cards(shop, 20, 3)
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = a_flight(ada.get(path), e0_as_on_card="yes", **{"e0-card": "999999"})
    assert "That card is not one of" in error_at(ada.post(path, sent), "e0-card")
