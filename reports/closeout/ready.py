"""The readiness of a build: every criterion, what mends each that lacks, and how far the close-out has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from breakin.closeout.document import Draft, drafted
from breakin.models import CloseOutFile, CloseOutProposal, DueItem, DueState
from breakin.rules.criteria import Criterion
from breakin.services.closing import only_one_person, standing_proposal
from engines.models import Build, BuildState, Installation
from reports.reader import Reader
from shop import access

OPEN_DUE = (DueState.LATE, DueState.DUE, DueState.DUE_SOON, DueState.WAITING)
_INSPECTIONS = {"filter": "oil_filter", "filters_cut": "oil_filter", "leak": "leak", "added_watch": "borescope"}


@dataclass(frozen=True)
class Step:
    """A link that mends: address and words."""

    url: str
    words: str


@dataclass(frozen=True)
class Line:
    """One criterion. `mends` are the ways to meet it; `waive_url` where the reader may let it stand."""

    criterion: Criterion
    stood: str
    mends: tuple[Step, ...] = ()
    waive_url: str = ""
    waiver: str = ""


@dataclass(frozen=True)
class Readiness:
    """The page. `open` is false for a build that has ended."""

    build: Build
    open: bool
    lines: tuple[Line, ...]
    stopped: bool
    proposal: CloseOutProposal | None
    returned: tuple[str, ...]
    files: tuple[CloseOutFile, ...]
    suggested: tuple[str, ...]
    may_sign: bool
    why_not_sign: str
    may_give_back: bool
    may_give_up: bool

    @property
    def lacking(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.stood == "not met")


def readiness(reader: Reader, build: Build, now: datetime) -> Readiness:
    """How a build stands before its close-out, judged as of now."""
    draft = drafted(build, None, now)
    proposal = standing_proposal(build)
    manager = access.may_now(reader.user, "close_build")
    rows = CloseOutProposal.objects.filter(build=build, returned__isnull=False)
    returned = rows.select_related("returned__by").order_by("-at")
    return Readiness(
        build=build,
        open=build.state == BuildState.OPEN,
        lines=tuple(_lines(reader, draft)),
        stopped=draft.judgement.stopped,
        proposal=proposal,
        returned=tuple(
            f"{row.returned.by.name} gave the proposal of {row.at:%-d %b %Y} back: {row.returned.reason}"
            for row in returned[:3]
        ),
        files=tuple(CloseOutFile.objects.filter(build=build).select_related("signed_by").order_by("-number")),
        suggested=_suggested(draft),
        may_sign=manager and proposal is not None,
        why_not_sign=_why_not(reader, proposal, manager, now),
        may_give_back=proposal is not None and (manager or proposal.by == reader.person),
        may_give_up=manager,
    )


def _why_not(reader: Reader, proposal: CloseOutProposal | None, manager: bool, now: datetime) -> str:
    if proposal is None:
        return ""
    if not manager:
        return "A manager takes the second look and signs."
    if proposal.by == reader.person and not only_one_person(now):
        return "You proposed it: another manager signs."
    return ""


def _lines(reader: Reader, draft: Draft) -> list[Line]:
    build, waived = draft.build, {row.criterion.key: row.waiver for row in draft.review.waived}
    may_waive = access.may_now(reader.user, "waive") and build.state == BuildState.OPEN
    lines = []
    for one in draft.review.criteria:
        url = reverse("criterion_waive", args=[build.pk, one.key])
        if one.met:
            lines.append(Line(one, "met"))
        elif one.key in waived:
            given = waived[one.key]
            words = f"Waived by {given.by} on {given.at:%-d %b %Y}: {given.reason}"
            lines.append(Line(one, "waived", (), url if may_waive else "", words))
        else:
            mends = tuple(_mends(reader, build, one))
            lines.append(Line(one, "not met", mends, url if may_waive and one.waivable else ""))
    return lines


def _mends(reader: Reader, build: Build, one: Criterion) -> list[Step]:
    """What a click can do about it. What only flying mends has the log as its link."""
    seat = Installation.objects.filter(engine=build.engine_id, until__isnull=True).first()
    page = f"{reverse('engine', args=[build.engine_id])}?{urlencode({'build': build.pk})}"
    if one.key == "plan":
        may = access.may_now(reader.user, "issue_plan")
        return [Step(reverse("plan_issue", args=[build.pk]), one.mend)] if may else []
    if one.key in _INSPECTIONS:
        return _inspect(reader, build, _INSPECTIONS[one.key], one.mend)
    if one.key == "open":
        return [Step(f"{page}#findings", one.mend)]
    if one.key == "judgement":
        return [Step(f"{page}#timeline", "See what was logged.")]
    if seat is None:
        may = access.may_now(reader.user, "install")
        return [Step(reverse("engine_install", args=[build.engine_id]), "Install the engine first.")] if may else []
    if one.key in ("settled", "paper", "since_reopened"):
        return [
            Step(reverse("oil_reading", args=[build.engine_id]), "Enter an oil reading."),
            Step(f"{page}#oil", "See the oil."),
        ]
    if one.key == "first_two":
        return [Step(f"{page}#power", "See the first flights."), *_log(seat)]
    if one.key == "evidence":
        return [Step(reverse("upload_recording", args=[seat.aircraft_id]), "Hand in a recording."), *_log(seat)]
    return _log(seat)


def _log(seat: Installation) -> list[Step]:
    return [Step(reverse("log_flight", args=[seat.aircraft_id]), "Log a flight.")]


def _inspect(reader: Reader, build: Build, kind: str, words: str) -> list[Step]:
    """The form of the due item that asks for it, else that of an inspection of its own."""
    if not access.may_now(reader.user, "inspect"):
        return [Step(f"{reverse('engine', args=[build.engine_id])}#due", "A technician enters it.")]
    due = DueItem.objects.filter(build=build, kind=kind, state__in=OPEN_DUE).order_by("due_h", "id").first()
    if due is not None:
        return [Step(reverse("due_complete", args=[due.pk]), words)]
    return [Step(reverse("inspection_new", args=[build.engine_id, kind]), words)]


def _suggested(draft: Draft) -> tuple[str, ...]:
    verdict: Any = draft.judgement.detail["credit"]["first_two"].get("central", "")
    known = {"missed": "Missed first two hours, settled anyway", "partly": "First two hours partly met"}
    return (known[verdict],) if verdict in known else ()
