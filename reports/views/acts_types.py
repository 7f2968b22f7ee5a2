"""The engine types of the shop."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.acts.types import types_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def engine_types(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "install")
    return render(request, "reports/acts/types.html", {"page": types_page(reader)})
