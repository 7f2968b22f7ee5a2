"""What the oil estimate believes beforehand: read by the shop, adopted by a manager."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from breakin.models import PriorProposal
from breakin.services.priors import adopt
from reports.fleet.priors_page import BUILT_IN_CHOICE, PriorsPage, priors_page
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import Person

NOBODY = "This login belongs to no person, so it can't adopt anything. Give it a person first."


class AdoptForm(BookForm):
    prior = forms.ChoiceField(
        label="Adopt",
        widget=Chips,
        error_messages={
            "required": "Choose which prior.",
            "invalid_choice": "This one is not on offer any more. Look at what is.",
        },
    )
    reason = forms.CharField(
        label="Reason",
        max_length=400,
        help_text="Why, in one line. It stands in the history below.",
        error_messages={"required": "Type why, in one line."},
    )

    def __init__(self, *args: Any, offered: tuple[tuple[str, str], ...], **more: Any) -> None:
        super().__init__(*args, **more)
        field = cast("forms.ChoiceField", self.fields["prior"])
        field.choices = list(offered)
        field.initial = offered[0][0] if offered else None


@for_reader
@require_safe
def priors(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_priors")
    page = priors_page(reader)
    return _page(request, reader, page, AdoptForm(offered=page.offered))


@require_POST
@for_reader
def prior_adopt(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """Adopt the proposal, or go back to the built-in prior; open builds are judged anew."""
    access.require(reader.user, "adopt_prior")
    page = priors_page(reader)
    form = AdoptForm(request.POST, offered=page.offered)
    if form.is_valid():
        if reader.person is None:
            form.add_error(None, NOBODY)
        elif _adopted(reader.person, form):
            messages.success(request, "Adopted. The open builds are judged anew within minutes.")
            return redirect("priors")
    return _page(request, reader, page, form)


def _adopted(by: Person, form: AdoptForm) -> bool:
    chosen, reason = form.cleaned_data["prior"], form.cleaned_data["reason"]
    proposal = None if chosen == BUILT_IN_CHOICE else PriorProposal.objects.get(pk=chosen)
    try:
        adopt(by=by, proposal=proposal, reason=reason, now=timezone.now())
    except Refusal as refusal:
        for problem in refusal.problems:
            form.add_error(problem.field if problem.field in form.fields else None, problem.message)
        return False
    return True


def _page(request: HttpRequest, reader: Reader, page: PriorsPage, form: AdoptForm) -> HttpResponseBase:
    context = {"page": page, "form": form, "may_adopt": access.may_now(reader.user, "adopt_prior")}
    return render(request, "reports/priors.html", context, status=422 if form.errors else 200)
