"""Send recordings: kept byte for byte, listed with their state, given back as downloads to those who may have them."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from breakin.models import ReadState, Recording, RecordingRead
from engines.models import Holding
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import error_at
from tests.reports.recorded import LOOK, recorded_flight, recording

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
    assert "It waits to be read." in text


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


class TestSeveral:
    def test_each_file_is_kept_by_itself_and_one_that_is_refused_holds_back_no_other(
        self, shop: Cast, as_person
    ) -> None:
        files = [SimpleUploadedFile("one.csv", TABLE), SimpleUploadedFile("two.csv", b"PK\x03\x04\x00")]
        answer = as_person(shop.ada).post(
            address(shop), {"upload": [*files, SimpleUploadedFile("three.csv", TABLE + b"2,1,2")]}
        )
        assert answer.status_code == 422
        assert "“two.csv” is a zip archive" in error_at(answer, "upload")
        assert {each.original_name for each in Recording.objects.all()} == {"one.csv", "three.csv"}
        assert "three.csv was received" in answer.content.decode()

    def test_too_many_at_once_are_refused_with_their_number(self, shop: Cast, as_person) -> None:
        files = [SimpleUploadedFile(f"{number}.csv", TABLE) for number in range(21)]
        answer = as_person(shop.ada).post(address(shop), {"upload": files})
        assert "These are 21 files" in error_at(answer, "upload")
        assert not Recording.objects.exists()

    def test_several_files_are_not_one_flight(self, shop: Cast, as_person) -> None:
        root = flown(shop.build_1, 1.2).flight.root
        files = [SimpleUploadedFile(name, TABLE + name.encode()) for name in ("a.csv", "b.csv")]
        answer = as_person(shop.ada).post(address(shop), {"upload": files, "flight": str(root)})
        assert "Several files are not one flight" in error_at(answer, "flight")
        assert not Recording.objects.exists()


class TestWhichFlight:
    def test_the_sender_may_say_which_flight_it_is(self, shop: Cast, as_person) -> None:
        root = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight.root
        ada = as_person(shop.ada)
        assert "1\u202fh 12\u202fmin in the air, Ada" in ada.get(address(shop)).content.decode()
        ada.post(address(shop), {**sent(), "flight": str(root)})
        assert Recording.objects.get().flight_root == root

    def test_without_a_word_the_time_decides(self, shop: Cast, as_person) -> None:
        as_person(shop.ada).post(address(shop), {**sent(), "flight": ""})
        assert Recording.objects.get().flight_root is None

    def test_a_flight_of_another_aircraft_is_no_choice(self, shop: Cast, as_person) -> None:
        root = flown(shop.build_2, 1.2).flight.root
        answer = as_person(shop.ada).post(address(shop), {**sent(), "flight": str(root)})
        assert "is not one of the available choices" in error_at(answer, "flight")


class TestStates:
    """What the list and its fragment say of each file."""

    def line(self, client: Client, held: Recording) -> str:
        answer = client.get(f"/recordings/{held.pk}/progress/")
        assert answer.status_code == 200
        assert "no-store" in answer["Cache-Control"]
        return answer.content.decode()

    def test_while_it_is_read_the_line_asks_again_and_shows_how_far_it_is(self, shop: Cast, as_person) -> None:
        held = recording(shop, state=ReadState.READING, step="reading rows", done=400, total=1000)
        text = self.line(as_person(shop.ada), held)
        assert "Reading rows, 40\u202f%." in text
        assert '<progress value="40" max="100"' in text
        assert f'hx-get="/recordings/{held.pk}/progress/" hx-trigger="every 1s"' in text
        assert "Look again" in text

    def test_when_it_has_ended_the_line_asks_no_more(self, shop: Cast, as_person) -> None:
        held = recording(shop, state=ReadState.READ)
        text = self.line(as_person(shop.ada), held)
        assert "hx-get" not in text
        assert "<progress" not in text
        assert "The engine did not run in it." in text

    def test_a_refusal_says_row_column_and_how_to_mend_it(self, shop: Cast, as_person) -> None:
        problem = {"what": "the row has 12 values", "row": 1204, "column": "Fuel", "mend": "Export it once more."}
        text = self.line(as_person(shop.ada), recording(shop, state=ReadState.REFUSED, problem=problem))
        assert "Could not be read" in text
        assert "Row 1,204, column “Fuel”: the row has 12 values. Export it once more." in text

    def test_questions_lead_to_the_columns(self, shop: Cast, as_person) -> None:
        held = recording(shop, state=ReadState.ASKS, look=LOOK)
        assert f'href="/recordings/{held.pk}/columns/"' in self.line(as_person(shop.ada), held)

    def test_what_was_found_is_counted_and_matched(self, shop: Cast, as_person) -> None:
        roots = [flown(shop.build_1, 1.0, at=NOW - timedelta(days=days)).flight.root for days in (3, 2)]
        held = recording(shop, state=ReadState.READ)
        recorded_flight(shop, held, number=1, flight_root=roots[0])
        recorded_flight(shop, held, number=2, flight_root=roots[1])
        recorded_flight(shop, held, number=3, kind="ground_run")
        recorded_flight(shop, held, number=4)
        text = self.line(as_person(shop.ada), held)
        said = "3 flights, 1 ground run; matched with the flights of 12 Jun, 13 Jun; 1 flight is not in the log."
        assert said in text

    def test_a_failed_second_reading_says_that_the_first_one_stands(self, shop: Cast, as_person) -> None:
        held = recording(
            shop,
            state=ReadState.READ,
            problem={"what": "The stored file is not there any more", "mend": "Send it again."},
        )
        recorded_flight(shop, held)
        text = self.line(as_person(shop.ada), held)
        assert "from an earlier reading; the newest one failed: The stored file is not there any more." in text
        assert "What it shows" in text

    def test_a_file_of_before_readings_were_made_is_there_all_the_same(self, shop: Cast, as_person) -> None:
        held = recording(shop)
        assert not RecordingRead.objects.filter(recording=held).exists()
        assert "never read" in self.line(as_person(shop.ada), held)

    def test_the_list_asks_the_database_as_often_for_ten_files_as_for_two(self, shop: Cast, as_person) -> None:
        ada = as_person(shop.ada)

        def queries() -> int:
            with CaptureQueriesContext(connection) as caught:
                ada.get(address(shop))
            return len(caught)

        for number in range(2):
            recorded_flight(shop, recording(shop, name=f"{number}.csv", state=ReadState.READ))
        few = queries()
        for number in range(2, 10):
            recorded_flight(shop, recording(shop, name=f"{number}.csv", state=ReadState.READ))
        assert queries() == few
