"""The accessories of engines with what was done to each: one query however many engines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from breakin.record import AccessoryEventFacts, AccessoryFacts
from engines.models import AccessoryEvent

_EVENT = (
    "root", "act", "done_on", "recorded_at", "total_time_h", "own_hours_h", "interval_h", "interval_months",
)  # fmt: skip


def accessories_by_engine(engine_ids: Iterable[int]) -> Mapping[int, tuple[AccessoryFacts, ...]]:
    """Engine id -> its accessories in the order in which they were entered; without those that were taken back."""
    rows = (
        AccessoryEvent.objects.filter(
            accessory__engine__in=list(engine_ids), corrected_by__isnull=True, withdrawn=False
        )
        .order_by("accessory_id", "done_on", "id")
        .values("accessory_id", "accessory__engine_id", "accessory__kind", "accessory__name", *_EVENT)
    )
    events: dict[tuple[int, int, str, str], list[AccessoryEventFacts]] = defaultdict(list)
    for row in rows:
        key = (row["accessory__engine_id"], row["accessory_id"], row["accessory__kind"], row["accessory__name"])
        events[key].append(AccessoryEventFacts(**{name: row[name] for name in _EVENT}))
    found: dict[int, list[AccessoryFacts]] = defaultdict(list)
    for (engine, pk, kind, name), done in events.items():
        found[engine].append(AccessoryFacts(pk, kind, name, tuple(done)))
    return {engine: tuple(each) for engine, each in found.items()}
