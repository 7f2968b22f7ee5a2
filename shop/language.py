"""In which language a page speaks: the reader's own, once he has signed in.

Before that the browser says which it likes best (Django's LocaleMiddleware), unless the address carries
`?language=de`, as the link of an invitation does; a cookie then keeps it until the sign-in. The shop's side is written
in English only, so that its readers get English throughout instead of a mixture.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponseBase
from django.utils import translation

from shop import access
from shop.models import User

OFFERED = tuple(code for code, _ in settings.LANGUAGES)
ASKED_BY = "language"

Answer = Callable[[HttpRequest], HttpResponseBase]
Rest = ParamSpec("Rest")
R = TypeVar("R", bound=HttpResponseBase)


class LanguageMiddleware:
    """Stands after the authentication and before everything that says a word."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        code = language_of(request.user)
        asked = "" if code else request.GET.get(ASKED_BY, "")
        code = code or (asked if asked in OFFERED else "")
        if not code:
            return self.get_response(request)
        request.LANGUAGE_CODE = code
        with translation.override(code):
            response = self.get_response(request)
        response.headers.setdefault("Content-Language", code)
        if asked == code:
            response.set_cookie(
                settings.LANGUAGE_COOKIE_NAME,
                code,
                max_age=settings.SESSION_COOKIE_AGE,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return response


def language_of(user: User | AnonymousUser) -> str:
    """The language of a signed-in reader; "" before the sign-in, and for a user who is no person of the book."""
    person = access.person_of(user)
    if access.is_staff_member(user):
        return settings.LANGUAGE_CODE
    return person.language if person and person.language in OFFERED else ""


def in_english(view: Callable[Concatenate[HttpRequest, Rest], R]) -> Callable[Concatenate[HttpRequest, Rest], R]:
    """A page that is written in English only, whoever reads it: its numbers, days and labels are English too."""

    @wraps(view)
    def page(request: HttpRequest, /, *args: Rest.args, **kwargs: Rest.kwargs) -> R:
        with translation.override(settings.LANGUAGE_CODE):
            response = view(request, *args, **kwargs)
        response.headers["Content-Language"] = settings.LANGUAGE_CODE
        return response

    return page
