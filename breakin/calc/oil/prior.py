"""What is believed about an engine's oil loss before its log is read: decay time and plateau by cylinder finish.

The numbers of ``BUILT_IN`` are the project's own, from the habits of the trade (a settled engine loses about a quart in
ten hours, through-hardened bores settle in a night's flying, channel chrome takes weeks); none has a published source.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from breakin.calc.errors import OutOfRange

# How well the loss before the work is known, as sigma of its logarithm: own choice.
PARTIAL_SPREAD = 0.3
FINISHES = ("steel", "nitrided", "chrome")


@dataclass(frozen=True)
class FinishPrior:
    """Decay time and plateau of one cylinder finish. Medians, and spreads as sigma of the natural logarithm.

    decay_h, decay_spread : float [h], [-] - quick decay.
    slow_share : float [-], 0 to 1 - share of engines with the slow decay.
    slow_decay_h, slow_spread : float [h], [-].
    plateau_qt_h, plateau_spread : float [qt/h], [-] - loss of an engine that has settled well.
    """

    decay_h: float = 3.1
    decay_spread: float = 0.47
    slow_share: float = 0.05
    slow_decay_h: float = 11.0
    slow_spread: float = 0.27
    plateau_qt_h: float = 0.08
    plateau_spread: float = 0.6


@dataclass(frozen=True)
class Prior:
    """All that is believed beforehand; ``name`` is told in the answer.

    by_finish : FinishPrior of "steel", "nitrided", "chrome"; ``unknown`` serves any other.
    above_qt_h, above_spread : the ring rate of a fresh engine above its plateau, median [qt/h] and spread.
    glazed_share, glazed_qt_h, glazed_spread, glazed_above_qt_h, glazed_above_spread : engines that stay high.
    drift_share, drift_onset_h, drift_onset_spread, drift_qt_h2, drift_spread : engines that drift back up.
    step_share, step_qt_h, step_spread : engines whose loss steps up (a broken or stuck ring).
    settle_below_full_qt, settle_sigma_qt, settle_most_share : settling level below the full mark; in a small sump not
    more than this share of it.
    no_breather_share, breather_per_h, breather_spread : breather loss per quart above the settling level [1/h].
    noise_qt, noise_spread : one sigma of a reading, without the division of the dipstick. after_low_qt : by how much a
    reading after the flight lies low while oil still drains down, unless the reader told how good it is.
    fill_u_qt, added_share_u : doubt of a fill [qt] and of an addition [share].
    hot_after, hot_before, typing, unlogged, first_run_drop : probabilities per reading of a hot reading, of a typing
    error, of an addition nobody logged, and - on the first run after a change - of filter and cooler filling.
    """

    name: str = "built in"
    by_finish: Mapping[str, FinishPrior] = field(
        default_factory=lambda: {
            "steel": FinishPrior(slow_share=0.02),
            "nitrided": FinishPrior(slow_share=0.05),
            "chrome": FinishPrior(slow_share=0.65),
        }
    )
    unknown: FinishPrior = FinishPrior(slow_share=0.07)
    above_qt_h: float = 0.48
    above_spread: float = 0.42
    glazed_share: float = 0.10
    glazed_qt_h: float = 0.52
    glazed_spread: float = 0.42
    glazed_above_qt_h: float = 0.18
    glazed_above_spread: float = 0.8
    drift_share: float = 0.105
    drift_onset_h: float = 14.0
    drift_onset_spread: float = 0.35
    drift_qt_h2: float = 0.016
    drift_spread: float = 0.5
    step_share: float = 0.01
    step_qt_h: float = 0.25
    step_spread: float = 0.6
    settle_below_full_qt: float = 1.92
    settle_sigma_qt: float = 0.46
    settle_most_share: float = 0.27
    no_breather_share: float = 0.11
    breather_per_h: float = 0.31
    breather_spread: float = 0.6
    noise_qt: float = 0.24
    noise_spread: float = 0.28
    after_low_qt: float = 0.08
    fill_u_qt: float = 0.17
    added_share_u: float = 0.03
    hot_after: float = 0.09
    hot_before: float = 0.01
    typing: float = 0.025
    unlogged: float = 0.018
    first_run_drop: float = 0.05

    def finish(self, cylinder: str | None) -> FinishPrior:
        """The prior of a finish; of an unknown one when it is None or not listed."""
        return self.by_finish.get(cylinder or "", self.unknown)


BUILT_IN = Prior()


def partial_prior(before_qt_h: float, share: float, prior: Prior = BUILT_IN, *, u_qt_h: float = 0.0) -> Prior:
    """The prior of an engine of which only some cylinders are new: the loss before the work is what it returns to.

    Parameters
    ----------
    before_qt_h : float [qt/h], 0.01 to 2 - ring loss of the engine before the work.
    share : float [-], above 0 to 1 - new cylinders of all; only they can lose more for a while, or glaze.
    prior : Prior of a whole engine of this kind.
    u_qt_h : float [qt/h], 0 or more - one-sigma doubt of the loss before; widens what is believed of the plateau.

    Returns
    -------
    Prior

    Raises
    ------
    OutOfRange : outside the ranges above.

    >>> partial_prior(0.11, 1 / 6).finish("nitrided").plateau_qt_h
    0.11
    """
    if not 0.01 <= before_qt_h <= 2:
        wrong = f"{before_qt_h:g} is outside 0.01 to 2 qt/h."
        raise OutOfRange(wrong, where="loss before the work", mend="Check it, or assess without it.")
    if not 0 < share <= 1:
        wrong = f"{share:g} is outside 0 to 1."
        raise OutOfRange(wrong, where="share of new cylinders", mend="Give new cylinders over all.")
    if not 0 <= u_qt_h < math.inf:
        wrong = f"{u_qt_h:g} is no doubt of a loss."
        raise OutOfRange(wrong, where="doubt of the loss before the work", mend="Give one sigma, 0 qt/h or more.")
    spread = math.hypot(PARTIAL_SPREAD, u_qt_h / before_qt_h)

    def as_before(finish: FinishPrior) -> FinishPrior:
        return replace(finish, plateau_qt_h=before_qt_h, plateau_spread=spread)

    return replace(
        prior,
        name=f"{prior.name}, {share:.0%} of the cylinders new, {before_qt_h:.2f} qt/h before",
        by_finish={name: as_before(finish) for name, finish in prior.by_finish.items()},
        unknown=as_before(prior.unknown),
        above_qt_h=prior.above_qt_h * share,
        glazed_qt_h=before_qt_h + prior.glazed_qt_h * share,
        glazed_above_qt_h=prior.glazed_above_qt_h * share,
        step_qt_h=prior.step_qt_h * max(share, 0.5),
    )


def prior_of(given: "Prior | Mapping[str, Any] | None") -> Prior:
    """The prior to use: one given whole, the built-in one with some numbers changed, or the built-in one.

    Parameters
    ----------
    given : Prior, mapping of field names of :class:`Prior` to numbers, or None. ``settle_below_full`` is understood
        as ``settle_below_full_qt``.

    Returns
    -------
    Prior

    Raises
    ------
    OutOfRange : a name that is no field.

    >>> prior_of({"settle_below_full": 1.5}).settle_below_full_qt
    1.5
    """
    if given is None:
        return BUILT_IN
    if isinstance(given, Prior):
        return given
    changes = {
        ("settle_below_full_qt" if name == "settle_below_full" else name): value for name, value in given.items()
    }
    unknown = sorted(set(changes) - set(Prior.__dataclass_fields__))
    if unknown:
        raise OutOfRange(f"{', '.join(unknown)} is no number of the prior.", where="prior", mend="Check its name.")
    return replace(BUILT_IN, **changes)
