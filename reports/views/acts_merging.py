"""Merging two entries of one flight: the pairs of an aircraft, what a choice would change, and the act."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from engines.models import Aircraft, Installation
from reports.acts.doing import done, form_of
from reports.acts.merging import MergeForm, merge_from, pairs_of, preview_of, side_by_side
from reports.reader import Reader, for_reader
from shop import access


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def flights_merge(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "merge_flights")
    now = timezone.now()
    pairs = pairs_of(aircraft, now)
    asked = request.GET.get("pair", "")
    pair = next((each for each in pairs if each.is_of(asked)), pairs[0] if pairs and not asked else None)
    seat = Installation.objects.filter(aircraft=aircraft, until__isnull=True).select_related("engine").first()
    back = reverse("engine", args=[seat.engine_id]) if seat else reverse("acts")
    context = {"aircraft": aircraft, "pairs": pairs, "pair": pair, "gone": bool(asked) and pair is None, "back": back}
    status = 422 if request.method == "POST" else 200
    if pair is None:
        return render(request, "reports/acts/flights_merge.html", context, status=status)
    form = form_of(request, reader, now, MergeForm, {}, pair=pair)
    looks = form.is_bound and form.is_valid() and ("preview" in request.POST or not form.was_looked_at)
    if looks:
        context["previews"] = preview_of(form, now)
        status = 200 if context["previews"] else 422
    elif done(reader, form, lambda by: merge_from(form, by, now)) is not None:
        messages.success(request, "The two entries are one flight now. Both stay in the book; one of them counts.")
        return redirect(f"{back}#timeline" if seat else back)
    context |= {"form": form, "table": side_by_side(pair, reader.units, reader.zone)}
    return render(request, "reports/acts/flights_merge.html", context, status=status)
