"""What might cost warranty money, for the manager."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.fleet.exposure_page import exposure_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def exposure(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_exposure")
    return render(request, "reports/exposure.html", {"page": exposure_page(reader, request.GET.get("after", ""))})
