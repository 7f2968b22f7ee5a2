"""Answer a finding: say that it was seen, or clear it with cause and action."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from breakin.models import Finding, FindingState, Severity, Verdict
from breakin.services import findings
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm, Chips
from shop.models import Person

NOBODY = "This login belongs to no person, so it can't answer for the shop. Ask the shop manager."
STILL = (FindingState.OPEN, FindingState.ACKNOWLEDGED)


class ClearForm(BookForm):
    verdict = forms.ChoiceField(label="Verdict", choices=Verdict.choices, widget=Chips)
    cause = forms.CharField(
        label="Cause",
        max_length=400,
        help_text="What it was, in one line.",
        error_messages={"required": "Type the cause in one line."},
    )
    action = forms.CharField(
        label="Action",
        max_length=400,
        help_text="What was done about it.",
        error_messages={"required": "Type what was done, or “nothing” and why."},
    )


@require_POST
@for_reader
def finding_acknowledge(request: HttpRequest, reader: Reader, finding_id: int) -> HttpResponseBase:
    finding = _seen(reader, finding_id)
    access.require(reader.user, "acknowledge")
    try:
        findings.acknowledge(by=_person(reader), finding=finding, now=timezone.now())
        messages.success(request, f"Noted: you have seen “{finding.title}”. It stays open until it is cleared.")
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect(_back(finding))


@require_http_methods(["GET", "HEAD", "POST"])
@for_reader
def finding_clear(request: HttpRequest, reader: Reader, finding_id: int) -> HttpResponseBase:
    """A form with verdict, cause and action. A Stop is cleared by technicians only."""
    finding = _seen(reader, finding_id)
    access.require(reader.user, "clear_stop" if finding.severity == Severity.STOP else "clear_finding")
    form = ClearForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            findings.clear(by=_person(reader), finding=finding, now=timezone.now(), **form.cleaned_data)
            messages.success(request, f"Cleared: “{finding.title}”.")
            return redirect(_back(finding))
        except Refusal as refusal:
            for problem in refusal.problems:
                form.add_error(problem.field if problem.field in form.fields else None, problem.message)
    context = {
        "finding": finding,
        "form": form,
        "back": _back(finding),
        "closed": finding.state not in STILL,
        "stop": finding.severity == Severity.STOP,
    }
    return render(request, "reports/finding_clear.html", context, status=422 if form.errors else 200)


def _seen(reader: Reader, finding_id: int) -> Finding:
    rows = Finding.objects.select_related("build__engine__engine_type")
    return get_object_or_404(access.visible_to(reader.user, rows), pk=finding_id)


def _person(reader: Reader) -> Person:
    if reader.person is None:
        raise Refusal.of("", NOBODY, "forbidden")
    return reader.person


def _back(finding: Finding) -> str:
    return reverse("engine", args=[finding.build.engine_id]) + f"?build={finding.build_id}#finding-{finding.pk}"
