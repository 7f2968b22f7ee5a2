"""Every rule, in the order in which they are asked and shown. To add one: write it in its group's module."""

from breakin.rules import (
    aboard,
    accessories,
    afterwards,
    circuits,
    clocks,
    closing,
    heat,
    heat_soak,
    inspect_causes,
    inspect_metal,
    inspect_rings,
    inspections,
    oil,
    oil_level,
    oil_partial,
    oil_pressure,
    oil_trend,
    power,
    recordings,
    reminders,
    takeoff,
    unlogged,
)
from breakin.rules.base import RULES, Answer, Asked, Hit, Rule, rules_version

_GROUPS = "HEPOINC"  # clocks, heat, power, oil, inspections, reminders, after close-out: the order to read them in


def _in_order() -> None:
    ordered = sorted(RULES.items(), key=lambda item: (_GROUPS.index(item[0][0]), int(item[0][1:])))
    RULES.clear()
    RULES.update(ordered)


_in_order()
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
    "aboard",
    "accessories",
    "afterwards",
    "circuits",
    "clocks",
    "closing",
    "heat",
    "heat_soak",
    "inspect_causes",
    "inspect_metal",
    "inspect_rings",
    "inspections",
    "oil",
    "oil_level",
    "oil_partial",
    "oil_pressure",
    "oil_trend",
    "power",
    "recordings",
    "reminders",
    "takeoff",
    "unlogged",
]
