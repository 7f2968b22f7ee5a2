"""Run-in plans: a template, frozen for a build when it is issued, and the cards made from it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from breakin.models.oil import OilKind
from engines.models import Build
from shop.access import Path
from shop.models import Person


def follow_up_days() -> list[int]:
    """After how many days each follow-up is due where its hours have not been flown. Common practice, no source."""
    return [30, 90, 180]


class StageKind(models.TextChoices):
    GROUND = "ground", _("ground budget")
    CLIMB = "climb", _("climb")
    HOUR_1 = "hour_1", _("hour 1, constant power")
    HOUR_2 = "hour_2", _("hour 2, 15 min and 15 min")
    ALTERNATING = "alternating", _("30 min and 30 min")
    SETTLE = "settle", _("settling")


def filter_table() -> dict[str, str]:
    """How many pieces a filter may hold: up to 5 slivers, up to 15 flakes. Own choice, no published source."""
    return {"sliver": "few", "flake": "some"}


class PlanBody(models.Model):
    """The numbers of a plan. Units: percent of rated power, h, qt/h, min, ft."""

    variant = models.CharField(max_length=40, help_text="for example: constant speed, fixed pitch, turbo, partial")
    source = models.TextField(help_text="document the plan follows")
    source_revision = models.CharField(max_length=80)
    credit = models.JSONField(help_text='{"75": [72, 85], "65": [62, 68]}')
    low = models.FloatField(default=60.0, help_text="airborne below this share of rated power is light running")
    expected_low_h = models.FloatField()
    expected_high_h = models.FloatField()
    minimum_h = models.FloatField(help_text="never ready for review before")
    accept_qt_h = models.FloatField()
    watch_qt_h = models.FloatField()
    alarm_qt_h = models.FloatField()
    oil_kind = models.CharField(max_length=8, choices=OilKind.choices, default=OilKind.MINERAL)
    ground_note_min = models.FloatField(default=10.0)
    ground_call_min = models.FloatField(default=20.0)
    first_oil_h = models.FloatField(default=10.0)
    first_oil_from_h = models.FloatField(default=8.0)
    first_oil_until_h = models.FloatField(default=12.0)
    follow_up_h = models.JSONField(default=list, help_text="hours after close-out, for example [10, 25, 50]")
    follow_up_days = models.JSONField(
        default=follow_up_days, blank=True, help_text="days after close-out, whichever comes first, as [30, 90, 180]"
    )
    idle_days = models.JSONField(default=list, help_text="days without a flight: nudge, chase, call, manager")
    first_check_h = models.FloatField(default=25.0, help_text="compression and bores are not judged before")
    filter_table = models.JSONField(
        default=filter_table, blank=True, help_text="most pieces of each material in a filter: none, few, some, many"
    )

    class Meta:
        abstract = True


class PlanTemplate(PlanBody):
    """What the shop starts from. `stages` has the fields of PlanStage, one object a stage.

    Revised, never edited: the newest revision of a name is the one that is issued, and plans point to theirs.
    """

    name = models.CharField(max_length=80)
    revision = models.PositiveIntegerField(default=1)
    stages = models.JSONField()
    rates_by_type = models.BooleanField(default=True, help_text="the rates of a plan follow from its engine type")
    hours_by_finish = models.BooleanField(default=True, help_text="its hours follow from the slowest finish fitted")
    copied_from = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="copies")
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name", "-revision"]
        constraints = [models.UniqueConstraint(fields=["name", "revision"], name="plan_template_revision_once")]

    def __str__(self) -> str:
        return self.name


class RunInPlan(PlanBody):
    """The plan of one build, frozen. A re-issue is the next revision; the newest revision holds."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="plans")
    revision = models.PositiveIntegerField()
    template = models.ForeignKey(PlanTemplate, null=True, blank=True, on_delete=models.PROTECT, related_name="plans")
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(blank=True, help_text="why it was re-issued")

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="issued_at")

    class Meta:
        ordering = ["build", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["build", "revision"], name="plan_revision_once"),
            models.CheckConstraint(condition=Q(expected_high_h__gte=F("expected_low_h")), name="plan_hours_ordered"),
            models.CheckConstraint(
                condition=Q(watch_qt_h__gte=F("accept_qt_h"), alarm_qt_h__gte=F("watch_qt_h")),
                name="plan_rates_ordered",
            ),
        ]

    def __str__(self) -> str:
        return f"plan rev. {self.revision} of {self.build}"


class PlanStage(models.Model):
    """One stage of a frozen plan."""

    plan = models.ForeignKey(RunInPlan, on_delete=models.PROTECT, related_name="stages")
    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=StageKind.choices)
    minutes = models.JSONField(default=list, help_text='minute table: [[60, "75"]] or [[15, "75"], [15, "65"], ...]')
    cap_h = models.FloatField(null=True, blank=True, help_text="break-in hours at which the stage ends in any case")
    rpm = models.FloatField(null=True, blank=True, help_text="planned rpm")
    climb_to_ft = models.FloatField(null=True, blank=True)
    climb_reference = models.CharField(
        max_length=8, choices=[("field", _("above the field")), ("sea", _("above sea level"))], default="field"
    )
    altitude_max_ft = models.FloatField(null=True, blank=True, help_text="highest altitude for power or cooling")
    mixture = models.TextField(blank=True)
    cowl_flaps = models.TextField(blank=True)
    aboard = models.TextField(blank=True, help_text="who may be aboard")
    advice = models.TextField(blank=True)

    class Meta:
        ordering = ["plan", "order"]
        constraints = [models.UniqueConstraint(fields=["plan", "order"], name="plan_stage_once")]

    def __str__(self) -> str:
        return f"{self.plan}: {self.get_kind_display()}"


class IssuedCard(models.Model):
    """A next-flight card as it was handed out: what "as on the card" refers to. Append-only."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="cards")
    number = models.PositiveIntegerField()
    plan = models.ForeignKey(RunInPlan, on_delete=models.PROTECT, related_name="cards")
    stage = models.CharField(max_length=12, choices=StageKind.choices)
    minutes = models.JSONField(help_text='minute table: [[minutes, "75" or "65"], ...]')
    issued_at = models.DateTimeField()
    valid_until = models.DateTimeField()
    detail = models.JSONField(default=dict, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="issued_at")

    class Meta:
        ordering = ["build", "-number"]
        constraints = [models.UniqueConstraint(fields=["build", "number"], name="card_number_once")]

    def __str__(self) -> str:
        return f"card {self.number} of {self.build}"
