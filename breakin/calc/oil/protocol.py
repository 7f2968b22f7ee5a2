"""How good a dipstick reading is: its one-sigma uncertainty and its protocol class."""

from dataclasses import dataclass

GOOD_U_QT = 0.15
HOT_OR_UNKNOWN_U_QT = 0.3
SLOPING_U_QT = 0.5
RECALLED_U_QT = 0.6
# Straight after shutdown oil hangs in the engine and the level reads low, by a quart or so; most has drained after ten
# minutes, which is why pilots are asked to read from then on. Common practice, no source.
DRAINED_AFTER_MIN = 10.0
COLD_AFTER_MIN = 120.0


@dataclass(frozen=True)
class Protocol:
    """Uncertainty [qt] and class ("cold", "rested", "hot", "unknown") of a reading. Only like is compared with like."""

    u_qt: float
    kind: str


def protocol_of(
    *,
    minutes_since_shutdown: float | None,
    level_ground: bool | None,
    wiped_twice: bool | None = None,
    recalled: bool = False,
    u_qt: float | None = None,
) -> Protocol:
    """Uncertainty and class from what was told about the reading.

    Parameters
    ----------
    minutes_since_shutdown : float [min] or None when not told.
    level_ground : False on a slope; None when not told counts as level but is not good.
    wiped_twice : False makes the reading no better than a hot one.
    recalled : told from memory.
    u_qt : float [qt] or None - a reading may carry its own uncertainty; it overrules.

    Returns
    -------
    Protocol

    Source: the project's own choice: good 0.15, hot or unknown 0.3, sloping 0.5, recalled 0.6 qt.

    >>> protocol_of(minutes_since_shutdown=45, level_ground=True)
    Protocol(u_qt=0.15, kind='rested')
    """
    if minutes_since_shutdown is None:
        kind = "unknown"
    elif minutes_since_shutdown < DRAINED_AFTER_MIN:
        kind = "hot"
    else:
        kind = "cold" if minutes_since_shutdown > COLD_AFTER_MIN else "rested"
    if u_qt is not None:
        return Protocol(float(u_qt), kind)
    if recalled:
        return Protocol(RECALLED_U_QT, kind)
    if level_ground is False:
        return Protocol(SLOPING_U_QT, kind)
    if kind in ("hot", "unknown") or level_ground is None or wiped_twice is False:
        return Protocol(HOT_OR_UNKNOWN_U_QT, kind)
    return Protocol(GOOD_U_QT, kind)
