"""Send a recording: kept byte for byte, listed with its hash, given back as a download to those who may have it."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pytest_django import Settings

from breakin.models import Recording
from engines.models import Holding
from tests.factories import NOW, Cast
from tests.reports.portal_forms import error_at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

TABLE = b"time,rpm,map\r\n0,2400,24.1\r\n1,2400,24.1\r\n"


@pytest.fixture(autouse=True)
def _own_media(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def address(shop: Cast) -> str:
    return f"/portal/aircraft/{shop.aircraft_1.pk}/recordings/"


def status(client: Client, file: str) -> int:
    answer = client.get(file)
    if answer.streaming:
        answer.getvalue()  # to its end, which closes the file
    return answer.status_code


def sent(content: bytes = TABLE, name: str = "flight.csv") -> dict[str, object]:
    return {"upload": SimpleUploadedFile(name, content), "note": "first hour"}


def test_a_file_is_kept_as_it_came_and_listed(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    text = ada.post(address(shop), sent(), follow=True).content.decode()
    recording = Recording.objects.get()
    with recording.file.open() as kept:
        assert kept.read() == TABLE
    assert recording.sha256 == hashlib.sha256(TABLE).hexdigest()
    assert "flight.csv was received and is kept as it came" in text
    assert recording.sha256[:12] in text
    assert "from Ada" in text
    assert "It is not read yet" in text


def test_the_same_file_twice_is_one_recording(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    ada.post(address(shop), sent())
    assert "was here already" in ada.post(address(shop), sent(name="copy.csv"), follow=True).content.decode()
    assert Recording.objects.count() == 1


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [
        (b"", "empty.csv", "empty"),
        (b"PK\x03\x04\x00\x00", "book.csv", "zip"),
        (b"<html><script>alert(1)</script>", "page.csv", "web page"),
        (TABLE, "flight.exe", "does not end in"),
    ],
)
def test_what_is_no_recording_is_refused_at_the_field(
    shop: Cast, as_person, content: bytes, name: str, said: str
) -> None:
    answer = as_person(shop.ada).post(address(shop), sent(content, name))
    assert answer.status_code == 422
    assert said in error_at(answer, "upload")
    assert not Recording.objects.exists()


def test_no_file_at_all_is_said(shop: Cast, as_person) -> None:
    assert "Choose the file first." in error_at(as_person(shop.ada).post(address(shop), {"note": ""}), "upload")


def test_the_download_is_the_same_file_and_nothing_a_browser_would_run(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    ada.post(address(shop), sent())
    answer = ada.get(f"/recordings/{Recording.objects.get().pk}/file/")
    assert answer.getvalue() == TABLE
    assert answer["Content-Disposition"] == 'attachment; filename="flight.csv"'
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_who_may_send_and_fetch(shop: Cast, as_person) -> None:
    as_person(shop.ada).post(address(shop), sent())
    file = f"/recordings/{Recording.objects.get().pk}/file/"
    assert as_person(shop.ben).get(address(shop)).status_code == 404
    assert status(as_person(shop.ben), file) == 404
    assert status(as_person(shop.tom), file) == 200
    assert as_person(shop.tom).post(address(shop), sent(TABLE + b"2,2400,24.0\r\n")).status_code == 302


def test_after_a_sale_the_old_owner_keeps_his_file_and_the_new_one_gets_none_of_it(
    shop: Cast, as_person, today
) -> None:
    as_person(shop.ada).post(address(shop), sent())
    file = f"/recordings/{Recording.objects.get().pk}/file/"
    today.shift(timedelta(days=2))
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW + timedelta(days=1))
    Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=NOW + timedelta(days=1))
    assert as_person(shop.ada).get(address(shop)).status_code == 403
    assert status(as_person(shop.ada), file) == 200
    assert status(as_person(shop.ben), file) == 404
    text = as_person(shop.ben).get(address(shop)).content.decode()
    assert "Recording of an earlier holder" in text
    assert "flight.csv" not in text  # a file name is the words of whoever sent it
    assert "Ada" not in text
    assert "first hour" not in text
