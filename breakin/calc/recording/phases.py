"""What happened when: start, run-up, take-off, climb, cruise, descent, landing, from the signals of all engines."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.edges import fraction, onset, onset_time
from breakin.calc.recording.levels import bend, level_stretch, line_meets
from breakin.calc.recording.result import Phase
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmedian, running_mean, runs

# An engine turns under its own power above this [rpm]; without rpm, burns more than this [US gal/h].
RUNNING_RPM = 250.0
RUNNING_GPH = 0.4
RUNNING_EGT_DEGF = 400.0
# In the air: this far over the field [ft], or faster than this share of the usual speed.
HEIGHT_FT = 200.0
FAST_SHARE = 0.55
# Shorter than this [s] is no flight but an aborted take-off or a gust.
SHORTEST_FLIGHT_S = 60.0
# The usual length of a roll [s], where nothing tells the lift-off.
ROLL_S = 28.0
# Slower than this it no longer flies [kt].
LOST_KT = 30.0
RUNUP_S = 12.0


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
            return np.nan_to_num(signal, nan=0.0) > line
    if engine.egt_raw.shape[1]:
        return np.nanmax(np.nan_to_num(engine.egt_raw, nan=0.0), axis=1) > RUNNING_EGT_DEGF
    return np.ones(len(signals.t), dtype=bool)


def course_of(signals: Signals) -> Course:
    """Events and phases of one flight or ground run."""
    running = {side: running_rows(signals, engine) for side, engine in signals.engines.items()}
    any_running = np.logical_or.reduce(list(running.values())) if running else np.zeros(len(signals.t), dtype=bool)
    events: dict[str, float] = {}
    if not len(signals.t) or not any_running.any():
        return Course(events, (), None, None, running)
    power = _Power(signals, any_running)
    rows = np.flatnonzero(any_running)
    first, last = int(rows[0]), int(rows[-1])
    if first > 0:
        events["engine_start"] = onset_time(signals.t, first)
    if last < len(signals.t) - 1:
        events["shutdown"] = onset_time(signals.t, _shutdown_row(signals, power, last))
    core = _core(signals, power)
    if core is None:
        _runup(signals, power, first, last, events)
        return Course(events, _phases(signals, events, first, last), None, None, running)
    start, end = core
    took_off = start > 0 and _takeoff(signals, power, start, first, events)
    if took_off:
        _runup(signals, power, first, signals.row_at(events["takeoff_start"]) - 1, events)
    if end < len(signals.t) - signals.rows(5):
        _touchdown(signals, power, end, events)
    air = (
        signals.row_at(events["liftoff"]) if "liftoff" in events else (start if start > 0 else 0),
        signals.row_at(events["touchdown"]) if "touchdown" in events else len(signals.t),
    )
    if air[1] <= air[0]:
        air = (start, max(end, start + 1))
    cruise = _cruise(signals, power, air, events)
    return Course(events, _phases(signals, events, first, last), air, cruise, running)


class _Power:
    """The signals that a hand on the levers moves at once, over all engines: the fastest of them."""

    def __init__(self, signals: Signals, running: NDArray[np.bool_]) -> None:
        self.rpm = _highest([engine.rpm for engine in signals.engines.values()])
        self.map = _highest([engine.map_inhg for engine in signals.engines.values()])
        self.fuel = _highest([engine.ff_gph for engine in signals.engines.values()])
        parts = [one / top for one in (self.rpm, self.map) if one is not None and (top := np.nanmax(one)) > 0]
        if not parts and self.fuel is not None and np.nanmax(self.fuel) > 0:
            parts = [self.fuel / np.nanmax(self.fuel)]
        # A stopped engine's manifold stands at the pressure of the air, which is no power.
        self.share: Floats = running * np.prod(parts, axis=0) if parts else np.zeros(len(signals.t))
        self.quick = [one for one in (self.rpm, self.map) if one is not None] or (
            [self.fuel] if self.fuel is not None else []
        )


def _highest(many: list[Floats | None]) -> Floats | None:
    there = [one for one in many if one is not None]
    if not there:
        return None
    return there[0] if len(there) == 1 else np.fmax(there[0], there[1])


def _core(signals: Signals, power: _Power) -> tuple[int, int] | None:
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
        inside = np.nan_to_num(running_mean(power.share, signals.rows(60)), nan=0.0) > 0.52
    rows = np.flatnonzero(inside)
    if not len(rows) or float(signals.weight_s[inside].sum()) < SHORTEST_FLIGHT_S:
        return None
    return int(rows[0]), int(rows[-1]) + 1


def _takeoff(signals: Signals, power: _Power, start: int, first: int, events: dict[str, float]) -> bool:
    """Begin of the roll and lift-off; False when the recording began in the air."""
    low = max(first, start - signals.rows(240))
    window = slice(low, min(len(signals.t), start + signals.rows(30)))
    if start - low < 3:
        return False
    high = slice(max(low, start - signals.rows(6)), window.stop)
    idle = slice(low, start)
    shares = [fraction(one, float(np.nanpercentile(one[idle], 20)), nanmedian(one[high])) for one in power.quick]
    shares = [one for one in shares if one is not None]
    if not shares:
        return False
    share = np.nanmax([one[window] for one in shares], axis=0)
    half = np.flatnonzero(shares[0][low:start] < 0.5)
    if not len(half):
        return False
    row = low + onset(share, int(half[-1]), 0.06)
    events["takeoff_start"] = onset_time(signals.t, row)
    lifted = _climb_meets_field(signals, row, start)
    if lifted is None:
        lifted = _fast_enough(signals, row, start)
    earliest, latest = events["takeoff_start"] + 5, float(signals.t[min(start + signals.rows(60), len(signals.t) - 1)])
    events["liftoff"] = min(max(lifted, earliest), max(latest, earliest))
    return True


def _climb_meets_field(signals: Signals, roll: int, start: int) -> float | None:
    if signals.alt_ft is None:
        return None
    field_ft = nanmedian(signals.alt_ft[max(0, roll - signals.rows(60)) : roll + 1])
    height = signals.alt_ft[roll : start + signals.rows(240)] - field_ft
    past = np.flatnonzero(height > 90)
    if not len(past) or not np.isfinite(field_ft):
        return None
    begin = roll + int(past[0])
    met = line_meets(signals, begin, min(len(signals.t), begin + max(4, signals.rows(45))), field_ft)
    return None if met is None else bend(signals, met, field_ft, before=True)


def _fast_enough(signals: Signals, roll: int, start: int) -> float:
    """Lift-off by airspeed, or by the usual length of a roll."""
    if signals.ias_kt is None:
        return float(signals.t[roll]) + ROLL_S
    climb = nanmedian(signals.ias_kt[start + signals.rows(40) : start + signals.rows(120)])
    speeds = signals.ias_kt[roll : start + signals.rows(60)]
    past = np.flatnonzero(speeds > 0.72 * climb)
    return float(signals.t[roll + int(past[0])]) if len(past) else float(signals.t[roll]) + ROLL_S


def _touchdown(signals: Signals, power: _Power, end: int, events: dict[str, float]) -> None:
    """Touch-down: where the approach meets the field or airspeed is lost, and the throttle is closed near there."""
    met = _approach_meets_field(signals, end)
    slow = _speed_lost(signals, end)
    if met is None or (slow is not None and abs(met - slow) > 15):
        met = slow if slow is not None else met
    around = float(signals.t[end - 1]) if met is None else met
    closed = _closing(signals, power, around, 240.0 if met is None else 5.0 + signals.step_s)
    events["touchdown"] = closed if closed is not None else around


def _approach_meets_field(signals: Signals, end: int) -> float | None:
    if signals.alt_ft is None:
        return None
    field_ft = nanmedian(signals.alt_ft[min(len(signals.t) - 1, end + signals.rows(30)) :])
    low = max(0, end - signals.rows(120))
    over = np.flatnonzero(signals.alt_ft[low : end + signals.rows(30)] - field_ft > 45)
    if not len(over):
        return None
    last = low + int(over[-1]) + 1
    return line_meets(signals, max(0, last - max(5, signals.rows(25))), last, field_ft)


def _speed_lost(signals: Signals, end: int) -> float | None:
    """When the airspeed of the approach was lost for good; None without airspeed."""
    speed = signals.ias_kt
    if speed is None:
        return None
    flying = np.flatnonzero(speed > LOST_KT)
    if not len(flying) or flying[-1] >= len(speed) - 1 or flying[-1] < end - signals.rows(60):
        return None
    last = int(flying[-1])
    approach = nanmedian(speed[max(0, last - signals.rows(70)) : max(1, last - signals.rows(20))])
    held = np.flatnonzero(speed[: last + 1] > 0.93 * approach)
    return onset_time(signals.t, int(held[-1]) + 1) if len(held) else None


def _closing(signals: Signals, power: _Power, around: float, reach_s: float) -> float | None:
    """When engine speed begins to fall to idle on landing, near a time."""
    if power.rpm is None:
        return None
    row = min(signals.row_at(around), len(signals.t) - 1)
    low, high = max(1, row - signals.rows(reach_s + 8)), min(len(signals.t), row + signals.rows(reach_s + 12))
    if high - low < 4:
        return None
    before = nanmedian(power.rpm[low : low + max(1, signals.rows(6))])
    after = float(np.nanmin(power.rpm[low:high]))
    if not np.isfinite(before) or before - after < 250:
        return None
    share = fraction(power.rpm, before, after)
    if share is None:
        return None
    half = np.flatnonzero(share[low:high] > 0.5)
    fall = low + onset(share[low:high], max(int(half[0]) - 1, 0), 0.06)
    found = onset_time(signals.t, fall)
    return found if abs(found - around) <= reach_s else None


def _runup(signals: Signals, power: _Power, first: int, last: int, events: dict[str, float]) -> None:
    """The last long stay at run-up speed before the take-off."""
    if power.rpm is None or last - first < signals.rows(30):
        return
    rpm = power.rpm[first : last + 1]
    taxi = float(np.nanmedian(rpm))
    line = max(1.3 * taxi, 1450.0)
    stays = [
        (a, b) for a, b in runs(np.nan_to_num(rpm) > line) if signals.t[first + b - 1] - signals.t[first + a] >= RUNUP_S
    ]
    if not stays or stays[-1][1] >= len(rpm) - 1:
        return
    a, b = stays[-1]
    settled = nanmedian(rpm[a:b])
    before, after = rpm[max(0, a - signals.rows(20)) : max(1, a - signals.rows(4))], rpm[b : b + signals.rows(30)]
    rise = fraction(rpm, nanmedian(before), settled)
    fall = fraction(rpm, settled, float(np.nanmin(after)))
    if rise is None or fall is None:
        return
    if power.map is not None:
        pressure = power.map[first : last + 1]
        held = nanmedian(pressure[a:b])
        more = fraction(pressure, nanmedian(pressure[max(0, a - signals.rows(20)) : max(1, a - signals.rows(4))]), held)
        less = fraction(pressure, held, float(np.nanmin(pressure[b : b + signals.rows(30)])))
        rise = rise if more is None else np.fmax(rise - 0.1, more)
        fall = fall if less is None else np.fmax(fall - 0.1, less)
    events["runup_start"] = onset_time(signals.t, first + onset(rise, max(a - 1, 0), 0.2))
    events["runup_end"] = onset_time(signals.t, first + onset(fall, b - 1, 0.2, floor=a))


def _shutdown_row(signals: Signals, power: _Power, last: int) -> int:
    """The row in which engine speed begins to fall to a stop."""
    if power.rpm is None:
        return last + 1
    low = max(0, last - signals.rows(30))
    usual = nanmedian(power.rpm[low : max(low + 1, last - 2)])
    below = np.flatnonzero(power.rpm[low : last + 2] < 0.82 * usual)
    return low + int(below[0]) if len(below) else last + 1


def _cruise(
    signals: Signals, power: _Power, air: tuple[int, int], events: dict[str, float]
) -> tuple[float, float] | None:
    """Level-off and begin of the descent."""
    found = level_stretch(signals, power.quick, power.share, air)
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
