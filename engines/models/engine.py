"""Engine types, revised but never edited, and the engines themselves."""

from __future__ import annotations

from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from shop.access import Path


class Induction(models.TextChoices):
    NATURAL = "natural", "naturally aspirated"
    TURBO_NORMALISED = "turbo_normalised", "turbo-normalised"
    TURBOCHARGED = "turbocharged", "turbocharged"
    SUPERCHARGED = "supercharged", "mechanically supercharged"


class FuelSystem(models.TextChoices):
    CARBURETTOR = "carburettor", "carburettor"
    INJECTED = "injected", "fuel injected"
    ELECTRONIC = "electronic", "electronic injection"


class Cooling(models.TextChoices):
    AIR = "air", "air"
    LIQUID = "liquid", "liquid"
    MIXED = "mixed", "liquid and air"


class PropControl(models.TextChoices):
    FIXED = "fixed", "fixed pitch"
    CONSTANT_SPEED = "constant_speed", "constant speed"


class EngineType(models.Model):
    """A maker's designation. What is known of it stands in its revisions."""

    maker = models.CharField(max_length=80)
    designation = models.CharField(max_length=40, unique=True)

    class Meta:
        ordering = ["designation"]

    def __str__(self) -> str:
        return self.designation


class EngineTypeRevision(models.Model):
    """The numbers of an engine type as the shop knew them at one time. A build freezes the one it was issued with.

    Units: cubic inches, hp, rpm, inHg, US quarts, US gal/h, degF, psi, qt/h. An empty value means not stated.
    """

    engine_type = models.ForeignKey(EngineType, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    revised_at = models.DateTimeField(default=timezone.now)
    approved_by = models.ForeignKey("shop.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    source = models.TextField(help_text="document and revision these numbers come from")
    source_date = models.DateField(null=True, blank=True, help_text="date of that revision; empty = not stated")
    unusual = models.JSONField(
        default=list, blank=True, help_text="what lies outside the usual and was confirmed, as sentences"
    )
    unusual_reason = models.TextField(blank=True, help_text="why it is right all the same")

    layout = models.CharField(max_length=40, default="opposed")
    cylinders = models.PositiveSmallIntegerField()
    numbering = models.CharField(max_length=120, blank=True, help_text="where cylinder no. 1 sits, seen from the pilot")
    cylinder_map = models.JSONField(
        null=True,
        blank=True,
        help_text="[[left, right], ...] from the front row back, seen from the pilot's seat; null for a gap",
    )
    displacement_cuin = models.FloatField()
    compression_ratio = models.FloatField()
    rated_hp = models.FloatField()
    rated_rpm = models.FloatField()
    max_continuous_hp = models.FloatField(null=True, blank=True, help_text="empty = as rated")
    max_continuous_rpm = models.FloatField(null=True, blank=True, help_text="empty = as rated")
    engine_turns_per_prop_turn = models.FloatField(null=True, blank=True, help_text="empty = direct drive")
    induction = models.CharField(max_length=20, choices=Induction.choices, default=Induction.NATURAL)
    max_map_inhg = models.FloatField(null=True, blank=True)
    fuel_system = models.CharField(max_length=12, choices=FuelSystem.choices)
    fuel_flow_compensates = models.BooleanField(
        null=True, blank=True, help_text="does full-throttle fuel flow follow air density? empty = unknown"
    )
    prop_control = models.CharField(max_length=16, choices=PropControl.choices, default=PropControl.CONSTANT_SPEED)
    cooling = models.CharField(max_length=8, choices=Cooling.choices, default=Cooling.AIR)
    dry_sump = models.BooleanField(default=False)
    log_only = models.BooleanField(default=False, help_text="outside the standard rules: no built-in judgement")

    sump_full_qt = models.FloatField(help_text="full mark")
    sump_usable_qt = models.FloatField(null=True, blank=True, help_text="between the full mark and the pick-up")
    sump_min_qt = models.FloatField(null=True, blank=True, help_text="lowest level that the engine maker permits")
    settle_qt = models.FloatField(null=True, blank=True, help_text="expected settling level; empty = two below full")
    oil_ceiling_qt_h = models.FloatField(null=True, blank=True, help_text="maker's own; empty = by the formula")

    takeoff_ff_low_gph = models.FloatField(null=True, blank=True)
    takeoff_ff_high_gph = models.FloatField(null=True, blank=True)
    takeoff_ff_at = models.CharField(max_length=120, blank=True, help_text="at which rpm, MP and density altitude")
    cht_watch_degf = models.FloatField(null=True, blank=True)
    cht_limit_degf = models.FloatField(null=True, blank=True)
    cht_limit_source = models.CharField(max_length=200, blank=True, help_text="document of the maker's limit")
    cht_limit_source_date = models.DateField(null=True, blank=True, help_text="date of its revision")
    oil_temp_min_degf = models.FloatField(null=True, blank=True, help_text="minimum before full power")
    oil_temp_normal_degf = models.FloatField(null=True, blank=True)
    oil_temp_max_degf = models.FloatField(null=True, blank=True)
    oil_press_min_psi = models.FloatField(null=True, blank=True, help_text="minimum in flight")
    oil_press_idle_min_psi = models.FloatField(null=True, blank=True)
    oil_press_normal_psi = models.FloatField(null=True, blank=True)
    oil_press_max_psi = models.FloatField(null=True, blank=True)
    tit_limit_degf = models.FloatField(null=True, blank=True)
    altitude_cap_ft = models.FloatField(null=True, blank=True, help_text="highest altitude with enough cooling at 75 %")
    bsfc_best_power_lb_hp_h = models.FloatField(
        null=True,
        blank=True,
        help_text="fuel for a horsepower hour at best power; empty = the usual figure, with doubt",
    )
    fuel_lb_per_gal = models.FloatField(default=6.0)
    chart = models.JSONField(null=True, blank=True, help_text="power chart, see breakin.calc.chart")
    recheck = models.JSONField(
        default=list,
        blank=True,
        help_text="the maker's recheck list: [{item, low, high, unit}], limits where the maker gives some",
    )

    class Meta:
        ordering = ["engine_type", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["engine_type", "number"], name="engine_type_revision_once"),
            models.CheckConstraint(condition=Q(cylinders__gte=1, cylinders__lte=24), name="type_cylinders_in_range"),
            models.CheckConstraint(
                condition=Q(displacement_cuin__gte=30, displacement_cuin__lte=4500), name="type_displacement_in_range"
            ),
            models.CheckConstraint(condition=Q(rated_hp__gte=20, rated_hp__lte=3800), name="type_power_in_range"),
            models.CheckConstraint(condition=Q(rated_rpm__gte=1500, rated_rpm__lte=6500), name="type_rpm_in_range"),
            models.CheckConstraint(condition=Q(sump_full_qt__gte=1, sump_full_qt__lte=60), name="type_sump_in_range"),
            models.CheckConstraint(
                condition=Q(takeoff_ff_low_gph__isnull=True) | Q(takeoff_ff_high_gph__gte=F("takeoff_ff_low_gph")),
                name="type_takeoff_ff_ordered",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.engine_type} rev. {self.number}"

    def clean(self) -> None:
        """Refuse a map of the cylinders that leaves one out or names one twice."""
        if self.cylinder_map and self.cylinders and not self.mapped_rows:
            raise ValidationError(
                {
                    "cylinder_map": f"Write rows of equal length from the front back, with each of the cylinders 1 to "
                    f"{self.cylinders} once and null for a gap: [[2, 1], [4, 3]]."
                }
            )

    @property
    def mapped_rows(self) -> tuple[tuple[int | None, ...], ...]:
        """The cylinder map, front row first, each row from left to right; empty where there is no sound one."""
        rows = self.cylinder_map
        if not isinstance(rows, list) or not all(isinstance(row, list) for row in rows):
            return ()
        named = [number for row in rows for number in row if number is not None]
        whole = all(type(number) is int for number in named)
        if not whole or sorted(named) != list(range(1, self.cylinders + 1)) or len({len(row) for row in rows}) != 1:
            return ()
        return tuple(tuple(row) for row in rows)


class Engine(models.Model):
    """One engine by its serial number. Everything that happens to it follows the serial, never the seat."""

    serial = models.CharField(max_length=40)
    engine_type = models.ForeignKey(EngineType, on_delete=models.PROTECT, related_name="engines")

    ACCESS: ClassVar[Path] = Path(engine="")

    class Meta:
        ordering = ["serial"]
        constraints = [models.UniqueConstraint(fields=["engine_type", "serial"], name="engine_serial_once")]

    def __str__(self) -> str:
        return f"{self.engine_type} s/n {self.serial}"
