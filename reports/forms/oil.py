"""The form of a quick oil reading, for one engine between flights."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from reports.forms.clock_change import add_clock_change
from reports.forms.engine import add_oil_fields
from reports.forms.fields import ChoiceChips, NumberField, Steps, add_device_clock
from reports.forms.flight import clock_words, reason_field
from reports.pilot.log_flight_page import EngineSection
from shop.forms import BookForm

WHEN = (("before", gettext_lazy("before a flight")), ("after", gettext_lazy("after a flight")))
POURED = (("before", gettext_lazy("before this reading")), ("after", gettext_lazy("after this reading")))


class OilForm(BookForm):
    """What the dipstick shows, what was poured, what the belly looks like; and the flight that is planned."""

    conflict = False  # the same form came before with other content

    def __init__(self, *args: Any, section: EngineSection, system: str, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.section = section
        self.fields["client_id"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        self.fields["new_client_id"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        add_device_clock(self)
        add_oil_fields(self, section, system)
        self.fields["poured"] = ChoiceChips(label=_("Poured before or after this reading?"), choices=POURED)
        self.fields["when"] = ChoiceChips(label=_("Before or after flying?"), choices=WHEN)
        self.fields["planned_h"] = NumberField(
            label=_("Next flight, hours planned"),
            unit="h",
            help_text=_("Not needed. The add line is drawn for it; hours, or h:mm."),
            steps=Steps("0.5", "0", "14", "1.0"),
        )
        self.fields["local_date"] = forms.CharField(
            label=_("Date"), required=False, widget=forms.DateInput(attrs={"type": "date"})
        )
        self.fields["local_time"] = forms.CharField(
            label=_("Time"),
            required=False,
            help_text=clock_words(zone),
            widget=forms.TimeInput(attrs={"type": "time"}),
        )
        add_clock_change(self, zone)
        self.fields["note"] = forms.CharField(
            label=_("In your own words"), required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 2})
        )

    @property
    def oil_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("oil_level", "minutes_since", "protocol", "added") if name in self.fields]

    @property
    def time_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("local_date", "local_time", "clock_change") if name in self.fields]

    def sentences(self) -> list[str]:
        """Every problem as one sentence, with the words of its field before it."""
        named = [
            f"{self.fields[name].label}: {error}"
            for name in self.errors
            if name in self.fields
            for error in self.errors[name]
        ]
        return [*map(str, self.non_field_errors()), *named]

    def forms(self) -> Iterator[tuple[str, forms.Form]]:
        """Like a flight's sheet: the parts with their words."""
        yield "", self


class OilCorrectionForm(OilForm):
    """The same, prefilled from an entry, with the reason of the correction."""

    # What each kind of event is asked about.
    ASKED: ClassVar[dict[str, tuple[str, ...]]] = {
        "reading": ("oil_level", "minutes_since", "protocol", "belly"),
        "addition": ("added", "amount", "container", "oil_kind", "brand"),
        "none_added": ("added", "amount", "container", "oil_kind", "brand"),
        "loss_seen": ("belly",),
    }

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        about = {name for names in self.ASKED.values() for name in names} | {"poured", "planned_h"}
        for name in about - set(self.ASKED.get(kind, ())):
            del self.fields[name]
        self.fields["reason"] = reason_field()


def fresh_oil(now: datetime, zone: str, client_id: object) -> dict[str, Any]:
    local = now.astimezone(ZoneInfo(zone))
    return {
        "client_id": str(client_id),
        "local_date": local.strftime("%Y-%m-%d"),
        "local_time": local.strftime("%H:%M"),
    }
