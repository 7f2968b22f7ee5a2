"""Findings and due items of judged builds, brought in line with what is in the book: one row an occurrence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from breakin.bulk import update_rows
from breakin.calc.said import Said, said, sentences
from breakin.counts import Steps
from breakin.judgement import AskedItem, FoundHit
from breakin.models import DueItem, DueState, Finding, FindingState, Severity
from breakin.rules import SAFETY
from breakin.saying import kept

SEEN = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
_FOUND = ["severity", "title", "text", "said", "why", "source", "numbers", "evidence", "for_customer", "happened_at"]
_FINDING = [*_FOUND, "state", "rule_version", "opened_at", "closed_at", "acknowledged_at", "acknowledged_by"]
_DUE = (
    "kind title text said state from_h due_h late_h due_at forecast_on escalation evidence opened_at closed_at "
    "closed_by_kind closed_by_root rule_version"
)
CORRECTED = said("The entry behind this was corrected since; it stands until a technician has cleared it.")


def write_findings(
    found: Mapping[int, Sequence[FoundHit]],
    now: datetime,
    *,
    steps: Steps,
    only_rules: bool = False,
    moved_facts: set[int] | None = None,
) -> set[int]:
    """Bring the findings of these builds in line. `only_rules`: the safety rules only were asked.

    What moves goes into `steps` too; the caller writes them.

    Returns
    -------
    ids of the builds of which a finding was written.
    """
    if not found:
        return set()
    rows = Finding.objects.select_for_update().filter(build__in=list(found))
    if only_rules:
        rows = rows.filter(rule__in=[one.id for one in SAFETY])
    book: dict[tuple[int, str, str], Finding] = {(row.build_id, row.rule, row.occurrence): row for row in rows}
    seen = {(build_id, rule) for build_id, rule, _ in book}
    before = {row.pk: row.state for row in book.values()}
    new: list[Finding] = []
    changed: list[Finding] = []
    for build_id, hits in found.items():
        for one in hits:
            row = book.pop((build_id, *one.key), None)
            if row is None:
                new.append(_new_finding(build_id, one, now))
            elif _found_again(row, one, now, facts_moved=moved_facts is None or build_id in moved_facts):
                changed.append(row)
    changed += [row for row in book.values() if _not_found(row, now)]
    Finding.objects.bulk_create(new)
    update_rows(changed, _FINDING)
    for row in new:
        steps.found(row, first_of_build=(row.build_id, row.rule) not in seen)
        seen.add((row.build_id, row.rule))
    for row in changed:
        steps.finding_moved(row, before[row.pk])
    return {row.build_id for row in (*new, *changed)}


def _found(one: FoundHit) -> dict[str, Any]:
    hit, rule = one.hit, one.rule
    title = hit.title or rule.title
    return {
        "severity": hit.severity,
        "title": str(title)[:120],
        "text": str(hit.text),
        "said": kept(title=_titled(title), text=hit.text),
        "why": rule.text,
        "source": hit.source[:200],
        "numbers": hit.numbers,
        "evidence": list(hit.evidence),
        "for_customer": hit.for_customer,
        "happened_at": hit.at,
    }


def _titled(title: str) -> Said:
    """A title as a message: one that was put together carries it, any other is one."""
    return title if isinstance(title, Said) else Said(title)


def _new_finding(build_id: int, one: FoundHit, now: datetime) -> Finding:
    rule_id, occurrence = one.key
    return Finding(
        build_id=build_id,
        rule=rule_id,
        occurrence=occurrence,
        rule_version=one.rule.version,
        opened_at=now,
        **_found(one),
    )


def _found_again(row: Finding, one: FoundHit, now: datetime, *, facts_moved: bool) -> bool:
    """Bring a row up to date; True when it changed. A cleared finding stays cleared and keeps its words."""
    if row.state == FindingState.CLEARED:
        return False
    now_found = _found(one)
    graver = now_found["severity"] > row.severity
    back = row.state == FindingState.GONE and (facts_moved or row.rule_version == one.rule.version)
    if row.state == FindingState.GONE and not back:
        return False  # a new version of a rule brings nothing back
    moved = any(getattr(row, name) != now_found[name] for name in _FOUND)
    if not (moved or back or row.rule_version != one.rule.version):
        return False
    for name, value in now_found.items():
        setattr(row, name, value)
    row.rule_version = one.rule.version
    if back or (graver and row.state == FindingState.ACKNOWLEDGED):
        row.state, row.opened_at, row.closed_at = FindingState.OPEN, now, None
        row.acknowledged_at = row.acknowledged_by = None
    return True


def _not_found(row: Finding, now: datetime) -> bool:
    """A finding that the facts no longer show goes; a Stop stays, because only a technician clears it."""
    if row.state not in SEEN:
        return False
    if row.severity == Severity.STOP:
        if row.text.startswith(CORRECTED):
            return False
        row.text = f"{CORRECTED} {row.text}"
        message = row.said.get("text")
        if message:
            row.said = {**row.said, **kept(text=sentences(CORRECTED, Said.from_dict(message)))}
        return True
    row.state, row.closed_at = FindingState.GONE, now
    return True


def write_due_items(asked: Mapping[int, Sequence[AskedItem]], now: datetime, steps: Steps) -> set[int]:
    """Bring the due items of these builds in line; ids of the builds of which one was written."""
    if not asked:
        return set()
    rows = DueItem.objects.select_for_update().filter(build__in=list(asked))
    book = {(row.build_id, row.rule, row.occurrence): row for row in rows}
    before = {row.pk: row.state for row in book.values()}
    new: list[DueItem] = []
    changed: list[DueItem] = []
    for build_id, items in asked.items():
        for item in items:
            row = book.pop((build_id, *item.key), None)
            if row is None:
                if item.asked.state != DueState.WAIVED:
                    new.append(_new_due(build_id, item))
            elif row.state != DueState.WAIVED and _differs(row, item):
                for name, value in _asked(item).items():
                    setattr(row, name, value)
                changed.append(row)
    for row in book.values():
        if row.state not in (DueState.DONE, DueState.WAIVED, DueState.GONE):
            row.state, row.escalation, row.closed_at = DueState.GONE, "", now
            changed.append(row)
    DueItem.objects.bulk_create(new)
    update_rows(changed, _DUE.split())
    for row in new:
        steps.asked(row)
    for row in changed:
        steps.due_moved(row, before[row.pk])
    return {row.build_id for row in (*new, *changed)}


def _asked(item: AskedItem) -> dict[str, Any]:
    asked = item.asked
    return {
        "kind": asked.kind,
        "title": str(asked.title)[:120],
        "text": str(asked.text),
        "said": kept(title=_titled(asked.title), text=asked.text),
        "state": asked.state,
        "from_h": asked.from_h,
        "due_h": asked.due_h,
        "late_h": asked.late_h,
        "due_at": asked.due_at,
        "forecast_on": asked.forecast_on,
        "escalation": asked.escalation,
        "evidence": list(asked.evidence),
        "opened_at": asked.opened_at,
        "closed_at": asked.closed_at,
        "closed_by_kind": asked.closed_by_kind,
        "closed_by_root": asked.closed_by_root,
        "rule_version": item.rule.version,
    }


def _differs(row: DueItem, item: AskedItem) -> bool:
    return any(getattr(row, name) != value for name, value in _asked(item).items())


def _new_due(build_id: int, item: AskedItem) -> DueItem:
    rule_id, occurrence = item.key
    return DueItem(build_id=build_id, rule=rule_id, occurrence=occurrence, **_asked(item))
