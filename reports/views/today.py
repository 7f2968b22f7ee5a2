"""The list of today."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from reports.fleet.today import today
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def today_list(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_today")
    page = today(reader, timezone.now(), place=request.GET.get("place"), after=request.GET.get("after", ""))
    return render(request, "reports/today.html", {"page": page})
