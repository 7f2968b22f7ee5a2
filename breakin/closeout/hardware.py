"""The engine, its build and plan, where it sat and by which clocks its hours were counted."""

from __future__ import annotations

from typing import Any

from breakin.closeout.accessories import accessories
from breakin.models import CloseOutFile, PlanStage, RunInPlan
from breakin.picture.storage import storage_of
from breakin.record import BuildRecord
from engines.models import Build, Installation, Meter
from shop.models import Person, Shop

_TYPE = (
    "source", "layout", "cylinders", "numbering", "cylinder_map", "displacement_cuin", "compression_ratio",
    "rated_hp", "rated_rpm", "sump_full_qt", "oil_ceiling_qt_h", "takeoff_ff_low_gph", "takeoff_ff_high_gph",
    "fuel_flow_compensates", "cht_watch_degf", "cht_limit_degf", "oil_temp_max_degf", "oil_press_min_psi", "log_only",
)  # fmt: skip
_PLAN = (
    "revision", "variant", "source", "source_revision", "credit", "low", "expected_low_h", "expected_high_h",
    "minimum_h", "accept_qt_h", "watch_qt_h", "alarm_qt_h", "first_oil_h", "first_oil_from_h", "first_oil_until_h",
    "follow_up_h", "follow_up_days", "issued_at", "reason",
)  # fmt: skip


def hardware(build: Build, record: BuildRecord) -> dict[str, Any]:
    """shop, engine, build, positions, plan, installations, cell runs, storage, preservations and accessories."""
    return {
        "shop": _shop(),
        "engine": _engine(build),
        "build": _build(build),
        "positions": [
            {
                "number": row.number,
                "disturbed": row.disturbed,
                "finish": row.get_finish_display() if row.finish else "",
                "barrel_serial": row.barrel_serial,
                "barrel_lot": row.barrel_lot,
                "bore": row.bore,
                "hone_angle_deg": row.hone_angle_deg,
                "piston": row.piston,
                "ring_lot": row.ring_lot,
                "ring_facing": row.ring_facing,
                "ring_gap_in": row.ring_gap_in,
            }
            for row in build.positions.order_by("number")
        ],
        "plan": _plan(build),
        "installations": [_seat(row) for row in _seats(build)],
        "cell_runs": [
            {
                "run_on": row.run_on,
                "minutes": row.minutes,
                "oil_kind": row.oil_kind,
                "oil_used_qt": row.oil_used_qt,
                "cht_max_degf": row.cht_max_degf,
                "full_throttle_ff_gph": row.full_throttle_ff_gph,
                "leaks": row.leaks,
                "note": row.note,
            }
            for row in build.cell_runs.order_by("run_on", "id")
        ],
        "storage": _storage(record),
        "preservations": [
            {
                "preserved_on": row.preserved_on,
                "expires_on": row.expires_on,
                "ended_on": row.ended_on,
                "preservative": row.preservative,
            }
            for row in build.preservations.order_by("preserved_on", "id")
        ],
        "accessories": accessories(build, record),
    }


def _storage(record: BuildRecord) -> dict[str, Any] | None:
    """From the day of the build to the first run; None for a build that never ran."""
    first = min((run.at for run in record.runs), default=None)
    if first is None:
        return None
    stood = storage_of(record.preservations, record.opened_at.date(), first.date(), first.date())
    return {"since": stood.since, "until": stood.until, "days": stood.days, "not_preserved_days": stood.bare}


def _shop() -> dict[str, Any]:
    shop = Shop.objects.select_related("place").first()
    if shop is None:
        return {"name": "", "place": "", "zone": "UTC"}
    return {"name": shop.name, "place": shop.place.name, "zone": shop.place.zone}


def _engine(build: Build) -> dict[str, Any]:
    revision = build.type_revision
    kind = revision.engine_type
    return {
        "serial": build.engine.serial,
        "type": kind.designation,
        "maker": kind.maker,
        "type_revision": revision.number,
        **{name: getattr(revision, name) for name in _TYPE},
    }


def _build(build: Build) -> dict[str, Any]:
    return {
        "number": build.number,
        "kind": build.get_kind_display(),
        "opened_at": build.opened_at,
        "builder": _name(build.builder),
        "inspector": _name(build.inspector),
        "assembly_lube": build.assembly_lube,
        "note": build.note,
        "events": [
            {
                "kind": row.get_kind_display(),
                "at": row.at,
                "hours": row.hours,
                "by": _name(row.by) or ("by rule" if "rule" in row.detail else ""),
                "reason": row.reason,
            }
            for row in build.events.select_related("by").order_by("at", "id")
        ],
        "earlier_files": [
            {"number": row.number, "signed_at": row.signed_at, "sha256": row.document_sha256}
            for row in CloseOutFile.objects.filter(build=build).order_by("number")
        ],
    }


def _plan(build: Build) -> dict[str, Any] | None:
    plan = RunInPlan.objects.filter(build=build).select_related("template", "issued_by").order_by("-revision").first()
    if plan is None:
        return None
    stages = PlanStage.objects.filter(plan=plan).order_by("order")
    return {
        **{name: getattr(plan, name) for name in _PLAN},
        "template": plan.template.name if plan.template else "",
        "oil_kind": plan.get_oil_kind_display(),
        "issued_by": plan.issued_by.name,
        "stages": [
            {"stage": row.get_kind_display(), "minutes": row.minutes, "cap_h": row.cap_h, "rpm": row.rpm}
            for row in stages
        ],
    }


def _seats(build: Build) -> list[Installation]:
    rows = Installation.objects.filter(engine=build.engine).select_related("aircraft").order_by("since", "id")
    return [row for row in rows if row.until is None or row.until > build.opened_at]


def _seat(row: Installation) -> dict[str, Any]:
    return {
        "registration": row.aircraft.registration,
        "position": row.get_position_display(),
        "since": row.since,
        "until": row.until,
        "basis_clock": row.get_basis_clock_display(),
        "min_oil_qt": row.min_oil_qt,
        "min_oil_source": row.min_oil_source,
        "dipstick_offset_qt": row.dipstick_offset_qt,
        "rpm_error": row.rpm_error,
        "map_error_inhg": row.map_error_inhg,
        "separator": row.separator,
        "winter_kit": row.winter_kit,
    }


def clocks(build: Build, record: BuildRecord, clock: dict[str, Any]) -> dict[str, Any]:
    """Hours on the basis clock, what stood on the others, and every change of meter while the build was open."""
    seats = {(row.aircraft_id, row.position) for row in record.installations}
    meters = Meter.objects.filter(aircraft__in=[craft for craft, _ in seats]).select_related("aircraft")
    rows = [row for row in meters.order_by("since", "id") if (row.aircraft_id, row.position) in seats]
    return {
        **clock,
        "total_time_at_build_h": build.total_time_h,
        "time_since_overhaul_at_build_h": build.time_since_overhaul_h,
        "total_time_h": None if build.total_time_h is None else build.total_time_h + clock["hours"],
        "meters": [
            {
                "registration": row.aircraft.registration,
                "kind": row.get_kind_display(),
                "serial": row.serial,
                "since": row.since,
                "until": row.until,
                "reading_at_start_h": row.reading_at_start_h,
                "reading_at_end_h": row.reading_at_end_h,
            }
            for row in rows
            if row.until is None or row.until > build.opened_at
        ],
    }


def _name(person: Person | None) -> str:
    return person.name if person else ""
