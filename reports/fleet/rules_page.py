"""Every rule with its words, its numbers' source, how often it found something, and what people said of that."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Max

from breakin.models import DueItem, DueState, Finding, FindingState, FindingVerdict, Verdict
from breakin.rules import RULES, Rule
from shop.access import visible_to
from shop.models import User

GROUPS = {
    "H": "Clocks and hours",
    "E": "Fuel flow, heat and pressure",
    "P": "Power",
    "O": "Oil",
    "I": "Inspections",
    "N": "Reminders",
    "C": "Close-out",
}
STANDING = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
ASKING = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)


@dataclass(frozen=True)
class RuleRow:
    """One rule. found, standing : findings of it, ever and now. asked, asking : due items of it, ever and now.

    said : how often people called its findings what, in words; "" when nobody has said anything yet.
    false_share : share of its judged findings that were called a false alarm, None without any.
    """

    rule: Rule
    needs: str
    at_once: bool
    found: int
    builds: int
    standing: int
    asked: int
    asking: int
    said: str
    false_share: float | None


@dataclass(frozen=True)
class RuleGroup:
    title: str
    rows: tuple[RuleRow, ...]


@dataclass(frozen=True)
class RulesPage:
    groups: tuple[RuleGroup, ...]
    count: int


def rules_page(user: User) -> RulesPage:
    """All rules in the order in which they are asked; six queries, however many findings there are."""
    findings = visible_to(user, Finding.objects.all())
    found: dict[str, Any] = {
        row["rule"]: row
        for row in findings.order_by().values("rule").annotate(number=Count("id"), builds=Count("build", distinct=True))
    }
    standing: dict[str, int] = dict(
        findings.filter(state__in=STANDING).order_by().values("rule").annotate(n=Count("id")).values_list("rule", "n")
    )
    due = visible_to(user, DueItem.objects.all()).order_by().values("rule", "state").annotate(n=Count("id"))
    asked: Counter[str] = Counter()
    asking: Counter[str] = Counter()
    for row in due:
        asked[row["rule"]] += row["n"]
        asking[row["rule"]] += row["n"] if row["state"] in ASKING else 0
    verdicts = _verdicts(user)
    groups: dict[str, list[RuleRow]] = defaultdict(list)
    for name, rule in RULES.items():
        said = verdicts.get(name, Counter())
        judged = sum(said.values())
        groups[GROUPS[name[0]]].append(
            RuleRow(
                rule=rule,
                needs=", ".join(rule.needs),
                at_once=rule.safety,
                found=found.get(name, {}).get("number", 0),
                builds=found.get(name, {}).get("builds", 0),
                standing=standing.get(name, 0),
                asked=asked[name],
                asking=asking[name],
                said=", ".join(f"{Verdict(word).label} {count}" for word, count in said.most_common()),
                false_share=said[Verdict.FALSE_ALARM] / judged if judged else None,
            )
        )
    return RulesPage(tuple(RuleGroup(title, tuple(rows)) for title, rows in groups.items()), len(RULES))


def _verdicts(user: User) -> Mapping[str, Counter[str]]:
    """The last word on each finding, counted by rule."""
    last = (
        visible_to(user, FindingVerdict.objects.all())
        .order_by()
        .values("finding")
        .annotate(last=Max("id"))
        .values("last")
    )
    counted: dict[str, Counter[str]] = defaultdict(Counter)
    rows = (
        FindingVerdict.objects.filter(pk__in=last).order_by().values("finding__rule", "verdict").annotate(n=Count("id"))
    )
    for row in rows:
        counted[row["finding__rule"]][row["verdict"]] += row["n"]
    return counted
