"""A person's own details: language, phone, units, time zone, quiet hours; and the doors to the rest of the account."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from reports.reader import Reader, for_reader
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import Person, Units
from shop.services import OWN_DETAILS, change_details


class DetailsForm(BookForm):
    groups = (
        (_("Language, numbers and times"), ("language", "units", "zone")),
        (_("How the shop reaches you"), ("phone", "quiet_from", "quiet_until")),
    )

    language = forms.ChoiceField(
        label=_("Language"),
        widget=Chips,
        choices=settings.LANGUAGES,
        required=False,
        help_text=_("Of your pages, the card and the mails to you, and of decimal point or comma."),
    )

    units = forms.ChoiceField(
        label=_("Units"),
        widget=Chips,
        choices=[
            (Units.US, _("US: qt, °F, inHg, gal/h")),
            (Units.SI, _("SI: L, °C, hPa, L/h")),
            (Units.MIXED, _("mixed: qt, °C, inHg, hPa for QNH, L/h")),
        ],
        help_text=_("How numbers are shown to you, and how yours are read where you choose no unit. Feet stay feet."),
        error_messages={"required": _("Choose the units that you read.")},
    )
    zone = forms.ChoiceField(
        label=_("Time zone"),
        help_text=_("Your days begin and end by it, and times are written in it."),
        error_messages={"required": _("Choose your time zone.")},
    )
    phone = forms.CharField(
        label=_("Phone"),
        max_length=40,
        required=False,
        widget=forms.TextInput({"type": "tel", "autocomplete": "tel"}),
        help_text=_("The shop calls when something can't wait."),
    )
    quiet_from = forms.TimeField(
        label=_("No messages from"),
        widget=forms.TimeInput({"type": "time"}, format="%H:%M"),
        help_text=_("Local time. A Stop is told at once in any case."),
        error_messages={
            "required": _("Type a time, like 21:00."),
            "invalid": _("This is no time. Type it like 21:00."),
        },
    )
    quiet_until = forms.TimeField(
        label=_("Messages again from"),
        widget=forms.TimeInput({"type": "time"}, format="%H:%M"),
        error_messages={
            "required": _("Type a time, like 07:00."),
            "invalid": _("This is no time. Type it like 07:00."),
        },
    )

    def __init__(self, *args: Any, person: Person, staff: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        if staff:
            del self.fields["language"]  # the shop's side is written in English only
        zones = {zone for zone in available_timezones() if "/" in zone} | {"UTC", person.zone}
        self.fields["zone"].choices = [(zone, zone.replace("_", " ")) for zone in sorted(zones)]  # type: ignore[attr-defined]

    def clean_language(self) -> str:
        return self.cleaned_data["language"] or self.person.language


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
@never_cache
def details(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    if reader.person is None:
        return render(request, "reports/details.html", {"form": None})
    if request.method == "POST":
        form = DetailsForm(request.POST, person=reader.person, staff=reader.staff)
        if form.is_valid():
            try:
                change_details(person=reader.person, now=timezone.now(), **form.cleaned_data)
            except Refusal as refusal:
                for problem in refusal.problems:
                    form.add_error(problem.field if problem.field in form.fields else None, problem.message)
            else:
                with translation.override(form.cleaned_data.get("language") or translation.get_language()):
                    messages.success(request, gettext("Your details are kept."))
                return redirect("details")
    else:
        start = {name: getattr(reader.person, name) for name in OWN_DETAILS}
        form = DetailsForm(initial=start, person=reader.person, staff=reader.staff)
    context = {"form": form, "person": reader.person}
    return render(request, "reports/details.html", context, status=422 if form.errors else 200)
