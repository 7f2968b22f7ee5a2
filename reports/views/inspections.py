"""Inspections: choose a kind, enter it, look at it, correct it, withdraw it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from breakin.entries import InspectionEntry
from breakin.services import inspection_corrections, inspections
from engines.models import Engine, Inspection, InspectionKind
from reports.forms.flight import reason_field
from reports.inspect.doing import enter, form_of, last_look
from reports.inspect.form import InspectionForm
from reports.inspect.page import inspection_page, kind_rows
from reports.inspect.prefill import initial_of
from reports.reader import Reader, for_reader
from reports.views.corrections import WithdrawForm
from reports.views.photos import keep_photos, photo_form
from shop import access
from shop.errors import Refusal
from shop.language import in_english
from shop.models import Person

METHODS = ["GET", "HEAD", "POST"]


@for_reader
@require_safe
def inspection_choose(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    """Which kind? Each with its last look."""
    engine = _engine(reader, engine_id)
    access.require(reader.user, "inspect")
    return render(request, "reports/inspect/choose.html", {"engine": engine, "rows": kind_rows(reader, engine)})


@require_http_methods(METHODS)
@for_reader
def inspection_new(request: HttpRequest, reader: Reader, engine_id: int, kind: str) -> HttpResponseBase:
    """The form of one kind, with the last look of its kind beside it."""
    engine = _engine(reader, engine_id)
    access.require(reader.user, "inspect")
    if kind not in InspectionKind.values:
        raise Http404("No such kind of inspection.")
    now = timezone.now()
    last = last_look(reader, engine, kind)
    form = form_of(request, reader, engine, InspectionKind(kind), now, last=last)
    photos = photo_form(request, reader)

    def do(by: Person, entry: InspectionEntry) -> Inspection:
        return inspections.complete_check(by=by, engine=engine, entry=entry, now=now)

    made = enter(request, reader, form, now, do)
    if made is not None:
        keep_photos(request, reader, photos, made, now)
        return redirect(f"{reverse('inspection', args=[made.pk])}?entered=1")
    return _form_page(request, engine, form, photos=photos, last=last, now=now)


@for_reader
@in_english
@require_safe
def inspection(request: HttpRequest, reader: Reader, inspection_id: int) -> HttpResponseBase:
    row = _seen(reader, inspection_id)
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {
        "page": inspection_page(reader, row),
        "base": base,
        "reader": reader,
        "photo_form": photo_form(request, reader),
        "entered": "entered" in request.GET,
        "draft": draft_name(row.engine, row.kind),
    }
    return render(request, "reports/inspect/inspection.html", context)


@require_http_methods(METHODS)
@for_reader
def inspection_correct(request: HttpRequest, reader: Reader, inspection_id: int) -> HttpResponseBase:
    """The form as it was typed; a newer version is written, or the last one says that it never happened."""
    row = _seen(reader, inspection_id)
    access.require(reader.user, "inspect")
    newest = Inspection.objects.filter(root=row.root, corrected_by__isnull=True).first() or row
    if newest.pk != row.pk:
        return redirect("inspection_correct", inspection_id=newest.pk)
    if row.withdrawn:
        return redirect("inspection", inspection_id=row.pk)
    now, kind, engine = timezone.now(), InspectionKind(row.kind), row.engine
    withdraw = WithdrawForm(request.POST) if "withdraw" in request.POST else WithdrawForm()
    if "withdraw" in request.POST and withdraw.is_valid() and _withdraw(reader, row, withdraw, now):
        messages.success(request, "The inspection was withdrawn. It stays on record as withdrawn and counts no longer.")
        return redirect("engine", engine_id=engine.pk)
    begin = initial_of(row, reader.units)
    last = last_look(reader, engine, kind, before=row.happened_at, but=row.root)
    form = form_of(request, reader, engine, kind, now, last=last, begin=begin)
    form.fields["reason"] = reason_field()
    made = None

    def do(by: Person, entry: InspectionEntry) -> Inspection:
        reason = form.cleaned_data["reason"]
        return inspection_corrections.correct_inspection(by=by, inspection=row, entry=entry, reason=reason, now=now)

    if "withdraw" in request.POST:
        form = form_of(_as_get(request), reader, engine, kind, now, last=last, begin=begin)
        form.fields["reason"] = reason_field()
    else:
        made = enter(request, reader, form, now, do)
    if made is not None:
        messages.success(request, "The correction was received. The first version stays on record beside it.")
        return redirect("inspection", inspection_id=made.pk)
    return _form_page(request, engine, form, last=last, now=now, corrects=row, withdraw=withdraw)


def _as_get(request: HttpRequest) -> HttpRequest:
    """The same request without what was posted: the other form of the page begins anew."""
    plain = HttpRequest()
    plain.method, plain.user = "GET", request.user
    return plain


def _withdraw(reader: Reader, row: Inspection, form: WithdrawForm, now: datetime) -> bool:
    if reader.person is None:
        return False
    reason = form.cleaned_data["reason"]
    try:
        inspection_corrections.withdraw_inspection(by=reader.person, inspection=row, reason=reason, now=now)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return False
    return True


def draft_name(engine: Engine, kind: str) -> str:
    """Under what name a half-typed form is kept on the device."""
    return f"inspect-{engine.pk}-{kind}"


def _form_page(
    request: HttpRequest, engine: Engine, form: InspectionForm, *, now: datetime, **context: Any
) -> HttpResponse:
    more = "more_rows" in request.POST
    refused = request.method == "POST" and not more
    shown = {
        "engine": engine,
        "form": form,
        "kind": InspectionKind(form.kind),
        "refused": refused,
        "draft": draft_name(engine, form.kind),
        **context,
    }
    return render(request, "reports/inspect/form.html", shown, status=422 if refused else 200)


def _engine(reader: Reader, engine_id: int) -> Engine:
    rows = access.visible_to(reader.user, Engine.objects.select_related("engine_type"))
    return get_object_or_404(rows, pk=engine_id)


def _seen(reader: Reader, inspection_id: int) -> Inspection:
    rows = Inspection.objects.select_related("engine__engine_type", "performed_by", "inspector", "entered_by")
    rows = rows.select_related("corrected_by", "corrects")
    return get_object_or_404(access.visible_to(reader.user, rows), pk=inspection_id)
