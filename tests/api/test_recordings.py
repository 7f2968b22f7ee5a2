"""Recordings through the programming interface: sent, asked about, confirmed, matched, logged; and by whom."""

from __future__ import annotations

import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from breakin import reading
from breakin.models import ChannelMap, Flight, FlightMatch, RecordedFlight, Recording, RecordingRead
from shop.models import Person
from tests import factories
from tests.api.doors import Api, said
from tests.breakin import recorded_files as files
from tests.breakin.recording_cases import CRUISE_MIN

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


def yesterday() -> Any:
    return (timezone.now() - timedelta(days=1)).replace(hour=8, minute=0, second=0, microsecond=0, tzinfo=None)


def content(**more: Any) -> bytes:
    return files.written(yesterday(), files.flight(CRUISE_MIN), **more)


def send(of: Api, data: bytes | None = None, *, registration: str = "QX-901", name: str = "f.csv", **more: Any) -> Any:
    body = {"upload": SimpleUploadedFile(name, content() if data is None else data), "aircraft": registration, **more}
    return of.client.post("/api/v1/recordings/", body, format="multipart")


def read(answer: Any) -> int:
    """Have what was sent read, as a worker would; its number."""
    pk: int = answer.json()["id"]
    reading.read_recording(pk, timezone.now())
    return pk


def test_a_file_is_sent_once_read_and_shown(shop: factories.Cast, api: Any) -> None:
    ada, data = api(shop.ada), content()
    first, second = send(ada, data), send(ada, data)
    assert (first.status_code, second.status_code) == (201, 200)
    assert (first.json()["created"], second.json()["created"]) == (True, False)
    assert (first.json()["state"], first.json()["flights"]) == ("waiting", [])

    pk = read(first)

    seen = ada.get(f"recordings/{pk}/").json()
    assert (seen["state"], seen["problem"], seen["original_name"], seen["rows"]) == ("read", None, "f.csv", 637)
    (flight,) = seen["flights"]
    assert (flight["kind"], flight["number"], flight["flight_root"]) == ("flight", 1, None)
    (engine,) = flight["engines"]
    assert (engine["engine_id"], engine["serial"]) == (shop.build_1.engine_id, shop.build_1.engine.serial)
    assert engine["summary"]["airborne_min"] == flight["airborne_min"]


@pytest.mark.parametrize(
    ("body", "field", "words"),
    [
        ({"upload": None}, "upload", "Send the file"),
        ({"upload": b""}, "upload", "is empty"),
        ({"upload": b"PK\x03\x04....."}, "upload", "zip archive"),
        ({"aircraft": None}, "aircraft", "required"),
        ({"flight_root": "seven"}, "flight_root", "UUID"),
        ({"flight_root": str(uuid.uuid4())}, "flight_root", "no such flight"),
    ],
)
def test_what_cannot_be_kept_is_refused_by_field(
    shop: factories.Cast, api: Any, body: dict[str, Any], field: str, words: str
) -> None:
    whole: dict[str, Any] = {"upload": content(), "aircraft": "QX-901"} | body
    if isinstance(whole["upload"], bytes):
        whole["upload"] = SimpleUploadedFile("f.csv", whole["upload"])
    sent = {name: value for name, value in whole.items() if value is not None}
    answer = api(shop.ada).client.post("/api/v1/recordings/", sent, format="multipart")
    assert answer.status_code == 400
    assert words in said(answer)[field]
    assert not Recording.objects.exists()


def test_a_file_over_the_limit_is_refused(shop: factories.Cast, api: Any, settings: Any) -> None:
    settings.MAX_UPLOAD_BYTES = 2 * 1024 * 1024
    answer = send(api(shop.ada), b"1,2\n" * 600_000)
    assert answer.status_code == 400
    assert "larger than 2 MB" in said(answer)["upload"]


def test_json_is_no_file(shop: factories.Cast, api: Any) -> None:
    assert api(shop.ada).post("recordings/", {"aircraft": "QX-901"}).status_code == 415


def test_columns_are_shown_and_confirmed(shop: factories.Cast, api: Any) -> None:
    ada = api(shop.ada)
    sent = send(ada, content(names=False))
    waiting = ada.get(f"recordings/{sent.json()['id']}/columns/").json()
    assert (waiting["state"], waiting["columns"], waiting["mapping"]) == ("waiting", [], None)
    early = ada.post(f"recordings/{sent.json()['id']}/columns/", {"mapping": {}, "clock_zone": "UTC"})
    assert (early.status_code, said(early)[""][:8]) == (409, "The file")
    pk = read(sent)
    shown = ada.get(f"recordings/{pk}/columns/").json()
    assert (shown["state"], shown["confirmed"]) == ("asks", False)
    assert shown["questions"]
    assert {"name", "samples", "guess"} <= set(shown["columns"][0])

    answer = ada.post(f"recordings/{pk}/columns/", {"mapping": shown["mapping"], "clock_zone": "UTC"})

    assert (answer.status_code, answer.json()["state"]) == (200, "waiting")
    reading.read_recording(pk, timezone.now())
    assert ada.get(f"recordings/{pk}/").json()["state"] == "read"
    assert ada.get(f"recordings/{pk}/columns/").json()["confirmed"] is True


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"clock_zone": "nowhere"}, "clock_zone"),
        ({"clock_zone": None}, "clock_zone"),
        ({"mapping": []}, "mapping"),
        ({"mapping": {"engines": {"1": {"rpm": 7}}}}, "mapping"),
        ({"mapping": {"engines": 7}}, "mapping"),
        ({"mapping": {"engines": {"1": 7}}}, "mapping"),
        ({"mapping": {"units": 7, "time": "Time", "engines": {"1": {"rpm": "RPM"}}}}, "mapping"),
        ({"flight_date": "soon"}, "flight_date"),
    ],
)
def test_columns_that_cannot_be_are_refused_by_field(
    shop: factories.Cast, api: Any, change: dict[str, Any], field: str
) -> None:
    ada = api(shop.ada)
    pk = read(send(ada))
    good = {"mapping": ada.get(f"recordings/{pk}/columns/").json()["mapping"], "clock_zone": "UTC"}
    answer = ada.post(f"recordings/{pk}/columns/", good | change)
    assert answer.status_code == 400, answer.content
    assert field in {name.split(".")[0] for name in said(answer)}
    assert not ChannelMap.objects.exists()


def test_a_recorded_flight_is_matched(shop: factories.Cast, api: Any) -> None:
    ada = api(shop.ada)
    pk = read(send(ada, files.written(yesterday() + timedelta(hours=5), files.flight(CRUISE_MIN))))
    ended = yesterday() + timedelta(minutes=52)
    raw = factories.raw_flight(shop.build_1.engine, ended.astimezone(), 0.7, meter_end=100.7) | {"aircraft": "QX-901"}
    raw["ended_at"] = f"{ended.isoformat()}+00:00"
    flight = ada.post("flights/", raw).json()

    (candidate,) = ada.get(f"recordings/{pk}/flights/1/match/").json()["rows"]
    assert (candidate["flight_root"], candidate["shift_s"]) == (flight["root"], -5 * 3600)

    body = {"flight_root": flight["root"], "clock_shift_s": candidate["shift_s"], "reason": "daylight saving"}
    answer = ada.post(f"recordings/{pk}/flights/1/match/", body)
    assert answer.status_code == 200, answer.content
    (shown,) = answer.json()["flights"]
    assert (shown["flight_root"], shown["confirmed"], shown["dated_by"]) == (flight["root"], True, "flight")
    assert FlightMatch.objects.get().by == shop.ada


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "flight_root"),
        ({"flight_root": "x"}, "flight_root"),
        ({"flight_root": str(uuid.uuid4())}, "flight_root"),
        ({"flight_root": None, "clock_shift_s": "nan"}, "clock_shift_s"),
        ({"flight_root": None, "clock_shift_s": 1e300}, "clock_shift_s"),
        ({"flight_root": None, "clock_shift_s": "soon"}, "clock_shift_s"),
    ],
)
def test_a_match_that_cannot_be_is_refused(shop: factories.Cast, api: Any, body: dict[str, Any], field: str) -> None:
    ada = api(shop.ada)
    pk = read(send(ada))
    answer = ada.post(f"recordings/{pk}/flights/1/match/", body)
    assert answer.status_code == 400, answer.content
    assert field in said(answer)
    assert not FlightMatch.objects.exists()


def test_a_recorded_flight_is_logged_with_what_a_person_adds(shop: factories.Cast, api: Any) -> None:
    ada = api(shop.ada)
    pk = read(send(ada))
    body = {"engines": [{"engine_id": shop.build_1.engine_id, "meter_end": 100.7}], "note": "smooth"}
    first, second = (ada.post(f"recordings/{pk}/flights/1/log/", body) for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 200), first.content
    flight = Flight.objects.get()
    assert (flight.source, flight.note) == ("file", "smooth")
    assert ada.get(f"recordings/{pk}/").json()["flights"][0]["flight_root"] == first.json()["root"]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"airborne": 60}, "airborne"),
        ({"engines": {"0": 1}}, "engines"),
        ({"confirmed": "all"}, "confirmed"),
        ({"engines": [{"engine_id": 999_999}]}, "engines.0.engine_id"),
        ({"notes": "x"}, "notes"),
    ],
)
def test_what_cannot_be_logged_is_refused(shop: factories.Cast, api: Any, body: dict[str, Any], field: str) -> None:
    ada = api(shop.ada)
    pk = read(send(ada))
    answer = ada.post(f"recordings/{pk}/flights/1/log/", body)
    assert answer.status_code == 400, answer.content
    assert field in said(answer)
    assert not Flight.objects.exists()


# --- Who ------------------------------------------------------------------------------------------------------------

ADDRESSES = ["", "columns/", "flights/1/match/"]
POSTS: list[tuple[str, dict[str, Any]]] = [
    ("columns/", {"mapping": {}, "clock_zone": "UTC"}),
    ("flights/1/match/", {"flight_root": None}),
    ("flights/1/log/", {}),
]


def test_a_stranger_finds_nothing(shop: factories.Cast, api: Any) -> None:
    pk = read(send(api(shop.ada)))
    ben = api(shop.ben)
    assert send(ben, registration="QX-901").status_code == 404
    assert [ben.get(f"recordings/{pk}/{rest}").status_code for rest in ADDRESSES] == [404] * 3
    assert [ben.post(f"recordings/{pk}/{rest}", body).status_code for rest, body in POSTS] == [404] * 3
    assert ben.get("recordings/").json()["rows"] == []
    assert ben.get("recordings/", aircraft="QX-901").json()["rows"] == []


def test_a_token_that_may_read_sends_nothing(shop: factories.Cast, api: Any) -> None:
    pk = read(send(api(shop.ada)))
    ada = api(shop.ada, "read")
    assert send(ada).status_code == 403
    assert ada.get(f"recordings/{pk}/").status_code == 200
    assert [ada.post(f"recordings/{pk}/{rest}", body).status_code for rest, body in POSTS] == [403] * 3


def test_the_shop_may_do_all_of_it(shop: factories.Cast, api: Any) -> None:
    pk = read(send(api(shop.ada)))
    tom = api(shop.tom)
    assert [tom.get(f"recordings/{pk}/{rest}").status_code for rest in ADDRESSES] == [200] * 3
    assert tom.post(f"recordings/{pk}/flights/1/log/", {}).status_code == 201


def test_whoever_bought_the_aircraft_sees_the_engine_but_no_name_and_touches_no_file_of_the_time_before(
    shop: factories.Cast, api: Any
) -> None:
    pk = read(send(api(shop.ada)))
    Recording.objects.get()
    row = RecordingRead.objects.get()
    assert row.recording.aircraft == shop.aircraft_1
    now = timezone.now()
    shop.aircraft_1.holdings.update(until=now)
    shop.aircraft_1.holdings.create(customer=shop.ben_customer, since=now)
    ben, ada = api(shop.ben), api(shop.ada)

    seen = ben.get(f"recordings/{pk}/").json()
    assert (seen["original_name"], seen["state"]) == ("", "read")
    assert seen["flights"][0]["engines"]
    assert [ben.get(f"recordings/{pk}/{rest}").status_code for rest in ADDRESSES[1:]] == [403] * 2
    assert [ben.post(f"recordings/{pk}/{rest}", body).status_code for rest, body in POSTS] == [403] * 3
    assert ada.get(f"recordings/{pk}/").json()["original_name"] == "f.csv"
    assert [ada.post(f"recordings/{pk}/{rest}", body).status_code for rest, body in POSTS] == [403] * 3


def test_the_list_goes_on_page_by_page(shop: factories.Cast, api: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("breakin.api_recordings.PAGE", 2)
    ada = api(shop.ada)
    sent = [send(ada, content() + b"\n" * number).json()["id"] for number in range(3)]
    first = ada.get("recordings/", aircraft="qx-901").json()
    second = ada.get("recordings/", after=first["next_after"]).json()
    assert [row["id"] for row in first["rows"] + second["rows"]] == sent[::-1]
    assert second["next_after"] is None
    assert ada.get("recordings/", after="x").status_code == 400


def test_the_list_asks_the_database_as_often_for_many_as_for_few(shop: factories.Cast, api: Any) -> None:
    ada = api(shop.ada)
    read(send(ada))
    ada.get("recordings/")
    with CaptureQueriesContext(connection) as few:
        ada.get("recordings/")
    for number in range(1, 4):
        read(send(ada, content() + b"\n" * number))
    with CaptureQueriesContext(connection) as many:
        ada.get("recordings/")
    assert len(many) == len(few)
    assert RecordedFlight.objects.count() == 4


def test_what_a_person_wanted_kept_is_not_kept_of_whoever_held_it_before(shop: factories.Cast, api: Any) -> None:
    """Ben, who holds it now, wants positions kept; Ada's files stay without them when they are read anew."""
    theirs: Person = shop.ben
    pk = read(send(api(shop.ada), content(position=True)))
    now = timezone.now()
    shop.aircraft_1.holdings.update(until=now)
    shop.aircraft_1.holdings.create(customer=shop.ben_customer, since=now)
    ben = api(theirs)
    own = read(send(ben, content(position=True) + b"\n"))
    mapping = ben.get(f"recordings/{own}/columns/").json()["mapping"]
    ben.post(f"recordings/{own}/columns/", {"mapping": mapping, "clock_zone": "UTC", "keep_position": True})
    RecordingRead.objects.filter(pk=pk).update(state="waiting")

    for each in (own, pk):
        reading.read_recording(each, timezone.now())

    kept = [b"latitude" in Path(RecordingRead.objects.get(pk=each).table.path).read_bytes() for each in (own, pk)]
    assert kept == [True, False]
