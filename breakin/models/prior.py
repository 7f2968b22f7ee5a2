"""What the shop's own fleet says of oil loss by cylinder finish: proposed at night, adopted by a manager."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shop.models import Person


class PriorProposal(models.Model):
    """Decay time and plateau by finish, learned from the builds that have ended. Append-only; one a night at most."""

    night = models.DateField(unique=True, help_text="the shop's day on which it was made")
    made_at = models.DateTimeField()
    name = models.CharField(max_length=60, help_text="what an assessment names that uses it")
    engines = models.PositiveIntegerField(help_text="how many ended builds it was learned from")
    finishes = models.JSONField(
        help_text='one object a finish: {"finish", "builds": [id], "decay_h": [built in, proposed, low, high], '
        '"plateau_qt_h": the same}'
    )
    numbers = models.JSONField(help_text="the numbers of each finish, as breakin.calc.oil.learn.finish_numbers")
    left_out = models.JSONField(default=list, blank=True, help_text='[{"build": id, "why": "..."}, ...]')

    class Meta:
        ordering = ["-night"]
        constraints = [models.CheckConstraint(condition=Q(engines__gt=0), name="prior_proposal_from_engines")]

    def __str__(self) -> str:
        return self.name


class PriorAdoption(models.Model):
    """A manager takes a proposal, or the built-in prior again, into use for open builds. Append-only; newest holds."""

    proposal = models.ForeignKey(
        PriorProposal,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="adoptions",
        help_text="none: the built-in prior",
    )
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.TextField()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="prior_adoption_says_why")]

    def __str__(self) -> str:
        return f"{self.proposal.name if self.proposal else 'built in'}, adopted {self.at:%Y-%m-%d}"
