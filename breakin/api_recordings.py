"""The doors for recordings: send a file, see how far it is, say what its columns and flights are, log what it shows."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from breakin.api import created_status, named_fields, person_of, sorts_fit, standing, whole_number
from breakin.api_recording_shapes import (
    CandidatesAnswer,
    ColumnsAnswer,
    ColumnsRequest,
    MatchRequest,
    RecordedFlightRequest,
    RecordingAnswer,
    RecordingPage,
    RecordingReceived,
    RecordingUpload,
)
from breakin.api_shapes import FlightReceived
from breakin.models import RecordedFlight, Recording
from breakin.services.recording_channels import confirm_channels
from breakin.services.recording_logging import log_from_recording
from breakin.services.recording_matching import candidates, match_flight
from breakin.services.recordings import store_recording
from engines.models import Aircraft
from shop import access
from shop.errors import Refusal

PAGE = 50


def _rows(request: Request) -> QuerySet[Recording]:
    rows = access.visible_to(request.user, Recording.objects.all())
    return rows.select_related("aircraft__home", "reading__channel_map").prefetch_related("flights__engines__engine")


def _answer(request: Request, pk: int, shape: type[RecordingAnswer] = RecordingAnswer, **more: Any) -> dict[str, Any]:
    shown = shape(_rows(request).get(pk=pk), context={"request": request, **more})
    return dict(shown.data)


def _own(request: Request, recording_id: int, act: str) -> Recording:
    """The recording, for whoever may do this with it: the file holds another's words where it is not one's own."""
    recording = get_object_or_404(_rows(request), pk=recording_id)
    access.require(request.user, act, recording.aircraft)
    if not access.words_are_for(request.user, recording):
        raise PermissionDenied("This file is of somebody who held the aircraft before. Ask the shop.")
    return recording


def _flight(recording: Recording, number: int) -> RecordedFlight:
    rows = RecordedFlight.objects.select_related("recording__aircraft__home")
    return get_object_or_404(rows, recording=recording, number=number)


class RecordingsView(APIView):
    """Recordings."""

    parser_classes = [MultiPartParser]

    @extend_schema(
        responses=RecordingPage,
        operation_id="recordings",
        description="The recordings that one may see, newest first.",
        parameters=[
            OpenApiParameter("aircraft", str, description="registration"),
            OpenApiParameter("after", int, description="`next_after` of the page before"),
        ],
    )
    def get(self, request: Request) -> Response:
        rows = _rows(request).order_by("-pk")
        if registration := request.query_params.get("aircraft"):
            rows = rows.filter(aircraft__registration__iexact=registration.strip().replace("\x00", ""))
        if (after := request.query_params.get("after")) is not None:
            rows = rows.filter(pk__lt=whole_number("after", after))
        page = list(rows[: PAGE + 1])
        more = page[PAGE - 1].pk if len(page) > PAGE else None
        shown = RecordingPage({"rows": page[:PAGE], "next_after": more}, context={"request": request})
        return Response(shown.data)

    @extend_schema(
        request={"multipart/form-data": RecordingUpload},
        responses={201: RecordingReceived, 200: RecordingReceived},
        operation_id="send_recording",
        description="Send an instrument's file. It is kept as it came and read in the background: ask for its state.",
    )
    def post(self, request: Request) -> Response:
        by = person_of(request)
        data = request.data
        if (limit := getattr(request, "upload_over_limit", None)) is not None:
            raise Refusal.of("upload", f"The file is larger than {limit // (1024 * 1024)} MB. Send one file a flight.")
        typed = RecordingUpload(data=data)
        typed.is_valid(raise_exception=True)
        sent = typed.validated_data
        aircraft = _aircraft(request, sent["aircraft"])
        access.require(request.user, "upload_recording", aircraft)
        recording, created = store_recording(
            by=by,
            aircraft=aircraft,
            upload=sent["upload"],
            now=timezone.now(),
            note=sent.get("note", ""),
            flight_root=sent.get("flight_root"),
        )
        answer = _answer(request, recording.pk, RecordingReceived, created=created)
        return Response(answer, status=created_status(created))


def _aircraft(request: Request, registration: str) -> Aircraft:
    if "\x00" in registration:
        raise Refusal.of("aircraft", "Which aircraft? Give its registration.")
    rows = access.visible_to(request.user, Aircraft.objects.all())
    return get_object_or_404(rows, registration__iexact=registration.strip())


class RecordingView(APIView):
    """One recording: how far its reading is, and what was found in it."""

    @extend_schema(responses=RecordingAnswer, operation_id="recording")
    def get(self, request: Request, recording_id: int) -> Response:
        recording = get_object_or_404(_rows(request), pk=recording_id)
        return Response(RecordingAnswer(recording, context={"request": request}).data)


class ColumnsView(APIView):
    """The columns of a recording."""

    @extend_schema(
        responses=ColumnsAnswer,
        operation_id="recording_columns",
        description="The columns of a recording: what they hold, what they are taken for, and what must be answered.",
    )
    def get(self, request: Request, recording_id: int) -> Response:
        reading = _own(request, recording_id, "map_recording").reading
        known = reading.channel_map
        answer = {
            "columns": [],
            "questions": [],
            "mapping": None,
            **reading.look,
            "state": reading.state,
            "clock_zone": known.clock_zone if known else "UTC",
            "keep_position": known is not None and known.keep_position,
            "confirmed": known is not None,
        }
        if known is not None:
            answer["mapping"] = known.mapping
        return Response(ColumnsAnswer(answer).data)

    @extend_schema(
        request=ColumnsRequest,
        responses=RecordingAnswer,
        operation_id="confirm_columns",
        description="Say what the columns are, for this file and the next ones of the recorder; it is read with that.",
    )
    def post(self, request: Request, recording_id: int) -> Response:
        by = person_of(request)
        recording = _own(request, recording_id, "map_recording")
        typed = ColumnsRequest(data=named_fields(request.data))
        typed.is_valid(raise_exception=True)
        confirm_channels(by=by, recording=recording, now=timezone.now(), **typed.validated_data)
        return Response(_answer(request, recording.pk))


class MatchView(APIView):
    """Which logged flight a recorded one is."""

    @extend_schema(
        responses=CandidatesAnswer,
        operation_id="flight_candidates",
        description="The logged flights that a recorded one may be, also where the recorder's clock is wrong.",
    )
    def get(self, request: Request, recording_id: int, number: int) -> Response:
        recording = _own(request, recording_id, "match_recording")
        return Response(CandidatesAnswer({"rows": candidates(_flight(recording, number))}).data)

    @extend_schema(
        request=MatchRequest,
        responses=RecordingAnswer,
        operation_id="match_flight",
        description="Say which logged flight a recorded one is, or that it is none; the clock is put right with it.",
    )
    def post(self, request: Request, recording_id: int, number: int) -> Response:
        by = person_of(request)
        recording = _own(request, recording_id, "match_recording")
        typed = MatchRequest(data=named_fields(request.data))
        typed.is_valid(raise_exception=True)
        match_flight(by=by, recorded_flight=_flight(recording, number), now=timezone.now(), **typed.validated_data)
        return Response(_answer(request, recording.pk))


class LogRecordedFlightView(APIView):
    """Log a recorded flight that nobody logged: what it shows, with the meter and the oil that a person adds."""

    @extend_schema(
        request=RecordedFlightRequest,
        responses={201: FlightReceived, 200: FlightReceived},
        operation_id="log_recorded_flight",
    )
    def post(self, request: Request, recording_id: int, number: int) -> Response:
        by = person_of(request)
        recording = _own(request, recording_id, "log_flight")
        raw = named_fields(request.data)
        sorts_fit(RecordedFlightRequest(data=raw), ())
        logged = log_from_recording(by=by, recorded_flight=_flight(recording, number), now=timezone.now(), raw=raw)
        engines = logged.flight.engines.values_list("engine_id", flat=True)
        answer = {
            "flight": logged.flight,
            "created": logged.created,
            "possible_duplicate": logged.possible_duplicate,
            **standing(request, engines),
        }
        return Response(FlightReceived(answer).data, status=created_status(logged.created))
