"""Accessories with clocks of their own: what an engine carries, what was done to each, and entries taken back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.models import Assessment
from breakin.services.accessories import take_back
from engines.models import Accessory, AccessoryEvent, Build, Engine
from reports.acts.accessories import AccessoryForm, EventForm, TakeBackForm, as_it_holds, enter_from, event_from
from reports.acts.base import start_of
from reports.acts.doing import done, form_of, shown
from reports.engine.accessories import accessories_of, history_of
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]


@require_http_methods(METHODS)
@for_reader
def engine_accessories(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    """What the engine carries, and the form for one more."""
    seen = access.visible_to(reader.user, Engine.objects.select_related("engine_type"))
    engine = get_object_or_404(seen, pk=engine_id)
    access.require(reader.user, "install")
    now = timezone.now()
    form = form_of(request, reader, now, AccessoryForm, {}, engine=engine)
    made = done(reader, form, lambda by: enter_from(form, by, now))
    if made is not None:
        messages.success(request, f"{made.label} is entered. Only work on it sets its clock anew.")
        return redirect("engine_accessories", engine.pk)
    build = Build.objects.filter(engine=engine).order_by("-opened_at", "-pk").first()
    page = accessories_of(reader, engine, build, Assessment.objects.filter(build=build).first() if build else None)
    retired = [each for each in engine.accessories.order_by("kind", "name", "id") if each.pk not in page.ids]
    return shown(request, "accessories", form, engine=engine, page=page, retired=retired)


@require_http_methods(METHODS)
@for_reader
def accessory_done(request: HttpRequest, reader: Reader, accessory_id: int) -> HttpResponseBase:
    """One accessory with its entries, and the form for what was done to it."""
    seen = access.visible_to(reader.user, Accessory.objects.select_related("engine__engine_type"))
    accessory = get_object_or_404(seen, pk=accessory_id)
    access.require(reader.user, "install")
    now = timezone.now()
    start = {**as_it_holds(accessory), "done_on": start_of("at", now, reader.zone)["at_date"]}
    form = form_of(request, reader, now, EventForm, start, engine=accessory.engine)
    event = done(reader, form, lambda by: event_from(form, accessory, by, now))
    if event is not None:
        messages.success(request, f"{accessory.label}: {event.get_act_display()}. Nothing else was changed.")
        return redirect("engine_accessories", accessory.engine_id)
    return shown(request, "accessory_done", form, accessory=accessory, entries=history_of(accessory))


@require_http_methods(METHODS)
@for_reader
def accessory_take_back(request: HttpRequest, reader: Reader, entry_id: int) -> HttpResponseBase:
    seen = access.visible_to(reader.user, AccessoryEvent.objects.select_related("accessory__engine__engine_type"))
    event = get_object_or_404(seen, pk=entry_id)
    access.require(reader.user, "install")
    now = timezone.now()
    form = form_of(request, reader, now, TakeBackForm, {})
    taken = done(reader, form, lambda by: take_back(by=by, event=event, reason=form.cleaned_data["reason"], now=now))
    if taken is None:
        return shown(request, "accessory_take_back", form, event=event, accessory=event.accessory)
    messages.success(
        request, f"The entry of {event.done_on:%-d %b %Y} is taken back. What stood before it holds again."
    )
    return redirect("accessory_done", event.accessory_id)
