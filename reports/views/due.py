"""Complete a due item: in place on the list of today, or on a page of its own where no script runs."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.entries import parse_inspection
from breakin.models import DueItem, DueState
from breakin.services import inspections
from engines.models import InspectionKind
from reports.due_form import DueForm, inspection_for, start
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Problem, Refusal

CLOSED = (DueState.DONE, DueState.WAIVED, DueState.GONE)


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def due_complete(request: HttpRequest, reader: Reader, due_id: int) -> HttpResponseBase:
    seen = access.visible_to(reader.user, DueItem.objects.select_related("build__engine__engine_type"))
    item = get_object_or_404(seen, pk=due_id)
    access.require(reader.user, "inspect")
    kind = inspection_for(item)
    now = timezone.now()
    form: DueForm | None = None
    asked: list[Problem] = []
    ids = f"id_{item.pk}_%s"  # several forms may stand open on the list of today
    if kind is not None and item.state not in CLOSED:
        if request.method == "POST":
            form = DueForm(kind, reader.units, request.POST, auto_id=ids)
            said, asked = _complete(request, reader, item, form, now)
            if said:
                return _done(request, item, said)
        else:
            form = DueForm(kind, reader.units, initial=start(now, reader.zone), auto_id=ids)
    return _show(request, item, kind, form, asked)


def _complete(
    request: HttpRequest, reader: Reader, item: DueItem, form: DueForm, now: datetime
) -> tuple[str, list[Problem]]:
    """What was done, in words; or nothing, with the form saying what to mend and what to confirm."""
    if not form.is_valid():
        return "", []
    if reader.person is None:
        form.add_error(None, "This login belongs to no person, so it can't sign for a check. Ask the shop manager.")
        return "", []
    try:
        raw = form.raw(request.POST.getlist("confirmed"))
        entry = parse_inspection(raw, units=reader.units, zone=reader.zone, now=now)
        if entry.warnings:
            return "", list(entry.warnings)
        inspections.complete_check(by=reader.person, engine=item.build.engine, entry=entry, due_item=item, now=now)
    except Refusal as refusal:
        form.refuse(refusal.problems)
        return "", []
    return f"{item.title}: {InspectionKind(form.kind).label} entered.", []


def _done(request: HttpRequest, item: DueItem, said: str) -> HttpResponse:
    if getattr(request, "htmx", False):
        return render(request, "reports/_due_done.html", {"item": item, "said": said})
    messages.success(request, said)
    if request.GET.get("next") == "engine":
        return redirect(reverse("engine", args=[item.build.engine_id]) + "#due")
    return redirect("today")


def _show(
    request: HttpRequest, item: DueItem, kind: InspectionKind | None, form: DueForm | None, asked: list[Problem]
) -> HttpResponse:
    refused = request.method == "POST"
    context: dict[str, Any] = {
        "item": item,
        "kind": kind.label if kind else "",
        "form": form,
        "asked": asked,
        "closed": item.state in CLOSED,
        "refused": refused,
        "back": reverse("engine", args=[item.build.engine_id]),
        "next": "engine" if request.GET.get("next") == "engine" else "",
    }
    inside = getattr(request, "htmx", False)
    template = "reports/_due_form.html" if inside else "reports/due_complete.html"
    # In place the answer is swapped in only when it reads as a success.
    return render(request, template, context | {"inside": inside}, status=422 if refused and not inside else 200)
