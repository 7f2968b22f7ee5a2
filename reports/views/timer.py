"""The flight timer of one aircraft."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from engines.models import Aircraft
from reports.pilot.timer import timer_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def flight_timer(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    """The minutes of the next flight as a countdown; `?engine=left` where the engines differ."""
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    page = timer_page(aircraft, reader, timezone.now(), request.GET.get("engine", "")[:10])
    return render(request, "reports/portal/timer.html", {"page": page})
