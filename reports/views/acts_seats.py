"""What the shop does with seats and aircraft: install, remove, swap left and right, change a meter, hand over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from engines.models import Aircraft, Engine, Installation, Meter, Position
from reports.acts.base import start_of
from reports.acts.doing import done, form_of, shown
from reports.acts.holding import TransferForm, handover_of, transfer_from
from reports.acts.revising import ReviseForm, as_it_is, revise_from
from reports.acts.seats import (
    InstallForm,
    MeterForm,
    RemoveForm,
    SwapForm,
    change_from,
    fitted_to,
    install_from,
    meter_words,
    newest_revision,
    remove_from,
    swap_from,
)
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]
OFFERED = 200  # registrations that a browser may offer while typing


@require_http_methods(METHODS)
@for_reader
def engine_install(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    engine = _engine(reader, engine_id)
    now = timezone.now()
    may_fill = access.may_now(reader.user, "drain_fill")
    start = {**start_of("since", now, reader.zone), **fitted_to(engine)}
    form = form_of(request, reader, now, InstallForm, start, engine=engine, may_fill=may_fill)
    seat = done(reader, form, lambda by: install_from(form, by, now))
    if seat is None:
        context = {
            "engine": engine,
            "here": _seat(engine),
            "may_fill": may_fill,
            "revision": newest_revision(engine),
            "registrations": list(Aircraft.objects.values_list("registration", flat=True)[:OFFERED]),
        }
        return shown(request, "engine_install", form, **context)
    filled = " Its first fill is entered." if form.fill is not None else ""
    messages.success(request, f"{engine} is installed in {_where(seat)}.{filled}")
    return redirect("engine", engine.pk)


@require_http_methods(METHODS)
@for_reader
def engine_remove(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    engine = _engine(reader, engine_id)
    now = timezone.now()
    seat = _seat(engine)
    if seat is None:
        return shown(request, "engine_remove", None, engine=engine)
    form = form_of(request, reader, now, RemoveForm, start_of("at", now, reader.zone))
    if done(reader, form, lambda by: remove_from(form, seat, by, now)) is None:
        return shown(request, "engine_remove", form, engine=engine, seat=seat, where=_where(seat))
    messages.success(request, f"{engine} is removed from {_where(seat)}.")
    return redirect("engine", engine.pk)


@require_http_methods(METHODS)
@for_reader
def engine_revise(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    engine = _engine(reader, engine_id)
    now = timezone.now()
    seat = _seat(engine)
    if seat is None:
        return shown(request, "engine_revise", None, engine=engine)
    start = {**as_it_is(seat), **start_of("at", now, reader.zone)}
    form = form_of(request, reader, now, ReviseForm, start, seat=seat)
    if done(reader, form, lambda by: revise_from(form, by, now)) is None:
        return shown(request, "engine_revise", form, engine=engine, where=_where(seat))
    messages.success(request, f"The installation of {engine} is changed from then on.")
    return redirect("engine", engine.pk)


@require_http_methods(METHODS)
@for_reader
def aircraft_swap(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    aircraft = _aircraft(reader, aircraft_id)
    now = timezone.now()
    seats = {
        seat.position: seat
        for seat in Installation.objects.filter(aircraft=aircraft, until__isnull=True).select_related(
            "engine__engine_type"
        )
    }
    left, right = seats.get(Position.LEFT), seats.get(Position.RIGHT)
    if left is None or right is None:
        return shown(request, "aircraft_swap", None, aircraft=aircraft)
    both = f"{left.pk}-{right.pk}"
    form = form_of(request, reader, now, SwapForm, start_of("at", now, reader.zone), shown=both)
    new = done(reader, form, lambda by: swap_from(form, aircraft, by, now))
    if new is None:
        return shown(request, "aircraft_swap", form, aircraft=aircraft, left=left, right=right)
    messages.success(
        request, f"{aircraft.registration}: {new[0].engine} sits LEFT now, {new[1].engine} RIGHT. Readings follow them."
    )
    return redirect("engine", new[0].engine_id)


@require_http_methods(METHODS)
@for_reader
def meter_change(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    aircraft = _aircraft(reader, aircraft_id)
    now = timezone.now()
    rows = Meter.objects.filter(aircraft=aircraft, until__isnull=True).select_related("aircraft")
    meters = list(rows.order_by("position", "kind"))
    if not meters:
        return shown(request, "meter_change", None, aircraft=aircraft)
    start = {**start_of("at", now, reader.zone), **({"meter": str(meters[0].pk)} if len(meters) == 1 else {})}
    form = form_of(request, reader, now, MeterForm, start, meters=meters)
    meter = done(reader, form, lambda by: change_from(form, by, now))
    if meter is None:
        return shown(request, "meter_change", form, aircraft=aircraft)
    messages.success(request, f"{aircraft.registration}: the change is entered. {meter_words(meter)}.")
    seat = Installation.objects.filter(aircraft=aircraft, position=meter.position, until__isnull=True).first()
    return redirect(reverse("engine", args=[seat.engine_id]) if seat else reverse("acts"))


@require_http_methods(METHODS)
@for_reader
def aircraft_transfer(request: HttpRequest, reader: Reader, aircraft_id: int) -> HttpResponseBase:
    seen = access.visible_to(reader.user, Aircraft.objects.select_related("home"))
    aircraft = get_object_or_404(seen, pk=aircraft_id)
    access.require(reader.user, "transfer")
    now = timezone.now()
    start = {**start_of("at", now, reader.zone), "end_assignments": True}
    form = form_of(request, reader, now, TransferForm, start, aircraft=aircraft)
    holding = done(reader, form, lambda by: transfer_from(form, aircraft, by, now))
    if holding is None:
        return shown(request, "aircraft_transfer", form, aircraft=aircraft, before=handover_of(aircraft))
    at_home = f" Its home is {form.moves_to.name}." if form.moves_to else ""
    messages.success(request, f"{aircraft.registration} is held by {holding.customer.name} now.{at_home}")
    seat = Installation.objects.filter(aircraft=aircraft, until__isnull=True).first()
    return redirect(reverse("engine", args=[seat.engine_id]) if seat else reverse("acts"))


def _engine(reader: Reader, engine_id: int) -> Engine:
    rows = Engine.objects.select_related("engine_type")
    engine = get_object_or_404(access.visible_to(reader.user, rows), pk=engine_id)
    access.require(reader.user, "install")
    return engine


def _aircraft(reader: Reader, aircraft_id: int) -> Aircraft:
    aircraft = get_object_or_404(access.visible_to(reader.user, Aircraft.objects.all()), pk=aircraft_id)
    access.require(reader.user, "install")
    return aircraft


def _seat(engine: Engine) -> Installation | None:
    return Installation.objects.filter(engine=engine, until__isnull=True).select_related("aircraft").first()


def _where(seat: Installation) -> str:
    side = "" if seat.position == Position.SINGLE else f" {seat.get_position_display()}"
    return f"{seat.aircraft.registration}{side}"
