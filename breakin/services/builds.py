"""Open a build; its cell runs and preservation. How it ends stands in breakin.services.closing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from breakin.models import Assessment, Phase, PlanTemplate
from breakin.services.build_checks import PositionEntry, check_build, check_positions, check_two_persons
from breakin.services.common import audit, judge, live_builds, lock_build, lock_engines
from breakin.services.ending import end
from breakin.services.plans import issue_plan
from engines.models import (
    Build,
    BuildEvent,
    BuildEventKind,
    BuildKind,
    BuildState,
    CellRun,
    CylinderPosition,
    Engine,
    EngineTypeRevision,
    Preservation,
)
from shop.errors import Problem, Refusal
from shop.models import Person

__all__ = [
    "PositionEntry",
    "open_build",
    "preserve",
    "record_cell_run",
]

# Work that disturbs cylinders of an engine that may still be in break-in.
_ENDS_AN_OPEN_BUILD = frozenset({BuildKind.CYLINDER, BuildKind.RINGS, BuildKind.TOP_OVERHAUL})
_LONGEST_CELL_MIN = 1200


def open_build(
    *,
    by: Person,
    engine: Engine,
    number: str,
    kind: str,
    positions: Sequence[PositionEntry],
    opened_at: datetime,
    total_time_h: float | None = None,
    time_since_overhaul_h: float | None = None,
    builder: Person | None = None,
    inspector: Person | None = None,
    owner: Person | None = None,
    plan_template: PlanTemplate | None = None,
    plan_overrides: Mapping[str, Any] | None = None,
    inspector_override: str = "",
    assembly_lube: str = "",
    note: str = "",
    now: datetime,
) -> Build:
    """Open the break-in of an engine, with its assessment, and its plan where a template is given.

    A cylinder job ends the open build as superseded. `inspector_override` is the reason with which an inspector lets
    chrome-faced rings stay in a chrome bore.

    Raises
    ------
    Refusal : with every problem found; "conflict" where the engine has an open build or the number is taken.
    """
    try:
        with transaction.atomic():
            lock_engines([engine.pk])
            revision = EngineTypeRevision.objects.filter(engine_type=engine.engine_type_id).order_by("-number").first()
            if revision is None:
                raise Refusal.of("engine", f"{engine.engine_type} has no numbers yet. Enter the engine type first.")
            times = {"total_time_h": total_time_h, "time_since_overhaul_h": time_since_overhaul_h}
            problems = [
                *check_build(engine, number, kind, opened_at, times, now),
                *check_two_persons(builder, inspector),
                *check_positions(positions, kind, revision, inspector_override),
            ]
            if problems:
                raise Refusal(problems)
            ended = _end_open_build(by, engine, kind, number, opened_at, now)
            build = Build.objects.create(
                engine=engine,
                number=number.strip(),
                kind=kind,
                type_revision=revision,
                opened_at=opened_at,
                builder=builder,
                inspector=inspector,
                owner=owner,
                assembly_lube=assembly_lube.strip(),
                note=note.strip(),
                **times,
            )
            CylinderPosition.objects.bulk_create(CylinderPosition(build=build, **vars(each)) for each in positions)
            override = {"inspector_override": inspector_override.strip()} if inspector_override.strip() else {}
            BuildEvent.objects.create(
                build=build, kind=BuildEventKind.OPENED, at=opened_at, by=by, detail=override, recorded_at=now
            )
            Assessment.objects.create(build=build, engine=engine, phase=Phase.AWAITING, dirty_at=now)
            audit(by=by, act="open_build", subject=build, now=now, detail={"kind": kind, **override})
            if plan_template is not None:
                issue_plan(by=by, build=build, template=plan_template, overrides=plan_overrides, now=now)
            # What was closed out earlier no longer asks for the accessories: this build does.
            judge({each.pk: each for each in (*ended, *live_builds([engine.pk]), build)}.values(), now)
            return build
    except IntegrityError as error:
        raise Refusal.of(
            "number",
            f"Build {number} or an open build of this engine was entered at the same moment. Look again.",
            "conflict",
        ) from error


def _end_open_build(by: Person, engine: Engine, kind: str, number: str, at: datetime, now: datetime) -> list[Build]:
    current = Build.objects.select_for_update().filter(engine=engine, state=BuildState.OPEN).first()
    if current is None:
        return []
    if kind not in _ENDS_AN_OPEN_BUILD:
        raise Refusal.of(
            "engine",
            f"Build {current.number} of this engine is open. Close it out, or close it as incomplete, before this one.",
            "conflict",
        )
    reason = f"Superseded by build {number.strip()}."
    end(current, BuildState.SUPERSEDED, BuildEventKind.SUPERSEDED, by=by, reason=reason, at=at, now=now)
    return [current]


@transaction.atomic
def record_cell_run(
    *,
    by: Person,
    build: Build,
    run_on: date,
    minutes: float,
    steps: Sequence[Sequence[float]] = (),
    oil_kind: str = "",
    oil_used_qt: float | None = None,
    cht_max_degf: float | None = None,
    full_throttle_ff_gph: float | None = None,
    leaks: str = "",
    note: str = "",
    now: datetime,
) -> CellRun:
    """Keep a run in the test cell. It counts for nothing but the engine's run time.

    Raises
    ------
    Refusal : impossible minutes, steps that do not add up, or a day outside the build.
    """
    build = lock_build(build)
    problems = []
    if not 0 < minutes <= _LONGEST_CELL_MIN:
        problems.append(Problem("minutes", f"{minutes:g} min is outside 0 to {_LONGEST_CELL_MIN} min. Check it."))
    if steps and sum(step[1] for step in steps) > minutes + 1:
        problems.append(Problem("steps", "The steps take longer than the whole run. Mend one of them."))
    if run_on > now.date():
        problems.append(Problem("run_on", f"{run_on} lies in the future. Check the date."))
    if oil_used_qt is not None and not 0 <= oil_used_qt <= 20:
        problems.append(Problem("oil_used_qt", f"{oil_used_qt:g} qt is outside 0 to 20 qt. Check the unit."))
    if cht_max_degf is not None and not 50 <= cht_max_degf <= 600:
        problems.append(Problem("cht_max_degf", f"{cht_max_degf:g} degF is outside 50 to 600 degF. Check the unit."))
    if full_throttle_ff_gph is not None and not 0 < full_throttle_ff_gph <= 400:
        problems.append(
            Problem(
                "full_throttle_ff_gph",
                f"{full_throttle_ff_gph:g} gal/h is outside 0 to 400 gal/h. Check the unit.",
            )
        )
    if problems:
        raise Refusal(problems)
    run = CellRun.objects.create(
        build=build,
        run_on=run_on,
        minutes=minutes,
        steps=[list(step) for step in steps],
        oil_kind=oil_kind,
        oil_used_qt=oil_used_qt,
        cht_max_degf=cht_max_degf,
        full_throttle_ff_gph=full_throttle_ff_gph,
        leaks=leaks.strip(),
        note=note,
    )
    audit(by=by, act="record_cell_run", subject=run, now=now)
    judge([build], now)
    return run


@transaction.atomic
def preserve(
    *,
    by: Person,
    build: Build,
    preserved_on: date,
    expires_on: date,
    preservative: str = "",
    note: str = "",
    now: datetime,
) -> Preservation:
    """The engine is preserved until a day. A preservation that still ran ends with it.

    Raises
    ------
    Refusal : the days are not in order, or lie in the future.
    """
    build = lock_build(build)
    if preserved_on > now.date():
        raise Refusal.of("preserved_on", f"{preserved_on} lies in the future. Check the date.")
    if expires_on < preserved_on:
        raise Refusal.of(
            "expires_on", f"{expires_on} lies before {preserved_on}, the day of preservation. Check the year."
        )
    kept = keep_preservation(build, preserved_on, expires_on, preservative, note)
    audit(by=by, act="preserve", subject=kept, now=now, detail={"until": expires_on.isoformat()})
    judge([build], now)
    return kept


def keep_preservation(
    build: Build, preserved_on: date, expires_on: date, preservative: str = "", note: str = ""
) -> Preservation:
    """The row itself, for services that hold the lock of the build; ends the one that still ran."""
    running = build.preservations.filter(ended_on__isnull=True).first()
    if running is not None:
        running.ended_on = preserved_on
        running.save(update_fields=["ended_on"])
    return Preservation.objects.create(
        build=build, preserved_on=preserved_on, expires_on=expires_on, preservative=preservative, note=note
    )
