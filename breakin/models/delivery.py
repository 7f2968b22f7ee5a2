"""How the first two hours are to be flown: planned by the shop before the aircraft is handed over."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from engines.models import Aircraft
from shop.access import Path
from shop.models import Person


class DeliveryPlan(models.Model):
    """One revision of the plan of an aircraft; the newest holds for the builds opened before it. Append-only.

    Units: min, NM, kt, ft, h. Fields are kept by name, since not every field is on file.
    """

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="delivery_plans")
    revision = models.PositiveIntegerField()
    home = models.CharField(max_length=80, help_text="where the aircraft is at home once it is handed over")
    ferried = models.BooleanField(help_text="is it flown home?")
    ferry_min = models.FloatField(null=True, blank=True, help_text="minutes in the air")
    ferry_nm = models.FloatField(null=True, blank=True, help_text="distance, where it was given")
    ferry_kt = models.FloatField(null=True, blank=True, help_text="ground speed, where it was given")
    ferry_altitude_ft = models.FloatField(null=True, blank=True)
    ferry_after_h = models.FloatField(
        null=True, blank=True, help_text="hours of the first two that are flown before the ferry"
    )
    ferry_pilot = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True, help_text="what was agreed with the customer")
    typed = models.JSONField(default=dict, blank=True, help_text="field: [text, unit] as it was typed")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="made_at")

    class Meta:
        ordering = ["aircraft", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["aircraft", "revision"], name="delivery_revision_once"),
            models.CheckConstraint(
                condition=Q(ferried=False) | Q(ferry_min__gt=0, ferry_altitude_ft__isnull=False, ferry_after_h__gte=0),
                name="delivery_ferry_is_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"delivery plan rev. {self.revision} of {self.aircraft}"


class DeliveryHour(models.Model):
    """One of the first two hours of a delivery plan. Append-only."""

    plan = models.ForeignKey(DeliveryPlan, on_delete=models.PROTECT, related_name="hours")
    number = models.PositiveSmallIntegerField()
    field = models.CharField(max_length=80)
    elevation_ft = models.FloatField()
    oat_degf = models.FloatField(null=True, blank=True, help_text="temperature expected at the field")
    altitude_ft = models.FloatField()
    pilot = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["plan", "number"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="delivery_hour_once"),
            models.CheckConstraint(condition=Q(number__in=[1, 2]), name="delivery_hour_is_one_of_two"),
        ]

    def __str__(self) -> str:
        return f"hour {self.number} of {self.plan}"
