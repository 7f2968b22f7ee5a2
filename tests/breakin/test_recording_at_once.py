"""Recordings and flights that come at the same moment: one reader, one set of rows, and the match is found."""

from __future__ import annotations

from datetime import UTC, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from breakin import reading
from breakin.entries import parse_flight
from breakin.load import load
from breakin.models import Flight, FlightMatch, ReadState, RecordedEngine, RecordedFlight, RecordingRead
from breakin.services.flights import log_flight
from breakin.services.recording_logging import log_from_recording
from breakin.services.recording_matching import match_flight
from shop.errors import Refusal
from tests.breakin.recording_cases import DAY, ENDED, logged, one_flight, only_flight, read, sent, sent_and_read
from tests.breakin.test_services_at_once import at_once
from tests.factories import NOW, Cast, cast, raw_flight

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> Cast:
    monkeypatch.setattr("breakin.services.common.jobs.queue", lambda *args: True)
    settings.MEDIA_ROOT = tmp_path / "media"
    return cast()


def unexpected(results: list[Any]) -> list[Any]:
    return [result for result in results if isinstance(result, Exception) and not isinstance(result, Refusal)]


def test_one_file_sent_by_two_and_read_by_three_is_one_recording_with_one_flight(shop: Cast) -> None:
    content = one_flight()
    recordings = at_once(*[lambda: sent(shop, content)] * 2)
    assert unexpected(recordings) == []
    assert recordings[0] == recordings[1]

    results = at_once(*[lambda: reading.read_recording(recordings[0].pk, NOW)] * 3)

    assert unexpected(results) == []
    assert sorted(map(len, results)) == [0, 0, 1]
    assert (RecordedFlight.objects.count(), RecordedEngine.objects.count()) == (1, 1)
    assert RecordingRead.objects.get().state == ReadState.READ


def test_a_flight_logged_while_its_recording_is_read_is_found(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    raw = raw_flight(shop.build_1.engine, ENDED.replace(tzinfo=UTC), 0.68, meter_end=100.7, ground_before=6)
    entry = parse_flight(raw, units="us", zone="UTC", now=NOW)

    results = at_once(
        lambda: read(recording),
        lambda: log_flight(by=shop.ada, aircraft=shop.aircraft_1, entry=entry, now=NOW),
    )

    assert unexpected(results) == []
    assert only_flight(recording).flight_root == Flight.objects.get().root


def test_two_who_match_at_once_leave_two_words_of_which_the_newest_holds(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight()))

    results = at_once(
        lambda: match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW),
        lambda: match_flight(by=shop.cora, recorded_flight=row, flight_root=None, now=NOW + timedelta(seconds=1)),
    )

    assert unexpected(results) == []
    assert FlightMatch.objects.count() == 2
    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (None, True)


def test_a_recorded_flight_logged_by_two_at_once_is_one_flight(shop: Cast) -> None:
    row = only_flight(sent_and_read(shop, one_flight()))
    results = at_once(*[lambda: log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)] * 2)
    assert unexpected(results) == []
    assert (Flight.objects.count(), FlightMatch.objects.count()) == (1, 1)


def test_records_with_many_recordings_ask_the_database_as_often_as_with_one(shop: Cast) -> None:
    logged(shop)
    sent_and_read(shop, one_flight())
    with CaptureQueriesContext(connection) as few:
        load([shop.build_1.pk], NOW)
    for day in range(1, 4):
        logged(shop, ended=ENDED + timedelta(days=day), meter_end=101 + day)
        sent_and_read(shop, one_flight(DAY + timedelta(days=day)))
        sent_and_read(shop, one_flight(DAY + timedelta(days=day), heads=(340.0, 350.0)))
    sent_and_read(shop, one_flight(), aircraft=shop.aircraft_2)
    with CaptureQueriesContext(connection) as many:
        records = load([shop.build_1.pk, shop.build_2.pk], NOW)
    assert len(many) == len(few)
    assert sum(run.recorded is not None for run in records[shop.build_1.pk].runs) == 4
