"""The next-flight card on paper: the one in hand, and one that was handed out."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from breakin.models import IssuedCard
from engines.models import Aircraft
from reports.card_print.printing import made_words, print_card
from reports.pilot.card_air import NAMES
from reports.pilot.card_content import CardContent
from reports.pilot.card_issue import look_at
from reports.pilot.kept_cards import kept_page
from reports.pilot.log_flight_page import sections_of
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def next_card_print(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    """What the page of the card shows, with the same typed field and air."""
    found = access.visible_to(reader.user, Aircraft.objects.select_related("home"))
    aircraft, now = get_object_or_404(found, pk=aircraft_id), timezone.now()
    if not (reader.staff or access.holds_now(reader.user, aircraft)):
        raise Http404("No card for somebody who does not hold or fly this aircraft today.")
    typed = {name: request.GET.get(name, "") for name in NAMES}
    in_hand = look_at(aircraft, sections_of(aircraft, now), reader, typed, now)
    if in_hand.asked.told is None:  # the page says what is to be mended
        given = {name: value for name, value in typed.items() if value}
        return redirect(f"{reverse('next_card', args=[aircraft.pk])}?{urlencode(given)}")
    return _pdf(in_hand.content)


@for_reader
@require_safe
def kept_card_print(request: HttpRequest, reader: Reader, card_id: int) -> HttpResponseBase:
    """A card that was handed out, in the reader's way where that was kept; with `?as=issued` as it was handed out."""
    rows = IssuedCard.objects.select_related("build__engine__engine_type", "plan")
    card = get_object_or_404(access.visible_to(reader.user, rows), pk=card_id)
    kept = kept_page(card, reader, timezone.now(), as_issued=request.GET.get("as") == "issued")
    if kept.content is None:
        raise Http404("Only the minutes of this card were kept.")
    with translation.override(kept.language):
        return _pdf(kept.content, "" if kept.as_issued else kept.told)


def _pdf(content: CardContent, told: str = "") -> HttpResponse:
    made = f"{made_words(content)} {told}".rstrip()
    answer = HttpResponse(print_card(content, made=made), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="card-{content.registration}.pdf"'
    answer["Cache-Control"] = "private, no-cache"
    return answer
