"""The shop's own record: first steps, who signed in first, the shop, its fields, aircraft and their holders."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from reports.acts.base import ActForm, start_of
from reports.acts.doing import done, form_of
from reports.acts.first_steps import first_steps, is_under_way
from reports.acts.profile_forms import (
    AircraftForm,
    OneselfForm,
    PlaceForm,
    ProfileForm,
    aircraft_from,
    oneself_from,
    place_as_it_is,
    place_from,
    profile_as_it_is,
    profile_from,
)
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.models import ZONES, Place, Shop

METHODS = ["GET", "HEAD", "POST"]
SORTED_ZONES = tuple(sorted(ZONES))


@for_reader
@require_safe
def first(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    steps = first_steps(reader)
    return render(request, "reports/acts/first_steps.html", {"steps": steps, "under_way": is_under_way()})


@require_http_methods(METHODS)
@for_reader
def oneself(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    if reader.person is not None:
        messages.info(request, f"This login is {reader.person}.")
        return redirect("first_steps")
    now = timezone.now()
    form = form_of(request, reader, now, OneselfForm, {"unit_system": reader.units})
    if form.is_bound and form.is_valid() and not form.asked:
        try:
            person = oneself_from(form, reader.user, now)
        except Refusal as refusal:
            form.refuse(refusal.problems)
        else:
            messages.success(request, f"You are in the book as {person}, manager.")
            return redirect("first_steps")
    return _page(request, "oneself", form)


@require_http_methods(METHODS)
@for_reader
def profile(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    now = timezone.now()
    shop = Shop.objects.select_related("place").first()
    form = form_of(request, reader, now, ProfileForm, profile_as_it_is(shop))
    saved = done(reader, form, lambda by: profile_from(form, by, now))
    if saved is None:
        nightly = settings.SHOP_TIME_ZONE
        more = {"shop": shop, "sender": settings.DEFAULT_FROM_EMAIL, "nightly_zone": nightly}
        return _page(request, "shop_profile", form, **more)
    messages.success(request, f"{saved.name} is in the book.")
    return redirect("acts" if is_under_way() else "first_steps")


@for_reader
@require_safe
def places(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "install")
    may_edit = access.may_now(reader.user, "edit_reference")
    return render(request, "reports/acts/places.html", {"rows": Place.objects.all(), "may_edit": may_edit})


@require_http_methods(METHODS)
@for_reader
def place_new(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    return _place(request, reader, None)


@require_http_methods(METHODS)
@for_reader
def place_edit(request: HttpRequest, reader: Reader, place_id: int) -> HttpResponseBase:
    return _place(request, reader, get_object_or_404(Place, pk=place_id))


def _place(request: HttpRequest, reader: Reader, place: Place | None) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    now = timezone.now()
    form = form_of(request, reader, now, PlaceForm, place_as_it_is(place), place=place)
    saved = done(reader, form, lambda by: place_from(form, by, now))
    if saved is None:
        return _page(request, "place", form, place=place)
    messages.success(request, f"{saved.name} is in the book.")
    return redirect("places")


@require_http_methods(METHODS)
@for_reader
def aircraft_new(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "edit_reference")
    now = timezone.now()
    form = form_of(request, reader, now, AircraftForm, {"since": start_of("at", now, reader.zone)["at_date"]})
    aircraft = done(reader, form, lambda by: aircraft_from(form, by, now))
    if aircraft is None:
        return _page(request, "aircraft_new", form)
    messages.success(request, f"{aircraft.registration} is in the book. Invite who flies it, under People.")
    return redirect("acts" if is_under_way() else "first_steps")


def _page(request: HttpRequest, template: str, form: ActForm, **more: Any) -> HttpResponseBase:
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "zones": SORTED_ZONES, **more}
    return render(request, f"reports/acts/{template}.html", context, status=status)
