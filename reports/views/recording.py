"""One recording: its page, the lines of its pictures, and what people say of it."""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import get_conditional_response, patch_cache_control
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_POST, require_safe

from breakin.models import RecordedFlight, Recording
from breakin.reading.series import Series, read_series
from breakin.saying import spoken
from breakin.services.recording_matching import match_flight
from breakin.services.recordings import read_again
from reports.forms.recording import MatchForm
from reports.reader import Reader, for_reader
from reports.recordings.files_page import file_line
from reports.recordings.lines import as_payload, drawn_lines, drawn_room
from reports.recordings.match import choices_of
from reports.recordings.page import RecordingPage, recorded_flights, recording_page
from reports.recordings.picture import judged, list_of_flight, picture_of
from reports.recordings.still import recording_svg
from reports.recordings.window import BadWindow, Window, window_of
from shop import access
from shop.errors import Refusal
from shop.models import Person

# Raise it when the drawing changes, so that no browser keeps the old one.
DRAWING = 1
STILL_POINTS = 360


@for_reader
@require_safe
def recording(request: HttpRequest, reader: Reader, recording_id: int) -> HttpResponse:
    found = _recording(reader, recording_id)
    return _page(request, reader, recording_page(found, reader))


@gzip_page
@for_reader
@require_safe
def recorded_series(request: HttpRequest, reader: Reader, recording_id: int, number: int) -> HttpResponseBase:
    """The lines of a picture between two moments, thinned to so many points, as JSON."""
    row = recorded_flight_of(reader, recording_id, number)
    series = _series(row)
    try:
        window = window_of(request.GET, float(series.t[-1]) if series.t.size else 0.0)
    except BadWindow as bad:
        return JsonResponse({"problem": str(bad)}, status=400)
    etag = _etag(row, reader, f"{window}")

    def made() -> HttpResponse:
        return JsonResponse(_payload(row, series, window, reader.units))

    return _conditional(request, etag, made)


@gzip_page
@for_reader
@require_safe
def recorded_picture(request: HttpRequest, reader: Reader, recording_id: int, number: int) -> HttpResponseBase:
    """The picture of a flight as a vector, for print and for readers without script."""
    row = recorded_flight_of(reader, recording_id, number)
    series = _series(row)
    sides = judged(row)
    list_of = list_of_flight(row, sides, reader)
    picture = picture_of(row, sides, list_of, reader.units)
    if picture is None:
        raise Http404("Nothing was recorded that could be drawn.")
    etag = _etag(row, reader, f"{picture.pins}{picture.clock}")

    def made() -> HttpResponse:
        lines = drawn_lines(series, picture.channels, 0.0, picture.seconds, STILL_POINTS, reader.units)
        rooms = {side: room for side in sides if (room := drawn_room(series, side, 0.0, picture.seconds, STILL_POINTS))}
        title = _("Power, temperatures and fuel flow of flight %(number)d over the clock") % {"number": row.number}
        return HttpResponse(recording_svg(picture, lines, rooms, title), content_type="image/svg+xml")

    return _conditional(request, etag, made)


@for_reader
@require_POST
def recorded_match(request: HttpRequest, reader: Reader, recording_id: int, number: int) -> HttpResponse:
    """A person says which flight it is, or that it is none."""
    row = recorded_flight_of(reader, recording_id, number)
    person = _who_acts(reader, row.recording)
    form = MatchForm(request.POST, choices=choices_of(row, reader), prefix=f"match-{number}")
    if form.is_valid():
        root, shift = form.chosen()
        try:
            match_flight(
                by=person,
                recorded_flight=row,
                flight_root=root,
                now=timezone.now(),
                reason=form.cleaned_data["reason"],
                clock_shift_s=row.clock_shift_s + shift if shift else None,
            )
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error("flight", spoken(problem.message, reader.units))
        else:
            messages.success(request, _("Noted. The engine's record is worked out with it."))
            return redirect("recording", recording_id=recording_id)
    page = recording_page(row.recording, reader)
    return _page(request, reader, page, refused={number: form}, status=422)


@for_reader
@require_POST
def recording_again(request: HttpRequest, reader: Reader, recording_id: int) -> HttpResponse:
    """Read the file anew; what its last reading said stands until then."""
    found = _recording(reader, recording_id)
    read_again(by=_who_acts(reader, found), recording=found, now=timezone.now())
    messages.success(request, _("%(name)s is read again.") % {"name": found.original_name})
    return redirect("upload_recording", aircraft_id=found.aircraft_id)


def _page(
    request: HttpRequest,
    reader: Reader,
    page: RecordingPage,
    refused: dict[int, MatchForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    forms = refused or {}
    flights = [(flight, forms.get(flight.number) or _match_form(flight)) for flight in page.flights]
    context: dict[str, Any] = {
        "page": page,
        "flights": flights,
        "file": file_line(reader, page.recording.pk),
        "reader": reader,
        "base": "base_shop.html" if reader.staff else "base_portal.html",
        "refused": bool(forms),
    }
    return render(request, "reports/recording.html", context, status=status)


def _match_form(flight: Any) -> MatchForm | None:
    if not flight.match.may_match:
        return None
    choices = [(choice.value, choice.words) for choice in flight.match.choices]
    taken = next((choice.value for choice in flight.match.choices if choice.taken), None)
    return MatchForm(choices=choices, initial={"flight": taken}, prefix=f"match-{flight.number}")


def _recording(reader: Reader, recording_id: int) -> Recording:
    seen = access.visible_to(reader.user, Recording.objects.select_related("aircraft", "uploaded_by"))
    return get_object_or_404(seen, pk=recording_id)


def recorded_flight_of(reader: Reader, recording_id: int, number: int) -> RecordedFlight:
    """A flight of a recording, both seen by the reader."""
    found = _recording(reader, recording_id)
    row = next((each for each in recorded_flights(reader, found) if each.number == number), None)
    if row is None:
        raise Http404("No such flight in this recording.")
    row.recording = found
    return row


def _who_acts(reader: Reader, found: Recording) -> Person:
    """Whoever may say something of this recording today. Its words are not for a later holder, nor is it his to say."""
    if not access.words_are_for(reader.user, found):
        raise Http404("No such recording.")
    access.require(reader.user, "upload_recording", found.aircraft)
    if reader.person is None:
        raise PermissionDenied(_("Only a person can say this."))
    return reader.person


def _series(row: RecordedFlight) -> Series:
    series = read_series(row)
    if series is None:
        raise Http404("The lines of this flight are not there. Have the recording read again.")
    return series


def _payload(row: RecordedFlight, series: Series, window: Window, units: str) -> dict[str, Any]:
    events = [float(at) for at in (row.summary.get("events") or {}).values()]
    lines = drawn_lines(series, series.names, window.start, window.end, window.points, units, keep=events)
    sides = [name.removeprefix("pct_") for name in series.names if name.startswith("pct_")]
    rooms = {
        side: room
        for side in sides
        if (room := drawn_room(series, side, window.start, window.end, window.points // 2)) is not None
    }
    shown = {name: line for name, line in lines.items() if not name.startswith("sigma_")}
    return {"from": window.start, "to": window.end, **as_payload(shown, rooms, units)}


def _etag(row: RecordedFlight, reader: Reader, more: str) -> str:
    way = f"{reader.units} {reader.zone} {get_language()}"
    said = f"{DRAWING} {row.summary.get('series')} {row.began_at} {row.dated_by} {way} {more}"
    return f'"{hashlib.sha256(said.encode()).hexdigest()[:32]}"'


def _conditional(request: HttpRequest, etag: str, made: Any) -> HttpResponseBase:
    """Made only where the browser has not got it; asked each time, since a reader's sight of an aircraft may end."""
    answer: HttpResponse | None = get_conditional_response(request, etag=etag)
    if answer is None or answer.status_code != 304:
        answer = made()
    answer["ETag"] = etag
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
