"""Acknowledge a finding, and clear it. A Stop is cleared by a technician only."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.counts import Steps
from breakin.models import Finding, FindingState, FindingVerdict, Severity, Verdict
from breakin.services.common import audit, is_technician, judge, lock_build
from shop.errors import Problem, Refusal
from shop.models import Person

_LONGEST_LINE = 400


@transaction.atomic
def acknowledge(*, by: Person, finding: Finding, now: datetime) -> Finding:
    """Somebody has seen it and sees to it. Harmless when that was said before.

    Raises
    ------
    Refusal : it was cleared, or is no longer found.
    """
    finding = _locked(finding)
    if finding.state == FindingState.ACKNOWLEDGED:
        return finding
    _need_standing(finding)
    finding.state, finding.acknowledged_at, finding.acknowledged_by = FindingState.ACKNOWLEDGED, now, by
    finding.save(update_fields=["state", "acknowledged_at", "acknowledged_by"])
    audit(by=by, act="acknowledge", subject=finding, now=now, detail={"rule": finding.rule})
    judge([finding.build], now)
    return finding


@transaction.atomic
def clear(*, by: Person, finding: Finding, verdict: str, cause: str, action: str, now: datetime) -> FindingVerdict:
    """Say what it was and what was done. The verdict is kept, to judge the rule itself by it.

    Raises
    ------
    Refusal : "forbidden" when it is a Stop and the person no technician; no verdict, cause or action; cleared before.
    """
    finding = _locked(finding)
    if finding.severity == Severity.STOP and not is_technician(by, now):
        raise Refusal.of("", "A Stop is cleared by a technician only. Call one.", "forbidden")
    said = finding.verdicts.order_by("-at", "-pk").first()
    if finding.state == FindingState.CLEARED and said is not None:
        raise Refusal.of(
            "", f"{said.by.name} cleared this on {said.at:%Y-%m-%d %H:%M} UTC. Look at what was said.", "conflict"
        )
    _need_standing(finding)
    problems = []
    if verdict not in Verdict.values:
        problems.append(Problem("verdict", f"What was it? Choose one of {', '.join(Verdict.values)}."))
    lines = {"cause": ("What was the cause?", cause.strip()), "action": ("What was done?", action.strip())}
    for name, (question, text) in lines.items():
        if not text:
            problems.append(Problem(name, f"{question} Write one line."))
        elif len(text) > _LONGEST_LINE:
            problems.append(
                Problem(name, f"{len(text)} characters are too long for one line. Keep it under {_LONGEST_LINE}.")
            )
    if problems:
        raise Refusal(problems)
    kept = FindingVerdict.objects.create(
        finding=finding, verdict=verdict, cause=cause.strip(), action=action.strip(), by=by, at=now
    )
    before, steps = finding.state, Steps()
    finding.state, finding.closed_at = FindingState.CLEARED, now
    finding.save(update_fields=["state", "closed_at"])
    audit(by=by, act="clear_finding", subject=finding, now=now, detail={"rule": finding.rule, "verdict": verdict})
    steps.judged(kept)
    steps.finding_moved(finding, before)
    judge([finding.build], now, steps)
    return kept


def _locked(finding: Finding) -> Finding:
    lock_build(finding.build)
    return Finding.objects.select_for_update().get(pk=finding.pk)


def _need_standing(finding: Finding) -> None:
    if finding.state in (FindingState.CLEARED, FindingState.GONE):
        raise Refusal.of("", f"This finding is {finding.get_state_display()} already. Load the page again.", "conflict")
