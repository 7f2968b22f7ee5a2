"""Log a flight that was recorded and that nobody logged."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from breakin.services.recording_logging import log_from_recording
from reports.forms.recording_log import LogRecordedForm
from reports.pilot.log_flight_page import is_assigned, pilots_of, sections_of
from reports.reader import Reader, for_reader
from reports.recordings.match import may_be_logged
from reports.recordings.page import flight_part
from reports.views.recording import recorded_flight_of
from shop import access
from shop.errors import Refusal


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def recorded_log(request: HttpRequest, reader: Reader, recording_id: int, number: int) -> HttpResponse:
    row = recorded_flight_of(reader, recording_id, number)
    aircraft = row.recording.aircraft
    if not access.words_are_for(reader.user, row.recording):
        raise Http404("No such recording.")
    access.require(reader.user, "log_flight", aircraft)
    if not may_be_logged(row):
        said = _("This flight is in the log already.") if row.flight_root else _("It is not known when this was.")
        messages.info(request, said)
        return redirect("recording", recording_id=recording_id)
    now = timezone.now()
    recorded = {each.engine_id for each in row.engines.all()}
    sections = [section for section in sections_of(aircraft, row.began_at) if section.engine.pk in recorded]
    pilots = pilots_of(aircraft, now)
    flies = reader.person in pilots
    for_others = bool(pilots) and (is_assigned(reader.person, aircraft, now) or (reader.staff and not flies))
    form = LogRecordedForm(
        request.POST if request.method == "POST" else None,
        sections=sections,
        pilots=pilots,
        for_others=for_others,
        initial={"pilot": str(reader.person.pk)} if flies and reader.person else None,
    )
    if request.method == "POST" and form.is_valid() and reader.person is not None:
        flew = form.pilot()
        other = None if flew == reader.person else flew
        try:
            logged = log_from_recording(
                by=reader.person, recorded_flight=row, now=now, raw=form.raw(), on_behalf_of=other
            )
        except Refusal as refusal:
            form.put_problems(refusal)
        else:
            return redirect("flight_received", flight_id=logged.flight.pk)
    refused = bool(form.errors)
    context = {
        "form": form,
        "flight": flight_part(row, reader),
        "recording": row.recording,
        "reader": reader,
        "base": "base_shop.html" if reader.staff else "base_portal.html",
        "refused": refused,
    }
    return render(request, "reports/recording_log.html", context, status=422 if refused else 200)
