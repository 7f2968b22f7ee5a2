"""A person's own tokens for the programming interface and the calendar: make one, see where they stand, revoke one."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from reports.reader import Reader, for_reader
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import ApiToken, TokenScope
from shop.services import create_token, revoke_token

MOST = 20


class TokenForm(BookForm):
    """What the token is for, what it may do and how long."""

    name = forms.CharField(
        label=_("What uses it"), max_length=60, help_text=_("A name for yourself, like “logbook on the laptop”."),
        error_messages={"required": _("Type a name, so that you know later what uses this token.")},
    )  # fmt: skip
    scope = forms.ChoiceField(
        label=_("It may"), widget=Chips, choices=TokenScope.choices, initial=TokenScope.READ,
        error_messages={"required": _("Choose what the token may do.")},
    )  # fmt: skip
    days = forms.ChoiceField(
        label=_("It ends after"), widget=Chips, initial="90",
        choices=[("30", _("30 days")), ("90", _("90 days")), ("365", _("a year"))],
        help_text=_("The address of a calendar has no end; revoke it when it is not wanted any more."),
        error_messages={"required": _("Choose when the token ends.")},
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
@never_cache
@sensitive_variables("secret")
def tokens(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """The answer to making one shows its secret, this once: only a digest is kept."""
    now = timezone.now()
    form = TokenForm(request.POST) if request.method == "POST" else TokenForm()
    if request.method == "POST" and form.is_valid():
        try:
            secret = _made(reader, form.cleaned_data, now)
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error(problem.field if problem.field in form.fields else None, problem.message)
        else:
            made = {"secret": secret, "made": form.cleaned_data["name"]}
            if form.cleaned_data["scope"] == TokenScope.CALENDAR:
                made["feed"] = settings.SITE_URL + reverse("calendar", args=[secret])
            return _page(request, reader, TokenForm(), now, **made)
    return _page(request, reader, form, now, status=422 if form.errors else 200)


@require_POST
@for_reader
def token_revoke(request: HttpRequest, reader: Reader, token_id: int) -> HttpResponseBase:
    token = get_object_or_404(ApiToken, pk=token_id, user=reader.user)
    revoke_token(by=reader.person, token=token, now=timezone.now())
    messages.success(request, _("“%(name)s” opens nothing any more.") % {"name": token.name})
    return redirect("tokens")


def _made(reader: Reader, typed: dict[str, Any], now: datetime) -> str:
    standing = _standing(reader, now)
    if any(token.name == typed["name"] for token in standing):
        # Also what a reload of the answer runs into, which would make a second one unseen.
        raise Refusal.of("name", f"There is a token “{typed['name']}” already. Take another name, or revoke that one.")
    if len(standing) >= MOST:
        raise Refusal.of("", f"You have {MOST} tokens. Revoke one that is not used any more.")
    expires = None if typed["scope"] == TokenScope.CALENDAR else now + timedelta(days=int(typed["days"]))
    _, secret = create_token(user=reader.user, name=typed["name"], scope=typed["scope"], expires=expires, now=now)
    return secret


def _standing(reader: Reader, now: datetime) -> list[ApiToken]:
    rows = ApiToken.objects.filter(user=reader.user, revoked_at__isnull=True)
    return [token for token in rows if token.expires_at is None or token.expires_at > now]


def _page(
    request: HttpRequest, reader: Reader, form: TokenForm, now: datetime, *, status: int = 200, **made: str
) -> HttpResponse:
    context = {"form": form, "tokens": _standing(reader, now), **made}
    return render(request, "reports/tokens.html", context, status=status)
