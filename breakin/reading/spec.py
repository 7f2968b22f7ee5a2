"""What the reading of a recording must know of an engine and its plan, in the plain form that the analysis takes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import F, Q, QuerySet, Sum

from breakin.calc.bands import Bands, Phase, schedule
from breakin.calc.chart import Chart
from breakin.calc.errors import CalcError
from breakin.models import DatedBy, FlightEngine, MergeDecision, PlanStage, RecordedEngine, RunInPlan, StageKind
from breakin.periods import covering
from engines.models import Build, EngineTypeRevision, Induction, Installation

# Nothing is taken off the head limit: where the type states none, none is asked for.
_NO_LIMIT_DEGF = 600.0
SIDES = {"single": "1", "left": "1", "other": "1", "right": "2"}
_FIRST = {"left": 0, "single": 1, "other": 2}


def seats_at(aircraft_id: int, at: datetime) -> dict[str, Installation]:
    """Side of a recording ("1": single or left, "2": right) -> who sat there at that moment."""
    rows = Installation.objects.filter(covering(at), aircraft=aircraft_id).select_related("engine")
    seats: dict[str, Installation] = {}
    for row in sorted(rows, key=lambda seat: (_FIRST.get(seat.position, 0), seat.pk)):
        seats.setdefault(SIDES[row.position], row)
    return seats


def nearest_seats(aircraft_id: int, at: datetime) -> dict[str, Installation]:
    """The engines to take for a time that no installation covers: those of the next time that one does."""
    later = Installation.objects.filter(aircraft=aircraft_id, since__gt=at).order_by("since").first()
    if later is not None:
        return seats_at(aircraft_id, later.since)
    last = Installation.objects.filter(aircraft=aircraft_id, since__lte=at).order_by("-since").first()
    return seats_at(aircraft_id, last.since) if last is not None else {}


def build_at(engine_id: int, at: datetime) -> Build | None:
    """The build that the engine ran under at that moment; its newest where none was open then."""
    builds = Build.objects.filter(engine=engine_id).select_related("type_revision__engine_type")
    return (
        builds.filter(opened_at__lte=at).order_by("-opened_at", "-pk").first() or builds.order_by("opened_at").first()
    )


def type_at(seat: Installation, build: Build | None) -> EngineTypeRevision | None:
    """The numbers of the type: those that the build was issued with, else the newest."""
    if build is not None:
        return build.type_revision
    return EngineTypeRevision.objects.filter(engine_type=seat.engine.engine_type_id).order_by("-number").first()


def plan_of(build: Build | None) -> RunInPlan | None:
    return None if build is None else RunInPlan.objects.filter(build=build).order_by("-revision").first()


def hours_before(build: Build | None, at: datetime) -> float:
    """Hours that the engine ran under this build before a moment [h], by what is logged."""
    if build is None:
        return 0.0
    merged = MergeDecision.objects.values("dropped_root")
    runs = FlightEngine.objects.filter(
        Q(flight__happened_at__gte=build.opened_at, flight__happened_at__lt=at),
        engine=build.engine_id,
        flight__corrected_by__isnull=True,
        flight__withdrawn=False,
    ).exclude(flight__root__in=merged)
    return float(runs.aggregate(hours=Sum("hours"))["hours"] or 0.0)


def phase_at(hours: float) -> Phase:
    """Where in the plan a flight begins: the first hour, the second, or later."""
    return "hour1" if hours < 1.0 else "hour2" if hours < 2.0 else "later"


def spec_of(
    revision: EngineTypeRevision | None,
    installation: Installation,
    *,
    hours: float = 0.0,
    altitude_cap_ft: float | None = None,
) -> dict[str, Any]:
    """The type sheet of one engine as `breakin.calc.recording.EngineSpec` reads it. What is not stated is left out.

    hours : that the engine ran before [h]. altitude_cap_ft : the plan's highest altitude for cooling, where it has one.
    """
    if revision is None:
        return {"hours_before": hours}
    chart = _chart(revision)
    caps = [cap for cap in (altitude_cap_ft, revision.altitude_cap_ft) if cap is not None]
    boosted = revision.induction != Induction.NATURAL
    stated: dict[str, Any] = {
        "cylinders": revision.cylinders,
        "rated_hp": revision.rated_hp,
        "rated_rpm": revision.rated_rpm,
        "compression": revision.compression_ratio,
        "turbo": boosted,
        "bsfc_best_power_lb_hp_h": revision.bsfc_best_power_lb_hp_h,
        "fuel_lb_per_gal": revision.fuel_lb_per_gal,
        "altitude_cap_ft": min(caps) if caps else None,
        "tit_limit_f": revision.tit_limit_degf,
        "cht_watch_f": revision.cht_watch_degf,
        "oil_press_idle_min_psi": revision.oil_press_idle_min_psi,
        "rpm_error": installation.rpm_error,
        "map_error_inhg": installation.map_error_inhg,
        "hours_before": hours,
        **_chart_parts(chart),
    }
    if "full_throttle_map_inhg" not in stated and boosted:
        stated["full_throttle_map_inhg"] = revision.max_map_inhg
    return {name: value for name, value in stated.items() if value is not None}


def _chart(revision: EngineTypeRevision) -> Chart | None:
    try:
        return Chart.from_dict(revision.chart, rated_hp=revision.rated_hp) if revision.chart else None
    except CalcError:
        return None  # its fault is shown with every power of the build


def _chart_parts(chart: Chart | None) -> dict[str, Any]:
    if chart is None:
        return {}
    words = {"source": chart.source, "revision": chart.revision}
    if chart.points:
        rows = [
            {"pressure_altitude_ft": each.pressure_altitude_ft, "rpm": each.rpm, "pct": each.pct}
            for each in chart.points
        ]
        return {"fixed_pitch": {"points": rows, **words}}
    return {
        "chart_sea_level": {
            "rpm": list(chart.rpm),
            "map_inhg": list(chart.map_inhg),
            "hp": [list(row) for row in chart.hp],
            **words,
        },
        "full_throttle": {
            "rpm": list(chart.full_throttle_rpm),
            "map_inhg": list(chart.full_throttle_map_inhg),
            "hp": list(chart.full_throttle_hp),
        },
        "full_throttle_map_inhg": max(chart.full_throttle_map_inhg),
        "critical_altitude_ft": chart.critical_altitude_ft,
    }


def schedule_of(plan: RunInPlan | None, phase: Phase, revision: EngineTypeRevision | None) -> dict[str, Any]:
    """The schedule of one flight for the analysis. Without a plan, or with one whose bands can't be read, the usual
    bands are taken: the credit of the build says so by itself.
    """
    bands = Bands()
    if plan is not None:
        try:
            bands = Bands.from_plan({"credit": plan.credit, "low": plan.low})
        except CalcError:
            pass
    limit = revision.cht_limit_degf if revision is not None else None
    return schedule(bands, phase, cht_limit_degf=_NO_LIMIT_DEGF if limit is None else limit)


def altitude_cap_of(plan: RunInPlan | None, phase: Phase) -> float | None:
    """The plan's highest altitude in this phase [ft]."""
    if plan is None:
        return None
    kind = {"hour1": StageKind.HOUR_1, "hour2": StageKind.HOUR_2}.get(phase, StageKind.ALTERNATING)
    stage = PlanStage.objects.filter(plan=plan, kind=kind).first()
    return stage.altitude_max_ft if stage is not None else None


def brief(seats: Mapping[str, Installation], at: datetime) -> tuple[dict[str, dict[str, Any]], dict[str, Any]]:
    """Specs of the engines in these seats, and the schedule of the flight: that of the engine with the least hours,
    since the break-in of the younger engine is what the flight was planned for.
    """
    specs: dict[str, dict[str, Any]] = {}
    plans: list[tuple[float, dict[str, Any]]] = []
    for side, seat in seats.items():
        build = build_at(seat.engine_id, at)
        revision, plan, hours = type_at(seat, build), plan_of(build), hours_before(build, at)
        phase = phase_at(hours)
        specs[side] = spec_of(revision, seat, hours=hours, altitude_cap_ft=altitude_cap_of(plan, phase))
        plans.append((hours, schedule_of(plan, phase, revision)))
    return specs, min(plans, key=lambda each: each[0])[1] if plans else schedule_of(None, "later", None)


def moved_seats() -> QuerySet[RecordedEngine, int]:
    """Recordings of which an engine was not where they were read for: its installation begins or ends elsewhere now."""
    began = F("recorded_flight__began_at")
    outside = Q(installation__since__gt=began) | Q(installation__until__lte=began)
    rows = RecordedEngine.objects.filter(outside).exclude(recorded_flight__dated_by=DatedBy.UNKNOWN)
    return rows.values_list("recorded_flight__recording", flat=True).distinct()
