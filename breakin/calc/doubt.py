"""How the doubt of a whole recording falls on its single settings (rule P2).

A recording's power may be wrong by the same amount all along, so its minutes in a band are told as one span: a central
value, the least and the most. The stages of a plan ask of which minutes they are; the settings nearest to an edge of
the band are the first to be in doubt.
"""

from collections.abc import Sequence
from dataclasses import dataclass

# A setting further than this from an edge is not what a span is in doubt of [sigma]. The project's own choice.
FAR_SIGMA = 3.0
_LEAST_SIGMA = 0.1  # a setting given without doubt still has an order


@dataclass(frozen=True)
class Held:
    """A steady setting: minutes [min], power and one sigma of it [% of rated]."""

    minutes: float
    pct: float
    sigma: float


def spread(
    settings: Sequence[Held],
    band: tuple[float, float],
    *,
    central_min: float,
    least_min: float,
    most_min: float,
) -> list[tuple[float, float]]:
    """Share of each setting's minutes that lies in the band at least and at most.

    Parameters
    ----------
    settings : Held, in any order.
    band : (lower, upper) edge [% of rated power].
    central_min, least_min, most_min : float [min] - what the recording tells of its minutes in the band.

    Returns
    -------
    (least, most) for each setting, each from 0 to 1. Inside the band most is 1, outside least is 0. Settings nearest
    to an edge give way first, in sigma; those more than 3 sigma away stay as they are.

    Source: own; settings near an edge can't be decided, and share the error of one instrument.

    >>> spread([Held(40, 73, 1.2), Held(20, 78, 1.2)], (72, 85), central_min=60, least_min=20, most_min=60)
    [(0.0, 1.0), (1.0, 1.0)]
    """
    inside = [band[0] <= one.pct <= band[1] for one in settings]
    shares = [(float(mine), float(mine)) for mine in inside]
    for within, doubtful in ((True, central_min - least_min), (False, most_min - central_min)):
        left = max(0.0, doubtful)
        near = sorted((_distance(one, band), place) for place, one in enumerate(settings) if inside[place] == within)
        for distance, place in near:
            minutes = settings[place].minutes
            if left <= 0 or distance > FAR_SIGMA or minutes <= 0:
                continue
            share = min(minutes, left) / minutes
            shares[place] = (1.0 - share, 1.0) if within else (0.0, share)
            left -= minutes * share
    return shares


def _distance(one: Held, band: tuple[float, float]) -> float:
    """How far a setting lies from the nearest edge, in its own sigma."""
    return min(abs(one.pct - edge) for edge in band) / max(one.sigma, _LEAST_SIGMA)
