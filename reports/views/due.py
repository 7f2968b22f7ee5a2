"""Complete a due item: in place on the list of today, or on a page of its own where no script runs; or waive it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.entries import InspectionEntry
from breakin.models import DueItem, DueState
from breakin.services import inspections, waiving
from engines.models import Inspection, InspectionKind
from reports.acts.base import NOBODY
from reports.due_form import inspection_for, other_ways
from reports.inspect.doing import LastLook, enter, form_of, last_look
from reports.inspect.form import InspectionForm
from reports.reader import Reader, for_reader
from reports.views.photos import keep_photos, photo_form
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm
from shop.models import Person

CLOSED = (DueState.DONE, DueState.WAIVED, DueState.GONE)
STILL_OPEN = "It stays open: a filter that was not opened tells nothing. Cut it, or the next one, and enter it then."


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def due_complete(request: HttpRequest, reader: Reader, due_id: int) -> HttpResponseBase:
    item = _seen(reader, due_id)
    access.require(reader.user, "inspect")
    kind = inspection_for(item, request.GET.get("kind", ""))
    engine, now = item.build.engine, timezone.now()
    if kind is None or item.state in CLOSED:
        return _show(request, reader, item, kind, None, None)
    last = last_look(reader, engine, kind)
    ids = f"id_{item.pk}_%s"  # several forms may stand open on the list of today
    form = form_of(request, reader, engine, kind, now, last=last, auto_id=ids)

    def do(by: Person, entry: InspectionEntry) -> Inspection:
        return inspections.complete_check(by=by, engine=engine, entry=entry, due_item=item, now=now)

    made = enter(request, reader, form, now, do)
    if made is None:
        return _show(request, reader, item, kind, form, last)
    keep_photos(request, reader, photo_form(request, reader), made, now)
    return _done(request, item, made)


def _done(request: HttpRequest, item: DueItem, made: Inspection) -> HttpResponse:
    item.refresh_from_db()
    said = f"{item.title}: {made.get_kind_display()} entered."
    if item.state not in CLOSED:
        said = f"{said} {STILL_OPEN}"
    if getattr(request, "htmx", False):
        return render(request, "reports/_due_done.html", {"item": item, "said": said, "made": made})
    messages.success(request, said)
    done = {"done": item.pk}  # the page then lets go of what was kept of this form on the device
    if request.GET.get("next") == "engine":
        return redirect(reverse("engine", args=[item.build.engine_id], query=done, fragment="due"))
    return redirect(reverse("today", query=done))


def _show(
    request: HttpRequest,
    reader: Reader,
    item: DueItem,
    kind: InspectionKind | None,
    form: InspectionForm | None,
    last: LastLook | None,
) -> HttpResponse:
    more = "more_rows" in request.POST
    refused = request.method == "POST" and not more
    context: dict[str, Any] = {
        "item": item,
        "kind": kind.label if kind else "",
        "form": form,
        "last": last,
        "photos": photo_form(request, reader),
        "closed": item.state in CLOSED,
        "refused": refused,
        "back": reverse("engine", args=[item.build.engine_id]),
        "action": _address(request, item),
        "others": other_ways(item, kind),
        "draft": f"due-{item.pk}",
    }
    inside = getattr(request, "htmx", False)
    template = "reports/_due_form.html" if inside else "reports/due_complete.html"
    # In place the answer is swapped in only when it reads as a success.
    return render(request, template, context | {"inside": inside}, status=422 if refused and not inside else 200)


def _address(request: HttpRequest, item: DueItem) -> str:
    """Where the form is sent: the same page, with the kind and the way back that were asked for."""
    kept = {name: request.GET[name] for name in ("kind", "next") if request.GET.get(name)}
    return reverse("due_complete", args=[item.pk], query=kept or None)


class WaiveForm(BookForm):
    reason = forms.CharField(
        label="Why it is not needed",
        help_text="It stays on record with your name, and stands in the close-out.",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Why is it waived? A few words."},
    )


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def due_waive(request: HttpRequest, reader: Reader, due_id: int) -> HttpResponseBase:
    """The manager lets it stand undone."""
    item = _seen(reader, due_id)
    access.require(reader.user, "waive")
    form = WaiveForm(request.POST) if request.method == "POST" else WaiveForm()
    back = reverse("engine", args=[item.build.engine_id]) + "#due"
    if form.is_bound and form.is_valid() and _waive(reader, item, form, timezone.now()):
        messages.success(request, f"“{item.title}” is waived.")
        return redirect(back)
    context = {"item": item, "form": form, "back": back, "refused": form.is_bound, "closed": item.state in CLOSED}
    return render(request, "reports/inspect/waive.html", context, status=422 if form.is_bound else 200)


def _waive(reader: Reader, item: DueItem, form: WaiveForm, now: datetime) -> bool:
    if reader.person is None:
        form.add_error(None, NOBODY)
        return False
    try:
        waiving.waive_due(by=reader.person, due_item=item, reason=form.cleaned_data["reason"], now=now)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return False
    return True


def _seen(reader: Reader, due_id: int) -> DueItem:
    rows = access.visible_to(reader.user, DueItem.objects.select_related("build__engine__engine_type"))
    return get_object_or_404(rows, pk=due_id)
