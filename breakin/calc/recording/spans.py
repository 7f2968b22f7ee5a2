"""Flights and ground runs in one recording: where each begins and ends, and how often it landed.

Pieces are parted by an engine that stood still for more than a minute, or by a gap after which it is colder. Whether
a piece flew is told by airspeed and altitude where they are recorded, else by how long take-off power was held.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.table import Floats, Table

Bools = NDArray[np.bool_]

STOPPED_S = 60.0
GAP_S = 120.0
RUNNING_RPM = 250.0
SHORTEST_RUN_S = 20.0
FLYING_KT = 45.0
FLYING_FT = 120.0
LONGEST_ROLL_S = 45.0
ROLL_KT = 25.0
SLOW_KT = 56.0


@dataclass(frozen=True)
class Found:
    """One flight, ground run or aborted take-off: the rows first_row <= row < end_row of the table.

    kind : "flight", "ground_run" or "aborted". landings : touch-downs of a flight, touch-and-go included.
    notes : how far this can be trusted, in sentences.
    """

    kind: str
    first_row: int
    end_row: int
    landings: int = 0
    notes: tuple[str, ...] = ()


def flights_in(table: Table) -> tuple[Found, ...]:
    """The flights and ground runs of a recording, in order; none when no engine ran.

    Parameters
    ----------
    table : with at least engine speed or fuel flow; manifold pressure, airspeed, altitude and heads help.
    """
    running = _running(table)
    pieces = _pieces(table, running)
    found = []
    for number, (start, end) in enumerate(pieces):
        first = 0 if number == 0 else _parting(table, pieces[number - 1][1], start)
        last = len(table) if number == len(pieces) - 1 else _parting(table, end, pieces[number + 1][0])
        kind, landings, notes = _judged(table, start, end)
        end_row = int(table.row[last - 1]) + 1
        found.append(Found(kind, int(table.row[first]), end_row, landings, notes))
    return tuple(found)


def _held(values: Floats, empty: float = 0.0) -> Floats:
    """Blanks take the last value before them."""
    known = np.isfinite(values)
    at = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    return np.where(at >= 0, values[at], empty)


def _running(table: Table) -> Bools:
    running = np.zeros(len(table), bool)
    for side in table.sides:
        rpm, flow = table.get(f"rpm_{side}"), table.get(f"ff_{side}_gph")
        if rpm is not None and np.isfinite(rpm).any():
            running |= _held(rpm) > RUNNING_RPM
        elif flow is not None:
            running |= _held(flow) > 0.7
    return running


def _runs(where: Bools) -> list[tuple[int, int]]:
    """(start, end) of each unbroken stretch of True."""
    edges = np.flatnonzero(np.diff(where.astype(np.int8), prepend=0, append=0))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _pieces(table: Table, running: Bools) -> list[tuple[int, int]]:
    """Rows from engine start to the last stop, parted by long stops and by gaps with a colder engine after."""
    pieces: list[tuple[int, int]] = []
    for start, end in _runs(running):
        for first, last in _parted_by_gaps(table, start, end):
            if pieces and _one_piece(table, pieces[-1][1], first):
                pieces[-1] = (pieces[-1][0], last)
            else:
                pieces.append((first, last))
    return [(start, end) for start, end in pieces if _ran_s(table, running, start, end) >= SHORTEST_RUN_S]


def _one_piece(table: Table, end: int, start: int) -> bool:
    """Whether rows end-1 and start, with the engine stopped between or nothing between, belong together."""
    if table.t[start] - table.t[end - 1] > STOPPED_S:
        return False
    return not (end == start and _colder(table, start))


def _ran_s(table: Table, running: Bools, start: int, end: int) -> float:
    steps = np.minimum(np.diff(table.t[start:end], append=table.t[end - 1]), 10 * table.sample_s)
    return float(steps[running[start:end]].sum()) + table.sample_s


def _parted_by_gaps(table: Table, start: int, end: int) -> list[tuple[int, int]]:
    gaps = np.flatnonzero(np.diff(table.t[start:end]) > GAP_S) + start + 1
    parts = [start, *(int(one) for one in gaps if _colder(table, int(one))), end]
    return list(pairwise(parts))


def _colder(table: Table, at: int) -> bool:
    """Whether the engine has cooled, as after a stop, over the gap before row `at`."""
    before, after = slice(max(0, at - 5), at), slice(at, at + 5)
    drops = []
    for side in table.sides:
        for name in (*table.heads(side), f"oil_temp_{side}_degf"):
            values = table.get(name)
            if values is not None and np.isfinite(values[before]).any() and np.isfinite(values[after]).any():
                drops.append(np.nanmedian(values[before]) - np.nanmedian(values[after]))
    if drops:
        return bool(np.median(drops) > 60.0)
    return bool(table.t[at] - table.t[at - 1] > 20 * 60.0)


def _parting(table: Table, end: int, start: int) -> int:
    """The row that begins the next piece, between a stop and the next start: after the longest gap, or half way."""
    if start <= end:
        return start
    steps = np.diff(table.t[end - 1 : start + 1])
    if steps.max() > 5 * table.sample_s + 5:
        return end + int(np.argmax(steps))
    return end + (start - end) // 2


def _judged(table: Table, start: int, end: int) -> tuple[str, int, tuple[str, ...]]:
    t = table.t[start:end]
    full = _full_power(table, start, end)
    speed = _smooth(table.get("ias_kt"), start, end)
    height = _smooth(table.get("alt_ft"), start, end)
    if speed is not None and np.nanmax(speed) < ROLL_KT / 2 and height is not None and np.ptp(height) > 500:
        speed = None  # a blocked pitot tube
    if speed is None and height is None:
        return _by_power(t, full, table, start, end)
    notes: tuple[str, ...] = ()
    if speed is None:
        landings = _by_height(t, height) if height is not None else 0
        notes = ("Airspeed was not recorded: take-off and landings are told by altitude.",)
    elif height is None:
        flying = _filled(t, _long(t, speed > FLYING_KT, 20.0), 8.0)
        landings = sum(1 + _dips(t[a:b], speed[a:b], full[a:b]) for a, b in _runs(flying))
        notes = ("Altitude was not recorded: landings are told by airspeed alone.",)
    else:
        landings = _by_both(t, speed, height, full)
    if landings:
        return "flight", landings, notes
    rolled = [(a, b) for a, b in _runs(full) if t[b - 1] - t[a] >= 4.0]
    if speed is not None:
        rolled = [(a, b) for a, b in rolled if np.nanmax(speed[a : min(b + 10, len(speed))]) >= ROLL_KT]
        return ("aborted", 0, ()) if rolled else ("ground_run", 0, ())
    return _unmoved(rolled)


def _unmoved(rolled: list[tuple[int, int]]) -> tuple[str, int, tuple[str, ...]]:
    notes = ("Take-off power was set and taken off again: an aborted take-off or a check at full throttle.",)
    return "ground_run", 0, notes if rolled else ()


def _smooth(values: Floats | None, start: int, end: int) -> Floats | None:
    """Without blanks and single outliers; None where hardly anything was recorded."""
    if values is None or np.isfinite(values[start:end]).mean() < 0.3:
        return None
    part = values[start:end]
    held = _held(part, float(part[np.isfinite(part)][0]))
    padded = np.concatenate((held[:1], held, held[-1:]))
    low, high = np.minimum(padded[:-2], padded[2:]), np.maximum(padded[:-2], padded[2:])
    return np.clip(held, low, high)


def _full_power(table: Table, start: int, end: int) -> Bools:
    """Rows at take-off power: engine speed and manifold pressure near their highest of the piece."""
    full = np.zeros(end - start, bool)
    for side in table.sides:
        near = np.ones(end - start, bool)
        rpm, pressure = table.get(f"rpm_{side}"), table.get(f"map_{side}_inhg")
        if rpm is not None and np.isfinite(rpm[start:end]).any():
            values = _held(rpm[start:end])
            near &= values > max(0.88 * float(np.percentile(values, 99)), 1900.0)
        if pressure is not None and np.isfinite(pressure[start:end]).any():
            values = _held(pressure[start:end])
            near &= values > max(0.86 * float(np.percentile(values, 99)), 21.0)
        if rpm is not None or pressure is not None:
            full |= near
    return full


def _long(t: Floats, where: Bools, shortest_s: float) -> Bools:
    """Only the stretches that last."""
    kept = np.zeros(len(where), bool)
    for start, end in _runs(where):
        kept[start:end] = t[end - 1] - t[start] >= shortest_s
    return kept


def _filled(t: Floats, where: Bools, longest_s: float) -> Bools:
    """With the short breaks filled."""
    return ~_long(t, ~where, longest_s) if where.any() else where


def _ground(t: Floats, height: Floats) -> tuple[float, float]:
    """Height of the field at the start and at the end."""
    return float(np.median(height[t <= t[0] + 60.0])), float(np.median(height[t >= t[-1] - 60.0]))


def _by_both(t: Floats, speed: Floats, height: Floats, full: Bools) -> int:
    flying = _long(t, _filled(t, speed > FLYING_KT, 4.0), 20.0)
    fields = _ground(t, height)
    landings = 0
    for start, end in _runs(flying):
        rise = float(height[start:end].max() - min(height[start], height[end - 1]))
        if rise < FLYING_FT and t[end - 1] - t[start] < 120.0:
            continue
        lift = _lift_off(t, speed, height, start, end)
        landings += 1 + _touches(t[start:end], speed[start:end], height[start:end], full[start:end], fields, lift)
    return landings


def _lift_off(t: Floats, speed: Floats, height: Floats, start: int, end: int) -> float:
    """Airspeed when it had climbed the first 40 ft."""
    up = np.flatnonzero(height[start:end] > height[start] + 40.0)
    return float(speed[start + int(up[0])]) if len(up) else FLYING_KT + 15.0


def _touches(t: Floats, speed: Floats, height: Floats, full: Bools, fields: tuple[float, float], lift: float) -> int:
    """Touch-downs within a stretch over flying speed: as low as a field and as slow as at lift-off, then full power."""
    slow = speed < 1.02 * lift
    low = np.minimum(np.abs(height - fields[0]), np.abs(height - fields[1])) < 50.0
    touched = _filled(t, (slow & low) | (speed < 0.85 * lift), 20.0)
    count = 0
    for start, end in _runs(touched):
        was_up = np.any(height[:start] > height[start] + 250.0)
        later = height[end : end + 1 + int(np.searchsorted(t[end:], t[end - 1] + 240.0))]
        if was_up and len(later) and later.max() > height[end - 1] + 250.0 and full[start : end + 5].any():
            count += 1
    return count


def _dips(t: Floats, speed: Floats, full: Bools) -> int:
    """Touch-downs by airspeed alone: slow after faster, and take-off power soon after."""
    count = 0
    for start, end in _runs(_filled(t, speed < SLOW_KT, 20.0)):
        soon = end + int(np.searchsorted(t[end:], t[end - 1] + 15.0))
        later = end + int(np.searchsorted(t[end:], t[end - 1] + 120.0))
        fast = SLOW_KT + 15.0
        if np.any(speed[:start] > fast) and np.any(speed[end:later] > fast) and full[start:soon].any():
            count += 1
    return count


def _by_height(t: Floats, height: Floats) -> int:
    fields = _ground(t, height)
    above = np.minimum(height - fields[0], height - fields[1]) > 50.0
    off = np.minimum(np.abs(height - fields[0]), np.abs(height - fields[1])) > 50.0
    flying = _filled(t, above | off, 3.0)
    landings = 0
    for start, end in _runs(flying):
        floor = min(height[start], height[end - 1])
        landings += bool(height[start:end].max() - floor >= FLYING_FT and t[end - 1] - t[start] >= 30.0)
    return landings


def _by_power(t: Floats, full: Bools, table: Table, start: int, end: int) -> tuple[str, int, tuple[str, ...]]:
    """By engine speed and manifold pressure alone: take-off power held longer than a roll is a take-off."""
    spells = [(a, b) for a, b in _runs(_filled(t, full, 3.0)) if t[b - 1] - t[a] > LONGEST_ROLL_S]
    if not spells:
        return _unmoved([(a, b) for a, b in _runs(full) if t[b - 1] - t[a] >= 4.0])
    idle = np.ones(end - start, bool)
    for side in table.sides:
        rpm, pressure = table.get(f"rpm_{side}"), table.get(f"map_{side}_inhg")
        if rpm is not None and np.isfinite(rpm[start:end]).any():
            values = _held(rpm[start:end])
            idle &= values < 0.72 * float(np.percentile(values, 99))
        elif pressure is not None:
            values = _held(pressure[start:end])
            idle &= values < 0.55 * float(np.percentile(values, 99))
    landings = 1
    for (_a, before), (after, _b) in pairwise(spells):
        landings += bool(_long(t[before:after], idle[before:after], 8.0 - table.sample_s).any())
    note = "Neither airspeed nor altitude was recorded: take-offs and landings are told by engine power, less surely."
    return "flight", landings, (note,)
