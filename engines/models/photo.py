"""Photos that stand beside a fact: a cut filter, a bore, oil on a cowl."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from engines.models.engine import Engine
from shop.access import Path
from shop.models import Person


class PhotoAbout(models.TextChoices):
    INSPECTION = "inspection", "inspection"
    OIL = "oil", "oil entry"
    FLIGHT = "flight", "flight"


class Photo(models.Model):
    """One photo of a fact. It hangs on the fact's root, so that it survives corrections.

    Two files are kept, both drawn anew from what was sent: the picture at a size that shows everything, and a small
    one. Nothing of the sender's file is kept besides its SHA-256.
    """

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="photos")
    about = models.CharField(max_length=10, choices=PhotoAbout.choices)
    root = models.UUIDField(db_index=True, help_text="root of the fact that it shows")
    of_at = models.DateTimeField(help_text="when that fact happened: decides who sees the photo")
    for_customer = models.BooleanField(default=False, help_text="seen by the customer too; else by the shop only")
    caption = models.CharField(max_length=120, blank=True)
    sha256 = models.CharField(max_length=64, help_text="of the file as it was sent")
    file = models.FileField(upload_to="photos/%Y/%m/")
    small = models.FileField(upload_to="photos/%Y/%m/")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size_bytes = models.PositiveBigIntegerField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    ACCESS: ClassVar[Path] = Path(engine="engine", at="of_at", customer_flag="for_customer")

    class Meta:
        ordering = ["of_at", "id"]
        constraints = [models.UniqueConstraint(fields=["root", "sha256"], name="photo_once")]

    def __str__(self) -> str:
        return self.caption or f"photo of {self.get_about_display()}, {self.uploaded_at:%Y-%m-%d}"


class PhotoWithdrawal(models.Model):
    """This photo is shown no longer: the wrong engine, a face in it. The photo and the reason stay on record."""

    photo = models.OneToOneField(Photo, on_delete=models.PROTECT, related_name="withdrawal")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    ACCESS: ClassVar[Path] = Path(engine="photo__engine", at="at")

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.photo} withdrawn"
