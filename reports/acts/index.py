"""What the shop can do now, in the order of a build's life, and what waits for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse

from breakin.models import Assessment, Finding, FindingState, Flight, Lane, LaneCount, PlanTemplate, RunInPlan
from engines.models import Aircraft, Build, BuildState, EngineType, Holding, Installation, Preservation
from reports.delivery.planned import unplanned
from reports.engine.page import DOUBLES
from reports.fleet.board_query import Asked
from reports.reader import Reader
from shop import access
from shop.models import Customer, Person, Place, Shop

SHOWN = 20
NEWEST = 5
SOON = timedelta(days=14)
# A record of the reference data: its page and the one that enters a new one; where there is
# none, the list of the admin.
RECORDS = (
    ("Fields", "shop", Place, "Where aircraft are at home; elevation and time zone.", "places", "place_new"),
    ("The shop", "shop", Shop, "Name, field, phone and mail.", "shop_profile", ""),
    (
        "Customers",
        "shop",
        Customer,
        "Owners, clubs, schools, firms, and who belongs to them.",
        "customers",
        "customer_new",
    ),
    ("People", "shop", Person, "Everybody with a name here, their units, zone and roles.", "people", "invite"),
    ("Aircraft", "engines", Aircraft, "Registration, home, holder, assigned pilots.", "", "aircraft_new"),
    ("Engine types", "engines", EngineType, "Numbers and power charts, in revisions.", "engine_types", "type_new"),
    ("Plan templates", "breakin", PlanTemplate, "What a run-in plan is issued from.", "templates", ""),
)
_OPEN_TO_ALL = frozenset({"places", "engine_types", "templates", "customers", "customer_new"})


@dataclass(frozen=True)
class Record:
    """Reference data: how much there is, where it is looked at and entered. Empty where the reader may not."""

    label: str
    count: int
    say: str
    url: str
    add: str


@dataclass(frozen=True)
class Waiting:
    """What waits for one act: the first few as (address, words), and how many there are in all."""

    count: int
    rows: tuple[tuple[str, str], ...]

    @property
    def more(self) -> int:
        return self.count - len(self.rows)


@dataclass(frozen=True)
class Index:
    """The page. `no_person` says that the reader's own login stands for nobody yet, with where to mend that."""

    records: tuple[Record, ...]
    may_records: bool
    may_build: bool
    may_people: bool
    types_without_numbers: tuple[str, ...]
    unheld: Waiting
    may_lots: bool
    may_exposure: bool
    newest: tuple[tuple[str, str], ...]
    without_plan: Waiting
    undelivered: Waiting
    preserved: Waiting
    uninstalled: Waiting
    doubles: Waiting
    review: int
    review_url: str
    no_person: bool


def index(reader: Reader, now: datetime) -> Index:
    """What there is and what waits. A fixed number of queries."""
    may_records = reader.user.is_staff
    open_builds = Build.objects.filter(state=BuildState.OPEN).select_related("engine__engine_type")
    planless = open_builds.filter(~Exists(RunInPlan.objects.filter(build=OuterRef("pk"))))
    seated = Installation.objects.filter(engine=OuterRef("engine"), until__isnull=True)
    held = Holding.objects.filter(aircraft=OuterRef("pk"), until__isnull=True)
    nowhere = Aircraft.objects.filter(~Exists(held))
    lane = LaneCount.objects.filter(lane=Lane.REVIEW).first()
    bare = EngineType.objects.filter(revisions__isnull=True)
    return Index(
        records=tuple(_record(reader, *each) for each in RECORDS),
        may_records=may_records,
        may_build=access.may_now(reader.user, "open_build"),
        may_people=access.may_now(reader.user, "invite"),
        types_without_numbers=tuple(bare.values_list("designation", flat=True)[:SHOWN]),
        unheld=Waiting(
            nowhere.count(),
            tuple((_change(reader, plane), plane.registration) for plane in nowhere.order_by("registration")[:SHOWN]),
        ),
        may_lots=access.may_now(reader.user, "see_lots"),
        may_exposure=access.may_now(reader.user, "see_exposure"),
        newest=_sheets(),
        without_plan=_builds(planless, "plan_issue"),
        undelivered=_undelivered(),
        preserved=_preserved(now),
        uninstalled=_engines(open_builds.filter(~Exists(seated))),
        doubles=_doubles(),
        review=lane.builds if lane else 0,
        review_url=Asked(lane=Lane.REVIEW).url(),
        no_person=reader.person is None,
    )


def _record(reader: Reader, label: str, app: str, model: type, say: str, page: str, new: str) -> Record:
    name = f"admin:{app}_{model.__name__.lower()}"
    may = reader.user.has_perm(f"{app}.view_{model.__name__.lower()}") and reader.user.is_staff
    edits = access.may_now(reader.user, "edit_reference")
    url = reverse(f"{name}_changelist") if may else ""
    add = reverse(f"{name}_add") if may and not page else ""
    if page:
        url = reverse(page) if edits or page in _OPEN_TO_ALL else ""
    if new:
        add = reverse(new) if edits or new in _OPEN_TO_ALL else ""
    return Record(label, model._default_manager.count(), say, url, add)  # type: ignore[attr-defined]


def _change(reader: Reader, plane: Aircraft) -> str:
    return reverse("admin:engines_aircraft_change", args=[plane.pk]) if reader.user.is_staff else ""


def _builds(rows: QuerySet[Build], act: str) -> Waiting:
    found = rows.order_by("opened_at")[:SHOWN]
    return Waiting(
        rows.count(), tuple((reverse(act, args=[build.pk]), f"{build.number}, {build.engine}") for build in found)
    )


def _sheets() -> tuple[tuple[str, str], ...]:
    """The sheets of the builds that were opened last."""
    rows = Build.objects.select_related("engine__engine_type").order_by("-opened_at", "-id")[:NEWEST]
    return tuple((reverse("build_sheet", args=[row.pk]), f"{row.number}, {row.engine}") for row in rows)


def _undelivered() -> Waiting:
    """Aircraft with an engine before its first flight whose delivery is not planned."""
    waiting = unplanned(Assessment.objects.filter(live=True)).values("aircraft")
    rows = Aircraft.objects.filter(pk__in=waiting).order_by("registration")
    return Waiting(rows.count(), tuple((reverse("delivery", args=[row.pk]), row.registration) for row in rows[:SHOWN]))


def _engines(rows: QuerySet[Build]) -> Waiting:
    found = rows.order_by("opened_at")[:SHOWN]
    return Waiting(
        rows.count(),
        tuple(
            (reverse("engine_install", args=[build.engine_id]), f"{build.engine}, build {build.number}")
            for build in found
        ),
    )


def _doubles() -> Waiting:
    """Aircraft with entries that look like one flight."""
    still = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
    found = Finding.objects.filter(rule=DOUBLES, state__in=still).values_list("occurrence", flat=True)
    flights = Flight.objects.filter(root__in=[UUID(root) for root in found]).values("aircraft")
    rows = Aircraft.objects.filter(pk__in=flights).order_by("registration")
    return Waiting(
        rows.count(), tuple((reverse("flights_merge", args=[row.pk]), row.registration) for row in rows[:SHOWN])
    )


def _preserved(now: datetime) -> Waiting:
    """Preservations that have run out, or will within two weeks."""
    rows = Preservation.objects.filter(
        ended_on__isnull=True, build__state=BuildState.OPEN, expires_on__lte=(now + SOON).date()
    ).select_related("build__engine__engine_type")
    found = rows.order_by("expires_on")[:SHOWN]
    return Waiting(
        rows.count(),
        tuple(
            (
                reverse("build_preserve", args=[each.build_id]),
                f"{each.build.engine}, build {each.build.number}: until {each.expires_on:%-d %b %Y}",
            )
            for each in found
        ),
    )
