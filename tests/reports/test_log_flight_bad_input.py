"""Log a flight with something wrong: the sentence stands at the field, what was typed stays, nothing is half saved."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from breakin.models import Flight, OilEvent
from tests.factories import Cast, flown
from tests.reports.portal_forms import a_flight, chosen, error_at, log_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

# what is wrong, fields sent otherwise, the field it is said at, part of what is said
BAD = [
    ("a wrong unit", {"e0-cht_max": "400 psi"}, "e0-cht_max", "psi"),
    ("degrees Celsius read as Fahrenheit", {"e0-cht_max": "30"}, "e0-cht_max", "outside 50 to 600 °F"),
    ("a meter that runs backwards", {"e0-meter_end": "99.0"}, "e0-meter_end", "backwards"),
    ("a meter with an hour too many", {"e0-meter_end": "101.9"}, "e0-meter_end", "Did somebody fly or run the engine"),
    ("a meter that moved by a month", {"e0-meter_end": "1011"}, "e0-meter_end", "has run 911.0 h"),
    ("a flight that is not over yet", {"local_time": "23:40"}, "local_time", "future"),
    ("a date that is none", {"local_date": "2026-02-31"}, "local_date", "not a date"),
    ("a comma that could be a thousand", {"airborne": "1,234"}, "airborne", "could be"),
    ("no airborne time", {"airborne": ""}, "airborne", "missing"),
    ("no flight and no ground run", {"airborne": "0"}, "airborne", "ground run"),
    ("more oil than the sump holds", {"e0-oil_level": "12"}, "e0-oil_level", "full mark"),
    ("a word for a number", {"e0-oil_level": "half"}, "e0-oil_level", "not a number"),
    ("oil of no kind", {"e0-added": "1", "e0-poured": "after"}, "e0-oil_kind", "which oil"),
    ("oil at no time", {"e0-added": "1", "e0-oil_kind": "mineral"}, "e0-poured", "when it was poured"),
    ("no amount", {"e0-added": "other", "e0-oil_kind": "ad", "e0-poured": "after"}, "e0-amount", "how much"),
    ("none added and an amount", {"e0-amount": "0.5"}, "e0-added", "none"),
    ("how it was read but no level", {"e0-oil_level": ""}, "e0-oil_level", "Type the level"),
    ("nothing unusual and smoke", {"chips": ["none", "smoke"]}, "chips", "can't both be"),
    ("blocks that were announced but not typed", {"e0-as_on_card": "no"}, "e0-b0-duration", "at least the minutes"),
    ("a block without minutes", {"e0-as_on_card": "no", "e0-b0-rpm": "2400"}, "e0-b0-duration", "missing"),
    ("impossible pressure", {"e0-as_on_card": "no", "e0-b0-duration": "9", "e0-b0-map": "241"}, "e0-b0-map", "outside"),
    ("blocks longer than the flight", {"e0-as_on_card": "no", "e0-b0-duration": "200"}, "e0-b0-duration", "add up"),
    ("as on the card and blocks", {"e0-as_on_card": "yes", "e0-b0-duration": "30"}, "e0-as_on_card", "Keep one"),
    ("a head hotter in the climb than the highest", {"e0-climb_2000": "440"}, "e0-cht_max", "below the 440"),
    ("landings in words", {"landings": "two"}, "landings", "whole number"),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "field", "said"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_bad_input_is_answered_at_its_field_and_stays(
    shop: Cast, as_person, changed: dict[str, Any], field: str, said: str
) -> None:
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **changed)
    answer = ada.post(log_address(shop.aircraft_1), sent)
    assert answer.status_code == 422
    assert said in error_at(answer, field), answer.content.decode()[:200]
    assert not Flight.objects.exists()
    assert not OilEvent.objects.exists()
    assert value_of(answer, "e0-takeoff_ff") == "16.0"
    assert value_of(answer, "client_id") == sent["client_id"]
    for name, value in changed.items():
        if isinstance(value, str) and not name.endswith(("_unit", "as_on_card", "added", "poured", "oil_kind")):
            assert value_of(answer, name) == value
    text = answer.content.decode()
    assert "Not saved yet" in text
    assert f'href="#id_{field}"' in text
    assert "<title>Mend: " in text


def test_a_usual_but_doubtful_value_is_asked_about_once_and_kept(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **{"e0-cht_max": "512"})
    answer = ada.post(log_address(shop.aircraft_1), sent)
    assert answer.status_code == 422
    assert "usual" in error_at(answer, "e0-cht_max")
    assert 'name="e0-cht_max_sure" value="512 degF"' in answer.content.decode()
    assert ada.post(log_address(shop.aircraft_1), {**sent, "e0-cht_max_sure": "512 degF"}).status_code == 302
    assert Flight.objects.get().engines.get().cht_max_degf == 512


def test_a_confirmation_holds_for_the_value_that_was_shown_only(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **{"e0-cht_max": "530", "e0-cht_max_sure": "512 degF"})
    assert "usual" in error_at(ada.post(log_address(shop.aircraft_1), sent), "e0-cht_max")
    assert not Flight.objects.exists()


def test_a_level_a_quart_lower_with_nothing_added_is_asked_about(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.0, level_qt=7.5)
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **{"e0-meter_end": "102.1", "e0-oil_level": "5.5"})
    answer = ada.post(log_address(shop.aircraft_1), sent)
    assert "down since the last reading" in error_at(answer, "e0-oil_level")
    assert ada.post(log_address(shop.aircraft_1), {**sent, "e0-oil_level_sure": "5.5 qt"}).status_code == 302


def test_oil_of_another_kind_than_the_plan_says_is_asked_about(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    sent = a_flight(
        ada.get(log_address(shop.aircraft_1)),
        **{"e0-added": "1", "e0-poured": "after", "e0-oil_kind": "ad", "e0-container": "us_qt"},
    )
    answer = ada.post(log_address(shop.aircraft_1), sent)
    assert "The plan says straight mineral" in error_at(answer, "e0-oil_kind")
    assert chosen(answer, "e0-oil_kind") == ["ad"]
    assert ada.post(log_address(shop.aircraft_1), {**sent, "e0-oil_kind_sure": "ad"}).status_code == 302


def test_three_taps_on_send_make_one_flight(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)))
    answers = [ada.post(log_address(shop.aircraft_1), sent) for _ in range(3)]
    assert {answer["Location"] for answer in answers} == {f"/portal/flights/{Flight.objects.get().pk}/received/"}


def test_two_tabs_share_one_identifier_until_the_flight_is_in(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    first, second = (ada.get(log_address(shop.aircraft_1)) for _ in range(2))
    assert value_of(first, "client_id") == value_of(second, "client_id")
    for page in (first, second):
        assert ada.post(log_address(shop.aircraft_1), a_flight(page)).status_code == 302
    assert Flight.objects.count() == 1
    assert value_of(ada.get(log_address(shop.aircraft_1)), "client_id") != value_of(first, "client_id")


def test_a_second_tab_with_other_words_is_shown_both_entries(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    ada.post(log_address(shop.aircraft_1), a_flight(page))
    answer = ada.post(log_address(shop.aircraft_1), a_flight(page, airborne="60"))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "The shop already has an entry from this form" in text
    assert "1\u202fh 06\u202fmin" in text
    assert "<dd>60</dd>" in text
    assert Flight.objects.count() == 1
    assert value_of(answer, "airborne") == "60"


def test_what_is_another_flight_after_all_is_sent_once_under_a_new_identifier(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    ada.post(log_address(shop.aircraft_1), a_flight(page, local_time="04:00"))
    other = a_flight(page, e0_meter_end="102.2", e0_oil_level="6.25")
    conflict = ada.post(log_address(shop.aircraft_1), other)
    again = {**other, "new_client_id": value_of(conflict, "new_client_id"), "as_new": "1"}
    for _ in range(2):
        assert ada.post(log_address(shop.aircraft_1), again).status_code == 302
    assert Flight.objects.count() == 2


def test_a_flight_that_a_club_mate_logged_too_is_a_possible_duplicate(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    ada.post(log_address(shop.aircraft_1), a_flight(ada.get(log_address(shop.aircraft_1))))
    page = ada.get(log_address(shop.aircraft_1))
    answer = ada.post(log_address(shop.aircraft_1), a_flight(page, airborne="65"), follow=True)
    assert "possible duplicate" in answer.content.decode()
    assert Flight.objects.count() == 2


def test_a_form_without_its_token_is_refused(shop: Cast) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert shop.ada.user is not None
    strict.force_login(shop.ada.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert strict.post(log_address(shop.aircraft_1), {"airborne": "60"}).status_code == 403
    assert not Flight.objects.exists()
