"""What happens on and near the ground: run-up, take-off, touch-down, shutdown."""

from __future__ import annotations

import numpy as np

from breakin.calc.recording.edges import fraction, onset, onset_time
from breakin.calc.recording.levels import bend, line_meets
from breakin.calc.recording.levers import Levers
from breakin.calc.recording.signals import Signals
from breakin.calc.recording.smooth import nanmedian, runs

# The usual length of a roll [s], where nothing tells the lift-off.
ROLL_S = 28.0
# Slower than this it no longer flies [kt].
LOST_KT = 30.0
RUNUP_S = 12.0


def take_off(signals: Signals, levers: Levers, start: int, first: int, events: dict[str, float]) -> bool:
    """Begin of the roll and lift-off; False when the recording began in the air."""
    low = max(first, start - signals.rows(240))
    window = slice(low, min(len(signals.t), start + signals.rows(30)))
    if start - low < 3:
        return False
    high = slice(max(low, start - signals.rows(6)), window.stop)
    idle = slice(low, start)
    steps = [fraction(one, float(np.nanpercentile(one[idle], 20)), nanmedian(one[high])) for one in levers.quick]
    shares = [one for one in steps if one is not None]
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


def touch_down(signals: Signals, levers: Levers, end: int, events: dict[str, float]) -> None:
    """Touch-down: where the approach meets the field or airspeed is lost, and the throttle is closed near there."""
    met = _approach_meets_field(signals, end)
    slow = _speed_lost(signals, end)
    if met is None or (slow is not None and abs(met - slow) > 15):
        met = slow if slow is not None else met
    around = float(signals.t[end - 1]) if met is None else met
    closed = _closing(signals, levers, around, 240.0 if met is None else 5.0 + signals.step_s)
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


def _closing(signals: Signals, levers: Levers, around: float, reach_s: float) -> float | None:
    """When engine speed begins to fall to idle on landing, near a time."""
    if levers.rpm is None:
        return None
    row = min(signals.row_at(around), len(signals.t) - 1)
    low, high = max(1, row - signals.rows(reach_s + 8)), min(len(signals.t), row + signals.rows(reach_s + 12))
    if high - low < 4:
        return None
    before = nanmedian(levers.rpm[low : low + max(1, signals.rows(6))])
    after = float(np.nanmin(levers.rpm[low:high]))
    if not np.isfinite(before) or before - after < 250:
        return None
    share = fraction(levers.rpm, before, after)
    if share is None:
        return None
    half = np.flatnonzero(share[low:high] > 0.5)
    fall = low + onset(share[low:high], max(int(half[0]) - 1, 0), 0.06)
    found = onset_time(signals.t, fall)
    return found if abs(found - around) <= reach_s else None


def run_up(signals: Signals, levers: Levers, first: int, last: int, events: dict[str, float]) -> None:
    """The last long stay at run-up speed before the take-off."""
    if levers.rpm is None or last - first < signals.rows(30):
        return
    rpm = levers.rpm[first : last + 1]
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
    if levers.map is not None:
        pressure = levers.map[first : last + 1]
        held = nanmedian(pressure[a:b])
        more = fraction(pressure, nanmedian(pressure[max(0, a - signals.rows(20)) : max(1, a - signals.rows(4))]), held)
        less = fraction(pressure, held, float(np.nanmin(pressure[b : b + signals.rows(30)])))
        rise = rise if more is None else np.fmax(rise - 0.1, more)
        fall = fall if less is None else np.fmax(fall - 0.1, less)
    events["runup_start"] = onset_time(signals.t, first + onset(rise, max(a - 1, 0), 0.2))
    events["runup_end"] = onset_time(signals.t, first + onset(fall, b - 1, 0.2, floor=a))


def shutdown_row(signals: Signals, levers: Levers, last: int) -> int:
    """The row in which engine speed begins to fall to a stop."""
    if levers.rpm is None:
        return last + 1
    low = max(0, last - signals.rows(30))
    usual = nanmedian(levers.rpm[low : max(low + 1, last - 2)])
    below = np.flatnonzero(levers.rpm[low : last + 2] < 0.82 * usual)
    return low + int(below[0]) if len(below) else last + 1
