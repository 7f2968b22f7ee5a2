"""The next-flight card of one aircraft."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from engines.models import Aircraft
from reports.pilot.card import card_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def next_card(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    """What to set on the next flight; `?elevation=&altimeter=&oat=` name the field and its air."""
    found = access.visible_to(reader.user, Aircraft.objects.select_related("home"))
    aircraft = get_object_or_404(found, pk=aircraft_id)
    typed = {name: request.GET.get(name, "") for name in ("elevation", "altimeter", "oat")}
    return render(
        request,
        "reports/portal/card.html",
        {"card": card_page(aircraft, reader, timezone.now(), typed), "reader": reader},
    )
