"""How a break-in ends: readiness and proposal, waivers, the second look that seals the file, giving up, reopening."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from breakin.closeout.document import drafted
from breakin.services import closing
from engines.models import Build, BuildState
from reports.acts.closing import ProposeForm, ReasonForm, SignForm
from reports.acts.doing import done, form_of, shown
from reports.closeout.printing import print_out
from reports.closeout.ready import readiness
from reports.closeout.sections import sections_of, title_of
from reports.reader import Reader, for_reader
from shop import access

METHODS = ["GET", "HEAD", "POST"]
NO_RELEASE = "This is not a return to service."


@require_http_methods(METHODS)
@for_reader
def build_close(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    """What is met and what lacks, each with what mends it; and the form that proposes the close-out."""
    build = _build(reader, build_id, "propose_close")
    now = timezone.now()
    page = readiness(reader, build, now)
    form = form_of(request, reader, now, ProposeForm, {"reservations": "\n".join(page.suggested)})
    proposal = done(
        reader,
        form,
        lambda by: closing.propose(
            by=by, build=build, notes=form.cleaned_data["notes"], reservations=form.reservations, now=now
        ),
    )
    if proposal is None:
        return shown(request, "build_close", form, build=build, page=page)
    messages.success(request, "The close-out is proposed. A manager takes the second look and signs.")
    return redirect("build_close", build.pk)


@require_http_methods(METHODS)
@for_reader
def criterion_waive(request: HttpRequest, reader: Reader, build_id: int, criterion: str) -> HttpResponseBase:
    """Let a criterion stand that is not met, or ask for it again."""
    build = _build(reader, build_id, "waive")
    now = timezone.now()
    line = next((one for one in readiness(reader, build, now).lines if one.criterion.key == criterion), None)
    if line is None:
        raise Http404("No such criterion.")
    again = line.stood == "waived"
    asks = "Why is it asked for again?" if again else "Why may it stand?"
    hint = "The reason stands in the close-out file and wherever the criteria are shown."
    form = form_of(request, reader, now, ReasonForm, {}, asks=asks, hint=hint)
    act = closing.ask_again if again else closing.waive
    row = done(
        reader,
        form,
        lambda by: act(by=by, build=build, criterion=criterion, reason=form.cleaned_data["reason"], now=now),
    )
    if row is None:
        return shown(request, "criterion_waive", form, build=build, line=line, again=again)
    messages.success(request, f"{line.criterion.what}: {'asked for again' if again else 'waived'}.")
    return redirect("build_close", build.pk)


@require_http_methods(METHODS)
@for_reader
def close_out_sign(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    """The second look: the whole file as it will be sealed, and the form that seals it."""
    build = _build(reader, build_id, "propose_close")
    if request.method == "POST":
        access.require(reader.user, "close_build")
    now = timezone.now()
    proposal = closing.standing_proposal(build)
    draft = drafted(build, proposal, now)
    form = form_of(request, reader, now, SignForm, {"seen": draft.seen})
    form.on_page = {"seen": draft.seen}
    file = None
    if proposal is not None:
        standing = proposal
        file = done(
            reader,
            form,
            lambda by: closing.sign(
                by=by, proposal=standing, seen=form.cleaned_data["seen"], print_out=print_out, now=now
            ),
        )
    if file is None:
        context: dict[str, Any] = {
            "build": build,
            "page": readiness(reader, build, now),
            "title": title_of(draft.document),
            "statement": draft.document["statement"],
            "sections": sections_of(draft.document),
        }
        return shown(request, "close_out_sign", form, **context)
    messages.success(request, f"Close-out file {file.number} of build {build.number} is sealed. {NO_RELEASE}")
    return redirect("close_out_file", file.pk)


@require_http_methods(METHODS)
@for_reader
def proposal_return(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    """Give a proposal back with what is still to be done."""
    build = _build(reader, build_id, "propose_close")
    now = timezone.now()
    proposal = closing.standing_proposal(build)
    form = form_of(
        request, reader, now, ReasonForm, {}, asks="What is still to be done?", hint="The proposer reads it."
    )
    row = None
    if proposal is not None:
        standing = proposal
        row = done(
            reader,
            form,
            lambda by: closing.give_back(by=by, proposal=standing, reason=form.cleaned_data["reason"], now=now),
        )
    if row is None:
        return shown(request, "proposal_return", form, build=build, proposal=proposal)
    messages.success(request, "The proposal is given back.")
    return redirect("build_close", build.pk)


@require_http_methods(METHODS)
@for_reader
def build_give_up(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    """Close a build as incomplete: no file is sealed, and it counts as no success."""
    build = _build(reader, build_id, "close_build")
    now = timezone.now()
    hint = "Sold abroad, engine removed, or no answer for 60 days: say which, with what was tried."
    form = form_of(request, reader, now, ReasonForm, {}, asks="Why is it given up?", hint=hint)
    event = done(
        reader,
        form,
        lambda by: closing.close_incomplete(by=by, build=build, reason=form.cleaned_data["reason"], now=now),
    )
    if event is None:
        return shown(request, "build_give_up", form, build=build, open=build.state == BuildState.OPEN)
    messages.success(request, f"Build {build.number} is {event.get_kind_display()}. {NO_RELEASE}")
    return redirect(_engine_of(build))


@require_http_methods(METHODS)
@for_reader
def build_reopen(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    """Take a closed break-in up again; its files stay."""
    build = _build(reader, build_id, "close_build")
    now = timezone.now()
    form = form_of(
        request,
        reader,
        now,
        ReasonForm,
        {},
        asks="Why is it taken up again?",
        hint="In a few words, with what was seen.",
    )
    event = done(
        reader, form, lambda by: closing.reopen(by=by, build=build, reason=form.cleaned_data["reason"], now=now)
    )
    if event is None:
        closed = build.state in (BuildState.CLOSED, BuildState.INCOMPLETE)
        last = build.events.order_by("-at", "-id").first()
        return shown(request, "build_reopen", form, build=build, closed=closed, last=last)
    messages.success(request, f"Build {build.number} is reopened.")
    return redirect(_engine_of(build))


def _build(reader: Reader, build_id: int, act: str) -> Build:
    """The build, for who may see it (else not found) and do this (else forbidden)."""
    rows = Build.objects.select_related("engine__engine_type", "type_revision__engine_type")
    build = get_object_or_404(access.visible_to(reader.user, rows), pk=build_id)
    access.require(reader.user, act)
    return build


def _engine_of(build: Build) -> str:
    return f"{reverse('engine', args=[build.engine_id])}?build={build.pk}"
