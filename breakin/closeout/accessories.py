"""The accessories of the engine with clocks of their own, as they stand at the close-out."""

from __future__ import annotations

from typing import Any

from breakin.picture.accessories import clocks_of
from breakin.picture.clock import clock_of
from breakin.record import BuildRecord
from engines.models import AccessoryEvent, Build


def accessories(build: Build, record: BuildRecord) -> list[dict[str, Any]]:
    """One row each: what it is, its interval with its source, when it was last done, and what is left of it."""
    clocks = clocks_of(record, clock_of(record)) if record.accessories else ()
    if not clocks:
        return []
    rows = AccessoryEvent.objects.filter(
        accessory__engine=build.engine_id, corrected_by__isnull=True, withdrawn=False
    ).select_related("accessory")
    events = {row.root: row for row in rows}
    newest = {row.accessory_id: row for row in rows.order_by("recorded_at", "id")}
    found = []
    for clock in clocks:
        last, terms = events[clock.last.root], newest[clock.accessory.id]
        found.append(
            {
                "accessory": last.accessory.label,
                "part": terms.part,
                "interval_h": clock.interval_h,
                "interval_months": clock.interval_months,
                "source": terms.source,
                "last": last.get_act_display(),
                "done_on": last.done_on,
                "total_time_h": last.total_time_h,
                "due_total_time_h": clock.due_total_h,
                "due_on": clock.due_on,
                "left_h": clock.left_h,
            }
        )
    return sorted(found, key=lambda row: str(row["accessory"]).casefold())
