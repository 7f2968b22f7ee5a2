"""What a technician looked at and found."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from engines.models.engine import Engine
from shop.access import Path
from shop.facts import Fact
from shop.models import Person


class InspectionKind(models.TextChoices):
    OIL_CHECK = "oil_check", "oil check"
    OIL_FILTER = "oil_filter", "oil change and filter"
    LEAK = "leak", "leak and torque look"
    COMPRESSION = "compression", "differential compression"
    BORESCOPE = "borescope", "borescope"
    OIL_ANALYSIS = "oil_analysis", "oil analysis"
    TORQUE = "torque", "torque and rigging recheck"
    FUEL_FLOW = "fuel_flow", "fuel-flow set-up"
    INSTRUMENTS = "instruments", "instrument check"
    PRESERVATION = "preservation", "preservation"
    BAFFLE = "baffle", "baffle and cooling check"
    TIMING = "timing", "ignition timing"
    STATIC_RPM = "static_rpm", "static rpm run-up"
    INDUCTION = "induction", "manifold-pressure and intake check"


class InspectionResult(models.TextChoices):
    NORMAL = "normal", "normal"
    WATCH = "watch", "watch"
    STOP = "stop", "stop"


class Inspection(Fact):
    """A technician's inspection: an event that can close a due item. What was measured stands in `results`."""

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=16, choices=InspectionKind.choices)
    hours = models.FloatField(null=True, blank=True, help_text="break-in hours at the inspection")
    performed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    inspector = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    result = models.CharField(max_length=8, choices=InspectionResult.choices)
    results = models.JSONField(default=dict, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="engine", at="happened_at")

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.engine} on {self.local_date}"
