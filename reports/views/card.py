"""The next-flight card of one aircraft, and the cards that were handed out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from breakin.models import IssuedCard
from engines.models import Aircraft
from reports.pilot.aircraft_page import aircraft_page
from reports.pilot.card import card_page, shown
from reports.pilot.card_air import NAMES
from reports.pilot.card_issue import take
from reports.pilot.kept_cards import cards_of, kept_page
from reports.pilot.log_flight_page import sections_of
from reports.reader import Reader, for_reader
from shop import access

PAGE = "reports/portal/card.html"


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def next_card(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    """What to set on the next flight. Typed in the address, field and air are tried; sent, that card is handed out."""
    aircraft, now = _aircraft(reader, aircraft_id), timezone.now()
    sent = request.POST if request.method == "POST" else request.GET
    typed = {name: sent.get(name, "") for name in NAMES}
    if request.method != "POST":
        return render(request, PAGE, {"card": card_page(aircraft, reader, now, typed), "reader": reader})
    access.require(reader.user, "take_card", aircraft)
    in_hand = take(aircraft, sections_of(aircraft, now), reader, typed, now)
    if in_hand.asked.told is not None:
        return redirect("next_card", aircraft_id=aircraft.pk)
    page = shown(aircraft_page(aircraft, reader, now), in_hand)
    return render(request, PAGE, {"card": page, "reader": reader}, status=422)


@for_reader
@require_safe
def kept_cards(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    """The cards that were handed out for an aircraft."""
    aircraft = _aircraft(reader, aircraft_id)
    rows = cards_of(aircraft, reader)
    return render(request, "reports/portal/kept_cards.html", {"aircraft": aircraft, "rows": rows})


@for_reader
@require_safe
def kept_card(request: HttpRequest, reader: Reader, card_id: int) -> HttpResponse:
    """One card as it was handed out."""
    rows = IssuedCard.objects.select_related("build__engine__engine_type", "plan")
    card = get_object_or_404(access.visible_to(reader.user, rows), pk=card_id)
    as_issued = request.GET.get("as") == "issued"
    return render(
        request, "reports/portal/kept_card.html", {"kept": kept_page(card, reader, timezone.now(), as_issued=as_issued)}
    )


def _aircraft(reader: Reader, aircraft_id: int) -> Aircraft:
    found = access.visible_to(reader.user, Aircraft.objects.select_related("home"))
    return get_object_or_404(found, pk=aircraft_id)
