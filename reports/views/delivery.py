"""How an aircraft is delivered: the first two hours and the ferry home, planned before hand-over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from engines.models import Aircraft
from reports.acts.delivery import DeliveryForm, beginning, delivery_from
from reports.acts.doing import done, form_of
from reports.delivery.page import delivery_page
from reports.delivery.planned import newest_plan, seats_of
from reports.reader import Reader, for_reader
from shop import access
from shop.models import Place, Shop


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def delivery(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    """The plan that holds, what it would earn, and the form; `preview` works out what was typed and keeps nothing."""
    found = access.visible_to(reader.user, Aircraft.objects.select_related("home"))
    aircraft = get_object_or_404(found, pk=aircraft_id)
    access.require(reader.user, "plan_delivery", aircraft)
    now = timezone.now()
    seats = seats_of(aircraft)
    plan = newest_plan(reader.user, aircraft, seats)
    newest = aircraft.delivery_plans.order_by("-revision").values_list("revision", flat=True).first() or 0
    start = beginning(aircraft, Shop.objects.select_related("place").first(), plan, reader.units)
    form = form_of(request, reader, now, DeliveryForm, start, aircraft=aircraft, after=newest)
    look = "preview" in request.POST
    kept = None if look else done(reader, form, lambda by: delivery_from(form, by, now))
    if kept is not None:
        told = {"aircraft": aircraft.registration, "revision": kept.revision}
        messages.success(request, _("The delivery of %(aircraft)s is planned, revision %(revision)s.") % told)
        return redirect("delivery", aircraft.pk)
    tried = form.entry if form.is_bound and form.is_valid() else None
    places = list(Place.objects.order_by("name").values_list("name", flat=True)[:200])
    page = delivery_page(aircraft, reader, seats, plan, tried=tried, places=places)
    status = 422 if request.method == "POST" and not (look and tried) else 200
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {"page": page, "form": form, "base": base, "reader": reader}
    return render(request, "reports/acts/delivery.html", context, status=status)
