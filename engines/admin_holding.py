"""Who holds an aircraft, as the admin enters it: one holder at a time, a sale in one go."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.forms.models import BaseInlineFormSet

from engines.models import Holding

if TYPE_CHECKING:
    HoldingModelForm = forms.ModelForm[Holding]
    HoldingRows = BaseInlineFormSet[Any, Any, Any]
else:  # generic for the type checker only
    HoldingModelForm = forms.ModelForm
    HoldingRows = BaseInlineFormSet


def _in_order(since: datetime | None, until: datetime | None) -> None:
    if since and until and until <= since:
        raise ValidationError({"until": "It ends before it begins. Mend one of the two dates."})


class HoldingForm(HoldingModelForm):
    """A holding by itself. It may not share any time with another one of the same aircraft."""

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        since, until = typed.get("since"), typed.get("until")
        _in_order(since, until)
        if typed.get("aircraft") and since:
            others = Holding.objects.filter(Q(until__isnull=True) | Q(until__gt=since), aircraft=typed["aircraft"])
            others = others.filter(since__lt=until) if until else others
            other = others.exclude(pk=self.instance.pk).select_related("customer").first()
            if other is not None:
                # At the field, so that the database's own words for the same thing are left out.
                said = f"{other.customer} holds {other.aircraft} since {other.since:%Y-%m-%d}. End that holding first: "
                raise ValidationError({"aircraft": said + "set its “until” to the moment of the sale."})
        return typed


class HoldingRowForm(HoldingModelForm):
    """One row among the others of an aircraft: those are compared by the set, which sees a sale as a whole."""

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        _in_order(typed.get("since"), typed.get("until"))
        return typed


class HoldingFormSet(HoldingRows):
    """The holdings of one aircraft: one after the other, the last one open or not."""

    def clean(self) -> None:
        super().clean()
        rows = [row.cleaned_data for row in self.forms if row.is_valid() and row.cleaned_data.get("customer")]
        rows.sort(key=lambda row: row["since"])
        for earlier, later in pairwise(rows):
            if earlier["until"] is None or earlier["until"] > later["since"]:
                raise ValidationError(
                    f"{earlier['customer']} and {later['customer']} would hold it at the same time. Set “until” of the "
                    "first to the moment of the sale, and “since” of the second to the same moment or later."
                )
