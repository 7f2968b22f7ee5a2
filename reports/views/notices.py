"""The notices page."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.notices_page import Asked, notices_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def notices(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """What people were told, newest first. For the shop."""
    access.require(reader.user, "see_notices")
    return render(request, "reports/notices.html", {"page": notices_page(Asked.of(request.GET.dict()))})
