"""Hand in what a recorder of the demo wrote, the way its pilot would: upload, confirm the columns once, match."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction

from breakin.models import ChannelMap, Flight, RecordedFlight, Recording
from breakin.reading import read_recording
from breakin.services.recording_channels import confirm_channels
from breakin.services.recording_matching import match_flight
from breakin.services.recordings import store_recording
from engines.models import Aircraft
from reports.demo.story import Tape
from reports.demo.tapes import RECORDERS, file_of, mapping
from shop.models import Person


def hand_in(
    people: Mapping[str, Person], aircraft: Aircraft, flight: Flight, tape: Tape, *, by: Person, name: str
) -> None:
    """Keep and read the recording of a flight that was logged."""
    at = flight.happened_at + timedelta(minutes=tape.handed_in)
    root = flight.root if tape.with_flight else None
    # Read in the transaction that keeps it: a worker that is told of it afterwards finds it read.
    with transaction.atomic():
        recording = send(aircraft, tape, flight.happened_at, by=by, name=name, now=at, flight_root=root)
        if not ChannelMap.objects.filter(aircraft=aircraft).exists():
            _confirm(recording, tape, by, at + timedelta(minutes=2))
        if tape.told is not None:
            teller, reason = tape.told
            _tell(recording, flight, people[teller], reason, tape, at + timedelta(hours=1))


def send(
    aircraft: Aircraft,
    tape: Tape,
    ended: datetime,
    *,
    by: Person,
    name: str,
    now: datetime,
    flight_root: UUID | None = None,
) -> Recording:
    """Keep the file of a flight whose engines stopped at `ended`, and have it read."""
    sides = ("left", "right", "single")
    seats = aircraft.installations.filter(since__lte=ended).exclude(until__lte=ended)
    fitted = sorted(seats.select_related("engine__engine_type"), key=lambda row: sides.index(row.position))
    data = file_of(tape, [row.engine.engine_type.designation for row in fitted], ended)
    upload = ContentFile(data, name)
    recording, _ = store_recording(by=by, aircraft=aircraft, upload=upload, now=now, flight_root=flight_root)
    read_recording(recording.pk, now)
    return recording


def _confirm(recording: Recording, tape: Tape, by: Person, at: datetime) -> None:
    confirm_channels(
        by=by,
        recording=recording,
        mapping=mapping(tape.recorder),
        clock_zone=RECORDERS[tape.recorder].zone,
        keep_position=False,
        now=at,
    )
    read_recording(recording.pk, at + timedelta(minutes=1))


def _tell(recording: Recording, flight: Flight, by: Person, reason: str, tape: Tape, at: datetime) -> None:
    for row in RecordedFlight.objects.filter(recording=recording):
        match_flight(
            by=by,
            recorded_flight=row,
            flight_root=flight.root,
            now=at,
            reason=reason,
            clock_shift_s=-tape.clock_error_s,
        )
