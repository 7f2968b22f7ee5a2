"""Write a line to whoever holds an aircraft."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.models import ShopNote
from breakin.services.shop_notes import LONGEST, write_to_holder
from engines.models import Aircraft, Holding
from reports.acts.base import NOBODY
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm

HISTORY = 20


class MessageForm(BookForm):
    text = forms.CharField(
        label="Message", max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 4}),
        help_text="A few plain sentences. The holder's people and the assigned break-in pilot read it.",
        error_messages={"required": "What is the message? Write a line."},
    )  # fmt: skip


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def aircraft_message(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "write_to_holder")
    form = MessageForm(request.POST) if request.method == "POST" else MessageForm()
    if request.method == "POST" and form.is_valid():
        if reader.person is None:
            form.add_error(None, NOBODY)
        else:
            try:
                write_to_holder(by=reader.person, aircraft=aircraft, text=form.cleaned_data["text"], now=timezone.now())
            except Refusal as refusal:
                for problem in refusal.problems:
                    form.add_error(problem.field if problem.field in form.fields else None, problem.message)
            else:
                messages.success(request, f"The message about {aircraft.registration} is in the book.")
                return redirect("aircraft_message", aircraft_id=aircraft.pk)
    held = Holding.objects.filter(aircraft=aircraft, until__isnull=True).select_related("customer").first()
    notes = ShopNote.objects.filter(aircraft=aircraft).select_related("by", "customer")[:HISTORY]
    context = {"aircraft": aircraft, "holder": held.customer if held else None, "form": form, "notes": notes}
    return render(request, "reports/message.html", context, status=422 if form.errors else 200)
