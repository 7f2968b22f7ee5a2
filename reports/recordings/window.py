"""The stretch of a recorded flight that a picture asks for, read from an address."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

FEWEST, USUAL, MOST = 50, 600, 2000


class BadWindow(ValueError):
    """What was asked for is no stretch of a flight; the message says which part, and how to write it."""


@dataclass(frozen=True)
class Window:
    """start, end [s] since the first row of the flight; about how many points of each line."""

    start: float
    end: float
    points: int


def window_of(asked: Mapping[str, str], seconds: float) -> Window:
    """`from` and `to` in seconds, the whole flight without them; `points` of each line.

    Raises
    ------
    BadWindow : no number, turned round, or too many points. A stretch beyond the flight is cut to it.
    """
    start, end = _seconds(asked, "from", 0.0), _seconds(asked, "to", seconds)
    if end <= start and seconds > 0:
        raise BadWindow(f"“to” ({end:g}) must be later than “from” ({start:g}), both in seconds.")
    return Window(max(start, 0.0), min(end, seconds), _points(asked))


def _seconds(asked: Mapping[str, str], name: str, usual: float) -> float:
    text = asked.get(name, "")
    if not text:
        return usual
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) > 1e9:
        raise BadWindow(f"“{name}” is “{text[:20]}”. Write it in seconds since the first row, for example {name}=600.")
    return value


def _points(asked: Mapping[str, str]) -> int:
    text = asked.get("points", "")
    if not text:
        return USUAL
    if not (text.isascii() and text.isdigit() and len(text) < 6 and FEWEST <= int(text) <= MOST):
        raise BadWindow(f"“points” is “{text[:20]}”. Write a whole number from {FEWEST} to {MOST}.")
    return int(text)
