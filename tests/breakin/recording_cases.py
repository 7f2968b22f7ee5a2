"""Recordings in the tests: sent, read in this process, and the flights that they may be."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.files.uploadedfile import SimpleUploadedFile

from breakin import reading
from breakin.models import Flight, RecordedFlight, Recording, RecordingRead
from breakin.services.recordings import store_recording
from engines.models import Aircraft
from shop.models import Person
from tests.breakin import recorded_files as files
from tests.factories import NOW, Cast, flown

DAY = datetime(2026, 6, 10, 8, 0)  # noqa: DTZ001 - the recorder's own clock, which shows UTC
CRUISE_MIN = 25.0
# Of a flight with a lead of a minute: the engine turns from 1 to 52.1 min, it is in the air from 7.6 to about 48.
BEGAN, ENDED = DAY + timedelta(minutes=1), DAY + timedelta(minutes=27.1 + CRUISE_MIN)


def sent(
    shop: Cast,
    content: bytes,
    *,
    by: Person | None = None,
    aircraft: Aircraft | None = None,
    now: datetime = NOW,
    name: str = "flight.csv",
    flight: Flight | None = None,
) -> Recording:
    recording, _created = store_recording(
        by=by or shop.ada,
        aircraft=aircraft or shop.aircraft_1,
        upload=SimpleUploadedFile(name, content),
        now=now,
        flight_root=flight.root if flight else None,
    )
    return recording


def one_flight(start: datetime = DAY, **more: Any) -> bytes:
    return files.written(start, files.flight(CRUISE_MIN), **more)


def read(recording: Recording, now: datetime = NOW) -> RecordingRead:
    """Read it as the task does; the row afterwards."""
    reading.read_recording(recording.pk, now)
    return RecordingRead.objects.get(pk=recording.pk)


def sent_and_read(shop: Cast, content: bytes, **more: Any) -> RecordingRead:
    return read(sent(shop, content, **more))


def only_flight(recording: Recording | RecordingRead) -> RecordedFlight:
    return RecordedFlight.objects.select_related("recording").get(recording=recording.pk)


def logged(shop: Cast, *, ended: datetime | None = None, hours: float = 0.68, **more: Any) -> Flight:
    """The flight of `one_flight`, as a pilot would log it."""
    at = (ended or ENDED).replace(tzinfo=UTC)
    return flown(shop.build_1, hours, at=at, **{"ground_before": 6, "ground_after": 4, **more}).flight


def root_of(recording: Recording | RecordingRead) -> UUID | None:
    return only_flight(recording).flight_root
