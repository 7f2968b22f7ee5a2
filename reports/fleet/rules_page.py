"""Every rule with its words, its numbers' source, how often it found something, and what people said of that."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from breakin.models import RuleCount, Verdict
from breakin.rules import RULES, Rule

GROUPS = {
    "H": "Clocks and hours",
    "E": "Fuel flow, heat and pressure",
    "P": "Power",
    "O": "Oil",
    "I": "Inspections",
    "N": "Reminders",
    "C": "Close-out",
}


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


def rules_page() -> RulesPage:
    """All rules in the order in which they are asked, with the counts that are kept of each: one query."""
    counts = {row.rule: row for row in RuleCount.objects.all()}
    groups: dict[str, list[RuleRow]] = defaultdict(list)
    for name, rule in RULES.items():
        count = counts.get(name) or RuleCount(rule=name)
        said = {verdict: getattr(count, verdict.value) for verdict in Verdict}
        judged = sum(said.values())
        groups[GROUPS[name[0]]].append(
            RuleRow(
                rule=rule,
                needs=", ".join(rule.needs),
                at_once=rule.safety,
                found=count.found,
                builds=count.builds,
                standing=count.standing,
                asked=count.asked,
                asking=count.asking,
                said=", ".join(
                    f"{verdict.label} {number}"
                    for verdict, number in sorted(said.items(), key=lambda each: -each[1])
                    if number
                ),
                false_share=said[Verdict.FALSE_ALARM] / judged if judged else None,
            )
        )
    return RulesPage(tuple(RuleGroup(title, tuple(rows)) for title, rows in groups.items()), len(RULES))
