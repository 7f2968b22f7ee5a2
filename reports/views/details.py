"""A person's own details: phone, units, time zone, quiet hours; and the doors to the rest of the account."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from reports.reader import Reader, for_reader
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import Person, Units
from shop.services import OWN_DETAILS, change_details


class DetailsForm(BookForm):
    groups = (
        ("Numbers and times", ("units", "zone")),
        ("How the shop reaches you", ("phone", "quiet_from", "quiet_until")),
    )

    units = forms.ChoiceField(
        label="Units",
        widget=Chips,
        choices=[
            (Units.US, "US: qt, °F, inHg, gal/h"),
            (Units.SI, "SI: L, °C, hPa, L/h"),
            (Units.MIXED, "mixed: L, °C, inHg, gal/h"),
        ],
        help_text="How numbers are shown to you, and how yours are read where you choose no unit. Feet stay feet.",
        error_messages={"required": "Choose the units that you read."},
    )
    zone = forms.ChoiceField(
        label="Time zone",
        help_text="Your days begin and end by it, and times are written in it.",
        error_messages={"required": "Choose your time zone."},
    )
    phone = forms.CharField(
        label="Phone",
        max_length=40,
        required=False,
        widget=forms.TextInput({"type": "tel", "autocomplete": "tel"}),
        help_text="The shop calls when something can't wait.",
    )
    quiet_from = forms.TimeField(
        label="No messages from",
        widget=forms.TimeInput({"type": "time"}, format="%H:%M"),
        help_text="Local time. A Stop is told at once in any case.",
        error_messages={"required": "Type a time, like 21:00.", "invalid": "This is no time. Type it like 21:00."},
    )
    quiet_until = forms.TimeField(
        label="Messages again from",
        widget=forms.TimeInput({"type": "time"}, format="%H:%M"),
        error_messages={"required": "Type a time, like 07:00.", "invalid": "This is no time. Type it like 07:00."},
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = {zone for zone in available_timezones() if "/" in zone} | {"UTC", person.zone}
        self.fields["zone"].choices = [(zone, zone.replace("_", " ")) for zone in sorted(zones)]  # type: ignore[attr-defined]


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
@never_cache
def details(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    if reader.person is None:
        return render(request, "reports/details.html", {"form": None})
    if request.method == "POST":
        form = DetailsForm(request.POST, person=reader.person)
        if form.is_valid():
            try:
                change_details(person=reader.person, now=timezone.now(), **form.cleaned_data)
            except Refusal as refusal:
                for problem in refusal.problems:
                    form.add_error(problem.field if problem.field in form.fields else None, problem.message)
            else:
                messages.success(request, "Your details are kept.")
                return redirect("details")
    else:
        start = {name: getattr(reader.person, name) for name in OWN_DETAILS}
        form = DetailsForm(initial=start, person=reader.person)
    context = {"form": form, "person": reader.person}
    return render(request, "reports/details.html", context, status=422 if form.errors else 200)
