"""What to tell whom. A notice is a row first; a message carries the notices of one aircraft to one person."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from breakin.models.assessment import DueItem, Finding
from breakin.models.call import ShopNote
from engines.models import Aircraft, Build
from shop.models import Person


class NoticeLevel(models.TextChoices):
    NOTE = "note", "message"
    NUDGE = "nudge", "nudge"
    CHASE = "chase", "chase"
    CALL = "call", "call"
    MANAGER = "manager", "manager"
    STOP = "stop", "stop"


class NoticeState(models.TextChoices):
    WAITING = "waiting", "waiting"
    SENT = "sent", "sent"
    DROPPED = "dropped", "dropped: no longer due"
    PHONE = "phone", "use the phone"
    FAILED = "failed", "could not be sent"
    HELD = "held", "held"


class MessageState(models.TextChoices):
    CLAIMED = "claimed", "being sent"
    RETRY = "retry", "will be tried again"
    SENT = "sent", "sent"
    DEAD = "dead", "given up"
    DROPPED = "dropped", "dropped: no longer due"


class Message(models.Model):
    """One mail. `key` is (recipient, aircraft, local day), or the Stop finding it is about: unique.

    The Message-ID is made from the key, so that a repeat after a crash carries the same id.
    """

    key = models.CharField(max_length=160, unique=True)
    recipient = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="messages")
    aircraft = models.ForeignKey(Aircraft, null=True, blank=True, on_delete=models.PROTECT, related_name="messages")
    address = models.EmailField()
    message_id = models.CharField(max_length=200, unique=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    state = models.CharField(max_length=8, choices=MessageState.choices, default=MessageState.CLAIMED)
    created_at = models.DateTimeField()
    lease = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    retry_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)
    bounced_at = models.DateTimeField(null=True, blank=True, help_text="when somebody or the mail server said so")
    bounced_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-created_at", "-id"]
        indexes = [
            models.Index(fields=["retry_at"], condition=Q(state__in=["claimed", "retry"]), name="message_to_send")
        ]

    def __str__(self) -> str:
        return f"{self.subject} to {self.recipient}"


class Notice(models.Model):
    """Why one person is to be told one thing, once. Answered by a fact, never by a click."""

    key = models.CharField(max_length=200, unique=True, help_text="build, what it is about, level, recipient, channel")
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="notices")
    aircraft = models.ForeignKey(Aircraft, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    finding = models.ForeignKey(Finding, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    due_item = models.ForeignKey(DueItem, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    note = models.ForeignKey(ShopNote, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    level = models.CharField(max_length=8, choices=NoticeLevel.choices)
    recipient = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="notices")
    channel = models.CharField(max_length=8, choices=[("email", "e-mail"), ("phone", "phone")], default="email")
    headline = models.CharField(max_length=160)
    text = models.TextField()
    state = models.CharField(max_length=8, choices=NoticeState.choices, default=NoticeState.WAITING)
    created_at = models.DateTimeField()
    not_before = models.DateTimeField(help_text="quiet hours of the recipient end here")
    sent_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    why_not_sent = models.CharField(max_length=200, blank=True)
    message = models.ForeignKey(Message, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(finding__isnull=False) | Q(due_item__isnull=False) | Q(note__isnull=False),
                name="notice_is_about_something",
            )
        ]
        indexes = [
            models.Index(fields=["not_before"], condition=Q(state="waiting"), name="notice_to_send"),
            models.Index(fields=["state", "-id"], name="notice_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()}: {self.headline}"
