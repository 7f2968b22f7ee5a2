"""The tour before flight one: read it, leave it, find it again."""

from __future__ import annotations

from allauth.mfa.utils import is_mfa_enabled
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from engines.models import Aircraft
from reports.pilot.tour import tour as tour_of
from reports.reader import Reader, for_reader
from shop import access
from shop.services import end_tour


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
@never_cache
def tour(request: HttpRequest, reader: Reader, aircraft_id: int | None = None) -> HttpResponse:
    """Five cards on one page. Sent off by the button below them, it is not offered at sign-in again."""
    if request.method == "POST":
        if reader.person is not None:
            end_tour(person=reader.person, now=timezone.now())
        if "later" in request.POST:
            messages.info(request, _("The tour stays at the foot of “My engines”."))
        return redirect("portal")
    chosen = None
    if aircraft_id is not None:
        held = access.held_now(reader.user, Aircraft.objects.select_related("home"))
        chosen = get_object_or_404(held, pk=aircraft_id)
    context = {
        "tour": tour_of(reader, timezone.now(), chosen),
        "reader": reader,
        "first_time": reader.person is not None and reader.person.toured_at is None,
        "second_factor": is_mfa_enabled(reader.user),
    }
    return render(request, "reports/portal/tour.html", context)
