"""Recordings: kept as they came, once, and refused when they can't be one."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile

from breakin.models import Recording
from breakin.services.recordings import store_recording
from shop.errors import Refusal
from tests.factories import NOW, Cast, cast

pytestmark = pytest.mark.django_db
TABLE = b"time,rpm,map\n12:00:00,2450,24.1\n12:00:01,2452,24.1\n"


@pytest.fixture
def shop(settings: Any, tmp_path: Path) -> Cast:
    settings.MEDIA_ROOT = tmp_path
    return cast()


def store(shop: Cast, content: bytes = TABLE, name: str = "flight 7.csv") -> tuple[Recording, bool]:
    return store_recording(by=shop.ada, aircraft=shop.aircraft_1, upload=SimpleUploadedFile(name, content), now=NOW)


def files(tmp_path: Path) -> list[Path]:
    return [path for path in tmp_path.rglob("*") if path.is_file()]


def test_a_file_is_kept_byte_for_byte_under_a_name_of_its_own(shop: Cast) -> None:
    recording, created = store(shop, name="../../etc/flight 7.CSV")
    assert created
    assert recording.sha256 == hashlib.sha256(TABLE).hexdigest()
    assert (recording.original_name, recording.size_bytes) == ("flight 7.CSV", len(TABLE))
    assert recording.file.name == f"recordings/2026/06/{recording.sha256[:32]}.csv"
    with default_storage.open(recording.file.name) as kept:
        assert kept.read() == TABLE


@pytest.mark.parametrize("name", ["calm_climb", "short_hop", "two_engines"])
def test_files_as_instruments_write_them_are_kept_byte_for_byte(shop: Cast, name: str) -> None:
    content = (Path(__file__).parents[1] / "data" / "recordings" / f"{name}.csv").read_bytes()
    recording, created = store(shop, content, f"{name}.csv")
    assert created
    with default_storage.open(str(recording.file.name)) as kept:
        assert kept.read() == content


def test_the_same_file_twice_is_one_recording(shop: Cast, tmp_path: Path) -> None:
    first, _created = store(shop)
    again, created = store(shop, name="copy.csv")
    assert (again, created) == (first, False)
    assert len(files(tmp_path)) == 1


def test_the_same_file_of_another_aircraft_is_another_recording(shop: Cast) -> None:
    first, _created = store(shop)
    upload = SimpleUploadedFile("flight 7.csv", TABLE)
    other, created = store_recording(by=shop.ben, aircraft=shop.aircraft_2, upload=upload, now=NOW)
    assert created
    assert other.file.name != first.file.name


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04" + TABLE, "zip archive"),
        (b"\x1f\x8b\x08" + TABLE, "gzip archive"),
        (b"\x89PNG\r\n" + TABLE, "picture"),
        (b"\xff\xd8\xff\xe0" + TABLE, "picture"),
        (b"%PDF-1.7\n" + TABLE, "PDF"),
        (b"\x7fELF" + TABLE, "program"),
        (b"MZ\x90\x00" + TABLE, "program"),
        (b"#!/bin/sh\n" + TABLE, "program"),
        (b"<!DOCTYPE html>" + TABLE, "web page"),
        (b"12:00\x0012,2450\n", "not text"),
        (b"just words and nothing else\n", "no columns"),
    ],
)
def test_what_is_no_table_is_refused_whatever_its_name_says(
    shop: Cast, tmp_path: Path, content: bytes, words: str
) -> None:
    with pytest.raises(Refusal, match=words) as caught:
        store(shop, content)
    assert set(caught.value.by_field()) == {"upload"}
    assert files(tmp_path) == []


@pytest.mark.parametrize(
    "content", [b"BMAP;RPM\n24.1;2450\n", b"MZ;RPM\n", "\ufeffZeit;U/min\n1;2\n".encode(), "t\tx\n".encode("utf-16")]
)
def test_a_table_that_begins_oddly_is_taken(shop: Cast, content: bytes) -> None:
    assert store(shop, content)[1]


def test_another_ending_is_refused(shop: Cast) -> None:
    with pytest.raises(Refusal, match="does not end in"):
        store(shop, name="flight.exe")


def test_a_file_over_the_limit_is_refused_and_one_at_the_limit_taken(shop: Cast, settings: Any, tmp_path: Path) -> None:
    settings.MAX_UPLOAD_BYTES = len(TABLE)
    assert store(shop)[1]
    with pytest.raises(Refusal, match="is larger than"):
        store(shop, TABLE + b"\n", name="longer.csv")
    assert len(files(tmp_path)) == 1
