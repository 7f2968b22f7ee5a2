"""Who may correct an entry: the pilot his own, for seven days and until close-out; after that he asks the shop."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from breakin.models import Flight, OilEvent
from engines.models import Build, BuildState
from reports.reader import Reader

FOR = timedelta(days=7)
ASK = "Ask the shop to change it"


@dataclass(frozen=True)
class Leave:
    """May the reader correct this entry; if not, why, as a sentence."""

    given: bool
    why_not: str = ""


def first_received(rows: Iterable[Any]) -> dict[Any, datetime]:
    """Root of each fact -> when its first version came in. One query a model."""
    found: dict[Any, datetime] = {}
    kinds: dict[type, set[Any]] = {}
    for row in rows:
        kinds.setdefault(type(row), set()).add(row.root)
    for model, roots in kinds.items():
        found.update(model.objects.filter(client_id__in=roots).values_list("root", "received_at"))  # type: ignore[attr-defined]
    return found


def leave_to_fix(fact: Flight | OilEvent, reader: Reader, now: datetime, received: datetime | None = None) -> Leave:
    """May this reader correct this fact now? `received` spares the query for its first version."""
    if fact.withdrawn:
        return Leave(False, "This entry was withdrawn.")
    if reader.staff:
        return Leave(True)
    if reader.person is None or reader.person.pk not in (fact.entered_by_id, fact.on_behalf_of_id):
        return Leave(False, f"Somebody else made this entry. {ASK}.")
    since = received or first_received([fact]).get(fact.root, fact.received_at)
    if now - since > FOR:
        return Leave(False, f"This entry is more than seven days old. {ASK}.")
    if _closed_since(fact):
        return Leave(False, f"The break-in has been closed out since. {ASK}.")
    return Leave(True)


def _closed_since(fact: Flight | OilEvent) -> bool:
    engines = [fact.engine_id] if isinstance(fact, OilEvent) else list(fact.engines.values_list("engine_id", flat=True))
    return Build.objects.filter(
        engine__in=engines, state=BuildState.CLOSED, opened_at__lte=fact.happened_at, closed_at__gte=fact.happened_at
    ).exists()
