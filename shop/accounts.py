"""How people get an account and sign in. The sign-in itself is allauth's; here is what the shop decides about it."""

from __future__ import annotations

import logging
from time import time
from typing import Any

from allauth.account import app_settings
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.internal.flows.login import get_authentication_records
from allauth.account.utils import user_pk_to_url_str
from allauth.core.internal.ratelimit import get_ip
from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from shop import access
from shop.models import User

log = logging.getLogger(__name__)


class Adapter(DefaultAccountAdapter):
    """Sign-up is closed: the shop invites."""

    error_messages = DefaultAccountAdapter.error_messages | {
        "too_many_login_attempts": _(
            "There were too many wrong passwords, so for five minutes no password is tried for this address. "
            "Wait, then try again, or ask for a new password."
        ),
        "email_password_mismatch": _(
            "This e-mail address and this password do not belong together. Check both, or ask for a new password."
        ),
    }

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        """A pilot is offered the tour at sign-in until he has read or left it; others go to their first page."""
        person = access.person_of(request.user)
        if person is not None and person.toured_at is None and not access.is_staff_member(request.user):
            return reverse("tour")
        return str(super().get_login_redirect_url(request))

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        """Who signed in a moment ago sets up a first passkey or code without the password once more; nothing else."""
        required = bool(super().is_reauthentication_required(app=app, **kwargs))
        return required and not (app == "allauth.mfa" and _has_just_come_in(self.request))

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Left in the log for whoever looks after the server; never what was typed."""
        known = (
            User.objects.filter(email=str(credentials.get("email", "")).lower()).values_list("pk", flat=True).first()
        )
        log.warning(
            "Wrong password for %s from %s", f"user {known}" if known else "an unknown address", get_ip(request)
        )


def _has_just_come_in(request: HttpRequest | None) -> bool:
    if request is None or not isinstance(request.user, User) or is_mfa_enabled(request.user):
        return False
    records = get_authentication_records(request, request.user)
    return any(0 <= time() - record.get("at", 0) < app_settings.REAUTHENTICATION_TIMEOUT for record in records)


def closed(request: HttpRequest, key: str = "") -> HttpResponse:
    """In the place of a page of allauth that this site does not have."""
    raise Http404


def invitation_path(user: User) -> str:
    """Where an invited user chooses a password: works once, for the days of PASSWORD_RESET_TIMEOUT."""
    kwargs = {"uidb36": user_pk_to_url_str(user), "key": default_token_generator.make_token(user)}
    return reverse("account_reset_password_from_key", kwargs=kwargs)


def invitation_url(user: User) -> str:
    """The same with the address of the site, for a mail."""
    return f"{settings.SITE_URL}{invitation_path(user)}"
