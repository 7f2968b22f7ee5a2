"""The shapes of what the programming interface takes in and answers with.

A value itself is read by the parser of `breakin.entries`, as on the pages; the shapes say which names there are and
what sort of value each takes, for the schema and against values that a parser could only misunderstand.
"""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from breakin.models import Finding


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
            {"type": "null"},
        ]
    }
)
class MeasuredField(serializers.JSONField):
    """A measured value as it was typed; a number alone is in the sender's own system of units."""


def _measured(help_text: str = "") -> MeasuredField:
    return MeasuredField(required=False, allow_null=True, help_text=help_text)


def _text(help_text: str = "", longest: int = 80) -> serializers.CharField:
    return serializers.CharField(
        required=False, allow_blank=True, allow_null=True, max_length=longest, help_text=help_text
    )


def _whole(low: int, high: int, help_text: str = "") -> serializers.IntegerField:
    return serializers.IntegerField(required=False, allow_null=True, min_value=low, max_value=high, help_text=help_text)


def _yes_no(help_text: str = "") -> serializers.BooleanField:
    return serializers.BooleanField(required=False, allow_null=True, help_text=help_text)


def _texts(help_text: str) -> serializers.ListField:
    return serializers.ListField(child=serializers.CharField(), required=False, help_text=help_text)


CONFIRMED = "fields whose unusual value is right, as named by an answer “confirm”"
CLOCK_CHANGE = "before or after: which is meant where a local time came twice on the night when the clock went back"
ZONE = "zone of times without an offset; without it, your own"
_ID = 2**62


class BlockRequest(serializers.Serializer[Any]):
    """A stretch of steady power."""

    duration = MeasuredField(help_text="minutes")
    pressure_altitude = _measured()
    oat = _measured("outside air temperature")
    rpm = _measured()
    map = _measured("manifold pressure")
    fuel_flow = _measured()
    claimed_pct = _measured("percent power as the pilot puts it")
    mixture = _text()
    cowl_flaps = _text()
    cht_max = _measured()
    cht_mean = _measured()


class OilRequest(serializers.Serializer[Any]):
    """A reading, an addition, a drain and fill, or a loss that was seen."""

    client_id = serializers.UUIDField(required=False, allow_null=True, help_text="made by the sender")
    engine_id = _whole(1, _ID, "where it is given, it must be the engine of this address or row")
    kind = serializers.CharField(help_text="reading, addition, none_added, drain_fill or loss_seen")
    when = _text("before or after the flight")
    flight_root = serializers.UUIDField(required=False, allow_null=True)
    happened_at = _text("date and time, ISO 8601; without it, now or the flight's time")
    local_date = _text()
    local_time = _text()
    clock_change = _text(CLOCK_CHANGE)
    zone = _text(ZONE, 64)
    written_at = _text("when it was written on the device")
    sent_at = _text("what the clock of the device shows as it sends; tells how far written_at is off")
    meter_reading = _measured()
    level = _measured()
    minutes_since_shutdown = _measured("minutes, or one of the form's words like “10-30”")
    level_ground = _yes_no()
    wiped_twice = _yes_no()
    recalled = _yes_no("told from memory")
    u = _measured("own estimate of the reading's uncertainty")
    belly_oil = serializers.JSONField(
        required=False, allow_null=True, help_text="0 none, 1 film, 2 drips, 3 streaming, or the word"
    )
    amount = _measured()
    count = _measured("how many containers")
    container = _text("us_qt, litre, imp_qt or measured")
    poured_fraction = _measured("share of the last container, up to 1")
    oil_kind = _text("mineral, ad or other")
    brand = _text()
    drained = _measured()
    filled = _measured()
    filter_changed = _yes_no()
    note = _text("words", 4000)
    confirmed = _texts(CONFIRMED)


class MeterRequest(serializers.Serializer[Any]):
    """A further clock that was read."""

    kind = serializers.CharField()
    start = MeasuredField()
    end = MeasuredField()


class FlightEngineRequest(serializers.Serializer[Any]):
    """What one engine did on the flight."""

    engine_id = serializers.IntegerField(min_value=1, max_value=_ID)
    meter_kind = _text()
    meter_start = _measured()
    meter_end = _measured()
    meters = MeterRequest(many=True, required=False)
    as_on_card = _yes_no("flown as on the card, instead of blocks")
    card_id = _whole(1, _ID)
    blocks = BlockRequest(many=True, required=False)
    takeoff_rpm = _measured()
    takeoff_map = _measured()
    takeoff_ff = _measured()
    climb_cht = serializers.DictField(
        child=MeasuredField(), required=False, allow_null=True, help_text="by height above the field, ft"
    )
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
    """A flight with all that its engines did."""

    client_id = serializers.UUIDField(help_text="made by the sender; a resend with the same content is harmless")
    aircraft = serializers.CharField(max_length=20, help_text="registration")
    ended_at = _text("date and time, ISO 8601")
    local_date = _text()
    local_time = _text()
    clock_change = _text(CLOCK_CHANGE)
    zone = _text(ZONE, 64)
    off_block = _text()
    takeoff = _text()
    landing = _text()
    on_block = _text()
    written_at = _text("when it was written on the device")
    sent_at = _text("what the clock of the device shows as it sends; tells how far written_at is off")
    recalled = _yes_no("told from memory")
    kind = _text()
    pilot_id = _whole(1, _ID)
    place_id = _whole(1, _ID)
    field_elevation = _measured()
    altimeter = _measured()
    oat_ground = _measured()
    airborne = _measured("minutes, or h:mm; may be left out where take-off and landing are given")
    ground_before = _measured()
    ground_after = _measured()
    landings = _whole(0, 200)
    persons_aboard = _whole(0, 20)
    chips = _texts("what was noticed, in the form's own words")
    note = _text("words of the pilot", 4000)
    engines = FlightEngineRequest(many=True)
    confirmed = _texts(CONFIRMED)


class FoundSerializer(serializers.Serializer[Finding]):
    id = serializers.IntegerField()
    rule = serializers.CharField()
    severity = serializers.CharField(source="get_severity_display")
    title = serializers.CharField()
    text = serializers.CharField()


class FlightReceived(serializers.Serializer[Any]):
    id = serializers.IntegerField(source="flight.pk")
    root = serializers.UUIDField(source="flight.root")  # type: ignore[assignment]
    received_at = serializers.DateTimeField(source="flight.received_at")
    created = serializers.BooleanField(help_text="false: it was here already")
    possible_duplicate = serializers.BooleanField(help_text="another entry looks like this flight; both are kept")
    stops = FoundSerializer(many=True, help_text="do not fly until a technician has cleared these items")
    calls = FoundSerializer(many=True, help_text="the shop will want to talk about these")


class AdviceSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    sentence = serializers.CharField()


class OilReceived(serializers.Serializer[Any]):
    id = serializers.IntegerField(source="event.pk")
    root = serializers.UUIDField(source="event.root")  # type: ignore[assignment]
    received_at = serializers.DateTimeField(source="event.received_at")
    created = serializers.BooleanField(help_text="false: it was here already")
    stops = FoundSerializer(many=True, help_text="do not fly until a technician has cleared these items")
    calls = FoundSerializer(many=True, help_text="the shop will want to talk about these")
    advice = AdviceSerializer(allow_null=True, help_text="what to do at this level; empty where nothing was read")
