"""Files from instruments, kept as they came, and what was read out of them.

`Recording`, `ChannelMap` and `FlightMatch` are facts: written once. `RecordingRead`, `RecordedFlight` and
`RecordedEngine` are worked out from them and may be worked out again; their rows keep their keys.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from engines.models import Aircraft, Engine, Installation
from shop.access import Path
from shop.models import Person


class Recording(models.Model):
    """An instrument's file: stored, hashed and never changed. The same file twice is one recording."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="recordings")
    sha256 = models.CharField(max_length=64)
    file = models.FileField(upload_to="recordings/%Y/%m/")
    original_name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    flight_root = models.UUIDField(null=True, blank=True, help_text="the flight it was handed in with")
    note = models.TextField(blank=True)

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="uploaded_at")

    class Meta:
        ordering = ["-uploaded_at"]
        constraints = [models.UniqueConstraint(fields=["aircraft", "sha256"], name="recording_once")]

    def __str__(self) -> str:
        return f"{self.original_name} of {self.aircraft}"


class ChannelMap(models.Model):
    """Which column of an aircraft's recorder is which channel, in which unit. The newest one of a signature holds.

    signature : SHA-256 of the column names, so that another recorder of the same aircraft has a map of its own.
    mapping : as `breakin.calc.recording` takes it. clock_zone : the zone that the recorder's clock is set to.
    """

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="channel_maps")
    signature = models.CharField(max_length=64)
    mapping = models.JSONField()
    clock_zone = models.CharField(max_length=64, default="UTC")
    keep_position = models.BooleanField(default=False, help_text="keep latitude and longitude in what is read")
    confirmed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField()

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="confirmed_at")

    class Meta:
        ordering = ["aircraft", "-confirmed_at", "-id"]
        indexes = [models.Index(fields=["aircraft", "signature"], name="channel_map_of_recorder")]

    def __str__(self) -> str:
        return f"columns of {self.aircraft}, {self.confirmed_at:%Y-%m-%d}"


class ReadState(models.TextChoices):
    WAITING = "waiting", _("waiting to be read")
    READING = "reading", _("being read")
    ASKS = "asks", _("asks about its columns")
    READ = "read", _("read")
    REFUSED = "refused", _("could not be read")


class RecordingRead(models.Model):
    """How far the reading of a recording has come, and what came of it."""

    recording = models.OneToOneField(Recording, on_delete=models.CASCADE, primary_key=True, related_name="reading")
    state = models.CharField(max_length=8, choices=ReadState.choices, default=ReadState.WAITING)
    step = models.CharField(max_length=80, blank=True, help_text="what is being done now, in words")
    done = models.PositiveBigIntegerField(default=0)
    total = models.PositiveBigIntegerField(default=0)
    problem = models.JSONField(default=dict, blank=True, help_text="{what, row, column, mend} when it was refused")
    look = models.JSONField(default=dict, blank=True, help_text="columns, proposals and questions for the mapping page")
    channel_map = models.ForeignKey(ChannelMap, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    table = models.FileField(upload_to="tables/%Y/%m/", blank=True, help_text="canonical Parquet")
    rows = models.PositiveBigIntegerField(default=0)
    sample_s = models.FloatField(null=True, blank=True)
    notes = models.JSONField(default=list, blank=True, help_text="sentences: what was left out or repaired")
    version = models.PositiveIntegerField(default=0, help_text="of the reader and the analysis")
    flight_date = models.DateField(null=True, blank=True, help_text="of a file without a date, as a person said")
    attempts = models.PositiveSmallIntegerField(default=0, help_text="begun since it was last asked for")
    asked_at = models.DateTimeField(help_text="when it was last queued")
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(aircraft="recording__aircraft", at="recording__uploaded_at")

    class Meta:
        indexes = [models.Index(fields=["state", "asked_at"], name="reading_left_over")]

    def __str__(self) -> str:
        return f"{self.recording}: {self.get_state_display()}"


class RecordedKind(models.TextChoices):
    FLIGHT = "flight", "flight"
    GROUND_RUN = "ground_run", "ground run"
    ABORTED = "aborted", "take-off broken off"


class DatedBy(models.TextChoices):
    FILE = "file", "by the file's own date"
    FLIGHT = "flight", "by the flight it was matched with"
    PERSON = "person", "by hand"
    UNKNOWN = "unknown", "not dated: the file has no date, or a wrong one"


class RecordedFlight(models.Model):
    """One time that the engine ran, as a recording shows it."""

    recording = models.ForeignKey(Recording, on_delete=models.CASCADE, related_name="flights")
    number = models.PositiveIntegerField(help_text="1 is the first in the file")
    kind = models.CharField(max_length=10, choices=RecordedKind.choices)
    first_row = models.PositiveBigIntegerField()
    end_row = models.PositiveBigIntegerField(help_text="the row after the last one")
    began_at = models.DateTimeField(help_text="UTC; of the recorder's clock plus clock_shift_s")
    ended_at = models.DateTimeField()
    dated_by = models.CharField(max_length=8, choices=DatedBy.choices)
    clock_shift_s = models.FloatField(default=0.0, help_text="added to the recorder's own time")
    landings = models.PositiveSmallIntegerField(default=0)
    run_min = models.FloatField()
    airborne_min = models.FloatField()
    quality = models.IntegerField(default=0, help_text="of two recorders on one flight the higher one counts")
    flight_root = models.UUIDField(null=True, blank=True, db_index=True, help_text="the flight it belongs to")
    confirmed = models.BooleanField(default=False, help_text="a person said so; else matched by time")
    summary = models.JSONField(default=dict, blank=True, help_text="events, phases, split, notes")
    version = models.PositiveIntegerField(default=0)

    ACCESS: ClassVar[Path] = Path(aircraft="recording__aircraft", at="began_at")

    class Meta:
        ordering = ["recording", "number"]
        constraints = [models.UniqueConstraint(fields=["recording", "number"], name="recorded_flight_once")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number} of {self.recording}"


class RecordedEngine(models.Model):
    """What one engine did on a recorded flight: `breakin.calc.recording.result.EngineFlight` as JSON."""

    recorded_flight = models.ForeignKey(RecordedFlight, on_delete=models.CASCADE, related_name="engines")
    side = models.CharField(max_length=1, help_text="1: single or left, 2: right")
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="recorded")
    installation = models.ForeignKey(Installation, on_delete=models.PROTECT, related_name="recorded")
    summary = models.JSONField()

    ACCESS: ClassVar[Path] = Path(engine="engine", at="recorded_flight__began_at")

    class Meta:
        ordering = ["recorded_flight", "side"]
        constraints = [models.UniqueConstraint(fields=["recorded_flight", "side"], name="recorded_side_once")]

    def __str__(self) -> str:
        return f"{self.engine}, {self.recorded_flight}"


class FlightMatch(models.Model):
    """A person said which flight a recorded flight is, or that it is none. The newest one holds. Append-only."""

    recorded_flight = models.ForeignKey(RecordedFlight, on_delete=models.PROTECT, related_name="matches")
    flight_root = models.UUIDField(null=True, blank=True, help_text="empty: none of the logged flights")
    clock_shift_s = models.FloatField(default=0.0)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.TextField(blank=True)

    ACCESS: ClassVar[Path] = Path(aircraft="recorded_flight__recording__aircraft", at="at")

    class Meta:
        ordering = ["recorded_flight", "-at", "-id"]

    def __str__(self) -> str:
        return f"{self.recorded_flight} is flight {self.flight_root}"
