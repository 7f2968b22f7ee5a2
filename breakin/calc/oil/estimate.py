"""How fast the rings lose oil now, and whether that has settled, from a handful of dipstick readings.

Definition. On the ring-related rate, breather loss of an over-filled sump excluded: stabilized when the rate lies
within max(20 % of its plateau, 0.05 qt/h) of the plateau, and the plateau is at or under the accept limit. No
published numerical definition exists; this one is the project's own. A declaration also needs a probability of at
least 0.85, four readings and three hours.

Method. Many possible engines (falling, glazed, drifting back up, stepped) explain the log, each by a level filter; see
:mod:`breakin.calc.oil.model`. Their weights are the posterior; every answer is read off them. The same log gives the
same answer: the engines are fixed points, not random draws.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from breakin.calc.errors import CalcError
from breakin.calc.oil.answers import answers
from breakin.calc.oil.events import running_between_readings, story_of
from breakin.calc.oil.labels import labels
from breakin.calc.oil.log import read_log
from breakin.calc.oil.posterior import posterior_of
from breakin.calc.oil.prior import Prior, prior_of
from breakin.calc.oil.trace import trace_of

NEEDED_READINGS = 3
NEEDED_RUNNING_H = 0.1
NUMBERS = (
    "p_stabilized", "rate_now", "rate_lo", "rate_hi", "settle_h", "settle_lo", "settle_hi", "p_not_settling",
    "p_rising", "level_settle", "level_lo", "level_hi",
)  # fmt: skip

PriorLike = Prior | Mapping[str, Any] | None


def estimate(log: Mapping[str, Any], prior: PriorLike = None, *, trace: bool = False) -> dict[str, Any]:
    """Estimate of ring-related oil loss and of settling, at the last entry of a log.

    Parameters
    ----------
    log : mapping, see :func:`breakin.calc.oil.log.read_log`. Litres and imperial quarts are converted.
    prior : Prior, mapping of some of its numbers, or None - None takes the log's own ``prior``, else the built-in one.
    trace : also answer how the estimate came about over the hours, for a picture; costs about as much again.

    Returns
    -------
    dict, US quarts and logged hours: ``p_stabilized``, ``stabilized``, ``rate_now``, ``rate_lo``, ``rate_hi`` (50, 5
    and 95 %), ``settle_h``, ``settle_lo``, ``settle_hi`` (if it settles at all), ``not_settling``,
    ``p_not_settling``, ``rising``, ``p_rising``, ``level_settle``, ``level_lo``, ``level_hi``, ``topping_high``,
    ``outliers`` (places of entries), ``missed_additions`` (hours), ``prior`` (its name), ``refusal`` (a sentence, or
    None), ``notes`` and, when asked for, ``trace`` (see :func:`breakin.calc.oil.trace.trace_of`). With a refusal the
    numbers are None.

    Raises
    ------
    BadLog : the log cannot be read as one.
    OutOfRange : a number of the prior has no such name.
    """
    believed = prior_of(prior if prior is not None else log.get("prior"))
    read = read_log(log)
    count = len(read.readings)
    if count < NEEDED_READINGS:
        return _refused(f"Not enough readings yet: {count} of {NEEDED_READINGS}.", believed, read.notes)
    if running_between_readings(read) < NEEDED_RUNNING_H:
        return _refused("No running time between comparable readings yet.", believed, read.notes)
    story = story_of(read, believed)
    found = posterior_of(story, read.full_qt, believed, believed.finish(read.cylinder))
    told = labels(found, story, read.full_qt, believed)
    over_hours = {"trace": trace_of(found, story, read, believed)} if trace else {}
    above_stick = [entry.index for entry in read.entries if entry.kind == "reading" and not read.usable(entry)]
    return answers(found, read, count, believed) | {
        "topping_high": told.topping_high,
        "outliers": sorted(told.outliers + above_stick),
        "missed_additions": told.missed_additions,
        "prior": believed.name,
        "refusal": None,
        "notes": list(read.notes),
        **over_hours,
    }


def estimate_many(logs: Iterable[Mapping[str, Any]], prior: PriorLike = None) -> list[dict[str, Any]]:
    """Estimates of many logs, for the nightly run: a log that cannot be read does not stop the others.

    Parameters
    ----------
    logs : logs as for :func:`estimate`.
    prior : as for :func:`estimate`, for all of them.

    Returns
    -------
    list of dict, one a log, in order; where :func:`estimate` would raise, the refusal holds its text.
    """
    believed = None if prior is None else prior_of(prior)
    results = []
    for log in logs:
        try:
            results.append(estimate(log, believed))
        except CalcError as error:
            results.append(_refused(str(error), believed or prior_of(None), ()))
    return results


def _refused(why: str, prior: Prior, notes: Iterable[str]) -> dict[str, Any]:
    empty: dict[str, Any] = dict.fromkeys(NUMBERS)
    return empty | {
        "stabilized": False,
        "not_settling": False,
        "rising": False,
        "topping_high": False,
        "outliers": [],
        "missed_additions": [],
        "prior": prior.name,
        "refusal": why,
        "notes": list(notes),
    }
