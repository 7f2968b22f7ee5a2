"""What happened when: start, run-up, take-off, climb, cruise, descent, landing, from the signals of all engines."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.edges import onset_time
from breakin.calc.recording.ground import run_up, shutdown_row, take_off, touch_down
from breakin.calc.recording.levels import level_stretch
from breakin.calc.recording.levers import Levers
from breakin.calc.recording.result import Phase
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import nanmedian, running_mean

# An engine turns under its own power above this [rpm]; without rpm, burns more than this [US gal/h].
RUNNING_RPM = 250.0
RUNNING_GPH = 0.4
RUNNING_EGT_DEGF = 400.0
# In the air: this far over the field [ft], or faster than this share of the usual speed.
HEIGHT_FT = 200.0
FAST_SHARE = 0.55
# Shorter than this [s] is no flight but an aborted take-off or a gust.
SHORTEST_FLIGHT_S = 60.0


@dataclass(frozen=True)
class Course:
    """The course of a flight.

    events, phases : as in :class:`breakin.calc.recording.result.FlightAnalysis`.
    air : (first row, row after the last) in the air, or None.
    cruise : (start, end) of cruise [s], or None.
    running : for each side, the rows in which that engine runs.
    """

    events: dict[str, float]
    phases: tuple[Phase, ...]
    air: tuple[int, int] | None
    cruise: tuple[float, float] | None
    running: dict[str, NDArray[np.bool_]] = field(default_factory=dict)


def running_rows(signals: Signals, engine: Engine) -> NDArray[np.bool_]:
    """The rows in which an engine runs, by the best signal there is; all of them when there is no signal for it."""
    for signal, line in ((engine.rpm, RUNNING_RPM), (engine.ff_gph, RUNNING_GPH)):
        if signal is not None:
            return np.asarray(np.nan_to_num(signal, nan=0.0) > line, dtype=np.bool_)
    if engine.egt_raw.shape[1]:
        return np.asarray(np.nan_to_num(engine.egt_raw, nan=0.0).max(axis=1) > RUNNING_EGT_DEGF, dtype=np.bool_)
    return np.ones(len(signals.t), dtype=np.bool_)


def course_of(signals: Signals) -> Course:
    """Events and phases of one flight or ground run."""
    running = {side: running_rows(signals, engine) for side, engine in signals.engines.items()}
    any_running = np.logical_or.reduce(list(running.values())) if running else np.zeros(len(signals.t), dtype=bool)
    events: dict[str, float] = {}
    if not len(signals.t) or not any_running.any():
        return Course(events, (), None, None, running)
    levers = Levers(signals, any_running)
    rows = np.flatnonzero(any_running)
    first, last = int(rows[0]), int(rows[-1])
    if first > 0:
        events["engine_start"] = onset_time(signals.t, first)
    if last < len(signals.t) - 1:
        events["shutdown"] = onset_time(signals.t, shutdown_row(signals, levers, last))
    core = _core(signals, levers)
    if core is None:
        run_up(signals, levers, first, last, events)
        return Course(events, _phases(signals, events, first, last), None, None, running)
    start, end = core
    took_off = start > 0 and take_off(signals, levers, start, first, events)
    if took_off:
        run_up(signals, levers, first, signals.row_at(events["takeoff_start"]) - 1, events)
    if end < len(signals.t) - signals.rows(5):
        touch_down(signals, levers, end, events)
    air = (
        signals.row_at(events["liftoff"]) if "liftoff" in events else (start if start > 0 else 0),
        signals.row_at(events["touchdown"]) if "touchdown" in events else len(signals.t),
    )
    if air[1] <= air[0]:
        air = (start, max(end, start + 1))
    cruise = _cruise(signals, levers, air, events)
    return Course(events, _phases(signals, events, first, last), air, cruise, running)


def _core(signals: Signals, levers: Levers) -> tuple[int, int] | None:
    """First and last row that are surely in the air, or None when the aeroplane never left the ground."""
    inside = np.zeros(len(signals.t), dtype=bool)
    told = False
    if signals.ias_kt is not None:
        usual = np.nanpercentile(signals.ias_kt, 75)
        if usual > 40:
            inside |= signals.ias_kt > FAST_SHARE * usual
            told = True
    if signals.alt_ft is not None:
        ends = max(1, min(signals.rows(20), len(signals.t) // 4))
        before, after = nanmedian(signals.alt_ft[:ends]), nanmedian(signals.alt_ft[-ends:])
        if np.isfinite(before) and np.isfinite(after):
            field_ft = np.where(np.arange(len(signals.t)) < int(np.nanargmax(signals.alt_ft)), before, after)
            inside |= signals.alt_ft > field_ft + HEIGHT_FT
            told = True
    if not told:
        inside = np.nan_to_num(running_mean(levers.share, signals.rows(60)), nan=0.0) > 0.52
    rows = np.flatnonzero(inside)
    if not len(rows) or float(signals.weight_s[inside].sum()) < SHORTEST_FLIGHT_S:
        return None
    return int(rows[0]), int(rows[-1]) + 1


def _cruise(
    signals: Signals, levers: Levers, air: tuple[int, int], events: dict[str, float]
) -> tuple[float, float] | None:
    """Level-off and begin of the descent."""
    found = level_stretch(signals, levers.quick, levers.share, air)
    if found is None:
        return None
    begin, end = found
    if begin is not None:
        events["cruise_start"] = begin
    if end is not None:
        events["descent_start"] = end
    return (
        begin if begin is not None else float(signals.t[air[0]]),
        end if end is not None else float(signals.t[min(air[1], len(signals.t) - 1)]),
    )


def _phases(signals: Signals, events: dict[str, float], first: int, last: int) -> tuple[Phase, ...]:
    """The phases between the events, in order, without holes."""
    t = signals.t
    marks: list[tuple[float, str]] = []
    if first > 0:
        marks.append((0.0, "off"))
    marks.append((events.get("engine_start", float(t[first])), "taxi" if "liftoff" not in events else "start"))
    names = (
        ("runup_start", "runup"),
        ("runup_end", "taxi"),
        ("takeoff_start", "takeoff"),
        ("liftoff", "climb"),
        ("cruise_start", "cruise"),
        ("descent_start", "descent"),
        ("touchdown", "landing"),
        ("shutdown", "off"),
    )
    marks += [(events[event], name) for event, name in names if event in events]
    if "touchdown" in events:
        stop = events.get("shutdown", float(t[-1]))
        marks.append((min(events["touchdown"] + 40.0, stop), "taxi"))
    marks.sort(key=lambda mark: mark[0])
    ends = [mark[0] for mark in marks[1:]] + [float(t[-1])]
    return tuple(Phase(name, begin, end) for (begin, name), end in zip(marks, ends, strict=True) if end > begin)


__all__ = ["Course", "course_of", "running_rows"]
