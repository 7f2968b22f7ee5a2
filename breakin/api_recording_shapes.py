"""The shapes of what the programming interface takes in and says about recordings."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from breakin.api_shapes import CONFIRMED, FlightEngineRequest
from breakin.models import RecordedEngine, RecordedFlight, Recording
from shop import access


class RecordingUpload(serializers.Serializer[Any]):
    """An instrument's file, sent as a form with a file."""

    upload = serializers.FileField(
        allow_empty_file=True,
        help_text="the instrument's own export as a text table: .csv, .txt, .tsv, .log or .dat",
        error_messages={"required": "Send the file in the part “upload”.", "invalid": "Send the file as a file."},
    )
    aircraft = serializers.CharField(max_length=20, help_text="registration")
    note = serializers.CharField(required=False, allow_blank=True, max_length=500)
    flight_root = serializers.UUIDField(required=False, help_text="the flight that it was recorded on, where known")


class RecordedEngineAnswer(serializers.ModelSerializer[RecordedEngine]):
    """What was recorded of one engine. Units: degF, inHg, US gal/h, psi, ft, min, percent of rated power."""

    serial = serializers.CharField(source="engine.serial")

    class Meta:
        model = RecordedEngine
        fields = ("side", "engine_id", "serial", "summary")


class RecordedFlightAnswer(serializers.ModelSerializer[RecordedFlight]):
    """One time that the engine ran. Times of `summary` are seconds from its first row."""

    engines = RecordedEngineAnswer(many=True)

    class Meta:
        model = RecordedFlight
        fields = (
            "number", "kind", "began_at", "ended_at", "dated_by", "clock_shift_s", "landings", "run_min",
            "airborne_min", "flight_root", "confirmed", "summary", "engines",
        )  # fmt: skip


class ReadingProblem(serializers.Serializer[Any]):
    what = serializers.CharField()
    row = serializers.IntegerField(allow_null=True, help_text="line of the file, from 1")
    column = serializers.CharField(allow_null=True)
    mend = serializers.CharField()


class RecordingAnswer(serializers.ModelSerializer[Recording]):
    """A recording, how far its reading is, and what was found in it."""

    aircraft = serializers.CharField(source="aircraft.registration")
    original_name = serializers.SerializerMethodField(help_text="empty for whoever did not hold the aircraft then")
    state = serializers.CharField(source="reading.state", help_text="waiting, reading, asks, read or refused")
    step = serializers.CharField(source="reading.step", help_text="what is being done now")
    done = serializers.IntegerField(source="reading.done")
    total = serializers.IntegerField(source="reading.total")
    rows = serializers.IntegerField(source="reading.rows")
    sample_s = serializers.FloatField(source="reading.sample_s", allow_null=True)
    notes = serializers.ListField(
        child=serializers.CharField(), source="reading.notes", help_text="what was left out or repaired"
    )
    problem = serializers.SerializerMethodField(help_text="why it, or its newest reading, could not be read")
    flights = RecordedFlightAnswer(many=True)

    class Meta:
        model = Recording
        fields = (
            "id", "aircraft", "original_name", "size_bytes", "sha256", "uploaded_at", "state", "step", "done", "total",
            "rows", "sample_s", "notes", "problem", "flights",
        )  # fmt: skip

    def get_original_name(self, row: Recording) -> str:
        request = self.context["request"]
        return row.original_name if access.words_are_for(request.user, row) else ""

    @extend_schema_field(ReadingProblem(allow_null=True))
    def get_problem(self, row: Recording) -> dict[str, Any] | None:
        return row.reading.problem or None


class RecordingReceived(RecordingAnswer):
    created = serializers.SerializerMethodField(help_text="false: the very same file was here already")

    class Meta:
        model = Recording
        fields = (*RecordingAnswer.Meta.fields, "created")

    def get_created(self, row: Recording) -> bool:
        return bool(self.context["created"])


class RecordingPage(serializers.Serializer[Any]):
    rows = RecordingAnswer(many=True)
    next_after = serializers.IntegerField(allow_null=True, help_text="give it as `after` for the next page")


class GuessAnswer(serializers.Serializer[Any]):
    channel = serializers.CharField()
    engine = serializers.CharField(allow_null=True)
    cylinder = serializers.IntegerField(allow_null=True)
    unit = serializers.CharField(allow_blank=True)
    sure = serializers.BooleanField()
    why = serializers.CharField()


class ColumnAnswer(serializers.Serializer[Any]):
    """A column of the file with a few of its values; of a column of position only the name."""

    name = serializers.CharField()
    unit_text = serializers.CharField(allow_blank=True)
    samples = serializers.ListField(child=serializers.CharField())
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    blank_share = serializers.FloatField(allow_null=True)
    guess = GuessAnswer(allow_null=True)


class QuestionAnswer(serializers.Serializer[Any]):
    field = serializers.CharField()
    text = serializers.CharField()
    choices = serializers.ListField(child=serializers.CharField())


class ColumnsAnswer(serializers.Serializer[Any]):
    """What the columns are: as confirmed, else as proposed."""

    state = serializers.CharField()
    columns = ColumnAnswer(many=True)
    mapping = serializers.JSONField(
        allow_null=True, help_text="time, engines, common, units: as it is sent back; empty until somebody has looked"
    )
    clock_zone = serializers.CharField()
    keep_position = serializers.BooleanField()
    confirmed = serializers.BooleanField(help_text="somebody said that this is right")
    questions = QuestionAnswer(many=True, help_text="what must be answered before the file is read")


class ColumnsRequest(serializers.Serializer[Any]):
    """What the columns of this recorder are, from now on."""

    mapping = serializers.DictField(
        child=serializers.JSONField(),
        help_text="time: column, or [date, time]; engines: {“1”: {rpm, manifold_pressure, fuel_flow, oil_temp, "
        "oil_press, tit, cht: [], egt: []}}; common: {oat, alt, airspeed}; units: {column: unit}",
    )
    clock_zone = serializers.CharField(max_length=64, help_text="that the recorder's clock is set to: UTC, Etc/GMT+6")
    keep_position = serializers.BooleanField(default=False, help_text="keep latitude and longitude in what is read")
    flight_date = serializers.DateField(
        required=False, allow_null=True, help_text="the day on which it begins; for a file without dates"
    )


class CandidateAnswer(serializers.Serializer[Any]):
    """A logged flight that a recorded one may be."""

    flight_root = serializers.UUIDField(source="flight.root")
    ended_at = serializers.DateTimeField(source="flight.happened_at")
    kind = serializers.CharField(source="flight.kind")
    airborne_min = serializers.FloatField(source="flight.airborne_min")
    overlap_min = serializers.FloatField()
    shift_s = serializers.FloatField(help_text="by which the recorder's clock would have to be moved on")
    why = serializers.CharField()


class CandidatesAnswer(serializers.Serializer[Any]):
    rows = CandidateAnswer(many=True, help_text="the likeliest first")


class MatchRequest(serializers.Serializer[Any]):
    """Which logged flight a recorded one is."""

    flight_root = serializers.UUIDField(allow_null=True, help_text="empty: none of the logged flights")
    clock_shift_s = serializers.FloatField(
        required=False,
        allow_null=True,
        help_text="seconds to add to the recorder's own time; without it, as it is, or as the flight named explains it",
    )
    reason = serializers.CharField(required=False, allow_blank=True, max_length=500)


class RecordedFlightRequest(serializers.Serializer[Any]):
    """What a person adds to a recorded flight. Its times, minutes and landings are the recording's."""

    engines = FlightEngineRequest(many=True, required=False)
    kind = serializers.CharField(required=False, allow_blank=True, allow_null=True, max_length=80)
    pilot_id = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=2**62)
    chips = serializers.ListField(child=serializers.CharField(), required=False)
    note = serializers.CharField(required=False, allow_blank=True, allow_null=True, max_length=4000)
    confirmed = serializers.ListField(child=serializers.CharField(), required=False, help_text=CONFIRMED)
