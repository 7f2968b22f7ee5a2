"""What a phone is told that sends a form by itself, and that such a form may come late, twice and from an old page."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.staticfiles import finders
from django.test import Client

from breakin.models import Flight, IssuedCard, OilEvent
from breakin.services.installing import MeterEntry, install, remove, swap
from engines.models import Holding
from reports.forms.doubts import Doubt
from reports.views.offline import FILES, WORKER
from tests import factories
from tests.api.doors import user_of
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import a_flight, log_address, oil_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def posted(page: Any, **changed: Any) -> dict[str, Any]:
    """An ordinary flight as this page would send it, its hidden fields with it."""
    hidden = {
        name: value_of(page, name)
        for number in (0, 1)
        for name in (f"e{number}-engine", f"e{number}-card")
        if f'name="{name}"' in page.content.decode()
    }
    return {**hidden, **a_flight(page, **changed)}


def by_itself(client: Client, path: str, data: dict[str, Any], person: Any) -> Any:
    return client.post(path, data, headers={"X-Written-By": str(person.user.pk), "Accept": "application/json"})


def test_the_shop_says_when_it_has_received_it_and_where_it_says_what_it_means(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    answer = by_itself(ada, path, posted(ada.get(path)), shop.ada)
    flight = Flight.objects.get()
    said = {"state": "received", "said": "Received by the shop 06:00.", "more": []}
    assert answer.json() == {**said, "page": f"/portal/flights/{flight.pk}/received/"}


def test_what_is_asked_is_told_in_sentences_and_nothing_is_kept(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    answer = by_itself(ada, path, posted(ada.get(path), e0_meter_end="99", airborne=""), shop.ada)
    assert answer.status_code == 422
    asked = answer.json()
    assert asked["state"] == "asks"
    assert any(each.startswith("Minutes in the air: ") for each in asked["asks"])
    assert not Flight.objects.exists()


def test_nobodys_entry_is_taken_under_another_name(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = posted(ada.get(path))
    answer = by_itself(ada, path, sent, shop.ben)
    assert (answer.status_code, answer.json()) == (409, {"state": "other"})
    assert not Flight.objects.exists()


@pytest.mark.parametrize("whose", ["aircraft_2", "aircraft_1"])
def test_who_may_not_log_any_more_is_told_so_in_a_word(shop: Cast, as_person, whose: str) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = posted(ada.get(path))
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW)
    answer = by_itself(ada, log_address(getattr(shop, whose)), sent, shop.ada)
    assert (answer.status_code, answer.json()) == (403, {"state": "refused"})
    assert not Flight.objects.exists()


def test_it_may_come_again_after_a_new_card_and_after_later_readings(shop: Cast, as_person, monkeypatch) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = posted(ada.get(path), e0_as_on_card="yes")
    first = by_itself(ada, path, sent, shop.ada).json()
    card = IssuedCard.objects.get()
    IssuedCard.objects.create(
        build=card.build,
        plan=card.plan,
        number=2,
        stage=card.stage,
        minutes=card.minutes,
        issued_at=NOW,
        valid_until=NOW,
    )
    # What was ordinary when it came first would be asked about today.
    monkeypatch.setattr("reports.views.log_flight.flight_doubts", lambda *_: [Doubt("airborne", "So long?", "66")])
    with time_machine.travel(NOW + timedelta(hours=3), tick=False):
        flown(shop.build_1, 1.0, at=NOW + timedelta(hours=2), level_qt=4.25)
        again = by_itself(ada, path, sent, shop.ada).json()
    assert again == {**first, "said": again["said"]}
    assert Flight.objects.count() == 2
    assert Flight.objects.get(client_id=sent["client_id"]).engines.get().as_on_card == card


def test_the_flight_of_a_club_mate_is_taken_and_called_a_possible_duplicate(shop: Cast, as_person) -> None:
    mate = factories.person("Mia")
    shop.ada_customer.members.create(person=mate, role="member", since=factories.LONG_AGO)
    path = log_address(shop.aircraft_1)
    for person, phones in ((shop.ada, 2), (mate, 1)):
        for _ in range(phones):
            phone = Client()
            phone.force_login(user_of(person))
            answer = by_itself(phone, path, posted(phone.get(path)), person)
            assert answer.status_code == 200
    assert "possible duplicate" in answer.json()["more"][0]
    assert Flight.objects.count() == 3


def test_a_clock_that_is_off_is_named_kept_and_not_believed(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    ended = NOW - timedelta(days=3)
    late = {"local_date": f"{ended:%Y-%m-%d}", "local_time": "05:30"}
    wrote = {"written_at": f"{ended:%Y-%m-%dT%H:%M:%SZ}"}
    slow = {**wrote, "sent_at": f"{ended + timedelta(minutes=5):%Y-%m-%dT%H:%M:%SZ}"}
    answer = by_itself(ada, path, posted(ada.get(path), **late, **slow), shop.ada).json()
    assert "it showed 12 Jun 2026, 06:05 when the shop had 06:00" in answer["more"][0]
    [flight] = Flight.objects.all()
    assert flight.written_at == ended
    assert flight.grade == "C"
    assert {event.grade for event in OilEvent.objects.all()} == {"C"}
    assert "The clock of the phone is wrong" in ada.get(answer["page"]).content.decode()


def test_a_clock_that_is_right_keeps_the_grade_of_what_waited_three_days(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    ended = NOW - timedelta(days=3)
    late = {"local_date": f"{ended:%Y-%m-%d}", "local_time": "05:30", "written_at": f"{ended:%Y-%m-%dT%H:%M:%SZ}"}
    answer = by_itself(ada, path, posted(ada.get(path), **late, sent_at=f"{NOW:%Y-%m-%dT%H:%M:%SZ}"), shop.ada).json()
    assert answer["more"] == []
    assert Flight.objects.get().grade == "B"
    assert {event.grade for event in OilEvent.objects.all()} == {"B"}


def test_a_form_from_before_a_swap_means_the_engines_it_was_made_for(shop: Cast, as_person) -> None:
    plane = factories.aircraft("QX-903", shop.ada_customer)
    left, right = factories.engine(), factories.engine()
    for one, side in ((left, "left"), (right, "right")):
        factories.build(one, by=shop.cora)
        factories.seat(one, plane, by=shop.tom, position=side)
    ada, path = as_person(shop.ada), log_address(plane)
    sent = posted(ada.get(path), engines=["e0", "e1"], e0_meter_end="101.2", **{"e1-meter_end": "100.9"})
    assert sent["e0-engine"] == str(left.pk)
    swap(by=shop.tom, aircraft=plane, at=NOW - timedelta(hours=3), reason="rings", now=NOW)
    assert by_itself(ada, path, sent, shop.ada).json()["state"] == "received"
    ends = {part.engine_id: part.meter_end_h for part in Flight.objects.get().engines.all()}
    assert ends == {left.pk: 101.2, right.pk: 100.9}


@pytest.fixture
def changed_engine(shop: Cast) -> Callable[[], Any]:
    """An hour ago another engine went into Ada's aircraft."""
    other = factories.engine()
    at = NOW - timedelta(hours=1)

    def change() -> Any:
        seat = shop.build_1.engine.installations.get()
        remove(by=shop.tom, installation=seat, at=at, reason="sent away", now=NOW)
        install(
            by=shop.tom, engine=other, aircraft=shop.aircraft_1, position="single", since=at, basis_clock="tach",
            min_oil_qt=4.0, meters=[MeterEntry("tach", 10.0)], now=NOW,
        )  # fmt: skip
        return other

    return change


def test_a_flight_from_before_the_change_of_the_engine_is_taken_for_the_old_one(
    shop: Cast, as_person, changed_engine
) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = posted(ada.get(path), local_time="04:00")
    changed_engine()
    assert by_itself(ada, path, sent, shop.ada).json()["state"] == "received"
    assert Flight.objects.get().engines.get().engine == shop.build_1.engine


def test_a_form_for_an_engine_that_was_not_there_is_asked_about_with_its_words_kept(
    shop: Cast, as_person, changed_engine
) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    sent = posted(ada.get(path), note="crocus")
    other = changed_engine()
    asked = by_itself(ada, path, sent, shop.ada).json()
    assert asked["state"] == "asks"
    assert str(other) in asked["asks"][0]
    page = ada.post(path, sent)
    assert page.status_code == 422
    assert "crocus" in page.content.decode()
    assert value_of(page, "e0-engine") == str(other.pk)
    assert not Flight.objects.exists()


def test_a_form_of_an_older_program_without_the_hidden_fields_is_taken(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), log_address(shop.aircraft_1)
    answer = by_itself(ada, path, {**a_flight(ada.get(path)), "field_of_old": "x"}, shop.ada)
    assert answer.json()["state"] == "received"


def test_oil_is_answered_as_a_flight_is(shop: Cast, as_person) -> None:
    ada, path = as_person(shop.ada), oil_address(shop.build_1)
    page = ada.get(path)
    sent = {"client_id": value_of(page, "client_id"), "oil_level": "6.5", "oil_level_unit": "qt"}
    asked = by_itself(ada, path, {**sent, "oil_level": "many"}, shop.ada).json()
    assert asked["state"] == "asks"
    assert asked["asks"][0].startswith("Oil on the dipstick: ")
    for _ in range(2):
        told = by_itself(ada, path, {**sent, "local_date": "2026-06-15", "local_time": "05:50"}, shop.ada).json()
        assert told["state"] == "received"
    assert OilEvent.objects.count() == 1
    assert f'data-id="{sent["client_id"]}"' in ada.get(told["page"]).content.decode()


def test_the_worker_keeps_every_file_that_the_pilots_pages_ask_for(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    at = f"/portal/aircraft/{shop.aircraft_1.pk}/"
    for path in ("/portal/", at, f"{at}card/", f"{at}timer/", f"{at}log/", oil_address(shop.build_1)):
        text = ada.get(path).content.decode()
        asked = set(re.findall(r'(?:src|href)="/static/([^"]+)"', text))
        assert asked, path
        assert asked <= set(FILES), path
    for name in (*FILES, *WORKER):
        found = finders.find(name)
        assert isinstance(found, str), name
        if name.endswith(".js"):
            with open(found, encoding="utf-8") as script:
                imported = re.findall(r'from "\./([\w.]+)"', script.read())
            assert {f"{name.rpartition('/')[0]}/{each}" for each in imported} <= set(FILES), name


def test_the_worker_is_asked_for_anew_and_changes_with_what_it_keeps(client: Client, monkeypatch) -> None:
    answer = client.get("/sw.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    monkeypatch.setattr("reports.views.offline.static", lambda name: f"/static/new/{name}")
    later = client.get("/sw.js").content
    version = re.compile(rb'"version": "(\w+)"')
    assert version.search(answer.content)[1] != version.search(later)[1]  # type: ignore[index]


def test_habits_that_the_form_offered_do_not_ask_for_a_level_that_was_not_read(
    shop: Cast, as_person: Any, today: Any
) -> None:
    flown(shop.build_1, 1.2, level_qt=6.5, by=shop.ada)
    client, path = as_person(shop.ada), log_address(shop.aircraft_1)
    form = posted(client.get(path))
    assert form["e0-protocol"] == "good"
    sent = client.post(path, {**form, "airborne": "60", "e0-oil_level": ""}, follow=True)
    assert "Type the level too" not in sent.content.decode()
    touched = client.post(path, {**form, "client_id": "", "e0-protocol": "sloping", "e0-oil_level": ""})
    assert "Type the level too" in touched.content.decode()
