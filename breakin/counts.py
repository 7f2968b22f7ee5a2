"""The counts that pages read instead of counting: live builds by lane, findings, due items and verdicts by rule.

They are moved by difference, in the transaction that moves what they count. A judgement gathers its steps and writes
them last and in one order, so that two writers never wait for each other. A count that went astray is found and mended
at night and by `manage.py recount`; it never fails a judgement.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import Count, F, Max, Model

from breakin.models import (
    Assessment,
    DueItem,
    DueState,
    Finding,
    FindingState,
    FindingVerdict,
    Lane,
    LaneCount,
    RuleCount,
)

STANDING = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
ASKING = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)
COUNTED = ("found", "builds", "standing", "asked", "asking", "agree", "false_alarm", "explained", "fixed")


def lane_of(row: Assessment) -> int | None:
    """The lane in which a build is counted, or None when it is not counted: not live, or never judged."""
    return row.lane if row.live and row.computed_at is not None else None


class Steps:
    """By how much the counts move in one transaction."""

    def __init__(self) -> None:
        self.lanes: Counter[int] = Counter()
        self.rules: defaultdict[str, Counter[str]] = defaultdict(Counter)

    def lane(self, before: int | None, after: int | None) -> None:
        """A build goes from one lane to another; None where it is not counted."""
        if before is not None:
            self.lanes[before] -= 1
        if after is not None:
            self.lanes[after] += 1

    def found(self, finding: Finding, *, first_of_build: bool) -> None:
        """A new finding; `first_of_build`: its rule had found nothing in this build yet."""
        self.rules[finding.rule].update(found=1, builds=int(first_of_build), standing=int(finding.state in STANDING))

    def finding_moved(self, finding: Finding, before: str) -> None:
        """A finding has another state than `before`."""
        self.rules[finding.rule]["standing"] += int(finding.state in STANDING) - int(before in STANDING)

    def asked(self, item: DueItem) -> None:
        self.rules[item.rule].update(asked=1, asking=int(item.state in ASKING))

    def due_moved(self, item: DueItem, before: str) -> None:
        """A due item has another state than `before`."""
        self.rules[item.rule]["asking"] += int(item.state in ASKING) - int(before in ASKING)

    def judged(self, verdict: FindingVerdict) -> None:
        self.rules[verdict.finding.rule][verdict.verdict] += 1

    def write(self) -> None:
        """Move the kept counts, and begin anew."""
        lanes = {lane: step for lane, step in sorted(self.lanes.items()) if step}
        if lanes:
            LaneCount.objects.bulk_create([LaneCount(lane=lane) for lane in lanes], ignore_conflicts=True)
            for lane, step in lanes.items():
                LaneCount.objects.filter(lane=lane).update(builds=F("builds") + step)
        moved = {
            rule: {name: F(name) + step for name, step in steps.items() if step}
            for rule, steps in sorted(self.rules.items())
        }
        moved = {rule: steps for rule, steps in moved.items() if steps}
        if moved:
            RuleCount.objects.bulk_create([RuleCount(rule=rule) for rule in moved], ignore_conflicts=True)
            for rule, steps in moved.items():
                RuleCount.objects.filter(rule=rule).update(**steps)
        self.lanes.clear()
        self.rules.clear()


@transaction.atomic
def recount() -> list[str]:
    """Count everything anew, from the rows: each night, and after a restore.

    Returns
    -------
    sentences: each count that was wrong, with what stood there and what is right.
    """
    # Whoever moves a count waits from here on, and whoever has moved one is done: what is counted is what is kept.
    kept_lanes = {row.lane: row for row in LaneCount.objects.select_for_update().order_by("lane")}
    kept_rules = {row.rule: row for row in RuleCount.objects.select_for_update().order_by("rule")}
    wrong: list[str] = []
    live = Assessment.objects.filter(live=True, computed_at__isnull=False).order_by().values_list("lane")
    lanes: dict[int, int] = dict(live.annotate(n=Count("id")))
    for lane in Lane:
        row = kept_lanes.get(lane) or LaneCount(lane=lane)
        wrong += _mend(row, f"Lane {lane.label}", {"builds": lanes.get(lane, 0)})
    rules = _by_rule()
    for rule in sorted(set(kept_rules) | set(rules)):
        counted = kept_rules.get(rule) or RuleCount(rule=rule)
        wrong += _mend(counted, f"Rule {rule}", {name: rules[rule][name] for name in COUNTED})
    return wrong


def _mend(row: Model, what: str, right: dict[str, int]) -> list[str]:
    off = {name: number for name, number in right.items() if getattr(row, name) != number}
    said = [f"{what}: {name} stood at {getattr(row, name)}, {number} is right." for name, number in off.items()]
    for name, number in off.items():
        setattr(row, name, number)
    if off or row.pk is None:
        row.save()
    return said


def _by_rule() -> defaultdict[str, Counter[str]]:
    counted: defaultdict[str, Counter[str]] = defaultdict(Counter)
    found: Any = Finding.objects.order_by().values("rule")
    for row in found.annotate(n=Count("id"), builds=Count("build", distinct=True)):
        counted[row["rule"]].update(found=row["n"], builds=row["builds"])
    _add(counted, "standing", found.filter(state__in=STANDING).annotate(n=Count("id")))
    asked: Any = DueItem.objects.order_by().values("rule")
    _add(counted, "asked", asked.annotate(n=Count("id")))
    _add(counted, "asking", asked.filter(state__in=ASKING).annotate(n=Count("id")))
    last = FindingVerdict.objects.order_by().values("finding").annotate(last=Max("id")).values("last")
    said = FindingVerdict.objects.filter(pk__in=last).order_by().values("finding__rule", "verdict")
    for spoken in said.annotate(n=Count("id")):
        counted[spoken["finding__rule"]][spoken["verdict"]] += spoken["n"]
    return counted


def _add(counted: defaultdict[str, Counter[str]], name: str, rows: Iterable[dict[str, Any]]) -> None:
    for row in rows:
        counted[row["rule"]][name] += row["n"]
