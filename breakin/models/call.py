"""What the shop told people of an aircraft: phone calls with what was agreed, and notes in writing."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from engines.models import Aircraft, Build
from shop.access import Path
from shop.models import Customer, Person


class Reached(models.TextChoices):
    SPOKEN = "spoken", "spoken with"
    MESSAGE = "message", "left a message"
    NOBODY = "nobody", "no answer"


class PhoneCall(models.Model):
    """The shop phoned about an aircraft. Append-only."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="calls")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    reached = models.CharField(max_length=8, choices=Reached.choices)
    said = models.TextField(help_text="what was said or agreed, in a line or two")
    next_on = models.DateField(null=True, blank=True, help_text="the day of the next call, on the shop's calendar")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    for_customer = models.BooleanField(default=False, help_text="may the customer read it?")

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="at", customer_flag="for_customer")

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.CheckConstraint(condition=~Q(said=""), name="phone_call_says_something")]
        indexes = [models.Index(fields=["aircraft", "-at"], name="phone_call_newest")]

    def __str__(self) -> str:
        return f"call about {self.aircraft}, {self.at:%Y-%m-%d}"


class ShopNote(models.Model):
    """The shop wrote to whoever holds an aircraft. Append-only; read by that holder's people, mailed as a notice.

    customer : the holder it was written to: a later one neither reads it nor is sent it.
    build : of an engine in the aircraft; what is mailed about the aircraft hangs on its builds.
    """

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="shop_notes")
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="shop_notes")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    ACCESS: ClassVar[Path] = Path(aircraft="aircraft", at="at")

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.CheckConstraint(condition=~Q(text=""), name="shop_note_says_something")]
        indexes = [
            models.Index(fields=["aircraft", "-at"], name="shop_note_newest"),
            models.Index(fields=["-at"], name="shop_note_to_tell"),
        ]

    def __str__(self) -> str:
        return f"note about {self.aircraft}, {self.at:%Y-%m-%d}"
