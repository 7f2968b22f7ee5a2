"""Accessories with clocks of their own: what an engine carries that is limited by hours or by date."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from engines.models.engine import Engine
from shop.access import Path
from shop.models import Person


class AccessoryKind(models.TextChoices):
    MAGNETO = "magneto", "magneto"
    PROPELLER = "propeller", "propeller"
    GOVERNOR = "governor", "propeller governor"
    HOSES = "hoses", "hoses"
    FUEL_PUMP = "fuel_pump", "fuel pump"
    ALTERNATOR = "alternator", "alternator"
    TURBOCHARGER = "turbocharger", "turbocharger"
    OTHER = "other", "other"


class Accessory(models.Model):
    """One limited item of an engine. It belongs to the engine, never to a build: an overhaul does not touch it.

    What holds for it, and when it was last done, stands in its events.
    """

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="accessories")
    kind = models.CharField(max_length=16, choices=AccessoryKind.choices)
    name = models.CharField(max_length=40, blank=True, help_text="which one, for example left; of another kind: what")

    ACCESS: ClassVar[Path] = Path(engine="engine")

    class Meta:
        ordering = ["engine", "kind", "name", "id"]
        verbose_name_plural = "accessories"
        constraints = [
            models.CheckConstraint(condition=~Q(kind="other") | ~Q(name=""), name="accessory_other_is_named"),
        ]

    def __str__(self) -> str:
        return f"{self.label} of {self.engine}"

    @property
    def label(self) -> str:
        """Its name on pages: "Magneto, left"."""
        if self.kind == AccessoryKind.OTHER:
            return self.name
        what = str(self.get_kind_display())
        return f"{what[0].upper()}{what[1:]}{f', {self.name}' if self.name else ''}"


class AccessoryAct(models.TextChoices):
    OVERHAULED = "overhauled", "overhauled"
    REPLACED = "replaced", "replaced"
    INSPECTED = "inspected", "inspected"
    INTERVAL = "interval", "its interval is another now; nothing was done to it"
    REMOVED = "removed", "no longer watched here"


RESETTING_ACTS = (AccessoryAct.OVERHAULED, AccessoryAct.REPLACED, AccessoryAct.INSPECTED)


class AccessoryEvent(models.Model):
    """What was done to one accessory: the only thing that sets its clock anew. Append-only.

    Each row says what holds from then on: interval, its source, and the part. A row that is taken back is corrected by
    one that says `withdrawn`, with its reason in `words`.
    """

    accessory = models.ForeignKey(Accessory, on_delete=models.PROTECT, related_name="events")
    root = models.UUIDField(default=uuid.uuid4, db_index=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by", editable=False
    )
    withdrawn = models.BooleanField(default=False, help_text="this row says that the event never happened")
    act = models.CharField(max_length=12, choices=AccessoryAct.choices)
    done_on = models.DateField()
    total_time_h = models.FloatField(null=True, blank=True, help_text="total time of the engine then")
    own_hours_h = models.FloatField(
        null=True, blank=True, help_text="hours that it had of its interval already; empty = none"
    )
    interval_h = models.FloatField(null=True, blank=True)
    interval_months = models.PositiveSmallIntegerField(null=True, blank=True)
    source = models.CharField(max_length=200, help_text="document and revision the interval comes from")
    part = models.CharField(max_length=80, blank=True, help_text="part or serial number")
    done_by = models.CharField(max_length=120, blank=True, help_text="who did it: a person or a firm")
    words = models.TextField(blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)

    ACCESS: ClassVar[Path] = Path(engine="accessory__engine", at="recorded_at")

    class Meta:
        ordering = ["accessory", "done_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(interval_h__isnull=False) | Q(interval_months__isnull=False), name="accessory_has_interval"
            ),
            models.CheckConstraint(
                condition=Q(interval_h__isnull=True) | Q(interval_h__gt=0), name="accessory_interval_hours_positive"
            ),
            models.CheckConstraint(
                condition=Q(interval_months__isnull=True) | Q(interval_months__gte=1),
                name="accessory_interval_months_positive",
            ),
            models.CheckConstraint(
                condition=Q(total_time_h__isnull=True) | Q(total_time_h__gte=0, total_time_h__lte=40000),
                name="accessory_total_time_in_range",
            ),
            models.CheckConstraint(
                condition=Q(own_hours_h__isnull=True) | Q(own_hours_h__gte=0), name="accessory_own_hours_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.accessory} {self.get_act_display()} on {self.done_on}"
