"""Files from instruments, kept as they came."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from engines.models import Aircraft
from shop.access import Path
from shop.models import Person


class Recording(models.Model):
    """An instrument's file: stored, hashed and never changed. The same file twice is one recording."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="recordings")
    sha256 = models.CharField(max_length=64)
    file = models.FileField(upload_to="recordings/%Y/%m/")
    original_name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    flight_root = models.UUIDField(null=True, blank=True)
    note = models.TextField(blank=True)

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="uploaded_at")

    class Meta:
        ordering = ["-uploaded_at"]
        constraints = [models.UniqueConstraint(fields=["aircraft", "sha256"], name="recording_once")]

    def __str__(self) -> str:
        return f"{self.original_name} of {self.aircraft}"
