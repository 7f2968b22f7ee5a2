"""Log a flight: show the form, take it in once, say what it means."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from breakin.entries import parse_flight
from breakin.entries.moments import moments_of
from breakin.models import Flight
from breakin.saying import spoken
from breakin.services import flights
from engines.models import Aircraft
from reports import outbox
from reports.forms.doubts import Doubt, confirmed_paths, flight_doubts, left_unsaid
from reports.forms.flight import FlightSheet, fresh
from reports.forms.prefill import habits
from reports.forms.raw import Raw, Unfit, flight_raw, put_problems
from reports.forms.typed import typed_texts
from reports.outbox import for_outbox
from reports.pilot.aircraft_page import with_cards
from reports.pilot.log_flight_page import EngineSection, is_assigned, keyed_as, pilots_of, sections_of
from reports.pilot.received_page import received_page
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import ConflictingResend, Refusal
from shop.facts import Source
from shop.models import Person

DOUBLE = gettext_lazy(
    "Another entry covers the same time. Both are kept as a possible duplicate; the shop sorts it out, and nothing is "
    "counted twice."
)
NO_ENGINE = gettext_lazy(
    "No engine is on record in this aircraft. The shop enters the installation first; then it can be sent."
)
OTHER_ENGINES = gettext_lazy(
    "This form was made for an engine that was not in the aircraft when the flight ended. Then there was: {engines}. "
    "Check the date, and what you typed for each engine, and send it again."
)


@dataclass
class Attempt:
    """One try to send the form: the doubts that are still open, and the entry that stood in its way."""

    sheet: FlightSheet
    doubts: dict[str, Doubt] = field(default_factory=dict)
    already: Flight | None = None


@for_reader
@for_outbox
@require_http_methods(["GET", "HEAD", "POST"])
def log_flight(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    aircraft = get_object_or_404(
        access.visible_to(reader.user, Aircraft.objects.select_related("home")), pk=aircraft_id
    )
    access.require(reader.user, "log_flight", aircraft)
    now = timezone.now()
    sections, same_engines = keyed_as(with_cards(_sections(request, aircraft, reader, now), reader, now), request.POST)
    pilots = pilots_of(aircraft, now)
    outside = reader.person is None or reader.person not in pilots
    options: dict[str, Any] = {
        "sections": sections,
        "system": reader.units,
        "zone": reader.zone,
        "pilots": [*pilots, reader.person] if reader.staff and outside and reader.person else pilots,
        "for_others": reader.staff or is_assigned(reader.person, aircraft, now),
        "self_flies": not outside,
    }
    if request.method != "POST":
        start = fresh(now, reader.zone, sections, _pending_id(request, aircraft), aircraft.home)
        start |= habits(sections, reader.person)
        attempt = Attempt(FlightSheet(initial=start, **options))
    else:
        attempt = Attempt(FlightSheet(request.POST, initial=habits(sections, reader.person), **options))
        if "add_block" not in request.POST and sections:
            logged = _send(request, reader, aircraft, attempt, options["pilots"], now, same_engines)
            if logged is not None:
                request.session.pop(_session_key(aircraft), None)
                return _received(request, logged)
    refused = bool(request.method == "POST" and attempt.sheet.errors)
    if outbox.is_sent_by_itself(request):
        return outbox.asks(attempt.sheet.sentences() or [str(NO_ENGINE)])
    return render(
        request,
        "reports/portal/log_flight.html",
        {
            "aircraft": aircraft,
            "sheet": attempt.sheet,
            "doubts": attempt.doubts,
            "already": attempt.already,
            "new_client_id": uuid.uuid4(),
            "refused": refused,
            "more_open": refused and attempt.sheet.more_is_wrong(),
            "reader": reader,
            "now": now,
        },
        status=422 if refused else 200,
    )


def _send(
    request: HttpRequest,
    reader: Reader,
    aircraft: Aircraft,
    attempt: Attempt,
    pilots: list[Person],
    now: datetime,
    same_engines: bool,
) -> flights.LoggedFlight | None:
    """Log what the sheet holds; None when something has to be mended, which then stands in the sheet."""
    sheet = attempt.sheet
    if not sheet.is_valid() or reader.person is None:
        return None
    if not same_engines:
        sheet.add_error("", OTHER_ENGINES.format(engines=", ".join(str(part.engine) for part in sheet.sections)))
        return None
    as_new = "as_new" in request.POST
    typed = sheet.flight.cleaned_data
    client_id = (typed.get("new_client_id") if as_new else typed.get("client_id")) or uuid.uuid4()
    try:
        raw = flight_raw(sheet, client_id=str(client_id))
        pilot = _pilot(sheet, pilots)
    except Unfit as unfit:
        sheet.add_error(unfit.name, unfit.message)
        return None
    try:
        entry = parse_flight(_confirmed(raw, request, sheet), units=reader.units, zone=reader.zone, now=now)
        # Sent once more, since the answer was lost on its way: what is unusual today was not so when it came first.
        before = flights.resent(aircraft, entry)
    except ConflictingResend:
        _conflict(attempt, reader, client_id)
        return None
    except Refusal as refusal:
        put_problems(sheet, raw, refusal, reader.units)
        return None
    if before is not None:
        return before
    if _ask(request, sheet, raw, entry.warnings, attempt, reader):
        return None
    source = typed.get("source") or (Source.SHOP if reader.staff else Source.PORTAL)
    # Only who may be told of a flight logs for somebody; a member of a club just says who flew.
    other = pilot if "source" in sheet.flight.fields and pilot is not None and pilot != reader.person else None
    try:
        return flights.log_flight(
            by=reader.person, aircraft=aircraft, entry=entry, now=now, source=source, on_behalf_of=other
        )
    except ConflictingResend:
        _conflict(attempt, reader, client_id)
        return None
    except Refusal as refusal:
        put_problems(sheet, raw, refusal, reader.units)
        return None


def _conflict(attempt: Attempt, reader: Reader, client_id: uuid.UUID) -> None:
    attempt.already = access.visible_to(reader.user, Flight.objects.filter(client_id=client_id)).first()
    attempt.sheet.add_error("", _("This form was sent before, with other content. Choose below what is meant."))


def _received(request: HttpRequest, logged: flights.LoggedFlight) -> HttpResponse:
    """To the page of what it means; a phone that sent it by itself is told in words."""
    flight = logged.flight
    double = [str(DOUBLE)] if logged.possible_duplicate else []
    if outbox.is_sent_by_itself(request):
        clock = outbox.clock_words(flight.typed, flight.received_at)
        page = reverse("flight_received", args=[flight.pk])
        return outbox.received(flight.received_at, page, [*double, *([clock] if clock else [])])
    for said in double:
        messages.warning(request, said)
    return redirect("flight_received", flight_id=flight.pk)


def _sections(request: HttpRequest, aircraft: Aircraft, reader: Reader, now: datetime) -> list[EngineSection]:
    """The engines as they sat when the flight ended: a form may come days later, after another engine went in."""
    posted = request.POST
    found = moments_of(posted.get("local_date", ""), posted.get("local_time", ""), reader.zone)
    ended = found[-1 if posted.get("clock_change") == "after" else 0] if found else now
    return (sections_of(aircraft, ended) if ended < now else []) or sections_of(aircraft, now)


def _pilot(sheet: FlightSheet, pilots: list[Person]) -> Person | None:
    chosen = sheet.flight.cleaned_data.get("pilot")
    told = sheet.flight.cleaned_data.get("source") == Source.PHONE
    must_say = "source" in sheet.flight.fields and (told or not sheet.flight.self_flies)
    if must_say and pilots and not chosen:
        raise Unfit("pilot", _("Choose who flew: the entry is made for that person."))
    return next((person for person in pilots if str(person.pk) == chosen), None)


def _confirmed(raw: Raw, request: HttpRequest, sheet: FlightSheet) -> dict[str, object]:
    texts = typed_texts(sheet.forms())
    paths = confirmed_paths(raw, request.POST, texts)
    return {**raw.entry, **left_unsaid(request.POST, texts), **({"confirmed": paths} if paths else {})}


def _ask(
    request: HttpRequest, sheet: FlightSheet, raw: Raw, warnings: object, attempt: Attempt, reader: Reader
) -> bool:
    """Put every open question at its field; was there one?"""
    texts = typed_texts(sheet.forms())
    asked = [Doubt(name, said, texts.get(name, "")) for name, said in _warned(raw, warnings, reader.units)]
    for doubt in [*asked, *flight_doubts(sheet, reader.units)]:
        if not doubt.is_confirmed(request.POST) and doubt.name not in attempt.doubts:
            attempt.doubts[doubt.name] = doubt
            sheet.add_error(doubt.name, doubt.asked)
    return bool(attempt.doubts)


def _warned(raw: Raw, warnings: object, units: str) -> list[tuple[str, str]]:
    return [(raw.field_of(problem.field), spoken(problem.message, units)) for problem in (warnings or ())]  # type: ignore[attr-defined]


def _session_key(aircraft: Aircraft) -> str:
    return f"log-flight-{aircraft.pk}"


def _pending_id(request: HttpRequest, aircraft: Aircraft) -> uuid.UUID:
    """One id until the form has been taken in, so that two tabs and two taps make one flight."""
    key = _session_key(aircraft)
    try:
        return uuid.UUID(request.session[key])
    except (KeyError, ValueError):
        made = uuid.uuid4()
        request.session[key] = str(made)
        return made


@for_reader
@require_GET
def flight_received(request: HttpRequest, reader: Reader, flight_id: int) -> HttpResponse:
    flight = get_object_or_404(
        access.visible_to(reader.user, Flight.objects.select_related("aircraft", "entered_by", "on_behalf_of")),
        pk=flight_id,
    )
    page = received_page(flight, reader, timezone.now())
    return render(request, "reports/portal/received.html", {"page": page, "flight": flight, "reader": reader})
