"""The calendar feed: an address that is its own key, one for each person, and revocable."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_safe

from reports.calendar_feed import calendar_of
from shop import second_factor
from shop.models import TokenScope
from shop.services import token_for


@require_safe
@sensitive_variables("secret")
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Read without signing in, by whoever has the address. An unknown, ended or revoked one is not there."""
    now = timezone.now()
    token = token_for(secret, now)
    if token is None or token.scope != TokenScope.CALENDAR or second_factor.is_missing(token.user):
        raise Http404
    answer = HttpResponse(calendar_of(token.user, now), content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="break-in.ics"'
    answer["Cache-Control"] = "private, max-age=900"
    return answer
