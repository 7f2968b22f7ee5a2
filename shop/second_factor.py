"""Who works for the shop signs in with a second factor: a code of the phone, a passkey or a security key.

Pages: the middleware leads a member of staff who has none to where one is set up, and lets nothing else through. Once
one is set up, the sign-in itself asks for it. The programming interface is left to the permission `SecondFactorSet` in
`shop.api_access`, which answers in the interface's own words and also covers tokens: a token made before its owner
joined the shop would otherwise open the shop's side with no second factor at all.

A demo run asks for none (`SECOND_FACTOR_FOR_STAFF`): its logins stand on the sign-in page.
"""

from __future__ import annotations

from collections.abc import Callable

from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse

from shop import access
from shop.models import User

OPEN = ("/accounts/", "/api/", "/healthz")

Answer = Callable[[HttpRequest], HttpResponseBase]


class SecondFactorMiddleware:
    """Stands after the authentication and the messages, before every page."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path.startswith((*OPEN, settings.STATIC_URL)) or not is_missing(request.user):
            return self.get_response(request)
        messages.warning(request, "Who works for the shop signs in with a second factor. Set one up first.")
        return redirect(reverse("mfa_activate_totp"))


def is_missing(user: User | AnonymousUser) -> bool:
    """Does this user work for the shop, or open its records, without a second factor?"""
    if not settings.SECOND_FACTOR_FOR_STAFF or not user.is_authenticated:
        return False
    if not (user.is_staff or access.is_staff_member(user)):
        return False
    return not is_mfa_enabled(user)
