"""Lots of rings and barrels, for those who build and those who answer for it."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.fleet.lots_page import lots_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def lots(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_lots")
    return render(request, "reports/lots.html", {"page": lots_page(request.GET.get("after", ""))})
