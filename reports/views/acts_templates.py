"""The shop's plan templates: looked at, taken over, copied, revised."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from breakin.models import PlanTemplate
from breakin.services.plan_templates import take_over
from reports.acts.base import NOBODY
from reports.acts.doing import done, form_of
from reports.acts.template_form import TemplateForm, as_it_is, keep_from
from reports.acts.templates import differences, draft, template_page, templates_page
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]


@for_reader
@require_safe
def templates(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "install")
    return render(request, "reports/acts/templates.html", {"page": templates_page(reader)})


@require_POST
@for_reader
def templates_take(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """The templates that a shop starts with come into the book."""
    access.require(reader.user, "edit_reference")
    if reader.person is None:
        messages.error(request, NOBODY)
    elif taken := take_over(by=reader.person, now=timezone.now()):
        messages.success(request, f"{len(taken)} templates are in the book. Give each the document that you follow.")
    return redirect("templates")


@for_reader
@require_safe
def template(request: HttpRequest, reader: Reader, template_id: int) -> HttpResponseBase:
    rows = PlanTemplate.objects.select_related("copied_from", "made_by")
    row = get_object_or_404(rows, pk=template_id)
    access.require(reader.user, "install")
    return render(request, "reports/acts/template.html", {"page": template_page(reader, row)})


@require_http_methods(METHODS)
@for_reader
def template_copy(request: HttpRequest, reader: Reader, template_id: int) -> HttpResponseBase:
    return _form(request, reader, template_id, copy=True)


@require_http_methods(METHODS)
@for_reader
def template_revise(request: HttpRequest, reader: Reader, template_id: int) -> HttpResponseBase:
    return _form(request, reader, template_id, copy=False)


def _form(request: HttpRequest, reader: Reader, template_id: int, *, copy: bool) -> HttpResponseBase:
    """A first send shows what differs; a second one, of the same numbers, keeps it."""
    origin = get_object_or_404(PlanTemplate, pk=template_id)
    access.require(reader.user, "edit_reference")
    if not copy:
        newest = PlanTemplate.objects.filter(name=origin.name).order_by("-revision").first()
        if newest is not None and newest.pk != origin.pk:
            messages.info(request, f"Revision {newest.revision} is the newest: it is the one that is revised.")
            return redirect("template_revise", newest.pk)
    now = timezone.now()
    form = form_of(request, reader, now, TemplateForm, as_it_is(origin), origin=origin, copy=copy)
    sound = form.is_bound and form.is_valid() and not form.asked
    if sound and not form.needs_a_look:
        kept = done(reader, form, lambda by: keep_from(form, by, now))
        if kept is not None:
            messages.success(request, f"“{kept}” has revision {kept.revision} now. Plans that were issued keep theirs.")
            return redirect("template", kept.pk)
        sound = False
    if sound:
        form.show_mark()
    differs = differences(origin, draft(form.values), reader.units) if sound else None
    context = {"form": form, "origin": origin, "copy": copy, "look": sound, "differs": differs}
    status = 422 if request.method == "POST" and not sound else 200
    return render(request, "reports/acts/template_form.html", context, status=status)
