"""A local time that came twice on the night when the clock went back is asked about on every form that takes a time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.urls import reverse

from breakin.models import Flight, OilEvent
from engines.models import Inspection
from tests.factories import Cast
from tests.reports.portal_forms import a_flight, chosen, error_at, log_address, oil_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("morning_after")]

NIGHT = {"local_date": "2026-10-25", "local_time": "02:30"}
FIRST, SECOND = datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


@pytest.fixture
def morning_after(shop: Cast) -> Iterator[None]:
    for person in (shop.ada, shop.tom):
        person.zone = "Europe/Zurich"
        person.save()
    with time_machine.travel(datetime(2026, 10, 25, 9, 0, tzinfo=UTC), tick=False):
        yield


@pytest.mark.parametrize(("meant", "at"), [("before", FIRST), ("after", SECOND)])
def test_the_form_of_a_flight_asks_which_is_meant_and_keeps_what_was_typed(
    shop: Cast, as_person: Any, meant: str, at: datetime
) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    page = ada.get(path)
    assert "clock_change" not in page.content.decode()
    sent = a_flight(page, note="crocus", **NIGHT)
    # The outbox of a phone gets the question in words, and opens this page for the answer.
    told = ada.post(path, sent, headers={"X-Written-By": str(shop.ada.user_id)}).json()
    assert told["state"] == "asks"
    assert "02:30 came twice that night in Europe/Zurich: before or after" in told["asks"][0]
    asked = ada.post(path, sent)
    text = asked.content.decode()
    assert asked.status_code == 422
    assert "02:30 came twice" in error_at(asked, "clock_change")
    assert "before the clock went back (CEST, UTC+2)" in text
    assert "after the clock went back (CET, UTC+1)" in text
    assert "crocus" in text
    assert value_of(asked, "local_time") == "02:30"
    assert chosen(asked, "clock_change") == []
    assert not Flight.objects.exists()
    assert ada.post(path, {**sent, "clock_change": meant}).status_code == 302
    flight = Flight.objects.get()
    assert flight.happened_at == at
    assert chosen(ada.get(reverse("correct_flight", args=[flight.pk])), "clock_change") == [meant]


def test_the_answer_says_nothing_of_a_time_that_came_once(shop: Cast, as_person: Any) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = a_flight(ada.get(path), **{**NIGHT, "local_time": "01:30"}, clock_change="after")
    assert ada.post(path, sent).status_code == 302
    assert Flight.objects.get().happened_at == datetime(2026, 10, 24, 23, 30, tzinfo=UTC)


def test_the_form_of_an_oil_reading_asks_too(shop: Cast, as_person: Any) -> None:
    ada, path = as_person(shop.ada), oil_address(shop.build_1)
    sent = {"client_id": value_of(ada.get(path), "client_id"), "oil_level": "6.5", "oil_level_unit": "qt", **NIGHT}
    asked = ada.post(path, sent)
    assert "02:30 came twice" in error_at(asked, "clock_change")
    assert ada.post(path, {**sent, "clock_change": "after"}).status_code == 302
    event = OilEvent.objects.get()
    assert event.happened_at == SECOND
    assert chosen(ada.get(reverse("correct_oil", args=[event.pk])), "clock_change") == ["after"]


def test_the_form_of_an_inspection_asks_too(shop: Cast, as_person: Any) -> None:
    tom, path = as_person(shop.tom), f"/engines/{shop.build_1.engine_id}/inspect/leak/"
    sent = {"client_id": value_of(tom.get(path), "client_id"), "rows": "4", "result": "normal", **NIGHT}
    asked = tom.post(path, sent)
    assert "02:30 came twice" in error_at(asked, "clock_change")
    tom.post(path, {**sent, "clock_change": "after"})
    assert Inspection.objects.get().happened_at == SECOND
