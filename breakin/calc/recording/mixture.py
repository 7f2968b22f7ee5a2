"""Mixture and power: what leaning does to power and to the fuel that makes it."""

from __future__ import annotations

import numpy as np

from breakin.calc.recording.smooth import Floats

# Exhaust is hottest where fuel and air just match, 0.0667 by weight (chemistry of gasoline), and power is greatest from
# 0.075 on (SFTE, Technical Handbook, 2013, section 10.1): the first over the second.
PEAK_OVER_BEST = 0.0667 / 0.075
PEAK_OVER_BEST_SIGMA = 0.02
# Power falls away from best power as a parabola: about 4 % at peak exhaust temperature, 1 to 2 % where take-off is set
# rich. Leaner still, fuel is short and power follows it: the straight line that touches the parabola. Common practice,
# no source; best economy then comes out at 0.061 to 0.0625 fuel for the air, as in the same handbook.
LEAN_LOSS = 2.9
RICH_LOSS = 0.9
TOUCH = float(1.0 - (1.0 - np.sqrt(1.0 - 1.0 / LEAN_LOSS)))
FUEL_SHORT = 2.0 * LEAN_LOSS * (1.0 - TOUCH)
# Take-off is set richer than best power by about this [share], cruise at about best power. Common practice, no source.
TAKE_OFF_RICH = 1.14
# Exhaust temperature falls from its crest by about so much for each unit of mixture on either side [ddegF]: 100 to 150
# degF rich of peak is best power (Lycoming O-320-76 Operator's Manual).
DEGF_PER_MIXTURE = 125.0 / (1.0 - PEAK_OVER_BEST)


def power_of_mixture(mixture: Floats) -> Floats:
    """Power for the same air, as a share of power at best-power mixture.

    Parameters
    ----------
    mixture : array [-] - fuel for the air over that of best power; 1 is best power.

    >>> [round(float(p), 3) for p in power_of_mixture(np.array([1.12, 1.0, 0.885, 0.75]))]
    [0.987, 1.0, 0.962, 0.829]
    """
    off = 1.0 - mixture
    parabola = 1.0 - np.where(off > 0, LEAN_LOSS, RICH_LOSS) * off * off
    return np.where(mixture < TOUCH, FUEL_SHORT * mixture, parabola)


def fuel_share_of_mixture(mixture: Floats) -> Floats:
    """Power for each pound of fuel, as a share of that at best-power mixture (same inputs)."""
    return power_of_mixture(mixture) / mixture
