"""How much loss is accepted, watched, or too much (rule O4)."""

from dataclasses import dataclass
from typing import Literal

from breakin.calc.errors import MissingData, OutOfRange
from breakin.calc.power_laws import max_oil_consumption_qt_per_h

# Shares of the ceiling: the project's own choice; no published number exists.
ACCEPT_SHARE = 0.25
WATCH_SHARE = 0.5

Verdict = Literal["accept", "watch", "alarm", "over ceiling", "too short to judge"]


@dataclass(frozen=True)
class OilLimits:
    """Limits of loss of one engine.

    ceiling : float [qt/h] - the maker's own limit, or the formula.
    accept : float [qt/h] - up to here a settled engine is accepted.
    watch : float [qt/h] - from accept to here: watch; above, to the ceiling: alarm.
    basis : where the ceiling comes from, in words.
    """

    ceiling: float
    accept: float
    watch: float
    basis: str


def oil_limits(
    *, rated_hp: float | None = None, maker_qt_per_h: float | None = None, accept_factor: float = 1.0
) -> OilLimits:
    """Ceiling, accept and watch rate.

    Parameters
    ----------
    rated_hp : float [hp], 1 to 5,000 - used only without a maker's limit.
    maker_qt_per_h : float [qt/h], 0.05 to 10 - the maker's own limit; goes first.
    accept_factor : float [-], 1 to 2 - wider acceptance of a finish (channel chrome 1.5).

    Returns
    -------
    OilLimits

    Raises
    ------
    MissingData : neither given.
    OutOfRange : outside the ranges above.

    Source of the ceiling: Lycoming TEO-540-A1A Installation and Operation Manual (October 2018), Table A-2.

    >>> limits = oil_limits(rated_hp=180)
    >>> round(limits.ceiling, 2), round(limits.accept, 2)
    (0.58, 0.15)
    """
    if not 1 <= accept_factor <= 2:
        raise OutOfRange(f"{accept_factor:g} is outside 1 to 2.", where="accept factor", mend="Check the plan.")
    if maker_qt_per_h is not None:
        if not 0.05 <= maker_qt_per_h <= 10:
            mend = "Give it in US quarts an hour."
            raise OutOfRange(f"{maker_qt_per_h:g} is outside 0.05 to 10 qt/h.", where="maker's oil limit", mend=mend)
        ceiling, basis = float(maker_qt_per_h), "the maker's limit for this engine"
    elif rated_hp is not None:
        ceiling = max_oil_consumption_qt_per_h(rated_hp)
        basis = f"0.006 x {rated_hp:g} hp x 4 / 7.4, at rated power"
    else:
        mend = "Enter the maker's limit or the rated power of the type."
        raise MissingData("neither a maker's limit nor rated power.", where="oil limit", mend=mend)
    return OilLimits(ceiling, ACCEPT_SHARE * ceiling * accept_factor, WATCH_SHARE * ceiling * accept_factor, basis)


def judge(rate: float, u_rate: float, limits: OilLimits, *, assessable: bool) -> Verdict:
    """Where a measured loss lies.

    Parameters
    ----------
    rate : float [qt/h]
    u_rate : float [qt/h], at least 0 - one sigma.
    limits : OilLimits
    assessable : bool - whether the window can be judged at all (rule O1).

    Returns
    -------
    "over ceiling" only when the loss is above the ceiling by more than its doubt (rate - u_rate > ceiling); the other
    words follow the central value. Whether the engine has settled asks for more, see the paper window.

    >>> judge(0.10, 0.03, oil_limits(rated_hp=180), assessable=True)
    'accept'
    """
    if not assessable:
        return "too short to judge"
    if rate - u_rate > limits.ceiling:
        return "over ceiling"
    if rate <= limits.accept:
        return "accept"
    return "watch" if rate <= limits.watch else "alarm"
