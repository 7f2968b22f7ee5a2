"""Recordings: send an instrument's file to the shop, and get it back as it was."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from breakin.models import Recording
from breakin.services import recordings
from engines.models import Aircraft
from reports.forms.recording import RecordingForm
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal

SHOWN = 50


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def upload_recording(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponse:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "upload_recording", aircraft)
    form = RecordingForm(request.POST or None, request.FILES or None) if request.method == "POST" else RecordingForm()
    if request.method == "POST" and form.is_valid() and reader.person:
        try:
            recording, created = recordings.store_recording(
                by=reader.person,
                aircraft=aircraft,
                upload=form.cleaned_data["upload"],
                now=timezone.now(),
                note=form.cleaned_data["note"],
            )
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error(problem.field if problem.field in form.fields else None, problem.message)
        else:
            said = (
                "was received and is kept as it came"
                if created
                else "was here already: the same file twice is one file"
            )
            messages.success(request, f"{recording.original_name} {said}.")
            return redirect("upload_recording", aircraft_id=aircraft.pk)
    files = access.visible_to(reader.user, Recording.objects.filter(aircraft=aircraft)).select_related("uploaded_by")
    return render(
        request,
        "reports/portal/recordings.html",
        {
            "aircraft": aircraft,
            "form": form,
            "files": files[:SHOWN],
            "refused": bool(form.errors),
            "reader": reader,
        },
        status=422 if form.errors else 200,
    )


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
