"""What is wrong with an entry is said in the pilot's language: what, where, and how to mend it."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from breakin.models import Flight
from shop.models import Person
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import a_flight, error_at, log_address, oil_address, value_of
from tests.reports.test_log_flight_bad_input import BAD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

ENGLISH = re.compile(r"\b(the|is|are|not|type|choose|check|give|mend|right|missing|outside|with)\b", re.IGNORECASE)


@pytest.fixture
def german(shop: Cast) -> Cast:
    Person.objects.filter(pk=shop.ada.pk).update(language="de", units="si")
    return shop


def test_everything_that_can_be_wrong_with_a_flight_is_said_in_german(german: Cast, as_person) -> None:
    Person.objects.filter(pk=german.ada.pk).update(units="us")  # the cases are typed in US units
    ada, where = as_person(german.ada), log_address(german.aircraft_1)
    page = ada.get(where)
    for what, changed, field, _ in BAD:
        assert isinstance(changed, dict)
        answer = ada.post(where, a_flight(page, **changed))
        said = error_at(answer, field)
        assert said, what
        assert not ENGLISH.search(said), (what, said)
    assert not Flight.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"e0-oil_level": "12"}, "e0-oil_level", "Ölstand: 11,36 L ist mehr als 9,46 L, die Vollmarke mit Zuschlag"),
        ({"e0-cht_max": "30"}, "e0-cht_max", "Heißester Zylinderkopf: „30“ °F liegt außerhalb von 50 bis 600 °F."),
        ({"airborne": "1,234"}, "airborne", "„1,234“ könnte 1.234 oder 1234 sein. Schreiben Sie 1234 oder 1.234."),
        ({"e0-climb_2000": "227"}, "e0-cht_max", "Der heißeste Zylinderkopf, 207 °C, liegt unter den 227 °C"),
        ({"e0-meter_end": "99.0"}, "e0-meter_end", "läuft rückwärts"),
    ],
)
def test_a_refusal_names_field_value_and_line_as_a_german_reads_them(
    german: Cast, as_person, changed: dict[str, str], field: str, said: str
) -> None:
    ada, where = as_person(german.ada), log_address(german.aircraft_1)
    answer = ada.post(where, a_flight(ada.get(where), **changed))
    assert answer.status_code == 422
    assert said in error_at(answer, field)


def test_the_oil_form_says_it_in_german_too(german: Cast, as_person) -> None:
    ada, where = as_person(german.ada), oil_address(german.build_1)
    sent = {"client_id": value_of(ada.get(where), "client_id"), "oil_level": "half", "oil_level_unit": "qt"}
    assert "„half“ ist keine Zahl. Geben Sie sie in Ziffern ein" in error_at(ada.post(where, sent), "oil_level")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("log.csv", b"", "Diese Datei ist leer."),
        ("log.csv", b"PK\x03\x04rest", "„log.csv“ ist ein ZIP-Archiv oder eine Arbeitsmappe, was immer der Name sagt."),
        ("log.csv", b"one value\n", "„log.csv“ hat keine Spalten: weder Komma noch Semikolon noch Tabulator."),
        ("log.doc", b"a,b\n", "„log.doc“ endet nicht auf .csv, .txt, .tsv, .log oder .dat."),
    ],
)
def test_a_file_that_is_no_recording_is_refused_in_german(
    german: Cast, as_person, name: str, content: bytes, said: str
) -> None:
    where = f"/portal/aircraft/{german.aircraft_1.pk}/recordings/"
    answer = as_person(german.ada).post(where, {"upload": SimpleUploadedFile(name, content)})
    assert answer.status_code == 422
    assert said in error_at(answer, "upload")


def test_a_photo_that_is_none_is_refused_in_german(german: Cast, as_person) -> None:
    logged = flown(german.build_1, 1.2, at=NOW, by=german.ada)
    sent = {"photos": SimpleUploadedFile("p.jpg", b"no picture", "image/jpeg"), "caption": ""}
    page = as_person(german.ada).post(f"/flights/{logged.flight.pk}/photos/", sent).content.decode()
    assert "„p.jpg“ ist kein Bild, das gelesen werden kann. Senden Sie ein Bild als JPEG, PNG oder WebP." in page


def test_why_an_entry_may_not_be_corrected_is_said_in_german(german: Cast, as_person) -> None:
    logged = flown(german.build_1, 1.2, at=NOW, by=german.tom)
    answer = as_person(german.ada).get(f"/flights/{logged.flight.pk}/correct/")
    assert answer.status_code == 403
    assert "Diesen Eintrag hat jemand anderes geschrieben." in answer.content.decode()
