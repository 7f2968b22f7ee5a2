"""The page of one engine: where its break-in stands, why, and every fact behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from django.urls import reverse

from breakin.models import (
    Assessment,
    CloseOutFile,
    DueItem,
    DueState,
    Finding,
    FindingState,
    FindingVerdict,
    Recording,
    RunInPlan,
    Severity,
)
from breakin.saying import text_for, title_for
from engines.models import Aircraft, Build, BuildState, Engine, Installation
from reports import plots
from reports.closeout.files import files_of_build
from reports.due_form import AskedItem
from reports.engine import header as engine_header
from reports.engine import power_tables
from reports.engine import tables as engine_tables
from reports.engine.accessories import Accessories, accessories_of
from reports.engine.facts import history, period_of
from reports.engine.header import Header
from reports.engine.timeline import Entry, seat, with_doubles
from reports.inspect.page import KindRow, kind_rows
from reports.oil import tables as oil_tables
from reports.oil.still_page import still_address
from reports.reader import Reader
from shop import access

OPEN_DUE = (DueState.LATE, DueState.DUE, DueState.DUE_SOON, DueState.WAITING)
CLOSED_SHOWN = 20
# Where on the page a criterion is looked at.
_PLACES = {
    "settled": "#oil", "paper": "#oil", "since_reopened": "#oil", "first_two": "#power", "filter": "#due",
    "filters_cut": "#due", "leak": "#due", "added_watch": "#due", "open": "#findings", "known_hours": "#timeline",
    "evidence": "#timeline", "hours": "#timeline",
}  # fmt: skip
RECORDINGS_SHOWN = 50

DOUBLES = "H1"  # the rule whose only findings are possible duplicates


@dataclass(frozen=True)
class FindingLine:
    """One finding with its why. `who_may_clear` is said where this reader may not."""

    finding: Finding
    title: str
    text: str
    severity: str
    why: tuple[str, ...]
    evidence: tuple[tuple[str, str], ...]
    audience: str
    may_acknowledge: bool
    may_clear: bool
    who_may_clear: str
    verdicts: tuple[FindingVerdict, ...]
    handled: str

    @property
    def is_double(self) -> bool:
        """Is it two entries that look like one flight?"""
        return self.finding.rule == DOUBLES


@dataclass(frozen=True)
class EnginePage:
    """Everything the template prints. `judged` is false for who held the engine before, or where no build exists."""

    engine: Engine
    build: Build | None
    builds: tuple[tuple[str, str, bool], ...]
    assessment: Assessment | None
    header: Header
    others: tuple[tuple[str, str], ...]
    findings: tuple[FindingLine, ...]
    closed_findings: tuple[FindingLine, ...]
    oil: Mapping[str, Any]
    oil_figure: dict[str, Any] | None
    oil_key: tuple[tuple[str, str], ...]
    oil_strip: tuple[engine_tables.StripRow, ...]
    oil_still: str
    oil_still_narrow: str
    windows: engine_tables.Table | None
    left_out: engine_tables.Table | None
    over_hours: engine_tables.Table | None
    credit: Mapping[str, Any]
    power_figure: dict[str, Any] | None
    power_key: tuple[tuple[str, str], ...]
    stages: engine_tables.Table | None
    blocks: engine_tables.Table | None
    measured: tuple[power_tables.RecordingLine, ...]
    heat: engine_tables.Table | None
    seating: power_tables.Seating | None
    due: tuple[AskedItem, ...]
    accessories: Accessories
    may_complete: bool
    review: Mapping[str, Any]
    lacking: tuple[dict[str, str], ...]
    waived: tuple[str, ...]
    proposed: str
    close_url: str
    files: tuple[CloseOutFile, ...]
    rules: tuple[Mapping[str, Any], ...]
    timeline: tuple[Entry, ...]
    more_entries: int
    inspections: tuple[KindRow, ...]
    inspect_url: str
    may_waive: bool
    recordings: tuple[Recording, ...]
    plan: RunInPlan | None
    positions: tuple[Any, ...]
    cell_runs: tuple[Any, ...]
    preservations: tuple[Any, ...]
    installations: tuple[Installation, ...]
    merge_url: str
    staff: bool


def engine_page(
    reader: Reader, engine: Engine, now: datetime, *, build_id: int | None = None, every_entry: bool = False
) -> EnginePage | None:
    """The page as this reader may see it, or None when the build asked for isn't one of his.

    `engine` comes from `access.visible_to`. Who held it earlier sees the facts of his time and no judgement, since a
    judgement rests on later facts too.
    """
    builds = list(
        access.visible_to(reader.user, Build.objects.filter(engine=engine))
        .select_related("type_revision__engine_type", "owner", "builder", "inspector")
        .order_by("-opened_at", "-id")
    )
    build = _chosen(builds, build_id)
    if build_id is not None and build is None:
        return None
    installations = list(
        access.visible_to(reader.user, Installation.objects.filter(engine=engine))
        .select_related("aircraft__home", "continued_by")
        .order_by("since", "id")
    )
    seat_now = next((row for row in reversed(installations) if row.until is None or row.until > now), None)
    # Seen by the shop and by today's holder only.
    assessment = access.visible_to(reader.user, Assessment.objects.filter(build=build)).first() if build else None
    detail: Mapping[str, Any] = assessment.detail if assessment else {}
    oil, credit = _part(detail, "oil"), _part(detail, "credit")
    plans = access.visible_to(reader.user, RunInPlan.objects.filter(build=build)) if build else RunInPlan.objects.none()
    plan = plans.order_by("-revision").first()
    told, more = history(reader, engine, build, builds, installations, seat_now, every=every_entry)
    open_findings, closed = _findings(reader, build, frozenset(row.anchor for row in told)) if build else ((), ())
    may_merge = seat_now is not None and access.may_now(reader.user, "merge_flights")
    merge_url = reverse("flights_merge", args=[seat_now.aircraft_id]) if seat_now and may_merge else ""
    told = with_doubles(told, (line.finding for line in open_findings if line.is_double), merge_url)
    return EnginePage(
        engine=engine,
        build=build,
        builds=_picker(engine, builds, build),
        assessment=assessment,
        header=engine_header.header(reader, engine, build, assessment, plan, installations, seat_now),
        others=_others(reader, engine, seat_now, now),
        findings=open_findings,
        closed_findings=closed,
        oil=oil,
        oil_figure=plots.oil_picture(oil, assessment.hours, reader.units) if assessment else None,
        oil_key=plots.oil_key(oil),
        oil_strip=engine_tables.oil_strip(oil, reader.units),
        oil_still=still_address(engine, build, build is builds[0]) if build else "",
        oil_still_narrow=still_address(engine, build, build is builds[0], narrow=True) if build else "",
        windows=engine_tables.windows(oil, reader.units),
        left_out=oil_tables.left_out(oil),
        over_hours=oil_tables.over_hours(oil, reader.units),
        credit=credit,
        power_figure=plots.power_picture(credit, plan.credit, plan.low) if plan else None,
        power_key=plots.power_key(credit, plan.credit) if plan else (),
        stages=power_tables.stages(credit),
        blocks=power_tables.blocks(credit),
        measured=_measured(reader, credit),
        heat=power_tables.heat(_part(detail, "heat"), reader.units),
        seating=power_tables.seating(_part(detail, "heat"), reader.units),
        due=_due(reader, build) if build else (),
        accessories=accessories_of(reader, engine, build, assessment),
        may_complete=access.may_now(reader.user, "inspect"),
        review=_part(detail, "review"),
        lacking=_lacking(_part(detail, "review")),
        waived=_waived(_part(detail, "review"), reader),
        proposed=_proposed(_part(detail, "review"), reader),
        close_url=_close_url(reader, build),
        files=files_of_build(reader, build),
        rules=tuple(detail.get("rules") or ()),
        timeline=told,
        more_entries=more,
        inspections=kind_rows(reader, engine),
        inspect_url=reverse("inspection_choose", args=[engine.pk]) if access.may_now(reader.user, "inspect") else "",
        may_waive=access.may_now(reader.user, "waive"),
        recordings=_recordings(reader, engine, build, builds),
        plan=plan,
        positions=tuple(build.positions.all()) if build else (),
        cell_runs=tuple(build.cell_runs.order_by("run_on", "id")) if build else (),
        preservations=tuple(build.preservations.order_by("preserved_on", "id")) if build else (),
        installations=tuple(installations),
        merge_url=merge_url,
        staff=reader.staff,
    )


def _part(detail: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    part = detail.get(name)
    return part if isinstance(part, dict) else {}


def _measured(reader: Reader, credit: Mapping[str, Any]) -> tuple[power_tables.RecordingLine, ...]:
    """The recordings behind the power; a link only to those that this reader may open."""
    named = power_tables.recordings_in(credit)
    rows = access.visible_to(reader.user, Recording.objects.filter(pk__in=named)) if named else Recording.objects.none()
    return power_tables.recordings(credit, rows.values_list("pk", flat=True))


def _chosen(builds: list[Build], build_id: int | None) -> Build | None:
    if build_id is None:
        return builds[0] if builds else None
    return next((build for build in builds if build.pk == build_id), None)


def _picker(engine: Engine, builds: list[Build], chosen: Build | None) -> tuple[tuple[str, str, bool], ...]:
    """(address, words, current) of each build, for an engine that was built more than once."""
    if len(builds) < 2:
        return ()
    url = reverse("engine", args=[engine.pk])
    return tuple(
        (
            url if place == 0 else f"{url}?build={build.pk}",
            f"build {build.number}, {build.get_kind_display()}, {build.opened_at:%b %Y}",
            chosen is not None and build.pk == chosen.pk,
        )
        for place, build in enumerate(builds)
    )


def _others(
    reader: Reader, engine: Engine, seat_now: Installation | None, now: datetime
) -> tuple[tuple[str, str], ...]:
    """The other engine of a twin: (address, "QX-106 RIGHT")."""
    if seat_now is None:
        return ()
    beside: QuerySet[Installation] = Installation.objects.filter(
        Q(until__isnull=True) | Q(until__gt=now), aircraft_id=seat_now.aircraft_id, since__lte=now
    ).exclude(engine=engine)
    rows = access.visible_to(reader.user, beside).select_related("aircraft").order_by("position")
    return tuple((reverse("engine", args=[row.engine_id]), seat(row)) for row in rows)


def _findings(
    reader: Reader, build: Build, shown: frozenset[str]
) -> tuple[tuple[FindingLine, ...], tuple[FindingLine, ...]]:
    found = list(
        access.visible_to(reader.user, Finding.objects.filter(build=build))
        .select_related("acknowledged_by")
        .prefetch_related(Prefetch("verdicts", FindingVerdict.objects.select_related("by").order_by("at")))
        .order_by("-severity", "-happened_at", "id")
    )
    still = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
    opened = tuple(_finding(reader, row, shown) for row in found if row.state in still)
    closed = [row for row in found if row.state not in still]
    closed.sort(key=lambda row: row.closed_at or row.opened_at, reverse=True)
    return opened, tuple(_finding(reader, row, shown) for row in closed[:CLOSED_SHOWN])


def _finding(reader: Reader, row: Finding, shown: frozenset[str]) -> FindingLine:
    act = "clear_stop" if row.severity == Severity.STOP else "clear_finding"
    may_clear = access.may_now(reader.user, act)
    still = row.state in (FindingState.OPEN, FindingState.ACKNOWLEDGED)
    words = access.words_are_for(reader.user, row)
    numbers = ", ".join(f"{name.replace('_', ' ')} {_number(value)}" for name, value in row.numbers.items())
    why = (f"Rule {row.rule}, version {row.rule_version}: {row.why}", f"Numbers: {numbers}." if numbers else "")
    acknowledged = ""
    if row.acknowledged_by and row.acknowledged_at and words:
        acknowledged = f"Acknowledged by {row.acknowledged_by.name}"
    return FindingLine(
        finding=row,
        title=title_for(row, reader.units),
        text=text_for(row, reader.units),
        severity=row.get_severity_display(),
        why=tuple(line for line in (*why, f"Source of the line: {row.source}" if row.source else "") if line),
        evidence=tuple(
            (_evidence_at(f"fact-{each['root']}", row, shown), str(each.get("words") or each.get("kind", "entry")))
            for each in row.evidence
            if isinstance(each, dict) and each.get("root")
        ),
        audience="" if row.for_customer or not reader.staff else "shop only",
        may_acknowledge=row.state == FindingState.OPEN and access.may_now(reader.user, "acknowledge"),
        may_clear=still and may_clear,
        who_may_clear="" if may_clear or not still else _who_clears(act),
        verdicts=tuple(row.verdicts.all()) if words else (),
        handled=acknowledged,
    )


def _evidence_at(anchor: str, row: Finding, shown: frozenset[str]) -> str:
    """The entry on this page, or on the page with every entry when it is an older one."""
    return f"#{anchor}" if anchor in shown else f"?build={row.build_id}&timeline=all#{anchor}"


def _who_clears(act: str) -> str:
    return f"Cleared by: {', '.join(sorted(access.who_may(act)))}."


def _number(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _due(reader: Reader, build: Build) -> tuple[AskedItem, ...]:
    order = {state: place for place, state in enumerate(OPEN_DUE)}
    rows = access.visible_to(reader.user, DueItem.objects.filter(build=build, state__in=OPEN_DUE))
    urgent_first = sorted(rows, key=lambda row: (order[DueState(row.state)], row.title))
    return tuple(AskedItem.of(row, reader.units) for row in urgent_first)


def _lacking(review: Mapping[str, Any]) -> tuple[dict[str, str], ...]:
    """What the review lacks, each with the place on this page where it is mended."""
    names = ("key", "what", "why", "mend")
    rows = ({name: str(row.get(name) or "") for name in names} for row in review.get("lacking") or ())
    return tuple({**row, "href": _PLACES.get(row["key"], "")} for row in rows)


def _waived(review: Mapping[str, Any], reader: Reader) -> tuple[str, ...]:
    """What a manager lets stand unmet, with the reason; the name for the shop."""
    return tuple(
        f"{row['what']}. {row['why']} Waived{' by ' + row['by'] if reader.staff else ''}: {row['reason']}"
        for row in review.get("waived") or ()
    )


def _proposed(review: Mapping[str, Any], reader: Reader) -> str:
    proposal = review.get("proposal")
    if not proposal:
        return ""
    by = f" by {proposal['by']}" if reader.staff else ""
    on = datetime.fromisoformat(proposal["at"])
    return f"The close-out was proposed{by} on {on:%-d %b %Y} and waits for the second look."


def _close_url(reader: Reader, build: Build | None) -> str:
    if build is None or build.state != BuildState.OPEN or not access.may_now(reader.user, "propose_close"):
        return ""
    return reverse("build_close", args=[build.pk])


def _recordings(reader: Reader, engine: Engine, build: Build | None, builds: list[Build]) -> tuple[Recording, ...]:
    """Files of the aircraft in which this engine sits or sat."""
    sat_in = Aircraft.objects.filter(installations__engine=engine)
    rows = access.visible_to(reader.user, Recording.objects.filter(aircraft__in=sat_in)).select_related(
        "aircraft", "uploaded_by"
    )
    if build is not None:
        start, end = period_of(build, builds)
        rows = rows.filter(uploaded_at__gte=start)
        rows = rows.filter(uploaded_at__lt=end) if end else rows
    return tuple(rows.order_by("-uploaded_at")[:RECORDINGS_SHOWN])
