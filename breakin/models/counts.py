"""Counts that are kept, so that a page of the whole fleet need not count."""

from __future__ import annotations

from django.db import models


class RuleCount(models.Model):
    """What one rule has come to in this shop: its findings, its due items, and what people said of its findings.

    Kept by breakin.counts. A plain integer, since a count that went astray must not fail what moves it.
    """

    rule = models.CharField(max_length=40, unique=True)
    found = models.IntegerField(default=0, help_text="findings, ever")
    builds = models.IntegerField(default=0, help_text="builds in which it found anything, ever")
    standing = models.IntegerField(default=0, help_text="findings that stand now")
    asked = models.IntegerField(default=0, help_text="due items, ever")
    asking = models.IntegerField(default=0, help_text="due items that are open now")
    agree = models.IntegerField(default=0)
    false_alarm = models.IntegerField(default=0)
    explained = models.IntegerField(default=0)
    fixed = models.IntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.rule}: {self.found} found, {self.asked} asked"
