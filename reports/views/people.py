"""People and invitations, for the shop manager."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from reports.fleet.people_page import people
from reports.invitations import send_invitation
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import Customer, MemberRole, Person, Role
from shop.services import invite


class InviteForm(BookForm):
    """Somebody new. With a customer the role is one there; without, one in the shop."""

    name = forms.CharField(
        label="Name", max_length=80, error_messages={"required": "Type how the shop calls this person."}
    )
    email = forms.CharField(
        label="E-mail",
        max_length=254,
        widget=forms.EmailInput,
        help_text="The invitation goes there; it is also the login.",
        error_messages={"required": "Type the e-mail address. Without one, nobody can sign in."},
    )
    role = forms.ChoiceField(
        label="Role",
        widget=Chips,
        choices=[*Role.choices, *MemberRole.choices],
        error_messages={"required": "Choose the role."},
    )
    language = forms.ChoiceField(
        label="Language",
        widget=Chips,
        choices=settings.LANGUAGES,
        required=False,
        help_text="Of the invitation and of a pilot's pages; the shop's side is English. Left empty: English, or what "
        "somebody known has chosen.",
    )
    customer = forms.ModelChoiceField(
        label="Customer",
        queryset=Customer.objects.all(),
        required=False,
        empty_label="none: a role in the shop",
        help_text="Needed for an owner or a club member.",
    )

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        of_customer = typed.get("role") in MemberRole.values
        if of_customer and not typed.get("customer") and "customer" not in self.errors:
            self.add_error("customer", "Whose owner or member? Choose the customer.")
        if typed.get("role") and not of_customer and typed.get("customer"):
            self.add_error("customer", "A role in the shop belongs to no customer. Choose none, or the role of owner.")
        return typed


@for_reader
@require_safe
def people_list(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "invite")
    after = request.GET.get("after", "")
    skip = int(after) if after.isascii() and after.isdigit() and len(after) < 8 else 0
    page = people(timezone.now(), q=request.GET.get("q", "").strip()[:80], after=skip)
    return render(request, "reports/people.html", {"page": page, "skip": skip})


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def invite_person(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "invite")
    form = InviteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if reader.person is None:
            form.add_error(None, "This login belongs to no person, so it can't invite. Give it a person first.")
        elif _invited(request, reader.person, form):
            return redirect("people")
    return render(request, "reports/invite.html", {"form": form}, status=422 if form.errors else 200)


def _invited(request: HttpRequest, by: Person, form: InviteForm) -> bool:
    try:
        person, path = invite(by=by, now=timezone.now(), **form.cleaned_data)
    except Refusal as refusal:
        for problem in refusal.problems:
            form.add_error(problem.field if problem.field in form.fields else None, problem.message)
        return False
    if send_invitation(person, path, by=by.name):
        messages.success(request, f"{person.name} was invited at {person.email}.")
    else:
        said = f"{person.name} is entered, but the mail to {person.email} could not be sent. Invite again later."
        messages.warning(request, said)
    return True
