"""Say what the columns of a recorder are: asked once for each recorder of an aircraft, and remembered."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from breakin.models import ChannelMap, Recording, RecordingRead
from breakin.saying import spoken
from breakin.services.recording_channels import confirm_channels
from reports.forms.recording_columns import ColumnsForm
from reports.reader import Reader, for_reader
from reports.recordings.columns import columns_page
from shop import access
from shop.errors import Refusal


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def recording_columns(request: HttpRequest, reader: Reader, recording_id: int) -> HttpResponse:
    seen = access.visible_to(reader.user, Recording.objects.select_related("aircraft__home"))
    recording = get_object_or_404(seen, pk=recording_id)
    if not access.words_are_for(reader.user, recording):
        raise Http404("No such recording.")
    access.require(reader.user, "upload_recording", recording.aircraft)
    reading = RecordingRead.objects.filter(recording=recording).first()
    context: dict[str, Any] = {
        "recording": recording,
        "reader": reader,
        "base": "base_shop.html" if reader.staff else "base_portal.html",
    }
    if reading is None or not reading.look:
        status = 422 if request.method == "POST" else 200
        return render(request, "reports/recording_columns.html", context, status=status)
    page = columns_page(recording, reading)
    zones = _zones(recording, reader)
    form = ColumnsForm(request.POST if request.method == "POST" else None, page=page, zones=zones)
    if request.method == "POST" and form.is_valid() and reader.person:
        try:
            confirm_channels(
                by=reader.person,
                recording=recording,
                mapping=form.mapping(),
                clock_zone=form.cleaned_data["clock_zone"],
                keep_position=bool(form.cleaned_data.get("keep_position")),
                now=timezone.now(),
                flight_date=form.cleaned_data.get("flight_date"),
            )
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error(
                    problem.field if problem.field in form.fields else None, spoken(problem.message, reader.units)
                )
        else:
            messages.success(
                request,
                _("Noted, and remembered for %(aircraft)s. %(name)s is read with it.")
                % {"aircraft": recording.aircraft, "name": recording.original_name},
            )
            return redirect("upload_recording", aircraft_id=recording.aircraft_id)
    refused = bool(form.errors)
    context |= {"page": page, "form": form, "zones": zones, "refused": refused}
    return render(request, "reports/recording_columns.html", context, status=422 if refused else 200)


def _zones(recording: Recording, reader: Reader) -> list[str]:
    """The zones that the recorder's clock is likely set to: as another recorder of the aircraft, world time, home."""
    other = ChannelMap.objects.filter(aircraft=recording.aircraft_id).order_by("-confirmed_at", "-pk").first()
    likely = [other.clock_zone] if other is not None else []
    return list(dict.fromkeys([*likely, "UTC", recording.aircraft.home.zone, reader.zone]))
