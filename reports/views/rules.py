"""The rules that the book judges by: read by the shop."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.fleet.rules_page import rules_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def rules(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_rules")
    return render(request, "reports/rules.html", {"page": rules_page()})
