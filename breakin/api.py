"""The doors for facts: log a flight, add an oil event. The same parsers, services and refusals as the pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from breakin.api_shapes import FlightReceived, FlightRequest, OilReceived, OilRequest
from breakin.entries import parse_flight, parse_oil
from breakin.models import Finding, FindingState, Severity
from breakin.services import flights, oil
from engines.models import Aircraft, Engine
from shop import access
from shop.errors import Problem, Refusal
from shop.facts import Source
from shop.models import Person


class LogFlightView(APIView):
    """Log a flight."""

    @extend_schema(
        request=FlightRequest, responses={201: FlightReceived, 200: FlightReceived}, operation_id="log_flight"
    )
    def post(self, request: Request) -> Response:
        by = person_of(request)
        raw = named_fields(request.data)
        registration = raw.pop("aircraft", None)
        if not isinstance(registration, str) or not registration.strip() or "\x00" in registration:
            raise Refusal.of("aircraft", "Which aircraft? Give its registration.")
        rows = access.visible_to(request.user, Aircraft.objects.all())
        aircraft = get_object_or_404(rows, registration__iexact=registration.strip())
        access.require(request.user, "log_flight", aircraft)
        now = timezone.now()
        entry = parse_flight(raw, units=by.units, zone=by.zone, now=now)
        sorts_fit(FlightRequest(data={**raw, "aircraft": registration}), entry.warnings)
        logged = flights.log_flight(by=by, aircraft=aircraft, entry=entry, now=now, source=Source.API)
        engines = logged.flight.engines.values_list("engine_id", flat=True)
        answer = {
            "flight": logged.flight,
            "created": logged.created,
            "possible_duplicate": logged.possible_duplicate,
            **standing(request, engines),
        }
        return Response(FlightReceived(answer).data, status=created_status(logged.created))


class AddOilView(APIView):
    """Add an oil event to an engine."""

    @extend_schema(request=OilRequest, responses={201: OilReceived, 200: OilReceived}, operation_id="add_oil_event")
    def post(self, request: Request, engine_id: int) -> Response:
        by = person_of(request)
        engine = get_object_or_404(access.visible_to(request.user, Engine.objects.all()), pk=engine_id)
        seat = engine.installations.filter(until__isnull=True).select_related("aircraft").first()
        access.require(request.user, "add_oil", seat.aircraft if seat else None)
        raw = named_fields(request.data)
        if raw.get("engine_id") not in (None, engine.pk, str(engine.pk)):
            raise Refusal.of("engine_id", "This is another engine than the one of this address. Mend one of them.")
        now = timezone.now()
        entry = parse_oil(raw | {"engine_id": engine.pk}, units=by.units, zone=by.zone, now=now)
        sorts_fit(OilRequest(data=raw), entry.warnings)
        logged = oil.add_oil(by=by, engine=engine, entry=entry, now=now, source=Source.API)
        answer = {
            "event": logged.event,
            "created": logged.created,
            "advice": logged.advice,
            **standing(request, [engine.pk]),
        }
        return Response(OilReceived(answer).data, status=created_status(logged.created))


def named_fields(data: Any) -> dict[str, Any]:
    if not isinstance(data, Mapping):
        raise Refusal.of("", "Send one set of named fields, a JSON object.")
    return dict(data)


def sorts_fit(outline: serializers.Serializer[Any], warnings: Sequence[Problem]) -> None:
    """After the parser has spoken in the words of the pages: is each value of the right sort, is nothing doubtful?"""
    outline.is_valid(raise_exception=True)
    if warnings:
        raise Refusal(warnings, "confirm")


def standing(request: Request, engine_ids: Iterable[int]) -> dict[str, list[Finding]]:
    """Stops and calls that stand now, as the sender may read them. A resend gets them too: the first answer is lost."""
    rows = Finding.objects.filter(
        build__engine__in=list(engine_ids),
        build__assessment__live=True,
        state__in=(FindingState.OPEN, FindingState.ACKNOWLEDGED),
        severity__gte=Severity.CALL,
    )
    found = list(access.visible_to(request.user, rows))
    return {
        "stops": [row for row in found if row.severity == Severity.STOP],
        "calls": [row for row in found if row.severity == Severity.CALL],
    }


def created_status(created: bool) -> int:
    return status.HTTP_201_CREATED if created else status.HTTP_200_OK


def person_of(request: Request) -> Person:
    person = access.person_of(request.user)
    if person is None:
        raise Refusal.of("", "This user has no person behind it: ask the shop to complete your entry.", "forbidden")
    return person


def whole_number(name: str, text: str) -> int:
    """A number of the query string."""
    if not text.isascii() or not text.isdigit() or len(text) > 18:
        raise Refusal.of(name, f"“{text[:20]}” is not a whole number.")
    return int(text)
