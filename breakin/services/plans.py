"""Issue the run-in plan of a build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from breakin.calc.oil.ceiling import oil_limits
from breakin.load import load
from breakin.load_rows import plan_facts
from breakin.models import PlanStage, PlanTemplate, RunInPlan
from breakin.models.plan import PlanBody
from breakin.plan_templates import CHROME_ACCEPT_FACTOR, HOURS_BY_FINISH, slowest_finish
from breakin.services.common import audit, judge, lock_build
from breakin.what_if import WhatIf, with_plan
from engines.models import Build, BuildState, Finish
from shop.errors import Problem, Refusal
from shop.models import Person

_BODY = tuple(field.name for field in PlanBody._meta.get_fields() if field.name != "id")
_STAGE = tuple(
    field.name for field in PlanStage._meta.get_fields() if field.name not in ("id", "plan", "order") and field.concrete
)
_RATES = ("accept_qt_h", "watch_qt_h", "alarm_qt_h")
_HOURS = ("expected_low_h", "expected_high_h", "minimum_h")


@transaction.atomic
def issue_plan(
    *,
    by: Person,
    build: Build,
    template: PlanTemplate,
    overrides: Mapping[str, Any] | None = None,
    reason: str = "",
    after: int | None = None,
    now: datetime,
) -> RunInPlan:
    """Freeze a plan for the build. A re-issue is the next revision and needs a reason.

    Parameters
    ----------
    after : the revision that whoever issues this one has seen, 0 for none; None = not checked.
    overrides : fields of the plan that differ from the template, and `rpm`: the planned rpm of all power stages.

    The rates follow from the engine type (a quarter, a half and the whole of its ceiling), the hours from the slowest
    finish fitted, unless the template says its own or `overrides` gives them.

    Raises
    ------
    Refusal : an unknown or impossible override; no reason for a re-issue; the build is not open.
    """
    build = lock_build(build)
    if build.state != BuildState.OPEN:
        raise Refusal.of(
            "build", f"Build {build.number} is {build.get_state_display()}. A plan is issued for an open build."
        )
    last = build.plans.order_by("-revision").first()
    newest = last.revision if last else 0
    if after is not None and after != newest:
        raise Refusal.of(
            "build",
            f"Revision {newest} of the plan was issued since you opened this page. Look at it, then decide again.",
            "conflict",
        )
    if last is not None and not reason.strip():
        raise Refusal.of("reason", "Why is the plan issued again? A re-issue needs a reason in a few words.")
    plan, stages = draft(build, template, overrides)
    plan.revision, plan.issued_at, plan.issued_by, plan.reason = newest + 1, now, by, reason.strip()
    plan.save()
    PlanStage.objects.bulk_create(stages)
    audit(
        by=by,
        act="issue_plan",
        subject=plan,
        now=now,
        detail={"template": template.name, "overrides": _apart(overrides)},
    )
    judge([build], now)
    return plan


def draft(
    build: Build, template: PlanTemplate, overrides: Mapping[str, Any] | None = None
) -> tuple[RunInPlan, list[PlanStage]]:
    """The plan that would be issued, and its stages, none of it kept. It has no revision, no date and no signature.

    Raises
    ------
    Refusal : an unknown or impossible override.
    """
    given = dict(overrides or {})
    rpm = given.pop("rpm", None)
    stages = given.pop("stages", None) or template.stages
    unknown = sorted(set(given) - set(_BODY))
    if unknown:
        raise Refusal(Problem(name, f"“{name}” is not a field of a plan. Check its spelling.") for name in unknown)
    values = proposal(build, template) | given
    _check(values)
    plan = RunInPlan(build=build, template=template, **values)
    return plan, _stages(plan, stages, rpm, build)


def what_would_change(
    build: Build, template: PlanTemplate, overrides: Mapping[str, Any] | None, now: datetime
) -> WhatIf:
    """The judgement of the build by its plan, and by the plan that would be issued. Nothing is kept.

    Raises
    ------
    Refusal : see `draft`.
    """
    plan, stages = draft(build, template, overrides)
    plan.revision = build.plans.count() + 1
    return with_plan(load([build.pk], now)[build.pk], plan_facts(plan, stages), now)


def _apart(overrides: Mapping[str, Any] | None) -> list[str]:
    return sorted(set(overrides or {}) - {"rpm", "stages"})


def proposal(build: Build, template: PlanTemplate) -> dict[str, Any]:
    """The fields of the plan that this template gives for this build, before anything is overridden."""
    return {name: getattr(template, name) for name in _BODY} | _from_engine(build, template)


def _from_engine(build: Build, template: PlanTemplate) -> dict[str, Any]:
    """Rates from the engine type, hours from the slowest finish, where the template leaves them to these."""
    revision = build.type_revision
    finish = slowest_finish(build.positions.filter(disturbed=True).values_list("finish", flat=True))
    limits = oil_limits(
        rated_hp=revision.rated_hp,
        maker_qt_per_h=revision.oil_ceiling_qt_h,
        accept_factor=CHROME_ACCEPT_FACTOR if finish == Finish.CHROME else 1.0,
    )
    rates = dict(zip(_RATES, (limits.accept, limits.watch, limits.ceiling), strict=True))
    hours = dict(zip(_HOURS, HOURS_BY_FINISH[finish], strict=True)) if finish else {}
    return {**(rates if template.rates_by_type else {}), **(hours if template.hours_by_finish else {})}


def _check(values: Mapping[str, Any]) -> None:
    problems = []
    for name in (*_RATES, *_HOURS):
        value = values[name]
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 400:
            problems.append(Problem(name, f"“{value}” is not a number from 0 to 400. Type it in digits."))
    if not problems:
        if not values["accept_qt_h"] <= values["watch_qt_h"] <= values["alarm_qt_h"]:
            problems.append(Problem("watch_qt_h", "Accept, watch and alarm rate must rise in this order. Mend them."))
        if values["expected_low_h"] > values["expected_high_h"]:
            problems.append(Problem("expected_high_h", "The expected hours must rise. Mend them."))
    if problems:
        raise Refusal(problems)


def _stages(plan: RunInPlan, stages: Sequence[Mapping[str, Any]], rpm: float | None, build: Build) -> list[PlanStage]:
    rows = []
    cap = build.type_revision.altitude_cap_ft
    for order, stage in enumerate(stages, 1):
        values = {name: stage[name] for name in _STAGE if name in stage}
        row = PlanStage(plan=plan, order=order, **values)
        if rpm is not None and row.minutes:
            row.rpm = rpm
        if cap is not None and row.minutes:
            # What the type can cool bounds what the template says.
            row.altitude_max_ft = cap if row.altitude_max_ft is None else min(cap, row.altitude_max_ft)
        rows.append(row)
    return rows
