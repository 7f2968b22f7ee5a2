"""Probes that cannot be believed: open, stuck, or jumping. Each is told from its siblings on the same engine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.result import SensorFault
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, filled, median3, running_mean

# Open: blank (or out of any range) in this share of the running time, or this long without a break [s].
OPEN_SHARE = 0.25
OPEN_S = 240.0
# Stuck: not one change for this long [s] while the siblings moved by so much [ddegF].
STUCK_S = 90.0
# Jumping: so many changes from one row to the next that no metal can follow, against the siblings.
JUMPS = 4
# Shifted: one such change, of which so much is still there a minute later.
STAYS_SHARE = 0.7
STAYS_S = 60.0


@dataclass(frozen=True)
class _Lines:
    """What siblings must move while a probe is stuck; a jump to and fro, and one that stays, between two rows; and how
    much more for each second between the rows [ddegF]."""

    moved_degf: float
    jump_degf: float
    shift_degf: float
    more_degf_s: float


LINES = {"cht": _Lines(25.0, 22.0, 14.0, 2.0), "egt": _Lines(60.0, 110.0, 48.0, 6.0)}
NAMES = {"cht": "head", "egt": "exhaust"}


@dataclass(frozen=True)
class Probes:
    """A probe group made ready.

    values : rows x probes, blanks bridged and single wild values taken out; NaN in a rejected probe from where its
        fault began.
    rejected : one bool a probe. faults : why.
    """

    values: Floats
    rejected: NDArray[np.bool_]
    faults: tuple[SensorFault, ...]

    @property
    def good(self) -> NDArray[np.int64]:
        return np.flatnonzero(~self.rejected)


def probes_of(signals: Signals, engine: Engine, kind: str, running: NDArray[np.bool_]) -> Probes:
    """Judge the probes of one group ("cht" or "egt") while the engine runs."""
    raw = engine.cht_raw if kind == "cht" else engine.egt_raw
    count = raw.shape[1]
    if not count or not len(raw):
        return Probes(raw, np.zeros(count, dtype=bool), ())
    held = filled(raw, signals.rows(60))
    rows = np.flatnonzero(running)
    faults: dict[int, str] = {}
    if len(rows) > signals.rows(20):
        window = slice(int(rows[0]), int(rows[-1]) + 1)
        since = {index: window.start + row for index, row in _open(signals, raw[window], faults).items()}
        others = [index for index in range(count) if index not in faults]
        if len(others) > 1:
            stuck = _stuck(signals, held[window], others, kind, faults)
            since |= {index: window.start + row for index, row in stuck.items()}
            shifted = _jumping(signals, held[window], others, kind, faults)
            since |= {index: window.start + row for index, row in shifted.items()}
    elif np.isnan(raw).all(axis=0).any():
        faults = {int(index): "never gave a value" for index in np.flatnonzero(np.isnan(raw).all(axis=0))}
    values = median3(held)
    rejected = np.zeros(count, dtype=bool)
    for index in faults:
        rejected[index] = True
        values[since.get(index, 0) :, index] = np.nan
    found = tuple(SensorFault(f"{kind}{index + 1}", why) for index, why in sorted(faults.items()))
    return Probes(values, rejected, found)


def _open(signals: Signals, raw: Floats, faults: dict[int, str]) -> dict[int, int]:
    """Probes without values; and since which row."""
    blank = np.isnan(raw)
    if not blank.any():
        return {}
    shares = blank.mean(axis=0)
    all_blank = blank.all(axis=1).mean()
    rows = np.arange(len(raw))[:, None]
    since_known = rows - np.maximum.accumulate(np.where(blank, -1, rows), axis=0)
    longest = since_known.max(axis=0)
    since: dict[int, int] = {}
    for index in range(raw.shape[1]):
        if shares[index] >= 1.0:
            faults[index] = "never gave a value while the engine ran"
            since[index] = 0
        elif shares[index] - all_blank > OPEN_SHARE or (
            longest[index] * signals.step_s > OPEN_S and shares[index] - all_blank > 0.02
        ):
            faults[index] = f"gave no value for {100 * shares[index]:.0f} % of the running time: an open probe"
            end = int(np.argmax(since_known[:, index]))
            since[index] = max(0, end - int(longest[index]) + 1)
    return since


def _stuck(signals: Signals, held: Floats, others: list[int], kind: str, faults: dict[int, str]) -> dict[int, int]:
    lines = LINES[kind]
    since: dict[int, int] = {}
    same = held[1:, others] == held[:-1, others]
    for place, index in enumerate(others):
        marks = np.concatenate([[-1], np.flatnonzero(~same[:, place]), [len(held) - 1]])
        longest = int(np.argmax(np.diff(marks)))
        begin, end = int(marks[longest]) + 1, int(marks[longest + 1]) + 1
        seconds = (end - begin) * signals.step_s
        if seconds < STUCK_S:
            continue
        mates = running_mean(held[begin:end, [other for other in others if other != index]], signals.rows(9))
        # The middle one of the siblings must have moved: one of them alone may be the bad one.
        moved = float(np.nanmedian(np.nanmax(mates, axis=0) - np.nanmin(mates, axis=0)))
        if moved > lines.moved_degf:
            faults[index] = (
                f"stood at {held[begin, index]:.0f} degF for {seconds / 60:.0f} min while the other {NAMES[kind]} "
                f"probes moved by {moved:.0f} degF: stuck"
            )
            since[index] = begin
    return since


def _jumping(signals: Signals, held: Floats, others: list[int], kind: str, faults: dict[int, str]) -> dict[int, int]:
    since: dict[int, int] = {}
    lines = LINES[kind]
    left = [index for index in others if index not in faults]
    if len(left) < 2:
        return since
    steps = np.diff(held[:, left], axis=0)
    # Start and stop move every probe at its own pace.
    edge = signals.rows(25)
    steps = steps[edge : max(edge, len(steps) - edge)]
    if len(steps) < 3:
        return since
    more = lines.more_degf_s * signals.step_s
    line, shift_line = lines.jump_degf + more, lines.shift_degf + more
    if not (np.abs(steps) > shift_line).any():
        return since
    own = steps - _middle(steps)[:, None]
    counts = ((np.abs(steps) > line) & (np.abs(own) > line)).sum(axis=0)
    for place, index in enumerate(left):
        row = int(np.argmax(np.nan_to_num(np.abs(own[:, place]), nan=0.0)))
        far = float(own[row, place])
        if counts[place] >= JUMPS:
            faults[index] = (
                f"jumped {counts[place]} times by more than {line:.0f} degF from one row to the next while the others "
                "did not"
            )
            since[index] = edge + int(np.argmax(np.abs(own[:, place]) > line))
        elif abs(far) > shift_line and _stays(signals, held[edge:, left], place, row, far):
            faults[index] = f"jumped by {abs(far):.0f} degF at once and stayed there while the others did not move"
            since[index] = edge + row + 1
    return since


def _stays(signals: Signals, held: Floats, place: int, row: int, far: float) -> bool:
    """Whether one jump moved a probe for good against its siblings."""
    reach = max(signals.rows(STAYS_S), 5)
    rows = slice(max(0, row - reach), row + 1 + reach)
    apart = held[rows, place] - _middle(np.delete(held[rows], place, axis=1))
    at = row + 1 - rows.start
    before, after = apart[:at], apart[at:]
    if len(before) < 5 or len(after) < 5:
        return False
    moved = float(np.nanmedian(after) - np.nanmedian(before))
    return moved * far > 0 and abs(moved) > STAYS_SHARE * abs(far)


def _middle(values: Floats) -> Floats:
    """Median over the probes of a row; quicker than a general median where nothing is blank."""
    if np.isnan(values).any():
        known = ~np.isnan(values).all(axis=1)
        out = np.full(len(values), np.nan, dtype=values.dtype)
        out[known] = np.nanmedian(values[known], axis=1)
        return out
    ordered = np.sort(values, axis=1)
    half = values.shape[1] // 2
    return ordered[:, half] if values.shape[1] % 2 else (ordered[:, half - 1] + ordered[:, half]) / 2
