"""Share of engines not yet settled, by hours, with the running ones counted as what they are: not over yet."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from breakin.calc.errors import BadQuantity, MissingData

Z_95 = 1.959963984540054


@dataclass(frozen=True)
class KaplanMeier:
    """Product-limit estimate.

    times : the event times, rising [unit of the durations].
    at_risk, events : counts at each event time.
    survival : share that lasts beyond each event time [-].
    se : Greenwood standard error [-]; None where survival has reached 0.
    lower, upper : 95 percent limits of survival by the log-minus-log form [-]; None where survival is 0.
    n, n_events : subjects and events in all.
    last_time : the largest duration; beyond it nothing is known.
    """

    times: tuple[float, ...]
    at_risk: tuple[int, ...]
    events: tuple[int, ...]
    survival: tuple[float, ...]
    se: tuple[float | None, ...]
    lower: tuple[float | None, ...]
    upper: tuple[float | None, ...]
    n: int
    n_events: int
    last_time: float

    @property
    def median(self) -> float | None:
        """The time by which half have had the event; None when not reached."""
        return self.percentile(0.5)

    @property
    def median_limits(self) -> tuple[float | None, float | None]:
        """95 percent limits of the median; None for a limit that is not reached."""
        return (_first_at_or_below(self.times, self.lower, 0.5), _first_at_or_below(self.times, self.upper, 0.5))

    def percentile(self, share: float) -> float | None:
        """First time at which the surviving share is at or below ``share`` [-]; None when not reached."""
        return _first_at_or_below(self.times, self.survival, share)

    def survival_at(self, time: float) -> float | None:
        """Share that lasts beyond a time; None beyond the last duration, unless it has already reached 0."""
        share = 1.0
        for known, value in zip(self.times, self.survival, strict=True):
            if known > time:
                break
            share = value
        return None if time > self.last_time and share > 0 else share

    def restricted_mean(self, until: float) -> float:
        """Mean time, counted to ``until`` at most [unit of the durations].

        Raises
        ------
        BadQuantity : ``until`` is not above 0, or lies beyond what is known.
        """
        if not 0 < until < math.inf or self.survival_at(until) is None:
            mend = f"Choose a time up to {self.last_time:g}."
            raise BadQuantity(f"{until:g} lies beyond what is known.", where="restricted mean", mend=mend)
        total, share, start = 0.0, 1.0, 0.0
        for time, value in zip(self.times, self.survival, strict=True):
            if time >= until:
                break
            total += share * (time - start)
            share, start = value, time
        return total + share * (until - start)


def _first_at_or_below(times: Sequence[float], values: Sequence[float | None], share: float) -> float | None:
    for time, value in zip(times, values, strict=True):
        # A limit is not defined once survival is 0; by then every share has been passed.
        if value is None or value <= share + 1e-12:
            return time
    return None


def kaplan_meier(
    durations: Sequence[float], observed: Sequence[bool], *, entry: Sequence[float] | None = None
) -> KaplanMeier:
    """Product-limit estimate of survival, right-censored and, with ``entry``, left-truncated.

    At a tie, events come before censorings: who is censored at that time still counts as at risk.

    Parameters
    ----------
    durations : (n,) times of event or censoring, above 0 (hours to settle, say).
    observed : (n,) True = the event was seen; False = still running, sold, removed.
    entry : (n,) times at which each came under observation, at least 0 and below its duration; None = all at 0.

    Returns
    -------
    KaplanMeier. Without any event ``times`` is empty and the median is not reached.

    Raises
    ------
    MissingData : no subject.
    BadQuantity : lengths differ, or a time that is not finite or in order (position in the message).

    Source: Kaplan and Meier 1958; standard error by Greenwood. Checked against Freireich et al., Blood 21 (1963).

    >>> kaplan_meier([8, 12, 12, 15], [True, True, True, False]).median
    12.0
    """
    if not len(durations):
        raise MissingData("no engine to count.", where="survival", mend="Choose a wider group.")
    starts = [0.0] * len(durations) if entry is None else [float(value) for value in entry]
    if not len(durations) == len(observed) == len(starts):
        mend = "Give one of each for every engine."
        raise BadQuantity("durations, observed and entry differ in length.", where="survival", mend=mend)
    rows = [(start, float(end), bool(seen)) for start, end, seen in zip(starts, durations, observed, strict=True)]
    for index, (start, end, _seen) in enumerate(rows):
        if not (math.isfinite(end) and 0 <= start < end):
            where = f"survival, engine {index + 1}"
            raise BadQuantity(f"{start:g} to {end:g} is not a span of time.", where=where, mend="Correct its hours.")
    times = tuple(sorted({end for _start, end, seen in rows if seen}))
    at_risk = tuple(sum(1 for start, end, _seen in rows if start < time <= end) for time in times)
    events = tuple(sum(1 for _start, end, seen in rows if seen and end == time) for time in times)
    survival: list[float] = []
    se: list[float | None] = []
    lower: list[float | None] = []
    upper: list[float | None] = []
    share, greenwood = 1.0, 0.0
    for n, d in zip(at_risk, events, strict=True):
        share *= (n - d) / n
        greenwood += d / (n * (n - d)) if n > d else math.inf
        survival.append(share)
        low, high = _log_log_limits(share, greenwood)
        se.append(share * math.sqrt(greenwood) if share > 0 else None)
        lower.append(low)
        upper.append(high)
    return KaplanMeier(
        times,
        at_risk,
        events,
        tuple(survival),
        tuple(se),
        tuple(lower),
        tuple(upper),
        len(rows),
        sum(events),
        max(end for _start, end, _seen in rows),
    )


def _log_log_limits(share: float, greenwood: float) -> tuple[float | None, float | None]:
    if not 0 < share < 1:
        return None, None
    half = Z_95 * math.sqrt(greenwood) / abs(math.log(share))
    return float(share ** math.exp(half)), float(share ** math.exp(-half))
