"""The end of a break-in: what a manager waives, what a technician proposes, and the sealed file. All append-only."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils import timezone

from engines.models import Build
from shop.access import Path
from shop.models import Person


class Waiver(models.Model):
    """A manager lets one criterion of the review stand as it is, with a reason; `granted` false takes that back."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="waivers")
    criterion = models.CharField(max_length=24, help_text="key of the criterion, as in breakin.rules.criteria")
    granted = models.BooleanField(default=True)
    reason = models.TextField()
    lacked = models.TextField(help_text="what was lacking, in the words of the review at that moment")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="at")

    class Meta:
        ordering = ["build", "at", "id"]

    def __str__(self) -> str:
        return f"{self.criterion} of {self.build} {'waived' if self.granted else 'asked for again'}"


class CloseOutProposal(models.Model):
    """Somebody of the shop says that a break-in can be closed out, and with what reservation."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="proposals")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    notes = models.TextField(help_text="what decided it")
    reservations = models.JSONField(default=list, blank=True, help_text='["missed first two hours, settled anyway"]')

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="at")

    class Meta:
        ordering = ["build", "at", "id"]

    def __str__(self) -> str:
        return f"close-out of {self.build} proposed"


class ProposalReturn(models.Model):
    """The manager gave a proposal back, or its proposer took it back. The next one starts anew."""

    proposal = models.OneToOneField(CloseOutProposal, on_delete=models.PROTECT, related_name="returned")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.TextField()

    ACCESS: ClassVar[Path] = Path(engine="proposal__build__engine", at="at")

    def __str__(self) -> str:
        return f"{self.proposal}, given back"


class CloseOutFile(models.Model):
    """The sealed file of a close-out: a document and its print, each known by its SHA-256.

    `sealed` keeps what later judgements compare with: see breakin.record.SealedFacts.
    """

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="close_out_files")
    number = models.PositiveSmallIntegerField(help_text="1, 2, ... of this build")
    proposal = models.OneToOneField(CloseOutProposal, on_delete=models.PROTECT, related_name="file")
    proposed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    alone = models.BooleanField(default=False, help_text="proposed and signed by the only person of the shop")
    reservations = models.JSONField(default=list, blank=True)
    hours = models.FloatField(help_text="break-in hours at the close-out")
    rules_version = models.CharField(max_length=64)
    software_version = models.CharField(max_length=40)
    document = models.FileField(upload_to="close-out/%Y/%m/", max_length=200)
    document_sha256 = models.CharField(max_length=64, unique=True)
    print = models.FileField(upload_to="close-out/%Y/%m/", max_length=200)
    print_sha256 = models.CharField(max_length=64, unique=True)
    sealed = models.JSONField(default=dict)
    recorded_at = models.DateTimeField(default=timezone.now)

    ACCESS: ClassVar[Path] = Path(engine="build__engine", at="signed_at")

    class Meta:
        ordering = ["build", "number"]
        constraints = [models.UniqueConstraint(fields=["build", "number"], name="close_out_file_number_once")]

    def __str__(self) -> str:
        return f"close-out file {self.number} of {self.build}"
