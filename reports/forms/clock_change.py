"""The question that a typed time raises on the night when the clock goes back: which of two equal times is meant?"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext as _

from breakin.entries.moments import CLOCK_CHANGE, moments_of
from reports.forms.fields import ChoiceChips
from shop.templatetags.words import utc_offset

NAME = "clock_change"


def add_clock_change(form: forms.Form, zone: str) -> None:
    """Ask for it where the form's `local_date` and `local_time` came twice in this zone; else nobody is asked."""
    day, clock = (str(form[name].value() or "") for name in ("local_date", "local_time"))
    found = moments_of(day, clock, zone)
    if len(found) != len(CLOCK_CHANGE):
        return
    before, after = (_named(at.astimezone(ZoneInfo(zone))) for at in found)
    form.fields[NAME] = ChoiceChips(
        label=_("Which of the two equal times that night?"),
        choices=[
            (CLOCK_CHANGE[0], _("before the clock went back (%(offset)s)") % {"offset": before}),
            (CLOCK_CHANGE[1], _("after the clock went back (%(offset)s)") % {"offset": after}),
        ],
    )


def _named(local: datetime) -> str:
    """Name of the zone's time with its offset: "CEST, UTC+2"; the offset alone where it has no name."""
    name = local.tzname() or ""
    return f"{name}, {utc_offset(local)}" if name.isalpha() and name != "UTC" else utc_offset(local)
