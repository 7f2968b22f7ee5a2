"""Recordings of an aircraft: send an instrument's files, see how far each has come, get them back as they were."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from breakin.models import Recording
from breakin.saying import spoken
from breakin.services import recordings
from engines.models import Aircraft
from reports.forms.recording import RecordingForm
from reports.reader import Reader, for_reader
from reports.recordings.files_page import file_line, file_lines, flights_to_choose
from shop import access
from shop.errors import Refusal
from shop.models import Person


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def upload_recording(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "upload_recording", aircraft)
    flights = flights_to_choose(reader, aircraft)
    if request.method == "POST":
        form = RecordingForm(request.POST, request.FILES, flights=flights)
        if form.is_valid() and reader.person and _store_all(request, form, reader.person, aircraft):
            return redirect("upload_recording", aircraft_id=aircraft.pk)
    else:
        form = RecordingForm(flights=flights)
    return render(
        request,
        "reports/portal/recordings.html",
        {
            "aircraft": aircraft,
            "form": form,
            "files": file_lines(reader, aircraft),
            "refused": bool(form.errors),
            "reader": reader,
        },
        status=422 if form.errors else 200,
    )


def _store_all(request: HttpRequest, form: RecordingForm, by: Person, aircraft: Aircraft) -> bool:
    """Keep each file by itself: one that is refused doesn't hold back the others. Were all kept?"""
    for upload in form.cleaned_data["upload"]:
        try:
            _store(request, form, by, aircraft, upload)
        except Refusal as refusal:
            named = {"upload": "upload", "flight_root": "flight"}
            for problem in refusal.problems:
                form.add_error(named.get(problem.field), spoken(problem.message, by.units))
    return not form.errors


def _store(request: HttpRequest, form: RecordingForm, by: Person, aircraft: Aircraft, upload: UploadedFile) -> None:
    recording, created = recordings.store_recording(
        by=by,
        aircraft=aircraft,
        upload=upload,
        now=timezone.now(),
        note=form.cleaned_data["note"],
        flight_root=form.cleaned_data["flight"],
    )
    new = _("%(name)s was received and is kept as it came.")
    again = _("%(name)s was here already: the same file twice is one file.")
    messages.success(request, (new if created else again) % {"name": recording.original_name})


@for_reader
@require_safe
def recording_progress(request: HttpRequest, reader: Reader, recording_id: int) -> HttpResponse:
    """The line of one file in the list, asked for each second while it is being read."""
    line = file_line(reader, recording_id)
    if line is None:
        raise Http404("No such recording.")
    answer = render(request, "reports/portal/parts/recording_line.html", {"file": line, "reader": reader})
    patch_cache_control(answer, private=True, no_store=True)
    return answer


@for_reader
@require_safe
def recording_file(request: HttpRequest, reader: Reader, recording_id: int) -> HttpResponseBase:
    """The file as it came, always as a download: its content is not ours to trust."""
    recording = get_object_or_404(access.visible_to(reader.user, Recording.objects.all()), pk=recording_id)
    if not access.words_are_for(reader.user, recording):
        raise Http404
    try:
        content = recording.file.open("rb")
    except FileNotFoundError as error:
        raise Http404 from error
    answer = FileResponse(
        content, as_attachment=True, filename=recording.original_name, content_type="application/octet-stream"
    )
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Cache-Control"] = "private, no-store"
    return answer
