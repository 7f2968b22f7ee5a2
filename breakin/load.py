"""Facts of builds out of the database, in a fixed number of queries however many builds are asked for.

Facts hang on engines and aircraft; a build takes those of its engine within its period.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet

from breakin.doubles import without_doubles
from breakin.fleet_prior import priors_by_build
from breakin.load_accessories import accessories_by_engine
from breakin.load_closing import Closings
from breakin.load_recorded import Recorded
from breakin.load_rows import (
    BLOCK,
    INSPECTION,
    METER,
    OIL,
    Rows,
    contact_of,
    current_runs,
    decisions,
    each,
    installation_facts,
    oil_facts,
    plan_facts,
    run_facts,
    type_facts,
    without,
)
from breakin.models import (
    DueItem,
    DueState,
    Finding,
    FindingState,
    FlightEngine,
    MergeDecision,
    OilEvent,
    PlanStage,
    PowerBlock,
    RunInPlan,
    Severity,
)
from breakin.record import (
    PARTIAL_KINDS,
    BuildRecord,
    CellRunFacts,
    Contact,
    EventFacts,
    InspectionFacts,
    InstallationFacts,
    MeterFacts,
    PositionFacts,
    PreservationFacts,
    RunFacts,
    StandingStop,
)
from engines.models import (
    Build,
    BuildEvent,
    BuildState,
    CellRun,
    CylinderPosition,
    Holding,
    Inspection,
    Installation,
    Meter,
    Preservation,
)
from shop.models import CustomerMember

_ENDED = {BuildState.SUPERSEDED, BuildState.INCOMPLETE}
# A partial build is compared with the loss before it: so far back its readings are asked for.
_EARLIER = timedelta(days=400)


def load(
    build_ids: Iterable[int], now: datetime, *, merged: Mapping[UUID, UUID] | None = None
) -> dict[int, BuildRecord]:
    """The records of these builds. Builds that do not exist are left out.

    Parameters
    ----------
    build_ids : primary keys of Build.
    now : aware datetime - who holds the aircraft now is asked for this moment.
    merged : merges of flights beside those in the book, for a look at what they would change: dropped -> kept.

    Returns
    -------
    build id -> BuildRecord
    """
    builds = list(
        Build.objects.filter(pk__in=list(build_ids)).select_related("engine", "type_revision__engine_type", "owner")
    )
    return _Loader(builds, now, merged or {}).records() if builds else {}


class _Loader:
    """All rows that a set of builds needs, read once and grouped by what they hang on."""

    def __init__(self, builds: list[Build], now: datetime, merged: Mapping[UUID, UUID]) -> None:
        self.builds = builds
        self.now = now
        self.ids = [build.pk for build in builds]
        self.engines = {build.engine_id for build in builds}
        # Builds of one type share it, so that its chart is read once.
        self.types = {build.type_revision_id: type_facts(build.type_revision) for build in _one_a_type(builds)}
        since = min(_asked_since(build) for build in builds)
        self.later_builds = _group(
            Build.objects.filter(engine__in=self.engines).order_by("opened_at").values("engine_id", "opened_at"),
            "engine_id",
        )
        self._installations(since)
        self.merged |= merged
        self._flights(since)
        self._other_facts(since)
        self._of_builds()
        self.accessories = accessories_by_engine(self.engines)
        self.priors = priors_by_build(builds)
        self.closings = Closings(self.ids)
        self._people()

    def _installations(self, since: datetime) -> None:
        rows = (
            Installation.objects.filter(engine__in=self.engines)
            .filter(Q(until__isnull=True) | Q(until__gt=since))
            .order_by("since", "id")
            .select_related("aircraft__home")
        )
        self.installations: dict[int, list[InstallationFacts]] = defaultdict(list)
        for row in rows:
            self.installations[row.engine_id].append(installation_facts(row))
        self.aircraft = {row.aircraft_id for rows in self.installations.values() for row in rows}
        self.meters = _group(
            Meter.objects.filter(aircraft__in=self.aircraft).order_by("since", "id").values(*METER),
            "aircraft_id",
        )
        merges = MergeDecision.objects.filter(aircraft__in=self.aircraft).values_list("dropped_root", "kept_root")
        self.merged: dict[UUID, UUID] = dict(merges)

    def _flights(self, since: datetime) -> None:
        own = list(
            current_runs()
            .filter(engine__in=self.engines, flight__happened_at__gte=since)
            .order_by("flight__happened_at", "id")
        )
        shared = {row["flight_id"] for row in own if row["installation__position"] in ("left", "right")}
        on_shared: QuerySet[Any, Any] = FlightEngine.objects.filter(flight__in=shared)
        others = list(on_shared.values("id", "flight_id", "engine_id", "installation__position")) if shared else []
        blocks = _group(
            PowerBlock.objects.filter(flight_engine__in=[row["id"] for row in own] + [row["id"] for row in others])
            .order_by("flight_engine", "order")
            .values("flight_engine_id", *BLOCK),
            "flight_engine_id",
        )
        on_flight: dict[int, Rows] = defaultdict(list)
        for engine in others:
            on_flight[engine["flight_id"]].append(engine)
        self.recorded = Recorded(self.engines, since)
        self.runs: dict[int, list[RunFacts]] = defaultdict(list)
        for row in own:
            if row["flight__root"] not in self.merged:
                other = next((o for o in on_flight[row["flight_id"]] if o["engine_id"] != row["engine_id"]), None)
                recorded = self.recorded.of(row["engine_id"], row["flight__root"])
                self.runs[row["engine_id"]].append(run_facts(row, other, blocks, recorded))

    def _other_facts(self, since: datetime) -> None:
        current = {"corrected_by__isnull": True, "withdrawn": False, "happened_at__gte": since}
        self.oil = _group(
            OilEvent.objects.filter(engine__in=self.engines, **current)
            .order_by("happened_at", "order", "id")
            .values("engine_id", *OIL, at=F("happened_at")),
            "engine_id",
        )
        self.inspections = _group(
            Inspection.objects.filter(engine__in=self.engines, **current)
            .order_by("happened_at", "id")
            .values("engine_id", *INSPECTION, at=F("happened_at")),
            "engine_id",
        )

    def _of_builds(self) -> None:
        own = {"build__in": self.ids}
        self.positions = _group(
            CylinderPosition.objects.filter(**own)
            .order_by("number")
            .values("build_id", "number", "disturbed", "finish", "ring_lot"),
            "build_id",
        )
        self.events = _group(
            BuildEvent.objects.filter(**own).order_by("at", "id").values("build_id", "kind", "at", "hours", "detail"),
            "build_id",
        )
        self.preservations = _group(
            Preservation.objects.filter(**own)
            .order_by("preserved_on", "id")
            .values("build_id", "preserved_on", "expires_on", "ended_on"),
            "build_id",
        )
        self.cell_runs = _group(
            CellRun.objects.filter(**own)
            .order_by("run_on", "id")
            .values("build_id", "run_on", "minutes", "oil_used_qt"),
            "build_id",
        )
        plans = {plan.build_id: plan for plan in RunInPlan.objects.filter(**own).order_by("revision")}
        stages: dict[int, list[PlanStage]] = defaultdict(list)
        for stage in PlanStage.objects.filter(plan__in=[plan.pk for plan in plans.values()]).order_by("order"):
            stages[stage.plan_id].append(stage)
        self.plans = {build: plan_facts(plan, stages[plan.pk]) for build, plan in plans.items()}
        told = [FindingState.OPEN, FindingState.ACKNOWLEDGED, FindingState.CLEARED]
        self.findings = _group(
            Finding.objects.filter(**own, state__in=told)
            .order_by("rule", "occurrence")
            .values(
                "build_id", "rule", "occurrence", "state", "severity", "title", "text", "acknowledged_at", "closed_at"
            ),
            "build_id",
        )
        self.waived = _group(
            DueItem.objects.filter(**own, state=DueState.WAIVED)
            .order_by("rule", "occurrence")
            .values("build_id", "rule", "occurrence", "closed_at"),
            "build_id",
        )

    def _people(self) -> None:
        holdings = (
            Holding.objects.filter(aircraft__in=self.aircraft, since__lte=self.now)
            .filter(Q(until__isnull=True) | Q(until__gt=self.now))
            .values_list("aircraft_id", "customer_id", "customer__name", "customer__phone")
        )
        self.holders = {row[0]: row[1:] for row in holdings}
        members = (
            CustomerMember.objects.filter(customer__in={row[0] for row in self.holders.values()}, since__lte=self.now)
            .filter(Q(until__isnull=True) | Q(until__gt=self.now))
            .order_by("first_contact", "-id")
            .values_list("customer_id", "person__name", "person__phone")
        )
        # The last one written wins: the first contact, else whoever has belonged to the customer longest.
        self.contacts = {row[0]: Contact(row[1], row[2]) for row in members}

    def records(self) -> dict[int, BuildRecord]:
        return {build.pk: self._record(build) for build in self.builds}

    def _until(self, build: Build) -> datetime | None:
        """When facts of the engine stop to belong to this build: at its end, or when the next build opens."""
        after = (row["opened_at"] for row in self.later_builds[build.engine_id] if row["opened_at"] > build.opened_at)
        ends = [moment for moment in (next(after, None),) if moment is not None]
        if build.state in _ENDED and build.closed_at is not None:
            ends.append(build.closed_at)
        return min(ends, default=None)

    def _record(self, build: Build) -> BuildRecord:
        until = self._until(build)

        def mine(at: datetime) -> bool:
            return build.opened_at <= at and (until is None or at < until)

        def earlier(at: datetime) -> bool:
            return build.kind in PARTIAL_KINDS and _asked_since(build) <= at < build.opened_at

        installations = tuple(
            row
            for row in self.installations[build.engine_id]
            if (row.until is None or row.until > build.opened_at) and (until is None or row.since < until)
        )
        runs, doubles = without_doubles(tuple(run for run in self.runs[build.engine_id] if mine(run.at)))
        runs_before, _ = without_doubles(tuple(run for run in self.runs[build.engine_id] if earlier(run.at)))
        seats = {(row.aircraft_id, row.position) for row in installations}
        instead = {**self.merged, **dict(doubles)}
        findings = self.findings[build.pk]
        aircraft = installations[-1].aircraft_id if installations and installations[-1].until is None else None
        holder = self.holders.get(aircraft) if aircraft is not None else None
        return BuildRecord(
            build_id=build.pk,
            engine_id=build.engine_id,
            number=build.number,
            kind=build.kind,
            state=build.state,
            serial=build.engine.serial,
            opened_at=build.opened_at,
            closed_at=build.closed_at,
            total_time_h=build.total_time_h,
            type=self.types[build.type_revision_id],
            plan=self.plans.get(build.pk),
            positions=each(PositionFacts, self.positions[build.pk]),
            installations=installations,
            meters=tuple(
                MeterFacts(**row)
                for craft in sorted({seat[0] for seat in seats})
                for row in self.meters[craft]
                if (row["aircraft_id"], row["position"]) in seats
            ),
            runs=runs,
            left_out=doubles,
            unlogged_recorded=tuple(
                each
                for each in self.recorded.unlogged(build.engine_id, self.runs[build.engine_id])
                if mine(each.began_at)
            ),
            oil=tuple(oil_facts(row, instead) for row in self.oil[build.engine_id] if mine(row["at"])),
            earlier_runs=runs_before,
            earlier_oil=tuple(oil_facts(row, instead) for row in self.oil[build.engine_id] if earlier(row["at"])),
            inspections=tuple(
                InspectionFacts(**without(row, "engine_id"))
                for row in self.inspections[build.engine_id]
                if mine(row["at"])
            ),
            events=each(EventFacts, self.events[build.pk]),
            preservations=each(PreservationFacts, self.preservations[build.pk]),
            cell_runs=each(CellRunFacts, self.cell_runs[build.pk]),
            accessories=self.accessories.get(build.engine_id, ()) if until is None else (),
            decisions=decisions(findings, self.waived[build.pk]),
            **self.closings.of(build.pk, build.state, self.events[build.pk]),
            customer=holder[1] if holder else "",
            contact=contact_of(holder, self.contacts),
            owner=build.owner.name if build.owner else "",
            prior=self.priors[build.pk],
            twin=any(row.position in ("left", "right") for row in installations[-1:]),
            standing_stops=tuple(
                StandingStop(row["rule"], row["occurrence"], row["title"], row["text"])
                for row in findings
                if row["severity"] == Severity.STOP and row["state"] != FindingState.CLEARED
            ),
        )


def _asked_since(build: Build) -> datetime:
    return build.opened_at - _EARLIER if build.kind in PARTIAL_KINDS else build.opened_at


def _one_a_type(builds: list[Build]) -> Iterable[Build]:
    return {build.type_revision_id: build for build in builds}.values()


def _group(rows: QuerySet[Any, Any], key: str) -> dict[Any, Rows]:
    grouped: dict[Any, Rows] = defaultdict(list)
    for row in rows:
        grouped[row[key]].append(row)
    return grouped
