"""Warm heads while the rings are new: what is expected, and the lines as they stand on the card.

That heads of 400 to 420 degF are seen early: common practice, no published source. The watch line is the engine type's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from breakin.models import Assessment, Phase
from breakin.picture.heat import WATCH_DEGF
from breakin.rules.heat import CRUISE_DEGF, EARLY_H
from engines.models import Cooling, EngineTypeRevision, Installation
from reports.pilot.card_content import Line
from reports.pilot.card_heat import heat
from reports.quantities import quantity

NOT_RUNNING_IN = (Phase.LOG_ONLY, Phase.CLOSED, Phase.FOLLOW_UP, Phase.INCOMPLETE)
LINES_SHOWN = 3  # expected early, watch line, maker's limit


@dataclass(frozen=True)
class EarlyHeat:
    """low, high : between which heads are seen early, with units; low is "" where the watch line lies below it.
    lines : expected early, our watch line, the maker's limit."""

    low: str
    high: str
    lines: Sequence[Line]


def early_heat(
    assessment: Assessment | None, kind: EngineTypeRevision | None, installation: Installation, units: str
) -> EarlyHeat | None:
    """None after the first hours, and where no head is cooled by air or nothing is judged."""
    if assessment is None or assessment.phase in NOT_RUNNING_IN or assessment.hours >= EARLY_H:
        return None
    if kind is None or kind.log_only or kind.cooling != Cooling.AIR:
        return None
    watch = WATCH_DEGF if kind.cht_watch_degf is None else kind.cht_watch_degf
    return EarlyHeat(
        low=quantity(CRUISE_DEGF, "temperature", units) if watch > CRUISE_DEGF else "",
        high=quantity(watch, "temperature", units),
        lines=heat(installation, kind, assessment.hours, units)[:LINES_SHOWN],
    )
