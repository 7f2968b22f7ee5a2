"""What every recorded fact has in common, whatever it is about.

A fact is a row that is written once. A correction is a new row that points to the row it corrects; the two share
their `root`. Findings, notices and photos point to roots, so they survive corrections.
"""

from __future__ import annotations

from typing import Any, ClassVar, Self

from django.db import models
from django.utils.translation import gettext_lazy as _


class Source(models.TextChoices):
    PORTAL = "portal", "portal"
    SHOP = "shop", "shop"
    FILE = "file", "instrument file"
    IMPORT = "import", "import"
    PHONE = "phone", "phone call"
    API = "api", "programming interface"


class Grade(models.TextChoices):
    """How good a witness the entry is. A typed grade never rises."""

    FILE = "A", "A: from an instrument's file"
    AT_ONCE = "B", "B: written down within 24 h, received within 7 days"
    LATER = "C", "C: within 7 days, or by phone"
    RECONSTRUCTED = "D", "D: later, or from memory"
    DISPUTED = "X", "X: disputed"


class CorrectionReason(models.TextChoices):
    MISTYPED = "mistyped", _("mistyped")
    WRONG_ENGINE = "wrong_engine", _("wrong engine")
    WRONG_UNIT = "wrong_unit", _("wrong unit")
    DUPLICATE = "duplicate", _("duplicate")
    BETTER_SOURCE = "better_source", _("better source")
    DISPUTED = "disputed", _("disputed")


class Absent(models.TextChoices):
    """Why a field has no value. "Not observed" and "not applicable" are answers; an empty field is not."""

    NOT_OBSERVED = "not_observed", "not observed"
    NOT_APPLICABLE = "not_applicable", "not applicable"


class FactQuerySet(models.QuerySet[Any]):
    def current(self) -> Self:
        """The newest version of each fact that has not been withdrawn."""
        return self.filter(corrected_by__isnull=True, withdrawn=False)


class Fact(models.Model):
    """One thing that happened, as it was told to the shop."""

    client_id = models.UUIDField(unique=True, help_text="made by the sender; a resend with the same id is harmless")
    root = models.UUIDField(db_index=True, help_text="client_id of the first version of this fact")
    content_hash = models.CharField(max_length=64, help_text="SHA-256 of what was sent; a changed resend is refused")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by", editable=False
    )
    correction_reason = models.CharField(max_length=16, choices=CorrectionReason.choices, blank=True)
    withdrawn = models.BooleanField(default=False, help_text="this version says that the fact never happened")

    happened_at = models.DateTimeField(db_index=True)
    local_date = models.DateField(help_text="the date at the place where it happened")
    zone = models.CharField(max_length=64)
    written_at = models.DateTimeField(null=True, blank=True, help_text="when it was written on the device")
    received_at = models.DateTimeField()
    entered_by = models.ForeignKey("shop.Person", on_delete=models.PROTECT, related_name="+")
    on_behalf_of = models.ForeignKey("shop.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=8, choices=Source.choices)
    grade = models.CharField(max_length=1, choices=Grade.choices)
    typed = models.JSONField(default=dict, blank=True, help_text="field: [text, unit] as it was typed")
    absent = models.JSONField(default=dict, blank=True, help_text="field: not_observed or not_applicable")
    note = models.TextField(blank=True)

    objects: ClassVar[Any] = FactQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["happened_at", "id"]
