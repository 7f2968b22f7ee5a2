"""A person's own page: units, zone, phone and quiet hours, and that it is only his."""

from __future__ import annotations

from datetime import time
from typing import Any

import pytest

from shop.errors import Refusal
from shop.models import AuditEvent
from shop.services import change_details
from tests.factories import NOW, Cast

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

GOOD = {"units": "si", "zone": "Etc/GMT-1", "phone": "555 0199", "quiet_from": "22:30", "quiet_until": "06:15"}


def test_what_is_kept_is_read_back_and_counts_at_once(shop: Cast, as_person: Any) -> None:
    client = as_person(shop.ada)

    answer = client.post("/account/", GOOD, follow=True)

    shop.ada.refresh_from_db()
    kept = (shop.ada.units, shop.ada.zone, shop.ada.phone, shop.ada.quiet_from, shop.ada.quiet_until)
    assert kept == ("si", "Etc/GMT-1", "555 0199", time(22, 30), time(6, 15))
    page = answer.content.decode()
    assert "Your details are kept." in page
    assert 'value="22:30"' in page
    assert 'value="si" id="id_units_1"' in page
    assert AuditEvent.objects.get(act="change_details").detail["changed"] == [
        "phone", "quiet_from", "quiet_until", "units", "zone",
    ]  # fmt: skip


def test_another_person_is_not_touched(shop: Cast, as_person: Any) -> None:
    before = (shop.ben.units, shop.ben.zone, shop.ben.phone)
    as_person(shop.ada).post("/account/", {**GOOD, "person": shop.ben.pk, "email": "x@example.com", "name": "X"})

    shop.ben.refresh_from_db()
    shop.ada.refresh_from_db()
    assert (shop.ben.units, shop.ben.zone, shop.ben.phone) == before
    assert (shop.ada.name, shop.ada.email != "x@example.com") == ("Ada", True)


@pytest.mark.parametrize(
    ("field", "wrong", "said"),
    [
        ("units", "furlongs", "furlongs"),
        ("zone", "Tellamoor", "Tellamoor"),
        ("quiet_from", "half nine", "This is no time. Type it like 21:00."),
        ("quiet_until", "", "Type a time, like 07:00."),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_what_was_typed_stays(
    shop: Cast, as_person: Any, field: str, wrong: str, said: str
) -> None:
    answer = as_person(shop.ada).post("/account/", {**GOOD, field: wrong})

    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="555 0199"' in answer.content.decode()
    shop.ada.refresh_from_db()
    assert shop.ada.phone != "555 0199"


def test_the_same_again_writes_nothing(shop: Cast) -> None:
    change_details(person=shop.ada, now=NOW, units="si")
    change_details(person=shop.ada, now=NOW, units="si")

    assert AuditEvent.objects.filter(act="change_details").count() == 1


def test_a_zone_that_there_is_not_is_refused_by_the_service_too(shop: Cast) -> None:
    with pytest.raises(Refusal, match="not a time zone"):
        change_details(person=shop.ada, now=NOW, zone="Nowhere/At_all")


def test_the_language_that_is_chosen_counts_at_once_and_the_shops_side_stays_english(
    shop: Cast, as_person: Any
) -> None:
    answer = as_person(shop.ada).post("/account/", {**GOOD, "language": "de"}, follow=True)

    shop.ada.refresh_from_db()
    assert shop.ada.language == "de"
    page = answer.content.decode()
    assert '<html lang="de">' in page
    assert "Ihre Angaben sind gespeichert." in page
    assert answer.headers["Content-Language"] == "de"

    shop.tom.language = "de"
    shop.tom.save()
    page = as_person(shop.tom).get("/account/").content.decode()
    assert '<html lang="en">' in page
    assert 'name="language"' not in page


def test_a_language_that_there_is_not_is_refused(shop: Cast, as_person: Any) -> None:
    assert as_person(shop.ada).post("/account/", {**GOOD, "language": "xx"}).status_code == 422
    with pytest.raises(Refusal):
        change_details(person=shop.ada, now=NOW, language="xx")


def test_a_page_that_is_english_only_says_so_to_a_german_reader(shop: Cast, as_person: Any) -> None:
    shop.ada.language = "de"
    shop.ada.save()
    answer = as_person(shop.ada).get(f"/engines/{shop.build_1.engine_id}/")
    assert answer.headers["Content-Language"] == "en"
    page = answer.content.decode()
    assert '<html lang="en">' in page
    assert "Rangfolge" not in page
