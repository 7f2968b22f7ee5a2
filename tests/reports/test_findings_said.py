"""One finding, two readers: on the pilot's pages, the engine's page and in the calendar, in each one's own words."""

from __future__ import annotations

import html
from datetime import timedelta

import pytest
from django.test import Client
from icalendar import Calendar

from breakin import assess
from breakin.entries import parse_flight
from breakin.models import Assessment, DueItem, Finding
from breakin.services.corrections import correct_flight
from shop.models import Person
from shop.services import create_token
from tests.api.doors import user_of
from tests.factories import NOW, Cast, flown, raw_flight

pytestmark = pytest.mark.django_db
LAST = NOW - timedelta(days=1)
US_WORDS = "Oil level 3.50 qt, under the minimum of 4.00 qt, after running."
GERMAN_WORDS = "Ölstand 3,31 L, unter dem Mindeststand von 3,79 L, nach dem Lauf."


def low_on_oil(shop: Cast, *, german: bool = True) -> Finding:
    """Ada lands with too little oil. She reads German and SI units, unless she does not."""
    if german:
        Person.objects.filter(pk=shop.ada.pk).update(language="de", units="si")
    flown(shop.build_1, 1.2, at=LAST, level_qt=3.5)
    assess.assess_build(shop.build_1.pk, NOW)
    return Finding.objects.get(build=shop.build_1, rule="O9")


def read(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, path
    return html.unescape(answer.content.decode())


def test_the_book_keeps_the_english_text_in_us_units(shop: Cast) -> None:
    row = low_on_oil(shop)
    assert row.title == "Oil under the minimum"
    assert row.text.startswith(US_WORDS)


@pytest.mark.parametrize("path", ["/portal/aircraft/{aircraft}/", "/portal/engines/{engine}/oil/"])
def test_each_reader_gets_his_own_words_and_units(shop: Cast, as_person, path: str) -> None:
    low_on_oil(shop)
    where = path.format(
        aircraft=shop.build_1.engine.installations.get().aircraft_id,
        engine=shop.build_1.engine_id,
    )
    pilot = read(as_person(shop.ada), where)
    assert GERMAN_WORDS in pilot
    assert "Fliegen Sie nicht unter dem Mindeststand." in pilot
    assert "Ölstand unter dem Mindeststand" in pilot
    assert US_WORDS not in pilot
    assert US_WORDS in read(as_person(shop.tom), where)


def test_the_engines_page_is_english_for_everybody_and_in_each_readers_units(shop: Cast, as_person) -> None:
    low_on_oil(shop)
    where = f"/engines/{shop.build_1.engine_id}/"
    assert "Oil level 3.31 L, under the minimum of 3.79 L, after running." in read(as_person(shop.ada), where)
    assert US_WORDS in read(as_person(shop.tom), where)


def test_a_reader_of_english_and_si_units_reads_litres_in_english(shop: Cast, as_person) -> None:
    low_on_oil(shop, german=False)
    Person.objects.filter(pk=shop.ada.pk).update(units="si")
    aircraft = shop.build_1.engine.installations.get().aircraft_id
    page = read(as_person(shop.ada), f"/portal/aircraft/{aircraft}/")
    assert "Oil level 3.31 L, under the minimum of 3.79 L, after running." in page


def test_the_calendar_speaks_the_persons_language(shop: Cast) -> None:
    low_on_oil(shop)
    DueItem.objects.filter(rule="N2").update(due_at=NOW)
    _, secret = create_token(user=user_of(shop.ada), name="phone", scope="calendar", now=NOW)
    told = Calendar.from_ical(Client().get(f"/calendar/{secret}.ics").content).walk("VEVENT")
    (oil,) = (entry for entry in told if "Öl- und Filterwechsel" in str(entry["summary"]))
    assert "Erster Ölwechsel mit Öffnen des Filters bei 10 h" in str(oil["description"])
    assert "keine Freigabe" in str(oil["description"])


def test_a_row_from_before_there_were_messages_gets_its_message_when_it_is_judged_again(shop: Cast) -> None:
    row = low_on_oil(shop)
    Finding.objects.filter(pk=row.pk).update(said={})
    Assessment.objects.filter(build=shop.build_1).update(inputs_digest="", rules_version="")
    assert assess.assess_build(shop.build_1.pk, NOW)
    assert Finding.objects.get(pk=row.pk).said == row.said
    Assessment.objects.filter(build=shop.build_1).update(inputs_digest="", rules_version="")
    assert not assess.assess_build(shop.build_1.pk, NOW)


def test_a_stop_whose_entry_was_corrected_says_so_in_the_readers_language(shop: Cast, as_person) -> None:
    Person.objects.filter(pk=shop.ada.pk).update(language="de", units="si")
    logged = flown(shop.build_1, 1.2, at=LAST, level_qt=7.0, cht_max=505)
    raw = raw_flight(shop.build_1.engine, LAST, 1.2, meter_end=101.2, cht_max=405)
    entry = parse_flight(raw, units="us", zone="UTC", now=NOW)
    correct_flight(by=shop.ada, flight=logged.flight, entry=entry, reason="mistyped", now=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    aircraft = shop.build_1.engine.installations.get().aircraft_id
    page = read(as_person(shop.ada), f"/portal/aircraft/{aircraft}/")
    assert "Der Eintrag dahinter wurde inzwischen berichtigt;" in page
    assert "Ein Zylinderkopf erreichte 263 °C, über der Grenze des Herstellers" in page
