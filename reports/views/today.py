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
    page = today(reader, timezone.now(), place=_number(request, "place"), skip=_number(request, "skip") or 0)
    return render(request, "reports/today.html", {"page": page})


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
