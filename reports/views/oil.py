"""A quick oil reading with its advice."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from breakin.calc.units import Kind
from breakin.entries import OilEntry, parse_oil
from breakin.models import OilEvent
from breakin.saying import spoken
from breakin.services import oil
from engines.models import Engine
from reports import outbox
from reports.forms.doubts import Doubt, confirmed_paths, oil_doubts
from reports.forms.oil import OilForm, fresh_oil
from reports.forms.raw import Raw, Unfit, oil_raws, put_form_problems
from reports.forms.typed import canonical, typed_texts
from reports.oil.page import oil_page, planned_hours
from reports.outbox import for_outbox
from reports.pilot.log_flight_page import EngineSection, section_at
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import ConflictingResend, Refusal
from shop.facts import Source

NO_AIRCRAFT = gettext_lazy("This engine sits in no aircraft now. Readings begin when it is installed; call the shop.")


@for_reader
@for_outbox
@require_http_methods(["GET", "HEAD", "POST"])
def oil_reading(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponse:
    engine = get_object_or_404(
        access.visible_to(reader.user, Engine.objects.select_related("engine_type")), pk=engine_id
    )
    now = timezone.now()
    section = section_at(engine, now)
    aircraft = section.installation.aircraft if section else None
    access.require(reader.user, "add_oil", aircraft)
    if section is None:
        if outbox.is_sent_by_itself(request):
            return outbox.asks([str(NO_AIRCRAFT)])
        return render(request, "reports/portal/oil.html", {"engine": engine, "section": None})
    doubts: dict[str, Doubt] = {}
    level = None
    options: dict[str, Any] = {"section": section, "system": reader.units, "zone": reader.zone}
    if request.method == "POST":
        form = OilForm(request.POST, **options)
        if form.is_valid():
            level = canonical(form.cleaned_data.get("oil_level"), Kind.VOLUME)
            if "show" not in request.POST:
                event = _send(request, reader, engine, section, form, doubts, now)
                if event is not None:
                    request.session.pop(_session_key(engine), None)
                    planned = form.cleaned_data.get("planned_h", "")
                    hours = planned_hours(planned)
                    query = {
                        "saved": event.pk,
                        "sent": str(form.cleaned_data.get("client_id") or ""),
                        **({"planned": f"{hours:g}"} if hours is not None else {}),
                    }
                    page = reverse("oil_reading", args=[engine.pk], query=query)
                    if outbox.is_sent_by_itself(request):
                        clock = outbox.clock_words(event.typed, event.received_at)
                        return outbox.received(event.received_at, page, [clock] if clock else [])
                    return redirect(page)
        planned = str(form.cleaned_data.get("planned_h", ""))
    else:
        planned = request.GET.get("planned", "")[:20]
        form = OilForm(initial=fresh_oil(now, reader.zone, _pending_id(request, engine)), **options)
    refused = request.method == "POST" and bool(form.errors)
    if outbox.is_sent_by_itself(request):
        return outbox.asks(form.sentences())
    if level is not None and not 0 <= level <= 1000:
        level = None
    return render(
        request,
        "reports/portal/oil.html",
        {
            "engine": engine,
            "section": section,
            "aircraft": aircraft,
            "form": form,
            "doubts": doubts,
            "page": oil_page(section, reader, now, level_qt=level, planned=planned),
            "trial": request.method == "POST" and level is not None,
            "saved": _saved(request, reader, engine),
            "sent": request.GET.get("sent", "")[:36],
            "new_client_id": uuid.uuid4(),
            "refused": refused,
            "reader": reader,
        },
        status=422 if refused else 200,
    )


def _send(
    request: HttpRequest,
    reader: Reader,
    engine: Engine,
    section: EngineSection,
    form: OilForm,
    doubts: dict[str, Doubt],
    now: datetime,
) -> OilEvent | None:
    """Keep what the form tells, all of it or nothing; None when something has to be mended."""
    if reader.person is None:
        raise Http404
    typed = form.cleaned_data
    client_id = (typed.get("new_client_id") if "as_new" in request.POST else typed.get("client_id")) or uuid.uuid4()
    raw: Raw | None = None
    try:
        raws = oil_raws(form, client_id, engine.pk)
        entries = []
        for raw in raws:
            entries.append((raw, _read(raw, request, form, reader, now)))
        # Sent once more, since the answer was lost on its way: what is unusual today was not so when it came first.
        before = [oil.resent(engine, entry) for _, entry in entries]
        if not all(before) and _ask(request, form, section, entries, doubts, reader):
            return None
        with transaction.atomic():
            kept = []
            for sent, entry in entries:
                raw = sent  # whose fields a refusal is about
                source = Source.SHOP if reader.staff else Source.PORTAL
                kept.append(oil.add_oil(by=reader.person, engine=engine, entry=entry, now=now, source=source).event)
    except Unfit as unfit:
        form.add_error(unfit.name, unfit.message)
        return None
    except ConflictingResend:
        form.add_error(
            None,
            _(
                "This form was sent before, with other content, and the first entry stands. Fix that one in the list "
                "below, or send this as another reading."
            ),
        )
        form.conflict = True
        return None
    except Refusal as refusal:
        put_form_problems(form, raw, refusal, reader.units)
        return None
    return next((event for event in kept if event.level_qt is not None), kept[-1])


def _read(raw: Raw, request: HttpRequest, form: OilForm, reader: Reader, now: datetime) -> OilEntry:
    paths = confirmed_paths(raw, request.POST, typed_texts(form.forms()))
    entry = {**raw.entry, "confirmed": paths} if paths else raw.entry
    return parse_oil(entry, units=reader.units, zone=reader.zone, now=now)


def _ask(
    request: HttpRequest,
    form: OilForm,
    section: EngineSection,
    entries: list[tuple[Raw, OilEntry]],
    doubts: dict[str, Doubt],
    reader: Reader,
) -> bool:
    texts = typed_texts(form.forms())
    asked = [
        Doubt(name, spoken(problem.message, reader.units), texts.get(name, ""))
        for raw, entry in entries
        for problem in entry.warnings
        for name in [raw.field_of(problem.field)]
    ]
    for doubt in [*asked, *oil_doubts(form, section, reader.units)]:
        if not doubt.is_confirmed(request.POST) and doubt.name not in doubts:
            doubts[doubt.name] = doubt
            form.add_error(doubt.name or None, doubt.asked)
    return bool(doubts)


def _saved(request: HttpRequest, reader: Reader, engine: Engine) -> OilEvent | None:
    number = request.GET.get("saved", "")
    if not number.isdecimal() or len(number) > 18:
        return None
    return access.visible_to(reader.user, OilEvent.objects.filter(pk=int(number), engine=engine)).first()


def _session_key(engine: Engine) -> str:
    return f"oil-reading-{engine.pk}"


def _pending_id(request: HttpRequest, engine: Engine) -> uuid.UUID:
    try:
        return uuid.UUID(request.session[_session_key(engine)])
    except (KeyError, ValueError):
        made = uuid.uuid4()
        request.session[_session_key(engine)] = str(made)
        return made
