"""Fix an entry: the form comes up as it was typed, and a new version is written; nothing is erased."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from breakin.entries import parse_flight, parse_oil
from breakin.models import Flight, OilEvent
from breakin.saying import spoken
from breakin.services import corrections
from engines.models import Aircraft
from reports.forms.doubts import Doubt, confirmed_paths, flight_doubts, oil_doubts
from reports.forms.flight import FlightSheet, reason_field
from reports.forms.oil import OilCorrectionForm
from reports.forms.prefill import flight_initial, oil_initial
from reports.forms.raw import Raw, Unfit, flight_raw, oil_raws, put_form_problems, put_problems
from reports.forms.typed import typed_texts
from reports.oil.page import event_said
from reports.pilot.log_flight_page import EngineSection, pilots_of, section_at, sections_of
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm


class WithdrawForm(BookForm):
    """The entry is wrong as a whole: it never happened."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["prefix"] = "withdraw"
        super().__init__(*args, **kwargs)
        self.fields["reason"] = reason_field()
        self.fields["sure"] = forms.BooleanField(
            label=_("This never happened, take it out of the count"),
            error_messages={"required": _("Tick that it never happened, or fix the entry instead.")},
        )


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def correct_flight(request: HttpRequest, reader: Reader, flight_id: int) -> HttpResponse:
    flight = get_object_or_404(
        access.visible_to(reader.user, Flight.objects.select_related("aircraft__home", "entered_by")), pk=flight_id
    )
    newest = _newest(flight)
    if newest.pk != flight.pk:
        return redirect("correct_flight", flight_id=newest.pk)
    now = timezone.now()
    _require(reader, flight, flight.aircraft, now)
    sections = sections_of(flight.aircraft, flight.happened_at, before=flight)
    options: dict[str, Any] = {
        "sections": sections,
        "system": reader.units,
        "zone": reader.zone,
        "pilots": pilots_of(flight.aircraft, flight.happened_at),
        "oil": False,
        "correction": True,
    }
    doubts: dict[str, Doubt] = {}
    withdraw = WithdrawForm()
    if request.method == "POST" and "withdraw" in request.POST:
        withdraw = WithdrawForm(request.POST)
        if withdraw.is_valid() and _withdraw(reader, flight, withdraw, now):
            return _done(request, _("The flight was withdrawn. It stays on record as withdrawn and counts no longer."))
    if request.method == "POST" and "withdraw" not in request.POST:
        sheet = FlightSheet(request.POST, **options)
        if "add_block" not in request.POST:
            fixed = _correct_flight(request, reader, flight, sheet, doubts, now)
            if fixed is not None:
                messages.success(
                    request, _("The correction was received. The first version stays on record beside it.")
                )
                return redirect("flight_received", flight_id=fixed.pk)
    else:
        start = {"client_id": str(uuid.uuid4()), **flight_initial(flight, sections, reader.units, reader.zone)}
        sheet = FlightSheet(initial=start, **options)
    refused = request.method == "POST" and bool(sheet.errors or withdraw.errors)
    return render(
        request,
        "reports/portal/correct_flight.html",
        {
            "flight": flight,
            "aircraft": flight.aircraft,
            "sheet": sheet,
            "doubts": doubts,
            "withdraw": withdraw,
            "more_open": refused and sheet.more_is_wrong(),
            "oil_entries": _oil_entries(flight, reader),
            "refused": refused,
            "reader": reader,
        },
        status=422 if refused else 200,
    )


def _correct_flight(
    request: HttpRequest, reader: Reader, flight: Flight, sheet: FlightSheet, doubts: dict[str, Doubt], now: datetime
) -> Flight | None:
    if not sheet.is_valid() or reader.person is None:
        return None
    client_id = sheet.flight.cleaned_data.get("client_id") or uuid.uuid4()
    raw: Raw | None = None
    try:
        raw = flight_raw(sheet, client_id=str(client_id), oil=False)
        paths = confirmed_paths(raw, request.POST, typed_texts(sheet.forms()))
        entry = parse_flight(
            {**raw.entry, **({"confirmed": paths} if paths else {})}, units=reader.units, zone=reader.zone, now=now
        )
        asked = [(raw.field_of(problem.field), spoken(problem.message, reader.units)) for problem in entry.warnings]
        if _ask(request, sheet, asked, flight_doubts(sheet, reader.units), doubts):
            return None
        reason = sheet.flight.cleaned_data["reason"]
        return corrections.correct_flight(by=reader.person, flight=flight, entry=entry, reason=reason, now=now).flight
    except Unfit as unfit:
        sheet.add_error(unfit.name, unfit.message)
    except Refusal as refusal:
        put_problems(sheet, raw or Raw(), refusal, reader.units)
    return None


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def correct_oil(request: HttpRequest, reader: Reader, event_id: int) -> HttpResponse:
    event = get_object_or_404(
        access.visible_to(reader.user, OilEvent.objects.select_related("engine__engine_type", "entered_by")),
        pk=event_id,
    )
    newest = _newest(event)
    if newest.pk != event.pk:
        return redirect("correct_oil", event_id=newest.pk)
    now = timezone.now()
    section = section_at(event.engine, event.happened_at)
    if section is None:
        raise PermissionDenied(_("The engine sat in no aircraft then. Ask the shop to change this entry."))
    _require(reader, event, section.installation.aircraft, now)
    section = replace(section, last_level_qt=None)  # the entry itself may be that reading
    options: dict[str, Any] = {
        "section": section,
        "system": reader.units,
        "zone": reader.zone,
        "kind": event.kind,
    }
    doubts: dict[str, Doubt] = {}
    withdraw = WithdrawForm()
    if request.method == "POST" and "withdraw" in request.POST:
        withdraw = WithdrawForm(request.POST)
        if withdraw.is_valid() and _withdraw(reader, event, withdraw, now):
            return _done(
                request, _("The oil entry was withdrawn. It stays on record as withdrawn and counts no longer.")
            )
    if request.method == "POST" and "withdraw" not in request.POST:
        form = OilCorrectionForm(request.POST, **options)
        fixed = _correct_oil(request, reader, event, section, form, doubts, now)
        if fixed is not None:
            messages.success(request, _("The correction was received. The first version stays on record beside it."))
            return redirect("oil_reading", engine_id=event.engine_id)
    else:
        start = {"client_id": str(uuid.uuid4()), **oil_initial(event, reader.units, reader.zone)}
        form = OilCorrectionForm(initial=start, **options)
    refused = request.method == "POST" and bool(form.errors or withdraw.errors)
    return render(
        request,
        "reports/portal/correct_oil.html",
        {
            "event": event,
            "said": event_said(event, reader.units),
            "section": section,
            "aircraft": section.installation.aircraft,
            "form": form,
            "doubts": doubts,
            "withdraw": withdraw,
            "refused": refused,
            "reader": reader,
        },
        status=422 if refused else 200,
    )


def _correct_oil(
    request: HttpRequest,
    reader: Reader,
    event: OilEvent,
    section: EngineSection,
    form: OilCorrectionForm,
    doubts: dict[str, Doubt],
    now: datetime,
) -> OilEvent | None:
    if not form.is_valid() or reader.person is None:
        return None
    raw: Raw | None = None
    try:
        raws = oil_raws(form, form.cleaned_data.get("client_id") or uuid.uuid4(), event.engine_id)
        raw = raws[0]  # the form asks about one event only
        if event.flight_root:
            raw.entry["flight_root"] = str(event.flight_root)
        paths = confirmed_paths(raw, request.POST, typed_texts(form.forms()))
        entry = parse_oil(
            {**raw.entry, **({"confirmed": paths} if paths else {})}, units=reader.units, zone=reader.zone, now=now
        )
        asked = [(raw.field_of(problem.field), spoken(problem.message, reader.units)) for problem in entry.warnings]
        if _ask(request, form, asked, list(oil_doubts(form, section, reader.units)), doubts):
            return None
        reason = form.cleaned_data["reason"]
        return corrections.correct_oil(by=reader.person, event=event, entry=entry, reason=reason, now=now).event
    except Unfit as unfit:
        form.add_error(unfit.name, unfit.message)
    except Refusal as refusal:
        put_form_problems(form, raw, refusal, reader.units)
    return None


def _ask(
    request: HttpRequest,
    form: Any,
    asked: list[tuple[str, str]],
    more: list[Doubt],
    doubts: dict[str, Doubt],
) -> bool:
    """Put every open question at its field; was there one?"""
    parts = form.forms()
    texts = typed_texts(parts)
    for doubt in [*[Doubt(name, said, texts.get(name, "")) for name, said in asked], *more]:
        if not doubt.is_confirmed(request.POST) and doubt.name not in doubts:
            doubts[doubt.name] = doubt
            form.add_error(doubt.name or None, doubt.asked)
    return bool(doubts)


def _newest(fact: Any) -> Any:
    """The version that holds: whoever comes by an old address corrects the newest one."""
    return type(fact).objects.filter(root=fact.root, corrected_by__isnull=True).first() or fact


def _require(reader: Reader, fact: Flight | OilEvent, aircraft: Aircraft, now: datetime) -> None:
    access.require(reader.user, "correct", aircraft)
    why_not = (
        corrections.may_correct(reader.person, fact, now) if reader.person else _("Only a person corrects entries.")
    )
    if why_not:
        raise PermissionDenied(spoken(why_not, reader.units))
    if fact.withdrawn:
        raise PermissionDenied(_("This entry was withdrawn: it says that this never happened. Log it anew."))


def _withdraw(reader: Reader, fact: Flight | OilEvent, form: WithdrawForm, now: datetime) -> bool:
    if reader.person is None:
        return False
    reason = form.cleaned_data["reason"]
    try:
        if isinstance(fact, Flight):
            corrections.withdraw_flight(by=reader.person, flight=fact, reason=reason, now=now)
        else:
            corrections.withdraw_oil(by=reader.person, event=fact, reason=reason, now=now)
    except Refusal as refusal:
        put_form_problems(form, None, refusal, reader.units)
        return False
    return True


def _done(request: HttpRequest, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("portal")


def _oil_entries(flight: Flight, reader: Reader) -> list[tuple[OilEvent, str]]:
    events = access.visible_to(reader.user, OilEvent.objects.current().filter(flight_root=flight.root))
    return [(event, event_said(event, reader.units)) for event in events.order_by("happened_at", "order", "id")]
