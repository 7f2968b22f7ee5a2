"""The doors for facts: log a flight, add an oil event. The same parsers, services and refusals as the pages."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from breakin.entries import parse_flight, parse_oil
from breakin.models import Finding
from breakin.services import flights, oil
from engines.models import Aircraft, Engine
from shop import access
from shop.errors import Refusal
from shop.models import Person


@extend_schema_field(
    {
        "oneOf": [
            {"type": "number"},
            {"type": "string", "description": "a number with or without its unit: “8.5 qt”, “0,5”, “1:30”"},
            {
                "type": "object",
                "properties": {
                    "value": {"oneOf": [{"type": "number"}, {"type": "string"}]},
                    "unit": {"type": "string"},
                },
                "required": ["value"],
            },
            {
                "type": "object",
                "properties": {"absent": {"type": "string", "enum": ["not_observed", "not_applicable"]}},
                "required": ["absent"],
            },
        ]
    }
)
class MeasuredField(serializers.JSONField):
    """A measured value as it was typed; the parser of entries reads it and says what is wrong with it."""


def _measured(help_text: str = "") -> MeasuredField:
    return MeasuredField(required=False, allow_null=True, help_text=help_text)


def _text(**extra: Any) -> serializers.CharField:
    return serializers.CharField(required=False, allow_blank=True, max_length=4000, **extra)


class BlockRequest(serializers.Serializer[Any]):
    duration = MeasuredField(help_text="minutes")
    pressure_altitude = _measured()
    oat = _measured()
    rpm = _measured()
    map = _measured("manifold pressure")
    fuel_flow = _measured()
    claimed_pct = _measured()
    mixture = _text()
    cowl_flaps = _text()
    cht_max = _measured()
    cht_mean = _measured()


class OilRequest(serializers.Serializer[Any]):
    client_id = serializers.UUIDField(required=False, help_text="made by the sender; a resend is harmless")
    kind = serializers.CharField(help_text="reading, addition, none_added or loss_seen")
    when = _text(help_text="before or after the flight")
    flight_root = serializers.UUIDField(required=False, allow_null=True)
    happened_at = serializers.DateTimeField(required=False)
    written_at = serializers.DateTimeField(required=False)
    meter_reading = _measured()
    level = _measured()
    minutes_since_shutdown = _measured()
    level_ground = serializers.BooleanField(required=False, allow_null=True)
    wiped_twice = serializers.BooleanField(required=False, allow_null=True)
    recalled = serializers.BooleanField(required=False)
    belly_oil = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=3)
    amount = _measured()
    count = _measured()
    container = _text(help_text="us_qt, litre, imp_qt or measured")
    oil_kind = _text(help_text="mineral, ad or other")
    brand = _text()
    note = _text()
    confirmed = serializers.ListField(child=serializers.CharField(), required=False)


class FlightEngineRequest(serializers.Serializer[Any]):
    engine_id = serializers.IntegerField()
    meter_kind = _text()
    meter_start = _measured()
    meter_end = _measured()
    as_on_card = serializers.BooleanField(required=False)
    card_id = serializers.IntegerField(required=False, allow_null=True)
    blocks = BlockRequest(many=True, required=False)
    takeoff_rpm = _measured()
    takeoff_map = _measured()
    takeoff_ff = _measured()
    climb_cht = serializers.DictField(child=MeasuredField(), required=False)
    cht_max = _measured()
    cht_over_watch = _text()
    cht_falling = _text()
    cht_cruise_mean = _measured()
    oil_temp_max = _measured()
    oil_press_min = _measured()
    oil_press_idle = _measured()
    tit_max = _measured()
    oil = OilRequest(many=True, required=False)


class FlightRequest(serializers.Serializer[Any]):
    client_id = serializers.UUIDField(help_text="made by the sender; a resend with the same content is harmless")
    aircraft = serializers.CharField(help_text="registration")
    ended_at = serializers.DateTimeField(required=False)
    local_date = serializers.DateField(required=False)
    local_time = serializers.TimeField(required=False)
    written_at = serializers.DateTimeField(required=False)
    kind = _text()
    field_elevation = _measured()
    altimeter = _measured()
    oat_ground = _measured()
    airborne = MeasuredField(help_text="minutes, or h:mm")
    ground_before = _measured()
    ground_after = _measured()
    landings = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=200)
    persons_aboard = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=50)
    chips = serializers.ListField(child=serializers.CharField(), required=False)
    note = _text()
    engines = FlightEngineRequest(many=True)
    confirmed = serializers.ListField(child=serializers.CharField(), required=False)


class FoundSerializer(serializers.Serializer[Finding]):
    rule = serializers.CharField()
    severity = serializers.CharField(source="get_severity_display")
    title = serializers.CharField()
    text = serializers.CharField()


class FlightReceived(serializers.Serializer[Any]):
    id = serializers.IntegerField(source="flight.pk")
    root = serializers.UUIDField(source="flight.root")
    received_at = serializers.DateTimeField(source="flight.received_at")
    created = serializers.BooleanField(help_text="false: it was here already")
    possible_duplicate = serializers.BooleanField()
    stops = FoundSerializer(many=True, help_text="do not fly until a technician has cleared these items")
    calls = FoundSerializer(many=True)


class AdviceSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    sentence = serializers.CharField()


class OilReceived(serializers.Serializer[Any]):
    id = serializers.IntegerField(source="event.pk")
    root = serializers.UUIDField(source="event.root")
    received_at = serializers.DateTimeField(source="event.received_at")
    created = serializers.BooleanField(help_text="false: it was here already")
    stops = FoundSerializer(many=True, help_text="do not fly until a technician has cleared these items")
    calls = FoundSerializer(many=True)
    advice = AdviceSerializer(allow_null=True)


class LogFlightView(APIView):
    """Log a flight."""

    @extend_schema(
        request=FlightRequest, responses={201: FlightReceived, 200: FlightReceived}, operation_id="log_flight"
    )
    def post(self, request: Request) -> Response:
        raw = _checked(FlightRequest, request.data)
        by = _person(request)
        rows = access.visible_to(request.user, Aircraft.objects.all())
        aircraft = get_object_or_404(rows, registration__iexact=str(raw["aircraft"]))
        access.require(request.user, "log_flight", aircraft)
        now = timezone.now()
        entry = parse_flight(raw, units=by.units, zone=by.zone, now=now)
        logged = flights.log_flight(by=by, aircraft=aircraft, entry=entry, now=now, source="api")
        code = status.HTTP_201_CREATED if logged.created else status.HTTP_200_OK
        return Response(FlightReceived(logged).data, status=code)


class AddOilView(APIView):
    """Add an oil event to an engine."""

    @extend_schema(request=OilRequest, responses={201: OilReceived, 200: OilReceived}, operation_id="add_oil_event")
    def post(self, request: Request, engine_id: int) -> Response:
        by = _person(request)
        engine = get_object_or_404(access.visible_to(request.user, Engine.objects.all()), pk=engine_id)
        _require_on_engine(request, engine)
        raw = _checked(OilRequest, request.data)
        now = timezone.now()
        entry = parse_oil(raw, units=by.units, zone=by.zone, now=now)
        logged = oil.add_oil(by=by, engine=engine, entry=entry, now=now, source="api")
        code = status.HTTP_201_CREATED if logged.created else status.HTTP_200_OK
        return Response(OilReceived(logged).data, status=code)


def _checked(kind: type[serializers.Serializer[Any]], data: Any) -> dict[str, Any]:
    """The request as it was sent, once its outline holds. The values themselves are read by the parser of entries."""
    outline = kind(data=data)
    outline.is_valid(raise_exception=True)
    return dict(data)


def _person(request: Request) -> Person:
    person = access.person_of(request.user)
    if person is None:
        raise Refusal.of("", "This user has no person behind it: ask the shop to complete your entry.", "forbidden")
    return person


def _require_on_engine(request: Request, engine: Engine) -> None:
    installation = engine.installations.filter(until__isnull=True).select_related("aircraft").first()
    access.require(request.user, "add_oil", installation.aircraft if installation else None)
