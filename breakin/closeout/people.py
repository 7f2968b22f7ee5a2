"""What people said: the proposal, waivers, and findings with their verdicts."""

from __future__ import annotations

from typing import Any

from breakin.models import CloseOutProposal, Finding
from breakin.review import Review
from engines.models import Build


def proposed(proposal: CloseOutProposal | None) -> dict[str, Any] | None:
    if proposal is None:
        return None
    return {"by": proposal.by.name, "at": proposal.at, "notes": proposal.notes}


def waivers(review: Review) -> list[dict[str, Any]]:
    return [
        {
            "criterion": row.criterion.key,
            "what": row.criterion.what,
            "lacked": row.criterion.why,
            "reason": row.waiver.reason,
            "by": row.waiver.by,
            "at": row.waiver.at,
        }
        for row in review.waived
    ]


def findings(build: Build) -> list[dict[str, Any]]:
    """Every finding of the build so far, with how it ended."""
    rows = (
        Finding.objects.filter(build=build)
        .select_related("acknowledged_by")
        .prefetch_related("verdicts__by")
        .order_by("happened_at", "rule", "occurrence")
    )
    return [_finding(row) for row in rows]


def _finding(row: Finding) -> dict[str, Any]:
    return {
        "rule": row.rule,
        "rule_version": row.rule_version,
        "severity": row.get_severity_display(),
        "state": row.get_state_display(),
        "title": row.title,
        "text": row.text,
        "why": row.why,
        "source": row.source,
        "happened_at": row.happened_at,
        "acknowledged_by": row.acknowledged_by.name if row.acknowledged_by else None,
        "acknowledged_at": row.acknowledged_at,
        "verdicts": [
            {
                "verdict": one.get_verdict_display(),
                "cause": one.cause,
                "action": one.action,
                "by": one.by.name,
                "at": one.at,
            }
            for one in sorted(row.verdicts.all(), key=lambda one: (one.at, one.pk))
        ],
    }
