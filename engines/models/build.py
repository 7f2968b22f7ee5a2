"""Builds: one break-in of one engine, with the cylinder positions that were disturbed."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from engines.models.engine import Engine, EngineTypeRevision
from shop.access import Path
from shop.models import Person


class BuildKind(models.TextChoices):
    NEW = "new", _("new")
    FACTORY_REBUILT = "factory_rebuilt", _("factory rebuilt")
    OVERHAUL = "overhaul", _("overhaul")
    TOP_OVERHAUL = "top_overhaul", _("top overhaul")
    CYLINDER = "cylinder", _("cylinder replacement")
    RINGS = "rings", _("rings or hone only")


class BuildState(models.TextChoices):
    OPEN = "open", _("open")
    CLOSED = "closed", _("closed out")
    SUPERSEDED = "superseded", _("superseded")
    INCOMPLETE = "incomplete", _("closed incomplete")


class Build(models.Model):
    """The subject of a break-in: a set of disturbed cylinder positions of one engine serial.

    `state` follows the build's events; the break-in's phase stands in its assessment.
    """

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="builds")
    number = models.CharField(max_length=20, unique=True, help_text="the shop's own build number")
    kind = models.CharField(max_length=16, choices=BuildKind.choices)
    type_revision = models.ForeignKey(EngineTypeRevision, on_delete=models.PROTECT, related_name="builds")
    state = models.CharField(max_length=10, choices=BuildState.choices, default=BuildState.OPEN)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    total_time_h = models.FloatField(null=True, blank=True, help_text="engine total time at build; never falls")
    time_since_overhaul_h = models.FloatField(null=True, blank=True, help_text="at build")
    builder = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    inspector = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    owner = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="who looks after it"
    )
    assembly_lube = models.CharField(max_length=80, blank=True, help_text="what the parts were put together with")
    note = models.TextField(blank=True)

    ACCESS: ClassVar[Path] = Path(engine="engine", since="opened_at", until="closed_at")

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.UniqueConstraint(fields=["engine"], condition=Q(state="open"), name="build_one_open"),
            models.CheckConstraint(
                condition=Q(total_time_h__isnull=True) | Q(total_time_h__gte=0, total_time_h__lte=40000),
                name="build_total_time_in_range",
            ),
            models.CheckConstraint(
                condition=~Q(inspector=models.F("builder")) | Q(inspector__isnull=True) | Q(builder__isnull=True),
                name="build_inspected_by_another",
            ),
        ]
        indexes = [models.Index(fields=["engine", "-opened_at"], name="build_newest")]

    def __str__(self) -> str:
        return f"build {self.number} of {self.engine}"


class Finish(models.TextChoices):
    THROUGH_HARDENED = "through_hardened", "through-hardened steel"
    NITRIDED = "nitrided", "nitrided steel"
    PLAIN_STEEL = "plain_steel", "plain or re-honed steel"
    CHROME = "chrome", "channel chrome"
    NICKEL = "nickel", "nickel-carbide composite"


class CylinderPosition(models.Model):
    """What sits at one cylinder position in this build."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="positions")
    number = models.PositiveSmallIntegerField()
    disturbed = models.BooleanField(default=True, help_text="the ring and bore pair is new or re-honed")
    finish = models.CharField(max_length=16, choices=Finish.choices, blank=True)
    barrel_serial = models.CharField(max_length=40, blank=True)
    barrel_lot = models.CharField(max_length=40, blank=True)
    bore = models.CharField(max_length=16, blank=True, help_text="std, +005, +010")
    hone_angle_deg = models.FloatField(null=True, blank=True, help_text="angle between the crossing marks, as measured")
    piston = models.CharField(max_length=40, blank=True, help_text="part number")
    ring_lot = models.CharField(max_length=40, blank=True)
    ring_facing = models.CharField(max_length=40, blank=True)
    ring_gap_in = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["build", "number"]
        constraints = [
            models.UniqueConstraint(fields=["build", "number"], name="cylinder_position_once"),
            models.CheckConstraint(
                condition=Q(disturbed=False) | ~Q(finish=""), name="disturbed_position_names_its_finish"
            ),
        ]

    def __str__(self) -> str:
        return f"no. {self.number} of {self.build}"


class BuildEventKind(models.TextChoices):
    OPENED = "opened", "opened"
    CLOSED_OUT = "closed_out", "closed out"
    REOPENED = "reopened", "reopened"
    SUPERSEDED = "superseded", "superseded"
    CLOSED_INCOMPLETE = "closed_incomplete", "closed incomplete"


class BuildEvent(models.Model):
    """What became of a build, in order. Append-only."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=20, choices=BuildEventKind.choices)
    at = models.DateTimeField()
    hours = models.FloatField(null=True, blank=True, help_text="break-in hours at that moment")
    by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(blank=True)
    detail = models.JSONField(default=dict, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="at")

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.build} {self.get_kind_display()}"


class CellRun(models.Model):
    """A run in the test cell. Engine run time, but never flight hour 1 and never an oil rate."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="cell_runs")
    run_on = models.DateField()
    minutes = models.FloatField()
    steps = models.JSONField(default=list, blank=True, help_text="[[rpm, minutes], ...]")
    oil_kind = models.CharField(max_length=40, blank=True)
    oil_used_qt = models.FloatField(null=True, blank=True)
    cht_max_degf = models.FloatField(null=True, blank=True)
    full_throttle_ff_gph = models.FloatField(null=True, blank=True)
    leaks = models.CharField(max_length=400, blank=True, help_text="empty = nothing was said")
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"cell run of {self.build}, {self.minutes:g} min"


class Preservation(models.Model):
    """An engine preserved for storage, with the day on which that protection ends."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="preservations")
    preserved_on = models.DateField()
    expires_on = models.DateField()
    preservative = models.CharField(max_length=80, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["build"], condition=Q(ended_on__isnull=True), name="preservation_one_now"),
            models.CheckConstraint(
                condition=Q(expires_on__gte=models.F("preserved_on")), name="preservation_expires_later"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.build} preserved until {self.expires_on}"
