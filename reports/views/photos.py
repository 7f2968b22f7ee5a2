"""Photos: send them beside a fact, see them, take one away. Served through these views only, never by address."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_safe

from breakin.models import Flight, OilEvent
from breakin.saying import spoken
from breakin.services import photos
from breakin.services.common import current_installation
from breakin.services.photos import Shown
from engines.models import Aircraft, Inspection, Photo, PhotoAbout
from reports.inspect.photos import PhotoForm, photos_of
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm

METHODS = ["GET", "HEAD", "POST"]


class TakeAwayForm(BookForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Why is it taken away? A few words.")},
    )


def photo_form(request: HttpRequest, reader: Reader) -> PhotoForm:
    """The fields of photos, with what was sent."""
    if request.method == "POST":
        return PhotoForm(request.POST, request.FILES, staff=reader.staff)
    return PhotoForm(staff=reader.staff)


def keep_photos(
    request: HttpRequest, reader: Reader, form: PhotoForm, fact: Inspection | OilEvent | Flight, now: datetime
) -> bool:
    """Keep what was sent beside a fact; every photo that can't be kept is named in a message. Were all kept?"""
    sent = form.cleaned_data.get("photos") or [] if form.is_valid() else []
    if _too_much(request):
        messages.error(request, _("The photos were not kept: together they are too large. Send fewer at once."))
        return False
    if reader.person is None or not sent:
        return form.is_valid()
    of, kept, refused = shown_by(fact), 0, []
    for upload in sent:
        try:
            photos.add_photo(
                by=reader.person,
                of=of,
                upload=upload,
                now=now,
                caption=form.cleaned_data["caption"],
                for_customer=bool(form.cleaned_data.get("for_customer")),
            )
            kept += 1
        except Refusal as refusal:
            refused += [spoken(problem.message, reader.units) for problem in refusal.problems]
    for text in refused:
        messages.error(request, _("Photo not kept: %(why)s") % {"why": text})
    if kept:
        messages.success(
            request, ngettext("%(count)d photo received.", "%(count)d photos received.", kept) % {"count": kept}
        )
    return not refused


def _too_much(request: HttpRequest) -> bool:
    return hasattr(request, "upload_over_limit")


def shown_by(fact: Inspection | OilEvent | Flight) -> Shown:
    """The fact as a photo knows it; of a flight with two engines the first one's."""
    if isinstance(fact, Inspection):
        return Shown(PhotoAbout.INSPECTION, fact.root, fact.engine, fact.happened_at)
    if isinstance(fact, OilEvent):
        return Shown(PhotoAbout.OIL, fact.root, fact.engine, fact.happened_at)
    first = fact.engines.select_related("engine").order_by("installation__position").first()
    if first is None:
        raise Http404("This flight has no engine.")
    return Shown(PhotoAbout.FLIGHT, fact.root, first.engine, fact.happened_at)


@require_http_methods(METHODS)
@for_reader
def inspection_photos(request: HttpRequest, reader: Reader, inspection_id: int) -> HttpResponseBase:
    rows = access.visible_to(reader.user, Inspection.objects.select_related("engine__engine_type"))
    row = get_object_or_404(rows, pk=inspection_id)
    access.require(reader.user, "inspect")
    back = reverse("inspection", args=[row.pk])
    return _add(request, reader, row, row.get_kind_display().capitalize(), back)


@require_http_methods(METHODS)
@for_reader
def oil_photos(request: HttpRequest, reader: Reader, event_id: int) -> HttpResponseBase:
    rows = access.visible_to(reader.user, OilEvent.objects.select_related("engine__engine_type"))
    row = get_object_or_404(rows, pk=event_id)
    seat = current_installation(row.engine, timezone.now())
    _require(reader, row, seat.aircraft if seat else None)
    return _add(request, reader, row, _("Oil entry"), reverse("oil_reading", args=[row.engine_id]))


@require_http_methods(METHODS)
@for_reader
def flight_photos(request: HttpRequest, reader: Reader, flight_id: int) -> HttpResponseBase:
    rows = access.visible_to(reader.user, Flight.objects.select_related("aircraft"))
    row = get_object_or_404(rows, pk=flight_id)
    _require(reader, row, row.aircraft)
    return _add(
        request,
        reader,
        row,
        _("Flight of %(aircraft)s") % {"aircraft": row.aircraft},
        reverse("flight_received", args=[row.pk]),
    )


def _require(reader: Reader, fact: Any, aircraft: Aircraft | None) -> None:
    """Whoever holds the aircraft today, for a fact of the own time; and the shop."""
    access.require(reader.user, "add_photo", aircraft)
    if not access.words_are_for(reader.user, fact):
        raise PermissionDenied(_("This entry is from before your time with this aircraft."))


def _add(
    request: HttpRequest, reader: Reader, fact: Inspection | OilEvent | Flight, title: str, back: str
) -> HttpResponse:
    form = photo_form(request, reader)
    refused = False
    if request.method == "POST":
        if form.is_valid() and not form.cleaned_data["photos"] and not _too_much(request):
            form.add_error("photos", _("Choose at least one photo."))
        if not form.errors and keep_photos(request, reader, form, fact, timezone.now()):
            return redirect(back)
        refused = True
    context = {
        "fact": fact,
        "title": title,
        "back": back,
        "form": form,
        "photos": photos_of(reader, [fact.root]),
        "base": "base_shop.html" if reader.staff else "base_portal.html",
        "refused": refused,
    }
    return render(request, "reports/inspect/photos.html", context, status=422 if refused else 200)


@for_reader
@require_safe
def photo(request: HttpRequest, reader: Reader, photo_id: int) -> HttpResponseBase:
    return _picture(reader, photo_id, "file")


@for_reader
@require_safe
def photo_small(request: HttpRequest, reader: Reader, photo_id: int) -> HttpResponseBase:
    return _picture(reader, photo_id, "small")


def _seen(reader: Reader, photo_id: int) -> Photo:
    rows = access.visible_to(reader.user, Photo.objects.filter(withdrawal=None).select_related("engine"))
    row = get_object_or_404(rows, pk=photo_id)
    if not access.words_are_for(reader.user, row):
        raise Http404("No such photo.")
    return row


def _picture(reader: Reader, photo_id: int, which: str) -> HttpResponseBase:
    row = _seen(reader, photo_id)
    try:
        content = getattr(row, which).open("rb")
    except FileNotFoundError as error:
        raise Http404("The file of this photo is gone.") from error
    answer = FileResponse(content, content_type="image/jpeg")
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Content-Disposition"] = f'inline; filename="photo-{row.pk}.jpg"'
    # Asked for again each time: a reader's sight of it may end.
    answer["Cache-Control"] = "private, no-store"
    return answer


@require_http_methods(METHODS)
@for_reader
def photo_withdraw(request: HttpRequest, reader: Reader, photo_id: int) -> HttpResponseBase:
    row = _seen(reader, photo_id)
    if not reader.staff and (reader.person is None or row.uploaded_by_id != reader.person.pk):
        raise PermissionDenied(_("Somebody else sent this photo. Ask the shop to take it away."))
    form = TakeAwayForm(request.POST) if request.method == "POST" else TakeAwayForm()
    back = reverse("engine", args=[row.engine_id]) + f"#fact-{row.root}"
    if form.is_bound and form.is_valid() and reader.person is not None:
        try:
            photos.withdraw_photo(by=reader.person, photo=row, reason=form.cleaned_data["reason"], now=timezone.now())
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error("reason" if problem.field == "reason" else None, spoken(problem.message, reader.units))
        else:
            messages.success(request, _("The photo is shown no longer. It and your reason stay on record."))
            return redirect(back)
    context = {
        "photo": row,
        "form": form,
        "back": back,
        "base": "base_shop.html" if reader.staff else "base_portal.html",
        "refused": form.is_bound,
    }
    return render(request, "reports/inspect/photo_withdraw.html", context, status=422 if form.is_bound else 200)
