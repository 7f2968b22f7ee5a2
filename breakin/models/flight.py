"""Flights, what each engine did on them, and the blocks of steady power."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from breakin.models.plan import IssuedCard
from engines.models import Aircraft, Engine, Installation
from shop.access import Path
from shop.facts import Fact
from shop.models import Person, Place


class FlightKind(models.TextChoices):
    RUN_IN = "run_in", _("run-in flight")
    FERRY = "ferry", _("ferry")
    CHECK = "check", _("check flight")
    TRAINING = "training", _("training")
    PRIVATE = "private", _("private")
    GROUND_RUN = "ground_run", _("ground run only")


class Chip(models.TextChoices):
    """What the pilot noticed, in one touch."""

    ROUGH = "rough", _("rough")
    SMOKE = "smoke", _("smoke")
    SMELL = "smell", _("smell of fuel or burning")
    OIL_SEEN = "oil_seen", _("oil seen")
    WINDSCREEN = "windscreen", _("oil on the windscreen")
    LOW_POWER = "low_power", _("low power on take-off")
    STRIKE = "strike", _("propeller strike or sudden stop")
    NONE = "none", _("nothing unusual")


class Flight(Fact):
    """One flight, or one ground run, of an aircraft. `happened_at` is its end: when it was over and could be told."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="flights")
    pilot = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=FlightKind.choices, default=FlightKind.RUN_IN)
    field = models.ForeignKey(Place, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    field_elevation_ft = models.FloatField(null=True, blank=True)
    altimeter_inhg = models.FloatField(null=True, blank=True)
    oat_ground_degf = models.FloatField(null=True, blank=True)
    off_block_at = models.DateTimeField(null=True, blank=True)
    on_block_at = models.DateTimeField(null=True, blank=True)
    airborne_min = models.FloatField()
    ground_before_min = models.FloatField(null=True, blank=True)
    ground_after_min = models.FloatField(null=True, blank=True)
    landings = models.PositiveSmallIntegerField(null=True, blank=True)
    persons_aboard = models.PositiveSmallIntegerField(null=True, blank=True)
    chips = models.JSONField(default=list, blank=True, help_text="values of Chip")

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="happened_at")

    class Meta(Fact.Meta):
        indexes = [models.Index(fields=["aircraft", "happened_at"], name="flight_in_order")]
        constraints = [
            models.CheckConstraint(
                condition=Q(airborne_min__gte=0, airborne_min__lte=840), name="flight_airborne_hard"
            ),
            models.CheckConstraint(
                condition=Q(ground_before_min__isnull=True) | Q(ground_before_min__gte=0, ground_before_min__lte=180),
                name="flight_ground_before_hard",
            ),
            models.CheckConstraint(
                condition=Q(ground_after_min__isnull=True) | Q(ground_after_min__gte=0, ground_after_min__lte=180),
                name="flight_ground_after_hard",
            ),
            models.CheckConstraint(
                condition=Q(altimeter_inhg__isnull=True) | Q(altimeter_inhg__gte=28.0, altimeter_inhg__lte=31.2),
                name="flight_altimeter_hard",
            ),
            models.CheckConstraint(
                condition=Q(off_block_at__isnull=True)
                | Q(on_block_at__isnull=True)
                | Q(on_block_at__gte=F("off_block_at")),
                name="flight_times_ordered",
            ),
        ]

    def __str__(self) -> str:
        return f"flight of {self.aircraft} on {self.local_date}, {self.airborne_min:g} min"


class FlightEngine(models.Model):
    """What one engine did on one flight. Written with the flight and never alone."""

    flight = models.ForeignKey(Flight, on_delete=models.PROTECT, related_name="engines")
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="flights")
    installation = models.ForeignKey(Installation, on_delete=models.PROTECT, related_name="flights")

    meter_kind = models.CharField(max_length=8, blank=True, help_text="which clock the meter readings are from")
    meter_start_h = models.FloatField(null=True, blank=True)
    meter_end_h = models.FloatField(null=True, blank=True)
    other_meters = models.JSONField(
        default=dict, blank=True, help_text='further clocks read on this flight: {"hobbs": [start, end]}'
    )
    hours = models.FloatField(help_text="run hours of this flight on the basis clock")
    hours_estimated = models.BooleanField(default=False, help_text="from another clock: may remind, never close out")

    as_on_card = models.ForeignKey(IssuedCard, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    takeoff_rpm = models.FloatField(null=True, blank=True)
    takeoff_map_inhg = models.FloatField(null=True, blank=True)
    takeoff_ff_gph = models.FloatField(null=True, blank=True)
    climb_cht_degf = models.JSONField(default=dict, blank=True, help_text='{"1000": 395, ...} ft above the field')
    cht_max_degf = models.FloatField(null=True, blank=True)
    cht_over_watch = models.CharField(
        max_length=12,
        blank=True,
        choices=[
            ("no", _("no")),
            ("under_5", _("under 5 min")),
            ("longer", _("longer")),
            ("not_looked", _("not looked")),
        ],
    )
    cht_falling_by_3000 = models.CharField(
        max_length=12,
        blank=True,
        choices=[("yes", _("yes")), ("no", _("no")), ("not_looked", _("not looked"))],
    )
    cht_cruise_mean_degf = models.FloatField(null=True, blank=True, help_text="mean of the heads in level cruise")
    oil_temp_max_degf = models.FloatField(null=True, blank=True)
    oil_press_min_psi = models.FloatField(null=True, blank=True, help_text="lowest in flight")
    oil_press_idle_psi = models.FloatField(null=True, blank=True, help_text="idle, hot")
    tit_max_degf = models.FloatField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="engine", at="flight__happened_at")

    class Meta:
        ordering = ["flight", "id"]
        constraints = [
            models.UniqueConstraint(fields=["flight", "engine"], name="engine_once_a_flight"),
            models.CheckConstraint(condition=Q(hours__gte=0, hours__lte=14), name="flight_engine_hours_hard"),
            models.CheckConstraint(
                condition=Q(meter_start_h__isnull=True)
                | Q(meter_end_h__isnull=True)
                | Q(meter_end_h__gte=F("meter_start_h")),
                name="meter_runs_forward",
            ),
            models.CheckConstraint(
                condition=Q(cht_max_degf__isnull=True) | Q(cht_max_degf__gte=50, cht_max_degf__lte=600),
                name="flight_engine_cht_hard",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.engine} on {self.flight}"


class Mixture(models.TextChoices):
    FIRST_PEAK = "first_peak", _("100 degF rich of peak on the first cylinder to peak")
    RICH = "rich", _("rich by the POH")
    OTHER = "other", _("other")


class CowlFlaps(models.TextChoices):
    OPEN = "open", _("open")
    TRAIL = "trail", _("trail")
    CLOSED = "closed", _("closed")
    NONE = "none", _("none fitted")


class PowerBlock(models.Model):
    """Some minutes at one power setting. Percent power is computed from it, never stored with it."""

    flight_engine = models.ForeignKey(FlightEngine, on_delete=models.PROTECT, related_name="blocks")
    order = models.PositiveSmallIntegerField()
    duration_min = models.FloatField()
    stated_band = models.CharField(max_length=4, blank=True, help_text="75 or 65 where flown as on the card")
    pressure_altitude_ft = models.FloatField(null=True, blank=True)
    oat_degf = models.FloatField(null=True, blank=True)
    rpm = models.FloatField(null=True, blank=True)
    map_inhg = models.FloatField(null=True, blank=True)
    fuel_flow_gph = models.FloatField(null=True, blank=True)
    claimed_pct = models.FloatField(null=True, blank=True)
    mixture = models.CharField(max_length=10, choices=Mixture.choices, blank=True)
    cowl_flaps = models.CharField(max_length=6, choices=CowlFlaps.choices, blank=True)
    cht_max_degf = models.FloatField(null=True, blank=True)
    cht_mean_degf = models.FloatField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="flight_engine__engine", at="flight_engine__flight__happened_at")

    class Meta:
        ordering = ["flight_engine", "order"]
        constraints = [
            models.UniqueConstraint(fields=["flight_engine", "order"], name="block_order_once"),
            models.CheckConstraint(condition=Q(duration_min__gte=1, duration_min__lte=400), name="block_duration_hard"),
            models.CheckConstraint(
                condition=Q(map_inhg__isnull=True) | Q(map_inhg__gte=8, map_inhg__lte=70), name="block_map_hard"
            ),
            models.CheckConstraint(
                condition=Q(rpm__isnull=True) | Q(rpm__gte=500, rpm__lte=6500), name="block_rpm_hard"
            ),
        ]

    def __str__(self) -> str:
        return f"block {self.order}, {self.duration_min:g} min"


class MergeDecision(models.Model):
    """Two entries were one flight: which one counts. Nothing is deleted. Append-only."""

    kept_root = models.UUIDField()
    dropped_root = models.UUIDField(unique=True)
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(kept_root=F("dropped_root")), name="merge_of_two_different_flights")
        ]

    def __str__(self) -> str:
        return f"{self.dropped_root} merged into {self.kept_root}"
