"""Every rule, in the order in which they are asked and shown. To add one: write it in its group's module."""

from breakin.rules import clocks, heat, inspections, oil, power, reminders
from breakin.rules.base import RULES, Answer, Asked, Hit, Rule, rules_version

RULES_VERSION = rules_version()
SAFETY = tuple(one for one in RULES.values() if one.safety)

__all__ = [
    "RULES",
    "RULES_VERSION",
    "SAFETY",
    "Answer",
    "Asked",
    "Hit",
    "Rule",
    "clocks",
    "heat",
    "inspections",
    "oil",
    "power",
    "reminders",
]
