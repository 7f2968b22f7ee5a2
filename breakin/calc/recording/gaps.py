"""What the signals say of a step of the clock: did time go by, or did only the clock move?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakin.calc.recording.scales import Wanted
from breakin.calc.recording.table import Floats

SLOW = ("cht", "oil_temp", "oat", "alt")
NEAR_ROWS = 60
STOPPED_RPM = 50.0
COLD_SHARE = 0.25
_LEAST = {"alt": 60.0, "manifold_pressure": 1.0, "fuel_flow": 1.0, "rpm": 60.0}


@dataclass(frozen=True)
class Signals:
    """The numbers of one stretch of rows.

    wanted : what each column is. columns : numbers as in the file. before : numbers of the row before the stretch.
    """

    wanted: Sequence[Wanted]
    columns: Sequence[Floats]
    before: Floats | None

    def last(self) -> Floats:
        """The numbers of the last row."""
        return np.array([one[-1] for one in self.columns])

    def _across(self, index: int) -> tuple[Floats, Floats]:
        now = np.array([one[index] for one in self.columns])
        if index == 0:
            return (now if self.before is None else self.before), now
        return np.array([one[index - 1] for one in self.columns]), now

    def moved(self, index: int) -> bool:
        """Whether the slow signals of a row differ from those of the row before by more than they usually do."""
        then, now = self._across(index)
        slow = [place for place, one in enumerate(self.wanted) if one.group in SLOW]
        far = total = 0
        for place in slow or range(len(self.wanted)):
            if np.isfinite(now[place]) and np.isfinite(then[place]):
                near = np.abs(np.diff(self.columns[place][max(0, index - NEAR_ROWS) : index + NEAR_ROWS]))
                near = near[np.isfinite(near)]
                usual = float(np.percentile(near, 90)) if len(near) else 0.0
                total += 1
                far += abs(now[place] - then[place]) > max(4 * usual, _LEAST.get(self.wanted[place].group, 5.0))
        return far > 0.25 * total

    def rested(self, index: int) -> bool:
        """Whether the engines stood still and cold on both sides, so that nothing could have moved."""
        then, now = self._across(index)
        rpm = [place for place, one in enumerate(self.wanted) if one.group == "rpm"]
        if not rpm or (np.nan_to_num((*then[rpm], *now[rpm])) > STOPPED_RPM).any():
            return False
        warm = []
        for place, one in enumerate(self.wanted):
            values = self.columns[place][np.isfinite(self.columns[place])]
            if one.group in ("cht", "oil_temp") and len(values) and np.isfinite(then[place]):
                low, high = np.percentile(values, (1, 99))
                warm.append((then[place] - low) / max(high - low, 10.0))
        return not warm or float(np.median(warm)) < COLD_SHARE
