"""Pieces of a flight at one power setting each.

They are found on power by the chart without the mixture factor: else leaning would split a block in two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.phases import Course
from breakin.calc.recording.power import EnginePower
from breakin.calc.recording.result import Piece
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmedian, none_if_nan, running_mean, runs, shifted
from breakin.calc.recording.spec import Plan

# A setting is left when power moves by so much within half a minute [%].
MOVED_PCT = 1.8
WINDOW_S = 30.0
# Two stretches are one setting when they are this near [%] and this close [s].
SAME_PCT = 2.6
CLOSE_S = 300.0
# Leaned, then manifold pressure or speed trimmed within so long [s] by no more than this [%]: still one setting.
TRIMMED_S = 150.0
TRIMMED_PCT = 6.5
# Shorter stretches are on the way from one setting to the next [s]; blocks are at least so long [s].
SHORT_S = 60.0
BLOCK_S = 240.0
# A stretch is grown by at most so long [s] while its setting is this near [%].
GROW_S = 45.0
GROW_PCT = 1.2
# Held: within so much of its middle [inHg, rpm], for so long [s] (rule P5).
HELD_INHG = 0.5
HELD_RPM = 30.0
HELD_S = 600.0
HELD_SHARE = 0.8
HELD_ROWS = 600
# The circuit and the final approach: the last so many seconds in the air.
APPROACH_S = 300.0


@dataclass(frozen=True)
class Stretch:
    """Rows first <= row < end at one setting (or on the way, when not settled)."""

    first: int
    end: int
    settled: bool
    phase: str


def stretches_of(
    signals: Signals, course: Course, setting: Floats, leaned_at: Sequence[float] = ()
) -> tuple[Stretch, ...]:
    """The airborne time cut into settings, without holes.

    Parameters
    ----------
    setting : rows - what the levers were set to [%]; NaN is never settled.
    leaned_at : [s] leanest moments: levers trimmed right after one still belong to the same setting.
    """
    if course.air is None:
        return ()
    start, end = course.air
    marks = _phase_marks(signals, course)
    smooth = running_mean(setting[start:end], signals.rows(15))
    half = max(1, signals.rows(WINDOW_S / 2))
    moved = np.abs(shifted(smooth, half) - shifted(smooth, -half))
    settled = moved < MOVED_PCT
    edges = [row for row, _phase in marks[1:]]
    found = [
        piece
        for a, b in runs(settled)
        for piece in pairwise([start + a, *(row for row in edges if start + a < row < start + b), start + b])
        if (piece[1] - piece[0]) * signals.step_s >= SHORT_S
    ]
    merged = _grown(signals, _merge(signals, found, setting, marks, leaned_at), setting, course.air, edges)
    out: list[Stretch] = []
    at = start
    for first, stop in [*merged, (end, end)]:
        for low, high, phase in _cut(at, first, marks):
            out.append(Stretch(low, high, False, phase))
        if stop > first:
            out.append(Stretch(first, stop, True, _phase_at((first + stop) // 2, marks)))
        at = stop
    return tuple(out)


def _phase_marks(signals: Signals, course: Course) -> list[tuple[int, str]]:
    start, end = course.air or (0, 0)
    marks = [(start, "climb")]
    if course.cruise is not None:
        marks.append((min(max(signals.row_at(course.cruise[0]), start), end), "cruise"))
        marks.append((min(max(signals.row_at(course.cruise[1]), start), end), "descent"))
        approach = signals.row_at(float(signals.t[end - 1]) - APPROACH_S)
        if approach > marks[-1][0] and "touchdown" in course.events:
            marks.append((approach, "approach"))
    return marks


def _phase_at(row: int, marks: Sequence[tuple[int, str]]) -> str:
    return [phase for first, phase in marks if first <= row][-1] if marks[0][0] <= row else marks[0][1]


def _cut(first: int, end: int, marks: Sequence[tuple[int, str]]) -> list[tuple[int, int, str]]:
    """Rows on the way, cut where the phase changes."""
    edges = [first, *(row for row, _phase in marks if first < row < end), end]
    return [(a, b, _phase_at(a, marks)) for a, b in pairwise(edges) if b > a]


def _merge(
    signals: Signals,
    found: list[tuple[int, int]],
    setting: Floats,
    marks: Sequence[tuple[int, str]],
    leaned_at: Sequence[float],
) -> list[tuple[int, int]]:
    """Put together what is one setting: near in power, close in time, in one phase."""
    out: list[tuple[int, int]] = []
    for first, end in found:
        level, phase = nanmedian(setting[first:end]), _phase_at(end - 1, marks)
        # The stretch before may be a short departure from the setting: then the one before that is looked at too.
        for back in (1, 2):
            if len(out) < back:
                break
            low, high = out[-back]
            edge = float(signals.t[high - 1])
            trimmed = any(edge - TRIMMED_S < t < edge + SHORT_S for t in leaned_at)
            near = abs(nanmedian(setting[low:high]) - level) < (TRIMMED_PCT if trimmed else SAME_PCT)
            if near and signals.t[first] - signals.t[high - 1] < CLOSE_S and _phase_at(low, marks) == phase:
                out[-back:] = [(low, end)]
                break
        else:
            out.append((first, end))
            continue
        if not out or out[-1][1] != end:
            out.append((first, end))
    return out


def _grown(
    signals: Signals, found: list[tuple[int, int]], setting: Floats, air: tuple[int, int], edges: Sequence[int]
) -> list[tuple[int, int]]:
    """Each stretch out to where its setting really begins and ends: windows cut off a little of it."""
    reach = signals.rows(GROW_S)
    out: list[tuple[int, int]] = []
    for place, (first, end) in enumerate(found):
        level = nanmedian(setting[first:end])
        low = max([air[0], first - reach, *(row for row in edges if row <= first)] + [one[1] for one in out[-1:]])
        following = found[place + 1][0] if place + 1 < len(found) else air[1]
        high = min([following, end + reach, *(row for row in edges if row >= end)])
        away = np.abs(running_mean(setting[low:high], signals.rows(3)) - level) >= GROW_PCT
        before, after = np.flatnonzero(away[: first - low]), np.flatnonzero(away[end - low :])
        out.append((low + int(before[-1]) + 1 if len(before) else low, end + int(after[0]) if len(after) else high))
    return out


def pieces_of(
    signals: Signals,
    engine: Engine,
    power: EnginePower,
    stretches: Sequence[Stretch],
    heads: Probes,
    standard_shift: Floats | None,
    plan: Plan,
) -> tuple[Piece, ...]:
    """What each stretch was, as plain values.

    Parameters
    ----------
    standard_shift : rows - what moves a head temperature to a standard day [ddegF]; None without air temperature.
    """
    if not stretches:
        return ()
    means = _Means(stretches)
    pct, sigma = means.of(power.pct), means.of(power.sigma)
    alone = {
        name: means.plain(values)
        for name, values in (
            ("chart_pct", power.chart_pct),
            ("fuel_pct", power.fuel_pct),
            ("map_inhg", engine.map_inhg),
            ("rpm", engine.rpm),
            ("fuel_flow_gph", engine.ff_gph),
            ("pressure_altitude_ft", signals.alt_ft),
            ("oat_degf", signals.oat_degf),
        )
    }
    heat = means.of(heads.values)
    # The shift is the same for every head of a row, so means can be added.
    shift = None if standard_shift is None else means.of(standard_shift)
    pieces = []
    for place, one in enumerate(stretches):
        rows = slice(one.first, one.end)
        here, doubt = float(pct[place]), float(sigma[place])
        known = bool(np.isfinite(here))
        pieces.append(
            Piece(
                t0=float(signals.t[one.first]),
                t1=float(signals.t[min(one.end, len(signals.t) - 1)]),
                phase=one.phase,
                pct=none_if_nan(here, 2),
                sigma=none_if_nan(doubt, 2) if known else None,
                method=power.method if known else "",
                steady=one.settled and _held(signals, engine, rows),
                band=plan.band_of(here) if known else "",
                undecided=known and plan.edge_distance(here) < doubt,
                cht_degf=tuple(none_if_nan(value, 1) for value in heat[place]),
                cht_std_degf=() if shift is None else tuple(none_if_nan(v + shift[place], 1) for v in heat[place]),
                **{name: values[place] for name, values in alone.items()},
            )
        )
    return tuple(pieces)


class _Means:
    """Means over stretches that follow each other without holes; NaN where nothing is known."""

    def __init__(self, stretches: Sequence[Stretch]) -> None:
        self.rows = slice(stretches[0].first, stretches[-1].end)
        self.starts = np.asarray([one.first - stretches[0].first for one in stretches])
        self.counts = np.asarray([one.end - one.first for one in stretches], dtype=np.float64)

    def of(self, values: Floats) -> Floats:
        part = values[self.rows]
        if not part.size:
            return np.zeros((len(self.starts), *part.shape[1:]))
        sums = np.add.reduceat(part, self.starts, axis=0, dtype=np.float64)
        counts = self.counts.reshape((-1,) + (1,) * (part.ndim - 1))
        if np.isnan(sums).any():
            known = np.isfinite(part)
            sums = np.add.reduceat(np.where(known, part, 0.0), self.starts, axis=0, dtype=np.float64)
            counts = np.add.reduceat(known, self.starts, axis=0, dtype=np.float64)
        return np.where(counts > 0, sums / np.maximum(counts, 1.0), np.nan)

    def plain(self, values: Floats | None) -> list[float | None]:
        if values is None:
            return [None] * len(self.starts)
        return [none_if_nan(value, 2) for value in self.of(values)]


def _held(signals: Signals, engine: Engine, rows: slice) -> bool:
    """Held steady: near one setting for ten minutes without a break, and for most of the piece.

    A hold that begins with a minute of trimming is a hold; one that wanders is not.
    """
    step = max(1, (rows.stop - rows.start) // HELD_ROWS)
    t = signals.t[rows][::step]
    if t[-1] - t[0] < HELD_S - (t[1] - t[0] if len(t) > 1 else 0.0):
        return False
    near: NDArray[np.bool_] | None = None
    for values, reach in ((engine.map_inhg, HELD_INHG), (engine.rpm, HELD_RPM)):
        if values is None:
            continue
        there = running_mean(values[rows], signals.rows(5))[::step]
        middle = nanmedian(there)
        if not np.isfinite(middle):
            continue
        # What was not recorded for a moment breaks no hold.
        close = ~(np.abs(there - middle) > reach)
        near = close if near is None else near & close
    if near is None or np.count_nonzero(near) < HELD_SHARE * len(near):
        return False
    left = np.flatnonzero(~near)
    edges = np.concatenate(([-1], left, [len(t)]))
    longest = int(np.argmax(np.diff(edges)))
    first, last = int(edges[longest]) + 1, int(edges[longest + 1]) - 1
    return bool(t[last] - t[first] >= HELD_S - (t[1] - t[0]))


def blocks(pieces: Sequence[Piece]) -> list[Piece]:
    """The settings held in cruise: what counts as a block."""
    return [one for one in pieces if one.phase == "cruise" and one.t1 - one.t0 >= BLOCK_S and one.pct is not None]
