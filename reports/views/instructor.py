"""The instructor's page."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from reports.pilot.instructor_page import has_engines, instructor_page
from reports.reader import Reader, for_reader


@for_reader
@require_safe
def instructor(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """One's own assignments only; nobody else has such a page."""
    if reader.person is None or not has_engines(reader.person):
        raise Http404
    return render(request, "reports/portal/instructor.html", {"page": instructor_page(reader.person, timezone.now())})
