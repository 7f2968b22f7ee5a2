"""Phone somebody about an aircraft, and write down what was said."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.models import Reached, Severity
from breakin.services.calls import log_call
from engines.models import Aircraft
from reports.acts.base import NOBODY
from reports.fleet.call_page import CallPage, call_page
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm, CheckChips, Chips
from shop.models import Person


class CallForm(BookForm):
    person = forms.ModelChoiceField(Person.objects.none(), label="Who", required=False, empty_label="somebody else")
    reached = forms.ChoiceField(
        label="How it ended", widget=Chips, choices=Reached.choices,
        error_messages={"required": "Choose how the call ended."},
    )  # fmt: skip
    said = forms.CharField(
        label="What was said or agreed", max_length=1000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="In a line or two.",
        error_messages={"required": "Type what was said or agreed, or that nobody answered."},
    )  # fmt: skip
    for_customer = forms.BooleanField(
        label="The customer reads this too", required=False,
        help_text="It then stands on the customer's own page of the aircraft. Left empty, the shop alone reads it.",
    )  # fmt: skip
    answered = forms.MultipleChoiceField(
        label="Talked about", required=False, widget=CheckChips,
        help_text="Taken up by this call. They stay open until they are cleared, a Stop by a technician.",
    )  # fmt: skip
    next_on = forms.DateField(
        label="Phone again on", required=False, widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": "Write the day like 2026-11-24, or leave it empty."},
    )  # fmt: skip

    def __init__(self, *args: Any, page: CallPage, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people: Any = self.fields["person"]
        people.queryset = Person.objects.filter(pk__in=[callee.person.pk for callee in page.people])
        people.initial = page.people[0].person.pk if page.people else None
        answered: Any = self.fields["answered"]
        answered.choices = [
            (str(finding.pk), f"{Severity(finding.severity).label}: {finding.title}") for finding in page.findings
        ]
        if not page.findings:
            del self.fields["answered"]


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def aircraft_call(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "log_call")
    now = timezone.now()
    page = call_page(aircraft, now)
    form = CallForm(request.POST or None, page=page) if request.method == "POST" else CallForm(page=page)
    if request.method == "POST" and form.is_valid():
        if reader.person is None:
            form.add_error(None, NOBODY)
        elif _logged(form, page, reader.person, aircraft):
            messages.success(request, f"The call about {aircraft.registration} is in the book.")
            return redirect("aircraft_call", aircraft_id=aircraft.pk)
    context = {"page": page, "form": form, "aircraft": aircraft}
    return render(request, "reports/call.html", context, status=422 if form.errors else 200)


def _logged(form: CallForm, page: CallPage, by: Person, aircraft: Aircraft) -> bool:
    typed = form.cleaned_data
    ticked = set(typed.get("answered") or ())
    try:
        log_call(
            by=by,
            aircraft=aircraft,
            person=typed["person"],
            reached=typed["reached"],
            said=typed["said"],
            next_on=typed["next_on"],
            for_customer=typed["for_customer"],
            answered=[finding for finding in page.findings if str(finding.pk) in ticked],
            now=timezone.now(),
        )
    except Refusal as refusal:
        for problem in refusal.problems:
            form.add_error(problem.field if problem.field in form.fields else None, problem.message)
        return False
    return True
