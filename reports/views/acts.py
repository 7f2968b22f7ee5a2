"""What the shop does with builds: open, plan, cell run, preservation; and the index of all acts."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from engines.models import Build, BuildState, Engine, EngineTypeRevision
from reports.acts.base import start_of
from reports.acts.build import KNOWN, NEW, NO_PLAN, SUGGESTED, BuildForm, open_from
from reports.acts.doing import done, form_of, shown
from reports.acts.index import index
from reports.acts.paper import (
    CellForm,
    PreserveForm,
    cell_from,
    preserve_from,
)
from reports.acts.plan import PlanForm, issue_from, plan_page, preview_of
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]


@for_reader
@require_safe
def acts(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "install")
    return render(request, "reports/acts/index.html", {"page": index(reader, timezone.now())})


@require_http_methods(METHODS)
@for_reader
def build_new(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """First which engine type, since it says how many cylinders there are; then the build."""
    access.require(reader.user, "open_build")
    now = timezone.now()
    type_id = _number(request.GET.get("type", ""))
    if type_id is None:
        return _which_type(request)
    rows = EngineTypeRevision.objects.select_related("engine_type").order_by("-number")
    revision = rows.filter(engine_type=type_id).first()
    if revision is None:
        raise Http404("No such engine type, or one without numbers.")
    engine_id = _number(request.GET.get("engine", "")) or 0
    known = Engine.objects.filter(pk=engine_id, engine_type=type_id).first()
    start = {
        **start_of("opened", now, reader.zone),
        "serial": known.serial if known else "",
        "known": KNOWN if known else NEW,
        "plan": NO_PLAN if revision.log_only else SUGGESTED,
    }
    form = form_of(request, reader, now, BuildForm, start, revision=revision)
    opened = done(reader, form, lambda by: open_from(form, by, now))
    if opened is None:
        return shown(request, "build_new", form, revision=revision)
    plan = opened.plan
    said = (
        f"Its plan is issued: {plan.template}, expected {plan.expected_low_h:g} to {plan.expected_high_h:g} h."
        if plan
        else "It has no plan yet: issue one before it flies."
    )
    messages.success(request, f"Build {opened.build.number} is open. {said}")
    return redirect("engine", opened.build.engine_id)


def _which_type(request: HttpRequest) -> HttpResponseBase:
    newest: dict[int, EngineTypeRevision] = {}
    for row in EngineTypeRevision.objects.select_related("engine_type").order_by("engine_type__designation", "number"):
        newest[row.engine_type_id] = row
    status = 422 if request.method == "POST" else 200
    return render(request, "reports/acts/build_type.html", {"types": tuple(newest.values())}, status=status)


@require_http_methods(METHODS)
@for_reader
def plan_issue(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    build = _build(reader, build_id, "issue_plan")
    now = timezone.now()
    newest = build.plans.order_by("-revision").first()
    page = plan_page(build, newest, reader.units)
    form = form_of(request, reader, now, PlanForm, {"template": page.suggested}, build=build, newest=newest)
    context = {"build": build, "page": page, "open": build.state == BuildState.OPEN}
    unseen = context["open"] and "preview" not in request.POST and form.is_bound and form.is_valid()
    unseen = unseen and form.needs_a_look
    if unseen or "preview" in request.POST:
        what_if = preview_of(form, now) if context["open"] else None
        if what_if is not None:
            context |= {"form": form, "what_if": what_if, "unseen": unseen}
            return render(request, "reports/acts/plan_issue.html", context, status=422 if unseen else 200)
        return shown(request, "plan_issue", form, **context)
    plan = done(reader, form, lambda by: issue_from(form, by, now))
    if plan is None:
        return shown(request, "plan_issue", form, **context)
    messages.success(request, f"Plan revision {plan.revision} of build {build.number} is issued: {plan.template}.")
    return redirect(_engine_of(build, "#build"))


@require_http_methods(METHODS)
@for_reader
def build_cell(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    build = _build(reader, build_id, "open_build")
    now = timezone.now()
    start = {"run_on": start_of("at", now, reader.zone)["at_date"]}
    form = form_of(request, reader, now, CellForm, start, build=build)
    run = done(reader, form, lambda by: cell_from(form, by, now))
    if run is None:
        return shown(request, "build_cell", form, build=build)
    messages.success(request, f"The cell run of {run.minutes:g} min is entered.")
    return redirect(_engine_of(build, "#build"))


@require_http_methods(METHODS)
@for_reader
def build_preserve(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    build = _build(reader, build_id, "install")
    now = timezone.now()
    start = {"preserved_on": start_of("at", now, reader.zone)["at_date"]}
    form = form_of(request, reader, now, PreserveForm, start, build=build)
    kept = done(reader, form, lambda by: preserve_from(form, by, now))
    if kept is None:
        running = build.preservations.filter(ended_on__isnull=True).first()
        return shown(request, "build_preserve", form, build=build, running=running)
    messages.success(request, f"Preserved until {kept.expires_on:%-d %b %Y}.")
    return redirect(_engine_of(build, "#build"))


def _build(reader: Reader, build_id: int, act: str) -> Build:
    """The build, for who may see it (else not found) and do this (else forbidden)."""
    rows = Build.objects.select_related("engine__engine_type", "type_revision")
    build = get_object_or_404(access.visible_to(reader.user, rows), pk=build_id)
    access.require(reader.user, act)
    return build


def _engine_of(build: Build, anchor: str) -> str:
    return f"{reverse('engine', args=[build.engine_id])}?build={build.pk}{anchor}"


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None
