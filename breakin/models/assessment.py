"""What the server concludes from the facts of a build, and what it asks of people."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from engines.models import Aircraft, Build, Engine, Installation
from shop.access import Path
from shop.models import Person


class Phase(models.TextChoices):
    PRESERVED = "preserved", _("preserved")
    AWAITING = "awaiting", _("awaiting first flight")
    HOUR_1 = "hour_1", _("first hour")
    HOUR_2 = "hour_2", _("second hour")
    ALTERNATING = "alternating", _("alternating")
    SETTLING = "settling", _("settling")
    PROVISIONAL = "provisional", _("provisionally settled")
    REVIEW = "review", _("ready for review")
    CLOSED = "closed", _("closed out")
    FOLLOW_UP = "follow_up", _("follow-up")
    INCOMPLETE = "incomplete", _("closed incomplete")
    LOG_ONLY = "log_only", _("log only")


class Lane(models.IntegerChoices):
    """Where a build stands on the board: the first that holds. The number is the order of the lanes."""

    STOPPED = 1, "Stopped"
    CALL = 2, "Call today"
    LATE = 3, "Late"
    SLOW = 4, "Slow"
    QUIET = 5, "Quiet"
    REVIEW = 6, "Ready for review"
    RUNNING = 7, "Running in"
    FOLLOW_UP = 8, "Follow-up"
    NOT_FLYING = 9, "Not flying yet"


class Severity(models.IntegerChoices):
    NOTE = 1, _("note")
    WATCH = 2, _("watch")
    CALL = 3, _("call")
    STOP = 4, _("stop")


_BEGINS = ["bool_ops", "varchar_pattern_ops"]


class Assessment(models.Model):
    """The one current judgement of a build. Everything people look at is read from here.

    The columns from `registration` on are what a row of the fleet board shows; `detail` holds the rest in the shape of
    breakin.judgement.Judgement.
    """

    build = models.OneToOneField(Build, on_delete=models.PROTECT, related_name="assessment")
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="+")
    aircraft = models.ForeignKey(Aircraft, null=True, blank=True, on_delete=models.PROTECT, related_name="assessments")
    installation = models.ForeignKey(Installation, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    live = models.BooleanField(default=True, help_text="open, or closed with something outstanding")
    phase = models.CharField(max_length=12, choices=Phase.choices, default=Phase.AWAITING)
    reopened = models.BooleanField(default=False)
    stopped = models.BooleanField(default=False)
    lane = models.PositiveSmallIntegerField(choices=Lane.choices, default=Lane.NOT_FLYING)
    lane_reasons = models.JSONField(default=list, blank=True)
    detail = models.JSONField(default=dict, blank=True)

    inputs_digest = models.CharField(max_length=64, blank=True)
    rules_version = models.CharField(max_length=64, blank=True)
    computed_at = models.DateTimeField(null=True, blank=True)
    data_until = models.DateTimeField(null=True, blank=True, help_text="newest fact that went in")
    next_change_at = models.DateTimeField(null=True, blank=True, help_text="when time alone can change the judgement")
    dirty_at = models.DateTimeField(null=True, blank=True, help_text="a fact came in that is not yet judged")

    registration = models.CharField(max_length=12, blank=True)
    side = models.CharField(max_length=6, blank=True)
    twin = models.BooleanField(default=False)
    serial = models.CharField(max_length=40, blank=True)
    customer_name = models.CharField(max_length=120, blank=True)
    type_name = models.CharField(max_length=40, blank=True)
    build_kind = models.CharField(max_length=16, blank=True)
    finish = models.CharField(max_length=60, blank=True)
    hours = models.FloatField(default=0.0)
    expected_low_h = models.FloatField(null=True, blank=True)
    expected_high_h = models.FloatField(null=True, blank=True)
    first_two_word = models.CharField(max_length=24, blank=True)
    oil_level_qt = models.FloatField(null=True, blank=True)
    oil_rate_qt_h = models.FloatField(null=True, blank=True)
    oil_rate_u_qt_h = models.FloatField(null=True, blank=True)
    oil_word = models.CharField(max_length=24, blank=True)
    takeoff_ff_word = models.CharField(max_length=32, blank=True)
    cht_max_degf = models.FloatField(null=True, blank=True)
    cht_line_degf = models.FloatField(null=True, blank=True)
    next_touch = models.CharField(max_length=80, blank=True)
    next_touch_h = models.FloatField(null=True, blank=True)
    next_touch_on = models.DateField(null=True, blank=True)
    last_heard_at = models.DateTimeField(null=True, blank=True)
    stops = models.PositiveSmallIntegerField(default=0)
    calls = models.PositiveSmallIntegerField(default=0)
    watches = models.PositiveSmallIntegerField(default=0)
    notes = models.PositiveSmallIntegerField(default=0)
    call_reason = models.CharField(max_length=240, blank=True, help_text="one sentence: why to phone today")
    evidence_share = models.FloatField(null=True, blank=True, help_text="share of flights with grade A or B")
    owner_name = models.CharField(max_length=80, blank=True)
    sort_key = models.CharField(max_length=80, blank=True, help_text="lane, then registration and side: pages by key")
    asks = models.BooleanField(default=False, help_text="stands on the list of today")
    place_name = models.CharField(max_length=80, blank=True, help_text="home of the aircraft; empty in the shop")

    ACCESS: ClassVar[Path] = Path(engine="engine", current=True)

    class Meta:
        indexes = [
            models.Index(fields=["live", "sort_key"], name="board_order"),
            models.Index(fields=["live", "lane", "sort_key"], name="board_lane_order"),
            models.Index(fields=["live", "registration"], name="board_registration"),
            models.Index(
                fields=["asks", "place_name", "customer_name", "registration", "side", "id"], name="today_order"
            ),
            models.Index(fields=["live", "customer_name"], name="board_customer"),
            # Beginnings are found by these: in most collations PostgreSQL uses no other index for LIKE.
            models.Index(fields=["live", "registration"], name="board_find_registration", opclasses=_BEGINS),
            models.Index(fields=["live", "serial"], name="board_find_serial", opclasses=_BEGINS),
            models.Index(fields=["live", "customer_name"], name="board_find_customer", opclasses=_BEGINS),
            models.Index(fields=["next_change_at"], condition=Q(live=True), name="assess_when_due"),
            models.Index(fields=["dirty_at"], condition=Q(dirty_at__isnull=False), name="assess_dirty"),
        ]

    def __str__(self) -> str:
        return f"{self.build}: {self.get_phase_display()}"


class AssessmentDay(models.Model):
    """How a build stood on a day: one row a day on which something changed."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="days")
    day = models.DateField()
    phase = models.CharField(max_length=12, choices=Phase.choices)
    stopped = models.BooleanField()
    lane = models.PositiveSmallIntegerField(choices=Lane.choices)
    hours = models.FloatField()
    oil_rate_qt_h = models.FloatField(null=True, blank=True)
    oil_rate_u_qt_h = models.FloatField(null=True, blank=True)
    p_stabilized = models.FloatField(null=True, blank=True)
    inputs_digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["build", "day"]
        constraints = [models.UniqueConstraint(fields=["build", "day"], name="assessment_day_once")]

    def __str__(self) -> str:
        return f"{self.build} on {self.day}"


class LaneCount(models.Model):
    """How many live builds stand in each lane; kept by the assessment, so that the board need not count."""

    lane = models.PositiveSmallIntegerField(choices=Lane.choices, unique=True)
    builds = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.get_lane_display()}: {self.builds}"


class FindingState(models.TextChoices):
    OPEN = "open", "open"
    ACKNOWLEDGED = "acknowledged", "acknowledged"
    CLEARED = "cleared", "cleared"
    GONE = "gone", "no longer found"


class Finding(models.Model):
    """What a rule found. Unique by build, rule and occurrence, so that judging twice finds it once."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="findings")
    rule = models.CharField(max_length=40)
    occurrence = models.CharField(max_length=120, help_text="made from the roots of the facts that show it")
    rule_version = models.PositiveSmallIntegerField()
    severity = models.PositiveSmallIntegerField(choices=Severity.choices)
    state = models.CharField(max_length=12, choices=FindingState.choices, default=FindingState.OPEN)
    title = models.CharField(max_length=120)
    text = models.TextField(help_text="what was found, in a sentence with its numbers and units")
    said = models.JSONField(default=dict, blank=True, help_text="title and text as messages, see breakin.calc.said")
    why = models.TextField(help_text="the rule in plain words")
    source = models.CharField(max_length=200, help_text="where the line comes from: plan, engine type, POH/AFM")
    numbers = models.JSONField(default=dict, blank=True)
    evidence = models.JSONField(default=list, blank=True, help_text='[{"kind": "flight", "root": "..."}, ...]')
    for_customer = models.BooleanField(default=True, help_text="may the customer read it?")
    happened_at = models.DateTimeField(help_text="moment of the fact that shows it")
    opened_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="happened_at", customer_flag="for_customer")

    class Meta:
        ordering = ["-severity", "-happened_at", "id"]
        constraints = [models.UniqueConstraint(fields=["build", "rule", "occurrence"], name="finding_once")]
        indexes = [models.Index(fields=["build", "state"], name="finding_open")]

    def __str__(self) -> str:
        return f"{self.title} ({self.get_severity_display()}), {self.build}"


class Verdict(models.TextChoices):
    AGREE = "agree", "agree"
    FALSE_ALARM = "false_alarm", "false alarm"
    EXPLAINED = "explained", "explained"
    FIXED = "fixed", "fixed"


class FindingVerdict(models.Model):
    """What a person said of a finding when clearing it. Append-only; kept to judge the rule itself."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="verdicts")
    verdict = models.CharField(max_length=12, choices=Verdict.choices)
    cause = models.TextField()
    action = models.TextField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    ACCESS: ClassVar[Path] = Path(engine="finding__build__engine", at="at")

    class Meta:
        ordering = ["finding", "at"]

    def __str__(self) -> str:
        return f"{self.get_verdict_display()}: {self.finding}"


class DueState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    DUE_SOON = "due_soon", _("due soon")
    DUE = "due", _("due")
    LATE = "late", _("late")
    DONE = "done", _("done")
    WAIVED = "waived", _("waived")
    GONE = "gone", _("no longer asked for")


class DueItem(models.Model):
    """Something that has to be done by hours, by date or by the next flight. Only a fitting event closes it."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="due_items")
    rule = models.CharField(max_length=40)
    occurrence = models.CharField(max_length=120)
    rule_version = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=20, help_text="oil_reading, oil_filter, flight, preservation, follow_up, answer")
    title = models.CharField(max_length=120)
    text = models.TextField(help_text="what to do and why, in a sentence with its numbers")
    said = models.JSONField(default=dict, blank=True, help_text="title and text as messages, see breakin.calc.said")
    state = models.CharField(max_length=8, choices=DueState.choices, default=DueState.WAITING)
    from_h = models.FloatField(null=True, blank=True)
    due_h = models.FloatField(null=True, blank=True)
    late_h = models.FloatField(null=True, blank=True)
    due_at = models.DateTimeField(null=True, blank=True)
    forecast_on = models.DateField(null=True, blank=True)
    escalation = models.CharField(max_length=8, blank=True, help_text="nudge, chase, call or manager")
    evidence = models.JSONField(default=list, blank=True)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by_kind = models.CharField(max_length=20, blank=True)
    closed_by_root = models.UUIDField(null=True, blank=True)
    waived_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    waived_reason = models.TextField(blank=True)

    ACCESS: ClassVar[Path] = Path(engine="build__engine", current=True)

    class Meta:
        ordering = ["build", "rule", "occurrence"]
        constraints = [models.UniqueConstraint(fields=["build", "rule", "occurrence"], name="due_item_once")]
        indexes = [models.Index(fields=["state", "build"], name="due_item_open")]

    def __str__(self) -> str:
        return f"{self.title}, {self.build}"
