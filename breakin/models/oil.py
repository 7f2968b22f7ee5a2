"""Oil events: readings, additions, drains and fills, losses that were seen."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shop.access import Path
from shop.facts import Fact


class OilEventKind(models.TextChoices):
    READING = "reading", "reading"
    ADDITION = "addition", "addition"
    NONE_ADDED = "none_added", "none added"
    DRAIN_FILL = "drain_fill", "drain and fill"
    LOSS_SEEN = "loss_seen", "loss seen"


class OilKind(models.TextChoices):
    MINERAL = "mineral", _("straight mineral")
    DISPERSANT = "ad", _("ashless dispersant")
    OTHER = "other", _("other or unknown")


class When(models.TextChoices):
    BEFORE = "before", _("before the flight")
    AFTER = "after", _("after the flight")


class Container(models.TextChoices):
    US_QUART = "us_qt", _("US quart")
    LITRE = "litre", _("1 L bottle")
    IMPERIAL_QUART = "imp_qt", _("imperial quart")
    MEASURED = "measured", _("measured amount")


class OilEvent(Fact):
    """Something that happened to the oil of one engine. Quarts are US quarts.

    `hours` is where it stands on the engine's break-in clock when that was told; else it follows from the flight.
    """

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="oil_events")
    kind = models.CharField(max_length=10, choices=OilEventKind.choices)
    flight_root = models.UUIDField(null=True, blank=True, db_index=True)
    when = models.CharField(max_length=6, choices=When.choices, blank=True)
    meter_reading_h = models.FloatField(null=True, blank=True)
    order = models.PositiveSmallIntegerField(default=0, help_text="order of events that share one moment")

    level_qt = models.FloatField(null=True, blank=True)
    minutes_since_shutdown = models.FloatField(null=True, blank=True)
    level_ground = models.BooleanField(null=True, blank=True)
    wiped_twice = models.BooleanField(null=True, blank=True)
    recalled = models.BooleanField(default=False, help_text="told from memory")
    u_qt = models.FloatField(null=True, blank=True, help_text="one-sigma uncertainty; empty = by the protocol")
    belly_oil = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=[(0, _("none")), (1, _("film")), (2, _("drips")), (3, _("streaming"))]
    )

    amount_qt = models.FloatField(null=True, blank=True, help_text="added, or lost where seen")
    container = models.CharField(max_length=10, choices=Container.choices, blank=True)
    oil_kind = models.CharField(max_length=8, choices=OilKind.choices, blank=True)
    brand = models.CharField(max_length=80, blank=True)
    drained_qt = models.FloatField(null=True, blank=True)
    filled_qt = models.FloatField(null=True, blank=True)
    filter_changed = models.BooleanField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="engine", at="happened_at")

    class Meta(Fact.Meta):
        indexes = [models.Index(fields=["engine", "happened_at"], name="oil_event_in_order")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind="reading") | Q(level_qt__isnull=False), name="oil_reading_has_a_level"
            ),
            models.CheckConstraint(
                condition=~Q(kind="addition") | Q(amount_qt__gt=0, oil_kind__gt=""), name="oil_addition_has_amount_kind"
            ),
            models.CheckConstraint(
                condition=~Q(kind="drain_fill") | Q(filled_qt__gte=0), name="oil_fill_has_an_amount"
            ),
            models.CheckConstraint(condition=Q(level_qt__isnull=True) | Q(level_qt__gte=0), name="oil_level_hard"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.engine} on {self.local_date}"
