"""The facts of one build of an engine as this reader may see them, told as a timeline."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from breakin.models import FlightEngine, OilEvent
from engines.models import Build, BuildEvent, Engine, Inspection, Installation
from reports.engine import timeline
from reports.engine.timeline import Entry, Telling
from reports.inspect.photos import photos_by_root
from reports.reader import Reader
from reports.recordings.links import recorded_at
from shop import access

SHOWN = 40


def period_of(build: Build, builds: list[Build]) -> tuple[datetime, datetime | None]:
    """From the opening of a build to the opening of the next one: its facts lie between."""
    later = [each.opened_at for each in builds if each.opened_at > build.opened_at]
    return build.opened_at, min(later) if later else None


def history(
    reader: Reader,
    engine: Engine,
    build: Build | None,
    builds: list[Build],
    installations: list[Installation],
    seat_now: Installation | None,
    *,
    every: bool,
) -> tuple[tuple[Entry, ...], int]:
    """The newest entries, and how many older ones were left out."""
    may_fix = seat_now is not None and access.may_now(reader.user, "correct", seat_now.aircraft)
    photos = photos_by_root(reader, engine)
    start, end = period_of(build, builds) if build else (None, None)

    def within(rows: QuerySet[Any], at: str) -> QuerySet[Any]:
        rows = rows.filter(**{f"{at}__gte": start}) if start else rows
        rows = rows.filter(**{f"{at}__lt": end}) if end else rows
        return access.visible_to(reader.user, rows)

    flights = within(FlightEngine.objects.filter(engine=engine), "flight__happened_at").select_related(
        "flight__entered_by", "flight__on_behalf_of", "flight__pilot", "flight__corrected_by", "as_on_card"
    )
    recorded = recorded_at(reader, {row.flight.root for row in flights})
    telling = Telling(reader.user, reader.units, may_fix or access.may_now(reader.user, "correct"), photos, recorded)
    oil = within(OilEvent.objects.filter(engine=engine), "happened_at")
    checks = within(Inspection.objects.filter(engine=engine), "happened_at").select_related("performed_by")
    fact = ("entered_by", "on_behalf_of", "corrected_by")
    events = access.visible_to(reader.user, BuildEvent.objects.filter(build=build)).select_related("by", "build")
    told = timeline.newest_first(
        # A reading after the flight carries the moment of its end, and stands above it.
        timeline.oil(telling, list(oil.select_related(*fact))),
        timeline.flights(telling, list(flights)),
        timeline.inspections(telling, list(checks.select_related(*fact))),
        timeline.build_events(reader.user, list(events)),
        timeline.installations([row for row in installations if _touches(row, start, end)]),
    )
    shown = told if every else told[:SHOWN]
    return tuple(shown), len(told) - len(shown)


def _touches(row: Installation, start: datetime | None, end: datetime | None) -> bool:
    return (end is None or row.since < end) and (start is None or row.until is None or row.until > start)
