"""The pilot's first page and the page of one aircraft."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from engines.models import Aircraft
from reports.delivery.page import portal_delivery
from reports.pilot.aircraft_page import aircraft_page
from reports.pilot.home import portal_home
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def portal(request: HttpRequest, reader: Reader) -> HttpResponse:
    """What the reader holds or flies; an empty page says whom to ask."""
    after = request.GET.get("after", "")[:12]
    home = portal_home(reader, timezone.now(), after)
    address = reverse("portal")
    whom = ", ".join(part for part in (home.shop_name, home.phone) if part)
    text = _("Ask %(whom)s: the shop enters who holds and who flies an aircraft.") % {"whom": whom}
    return render(
        request,
        "reports/portal/portal.html",
        {
            "home": home,
            "delivery": portal_delivery(home.page, reader),
            "reader": reader,
            "empty_text": text,
            "first_url": address if after else "",
            "next_url": f"{address}?{urlencode({'after': home.next_after})}" if home.next_after else "",
        },
    )


@for_reader
@require_safe
def portal_aircraft(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    """One aircraft; for somebody who held or flew it before, what was logged in that time."""
    aircraft = get_object_or_404(
        access.visible_to(reader.user, Aircraft.objects.select_related("home")), pk=aircraft_id
    )
    page = aircraft_page(aircraft, reader, timezone.now())
    delivery = portal_delivery(page, reader)
    return render(request, "reports/portal/aircraft.html", {"page": page, "reader": reader, "delivery": delivery})
