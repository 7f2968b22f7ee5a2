"""The engine types of the shop: looked at, entered, revised."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from engines.models import EngineType
from reports.acts.doing import done, form_of
from reports.acts.type_form import TypeForm, as_it_is, keep_from
from reports.acts.types import changes, picture_of, type_page, types_page
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]


@for_reader
@require_safe
def engine_types(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "install")
    return render(request, "reports/acts/types.html", {"page": types_page(reader)})


@for_reader
@require_safe
def engine_type(request: HttpRequest, reader: Reader, type_id: int) -> HttpResponseBase:
    kind = get_object_or_404(EngineType, pk=type_id)
    access.require(reader.user, "install")
    return render(request, "reports/acts/type.html", {"page": type_page(reader, kind)})


@require_http_methods(METHODS)
@for_reader
def type_new(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    return _form(request, reader, None)


@require_http_methods(METHODS)
@for_reader
def type_revise(request: HttpRequest, reader: Reader, type_id: int) -> HttpResponseBase:
    kind = get_object_or_404(EngineType, pk=type_id)
    access.require(reader.user, "edit_reference")
    return _form(request, reader, kind)


def _form(request: HttpRequest, reader: Reader, kind: EngineType | None) -> HttpResponseBase:
    """A first send shows what would be kept, and the chart; a second one, of the same numbers, keeps it."""
    now = timezone.now()
    newest = kind.revisions.order_by("-number").first() if kind else None
    form = form_of(request, reader, now, TypeForm, as_it_is(newest), kind=kind, newest=newest)
    valid = form.is_bound and form.is_valid()
    sound = valid and not form.asked
    if sound and not form.needs_a_look:
        revision = done(reader, form, lambda by: keep_from(form, by, now))
        if revision is not None:
            messages.success(
                request, f"{revision.engine_type} has revision {revision.number} now. Open builds keep theirs."
            )
            return redirect("engine_type", revision.engine_type_id)
        sound = False
    picture, sentences = picture_of(form.chart)
    if sound:
        form.show_mark()
    context = {
        "form": form, "kind": kind, "newest": newest, "picture": picture, "sentences": sentences, "look": sound,
        "changes": changes(newest, form.values, reader.units) if sound else None,
    }  # fmt: skip
    status = 422 if request.method == "POST" and not sound else 200
    return render(request, "reports/acts/type_form.html", context, status=status)
