"""What instruments recorded of a set of engines, read in two queries: for their flights, and what nobody logged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from breakin.calc.recording.result import engine_flight_of
from breakin.load_rows import Rows
from breakin.models import DatedBy, RecordedEngine
from breakin.record import RecordedRun, RunFacts, UnloggedRecorded

_SLACK = timedelta(days=1)
_RUN = (
    "id",
    "kind",
    "began_at",
    "ended_at",
    "landings",
    "confirmed",
    "flight_root",
    "dated_by",
    "run_min",
    "airborne_min",
    "recording_id",
    "recording__uploaded_at",
    "summary",
)


class Recorded:
    """Recordings of these engines since a moment."""

    def __init__(self, engine_ids: Iterable[int], since: datetime) -> None:
        rows: QuerySet[Any, Any] = RecordedEngine.objects.filter(
            engine__in=list(engine_ids), recorded_flight__ended_at__gte=since - _SLACK
        ).order_by("-recorded_flight__quality", "recorded_flight__recording__uploaded_at", "recorded_flight")
        self.by_flight: dict[tuple[int, UUID], dict[str, Any]] = {}
        self.without_flight: dict[int, Rows] = defaultdict(list)
        shared: set[int] = set()
        for row in rows.values(
            "engine_id", "side", "summary", "installation__position", *(f"recorded_flight__{name}" for name in _RUN)
        ):
            root = row["recorded_flight__flight_root"]
            if root is None:
                self.without_flight[row["engine_id"]].append(row)
            else:
                # Of two recorders on one flight the better one comes first, and stays.
                self.by_flight.setdefault((row["engine_id"], root), row)
            if row["installation__position"] in ("left", "right"):
                shared.add(row["recorded_flight__id"])
        self.others: dict[int, Rows] = defaultdict(list)
        if shared:
            both: QuerySet[Any, Any] = RecordedEngine.objects.filter(recorded_flight__in=shared)
            for row in both.values("recorded_flight_id", "engine_id", "summary"):
                self.others[row["recorded_flight_id"]].append(row)

    def of(self, engine_id: int, root: UUID) -> RecordedRun | None:
        """What was recorded of an engine on a flight; None when nothing was."""
        row = self.by_flight.get((engine_id, root))
        if row is None:
            return None
        flight = {name: row[f"recorded_flight__{name}"] for name in _RUN}
        other = next((each for each in self.others[flight["id"]] if each["engine_id"] != engine_id), None)
        summary = flight["summary"]
        return RecordedRun(
            recorded_flight_id=flight["id"],
            recording_id=flight["recording_id"],
            began_at=flight["began_at"],
            ended_at=flight["ended_at"],
            sample_s=summary["sample_s"],
            landings=flight["landings"],
            confirmed=flight["confirmed"],
            engine=engine_flight_of(row["summary"]),
            other=engine_flight_of(other["summary"]) if other else None,
            split_pct=summary["split_pct"],
            split_over_min=summary["split_over_min"],
            notes=tuple(summary["notes"]),
        )

    def unlogged(self, engine_id: int, runs: Iterable[RunFacts]) -> tuple[UnloggedRecorded, ...]:
        """What was recorded of an engine mostly outside its runs, at a known time; each once, oldest first."""
        spans = [(run.started_at, run.at) for run in runs]
        found: list[UnloggedRecorded] = []
        for row in self.without_flight[engine_id]:
            flight = {name: row[f"recorded_flight__{name}"] for name in _RUN}
            span = flight["began_at"], flight["ended_at"]
            if flight["dated_by"] == DatedBy.UNKNOWN or flight["run_min"] <= 0:
                continue
            if any(_mostly_in(span, other) for other in spans):
                continue
            if any(_mostly_in(span, (other.began_at, other.ended_at)) for other in found):
                continue  # another recorder saw it too, or the same one handed it out twice
            seen_at = flight["recording__uploaded_at"]
            told = flight["kind"], flight["run_min"], flight["airborne_min"]
            found.append(UnloggedRecorded(flight["id"], *span, *told, seen_at))
        return tuple(sorted(found, key=lambda each: (each.began_at, each.recorded_flight_id)))


def _mostly_in(span: tuple[datetime, datetime], other: tuple[datetime, datetime]) -> bool:
    shared = min(span[1], other[1]) - max(span[0], other[0])
    return shared > (span[1] - span[0]) / 2
