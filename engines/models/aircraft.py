"""Aircraft, who holds them, who flies them, and which engine sits where from when to when."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from engines.models.engine import Engine, PropControl
from shop.access import Path
from shop.models import Customer, Period, Person, Place


class Aircraft(models.Model):
    registration = models.CharField(max_length=12, unique=True)
    description = models.CharField(max_length=80, blank=True)
    home = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="aircraft")

    ACCESS: ClassVar[Path] = Path(aircraft="")

    class Meta:
        ordering = ["registration"]
        verbose_name_plural = "aircraft"

    def __str__(self) -> str:
        return self.registration


class Holding(Period):
    """Which customer holds an aircraft, from when to when."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="holdings")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="holdings")

    class Meta:
        ordering = ["aircraft", "since"]
        constraints = [
            models.UniqueConstraint(fields=["aircraft"], condition=Q(until__isnull=True), name="holding_one_now"),
            Period.ends_after_it_starts("holding_period"),
        ]

    def __str__(self) -> str:
        return f"{self.aircraft} held by {self.customer}"


class PilotAssignment(Period):
    """A break-in pilot or instructor assigned to an aircraft for a period."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="assignments")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="assignments")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["aircraft", "person"], condition=Q(until__isnull=True), name="assignment_once"
            ),
            Period.ends_after_it_starts("assignment_period"),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.aircraft}"


class Position(models.TextChoices):
    SINGLE = "single", _("single")
    LEFT = "left", _("LEFT")
    RIGHT = "right", _("RIGHT")
    OTHER = "other", _("other")


class BasisClock(models.TextChoices):
    TACH = "tach", _("tach")
    HOBBS = "hobbs", _("Hobbs")
    RECORDER = "recorder", _("recorder")
    AIRBORNE = "airborne", _("airborne time")


class Installation(Period):
    """An engine in a position of an aircraft for a period.

    Revised, not edited: other attributes mean a new row that `continues` the old one from a moment on.
    """

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="installations")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="installations")
    position = models.CharField(max_length=6, choices=Position.choices, default=Position.SINGLE)
    continues = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="continued_by"
    )
    basis_clock = models.CharField(max_length=8, choices=BasisClock.choices, default=BasisClock.TACH)
    tach_per_hobbs = models.FloatField(null=True, blank=True, help_text="usual ratio; empty = 0.85 until learned")
    prop_control = models.CharField(max_length=16, choices=PropControl.choices, default=PropControl.CONSTANT_SPEED)
    dipstick_offset_qt = models.FloatField(default=0.0, help_text="added to what the stick shows, from the pour-in")
    min_oil_qt = models.FloatField(help_text="minimum for flight")
    min_oil_source = models.CharField(max_length=120, default="POH/AFM")
    has_map = models.BooleanField(default=True)
    has_fuel_flow = models.BooleanField(default=True)
    has_cht_per_cylinder = models.BooleanField(default=True)
    has_tit = models.BooleanField(default=False)
    separator = models.BooleanField(default=False, help_text="air-oil separator fitted")
    winter_kit = models.BooleanField(default=False, help_text="inlets or oil cooler covered for the cold")
    rpm_error = models.FloatField(default=0.0, help_text="reading minus true")
    map_error_inhg = models.FloatField(default=0.0, help_text="reading minus true")

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", since="since", until="until")

    class Meta:
        ordering = ["aircraft", "position", "since"]
        constraints = [
            models.UniqueConstraint(fields=["engine"], condition=Q(until__isnull=True), name="installed_once_now"),
            models.UniqueConstraint(
                fields=["aircraft", "position"], condition=Q(until__isnull=True), name="position_taken_once_now"
            ),
            models.CheckConstraint(
                condition=Q(dipstick_offset_qt__gte=-3, dipstick_offset_qt__lte=3), name="dipstick_offset_in_range"
            ),
            Period.ends_after_it_starts("installation_period"),
        ]

    def __str__(self) -> str:
        return f"{self.engine} on {self.aircraft} {self.get_position_display()}"


class MeterKind(models.TextChoices):
    TACH = "tach", _("tach")
    HOBBS = "hobbs", _("Hobbs")
    RECORDER = "recorder", _("recorder")


class Meter(Period):
    """An hour meter in the aircraft. A change of meter closes one row and opens the next."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="meters")
    position = models.CharField(
        max_length=6, choices=Position.choices, default=Position.SINGLE, help_text="the engine position it counts for"
    )
    kind = models.CharField(max_length=8, choices=MeterKind.choices)
    serial = models.CharField(max_length=40, blank=True)
    reading_at_start_h = models.FloatField()
    reading_at_end_h = models.FloatField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", since="since", until="until")

    class Meta:
        ordering = ["aircraft", "position", "kind", "since"]
        constraints = [
            models.UniqueConstraint(
                fields=["aircraft", "position", "kind"], condition=Q(until__isnull=True), name="meter_one_now"
            ),
            Period.ends_after_it_starts("meter_period"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.aircraft} {self.get_position_display()}"
