"""The signals that a hand on the levers moves at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import Floats


class Levers:
    """Engine speed, manifold pressure and fuel of the fastest engine in each row.

    rpm, map, fuel : rows, or None where no engine has the channel.
    share : rows - how much of the most power of the recording; 0 with the engines stopped.
    quick : those that show a step of the levers within a second or two.
    """

    def __init__(self, signals: Signals, running: NDArray[np.bool_]) -> None:
        self.rpm = _highest([engine.rpm for engine in signals.engines.values()])
        self.map = _highest([engine.map_inhg for engine in signals.engines.values()])
        self.fuel = _highest([engine.ff_gph for engine in signals.engines.values()])
        parts = [one / top for one in (self.rpm, self.map) if one is not None and (top := np.nanmax(one)) > 0]
        if not parts and self.fuel is not None and np.nanmax(self.fuel) > 0:
            parts = [self.fuel / np.nanmax(self.fuel)]
        # A stopped engine's manifold stands at the pressure of the air, which is no power.
        self.share: Floats = running * np.prod(parts, axis=0) if parts else np.zeros(len(signals.t))
        self.quick = [one for one in (self.rpm, self.map) if one is not None] or (
            [self.fuel] if self.fuel is not None else []
        )


def _highest(many: list[Floats | None]) -> Floats | None:
    there = [one for one in many if one is not None]
    if not there:
        return None
    return there[0] if len(there) == 1 else np.fmax(there[0], there[1])
