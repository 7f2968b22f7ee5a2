"""What was logged: flights with their credit, recordings, oil, inspections with photos, and every correction."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from breakin.models import FlightEngine, OilEvent, Recording
from breakin.record import BuildRecord
from engines.models import Build, Inspection, Photo
from shop.facts import Fact

BAND_UNKNOWN = "unknown"


def flights(record: BuildRecord, detail: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Every flight and ground run that counts, in order, each with its credit and grade."""
    rows = {
        row.flight.root: row
        for row in FlightEngine.objects.filter(
            engine=record.engine_id, flight__root__in=[run.root for run in record.runs], flight__corrected_by=None
        ).select_related("flight__pilot", "flight__entered_by", "installation__aircraft")
    }
    credit, heat = _credit(detail["credit"]["blocks"]), {row["root"]: row for row in detail["heat"]["flights"]}
    return [_flight(record, rows[run.root], credit, heat, run) for run in record.runs if run.root in rows]


def _flight(record: BuildRecord, row: FlightEngine, credit: Any, heat: Any, run: Any) -> dict[str, Any]:
    flight, root = row.flight, str(run.root)
    told = heat.get(root, {})
    return {
        "root": root,
        "ended_at": flight.happened_at,
        "local_date": flight.local_date,
        "kind": flight.get_kind_display(),
        "registration": row.installation.aircraft.registration,
        "position": row.installation.get_position_display(),
        "pilot": flight.pilot.name if flight.pilot else "",
        "entered_by": flight.entered_by.name,
        "written_at": flight.written_at,
        "received_at": flight.received_at,
        "grade": flight.grade,
        "hours": row.hours,
        "hours_estimated": row.hours_estimated,
        "hours_after": told.get("hours"),
        "meter": {"kind": row.meter_kind, "start_h": row.meter_start_h, "end_h": row.meter_end_h},
        "other_meters": row.other_meters,
        "airborne_min": flight.airborne_min,
        "ground_before_min": flight.ground_before_min,
        "ground_after_min": flight.ground_after_min,
        "landings": flight.landings,
        "minutes": credit.get(root, {}),
        "stated": bool(row.as_on_card_id) and run.recorded is None,
        "recording": run.recorded.recording_id if run.recorded else None,
        "takeoff_ff_gph": told.get("ff_gph"),
        "takeoff_ff_corrected_gph": told.get("ff_corrected_gph"),
        "takeoff_ff_word": told.get("ff_word"),
        "takeoff_ff_how": told.get("ff_how"),
        "climb_cht_degf": [[height, degf] for height, degf in run.climb_cht_degf],
        "climb_peak_degf": told.get("climb_peak_degf") or [],
        "cht_max_degf": told.get("cht_max_degf"),
        "cht_falling": told.get("falling"),
        "oil_temp_max_degf": row.oil_temp_max_degf,
        "oil_press_min_psi": row.oil_press_min_psi,
        "words": list(flight.chips),
        "note": flight.note,
    }


def _credit(blocks: list[dict[str, Any]]) -> dict[str, dict[str, float]]:
    """Minutes of each flight in each band; what a recording replaced does not count twice."""
    minutes: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for row in blocks:
        if row.get("counted", True) and row["duration_min"]:
            name = row["band"] or row["label"] or BAND_UNKNOWN
            minutes[row["flight_root"]][name] += row["duration_min"]
    return {root: {name: round(value, 1) for name, value in sorted(each.items())} for root, each in minutes.items()}


def recordings(record: BuildRecord) -> list[dict[str, Any]]:
    """The instruments' files that stand behind flights."""
    used = {run.recorded.recording_id for run in record.runs if run.recorded}
    rows = Recording.objects.filter(pk__in=used).order_by("uploaded_at", "id")
    return [
        {"id": row.pk, "name": row.original_name, "sha256": row.sha256, "uploaded_at": row.uploaded_at} for row in rows
    ]


def oil_events(record: BuildRecord) -> list[dict[str, Any]]:
    roots = [row.root for row in record.oil]
    rows = {row.root: row for row in OilEvent.objects.current().filter(root__in=roots).select_related("entered_by")}
    return [_oil(rows[root]) for root in roots if root in rows]


def _oil(row: OilEvent) -> dict[str, Any]:
    return {
        "root": row.root,
        "kind": row.get_kind_display(),
        "happened_at": row.happened_at,
        "when": row.when,
        "level_qt": row.level_qt,
        "u_qt": row.u_qt,
        "minutes_since_shutdown": row.minutes_since_shutdown,
        "level_ground": row.level_ground,
        "wiped_twice": row.wiped_twice,
        "recalled": row.recalled,
        "belly_oil": row.get_belly_oil_display() if row.belly_oil is not None else None,
        "amount_qt": row.amount_qt,
        "oil_kind": row.get_oil_kind_display() if row.oil_kind else "",
        "brand": row.brand,
        "drained_qt": row.drained_qt,
        "filled_qt": row.filled_qt,
        "filter_changed": row.filter_changed,
        "grade": row.grade,
        "entered_by": row.entered_by.name,
        "note": row.note,
    }


def inspections(record: BuildRecord) -> list[dict[str, Any]]:
    """Inspections with what was measured, and the photos that stand beside them."""
    roots = [row.root for row in record.inspections]
    people = ("performed_by", "inspector")
    rows = {row.root: row for row in Inspection.objects.current().filter(root__in=roots).select_related(*people)}
    photos: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    shown = Photo.objects.filter(engine=record.engine_id, root__in=roots, withdrawal=None).order_by("id")
    for one in shown:
        photos[one.root].append({"id": one.pk, "caption": one.caption, "sha256": one.sha256, "file": one.file.name})
    return [_inspection(rows[root], photos[root]) for root in roots if root in rows]


def _inspection(row: Inspection, photos: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "root": row.root,
        "kind": row.get_kind_display(),
        "kind_code": row.kind,
        "happened_at": row.happened_at,
        "hours": row.hours,
        "result": row.get_result_display(),
        "results": row.results,
        "performed_by": row.performed_by.name,
        "inspector": row.inspector.name if row.inspector else "",
        "note": row.note,
        "photos": photos,
    }


def corrections(build: Build, record: BuildRecord) -> list[dict[str, Any]]:
    """Every version that replaced another while this build ran, in order: what, when, by whom and why."""
    since = {"happened_at__gte": build.opened_at, "corrects__isnull": False}
    found: list[tuple[str, Fact]] = []
    flown = FlightEngine.objects.filter(
        engine=record.engine_id, **{f"flight__{name}": value for name, value in since.items()}
    ).select_related("flight__entered_by")
    found += [("flight", row.flight) for row in flown]
    for words, model in (("oil", OilEvent), ("inspection", Inspection)):
        rows = model.objects.filter(engine=record.engine_id, **since).select_related("entered_by")
        found += [(words, row) for row in rows]
    found.sort(key=lambda pair: (pair[1].received_at, pair[1].pk))
    return [
        {
            "of": words,
            "root": row.root,
            "happened_at": row.happened_at,
            "corrected_at": row.received_at,
            "by": row.entered_by.name,
            "reason": row.get_correction_reason_display() or "corrected",
            "withdrawn": row.withdrawn,
            "note": row.note,
        }
        for words, row in found
    ]
