"""A log as the level filter reads it: fills, additions, readings, and runs over a grid of times."""

from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import FloatArray
from breakin.calc.oil.log import LogEntry, OilLog
from breakin.calc.oil.model import LOOSE_QT, Added, Event, Fill, Reading, Run
from breakin.calc.oil.prior import Prior

LONGEST_RUN_H = 2.5
SAME_HOUR = 1e-6


@dataclass(frozen=True)
class Story:
    """Events in order, and the grid of times that the runs refer to [h since the first entry]."""

    events: tuple[Event, ...]
    grid: FloatArray


def story_of(log: OilLog, prior: Prior) -> Story:
    """Events of a log. A run longer than 2.5 h is cut, so that the ring rate may be taken at its mean over a step."""
    events: list[Event] = []
    grid = [0.0]
    previous: LogEntry | None = None
    # None: no change yet, or its first run is over; else the hour of the change.
    filled_at: float | None = None
    first_run = False
    for entry in log.entries:
        if previous is not None:
            loose = LOOSE_QT if entry.switched or _shadowed(log, previous, entry) else 0.0
            ran = entry.at - previous.at > SAME_HOUR
            if ran:
                _add_runs(events, grid, entry.at, loose)
            elif entry.switched:
                events.append(Added(0.0, LOOSE_QT))
            if ran and filled_at is not None:
                first_run, filled_at = True, None
        previous = entry
        if entry.kind == "change":
            events.append(Fill(entry.quarts, prior.fill_u_qt))
            filled_at, first_run = entry.at, False
        elif entry.kind == "add":
            events.append(Added(entry.quarts, prior.added_share_u * entry.quarts))
        elif log.usable(entry):
            after = entry.when == "after"
            quarts = entry.quarts + (prior.after_low_qt if after and entry.u is None else 0.0)
            events.append(Reading(quarts, entry.u, log.division_qt, after, first_run, entry.index, entry.hours))
            first_run = False
    return Story(tuple(events), np.array(grid))


def _add_runs(events: list[Event], grid: list[float], until: float, loose: float) -> None:
    start = grid[-1]
    pieces = max(1, int(np.ceil((until - start) / LONGEST_RUN_H - 1e-9)))
    pieces = min(pieces, 40)
    for piece in range(1, pieces + 1):
        grid.append(start + (until - start) * piece / pieces)
        events.append(Run(len(grid) - 2, loose if piece == pieces else 0.0))


def _shadowed(log: OilLog, before: LogEntry, after: LogEntry) -> bool:
    return any(span.start < after.hours - SAME_HOUR and span.end > before.hours + SAME_HOUR for span in log.spans)


def running_between_readings(log: OilLog) -> float:
    """Hours run between usable readings of one fill, leak and unlogged time left out [h]."""
    total, previous, started = 0.0, None, False
    for entry in log.entries:
        if previous is not None and started and not entry.switched and not _shadowed(log, previous, entry):
            total += entry.at - previous.at
        started = started or (entry.kind == "reading" and log.usable(entry)) or entry.kind == "change"
        previous = entry
    return total
