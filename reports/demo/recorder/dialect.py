"""The text file: delimiter, decimal mark, units, clock, and the dirt that files come with."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reports.demo.recorder.engine import Array

# name of the unit -> canonical value to the shown one
SHOWN: dict[str, Callable[[Array], Array]] = {
    "F": lambda v: v,
    "C": lambda v: (v - 32) / 1.8,
    "inHg": lambda v: v,
    "hPa": lambda v: v * 33.86389,
    "gph": lambda v: v,
    "L/h": lambda v: v * 3.785411784,
    "kg/h": lambda v: v * 6.01 * 0.45359237,
    "ft": lambda v: v,
    "m": lambda v: v * 0.3048,
    "kt": lambda v: v,
    "km/h": lambda v: v * 1.852,
    "rpm": lambda v: v,
    "psi": lambda v: v,
    "deg": lambda v: v,
}


@dataclass(frozen=True)
class Column:
    """channel : as `readings` names it, or "" for something of the recorder's own. step : the finest difference."""

    name: str
    channel: str
    unit: str
    decimals: int = 0
    step: float = 0.0


@dataclass(frozen=True)
class Dialect:
    """time_format : "hms", "date_hms", "iso", "us_ampm" or "elapsed". time_names : one name, or date and time.

    top : lines before the header. unit_line : the line under it, or empty. blank : what a missing value looks like,
    open_probe : what an open probe looks like, in whatever unit the column has.
    clock_jumps : (row, seconds) - from this row on the clock is off by so much. again : rows before which the header is
    written once more. twice : rows that are written twice. cut : the last line breaks off in the middle.
    """

    columns: tuple[Column, ...]
    time_names: tuple[str, ...] = ("Time",)
    time_format: str = "hms"
    delimiter: str = ","
    decimal_comma: bool = False
    encoding: str = "utf-8"
    newline: str = "\n"
    top: tuple[str, ...] = ()
    unit_line: tuple[str, ...] = ()
    blank: str = ""
    open_probe: str = ""
    clock_jumps: tuple[tuple[int, int], ...] = ()
    again: tuple[int, ...] = ()
    twice: frozenset[int] = frozenset()
    cut: bool = False
    extra: Mapping[str, Array] = field(default_factory=dict)


def clock_text(dialect: Dialect, start: datetime, seconds: Sequence[int]) -> list[list[str]]:
    """The clock's columns for each row."""
    jumps = np.zeros(len(seconds), int)
    for row, by in dialect.clock_jumps:
        jumps[row:] += by
    shown = [int(s) + int(j) for s, j in zip(seconds, jumps, strict=True)]
    kind = dialect.time_format
    if kind == "elapsed":
        return [[str(s) for s in shown]]
    moments = [start + timedelta(seconds=s) for s in shown]
    if kind == "hms":
        return [[f"{m.hour:02}:{m.minute:02}:{m.second:02}" for m in moments]]
    if kind == "iso":
        return [[f"{m:%Y-%m-%d %H:%M:%S}" for m in moments]]
    if kind == "us_ampm":
        return [[f"{m:%m/%d/%Y %I:%M:%S %p}" for m in moments]]
    return [
        [f"{m.day:02}.{m.month:02}.{m.year}" for m in moments],
        [f"{m.hour:02}:{m.minute:02}:{m.second:02}" for m in moments],
    ]


def write_file(
    path: Path, dialect: Dialect, start: datetime, seconds: NDArray[np.int64], shown: Mapping[str, Array],
    *, blanks: NDArray[np.bool_] | None = None, seed: int = 0,
) -> None:  # fmt: skip
    """Write the rows. `blanks` (rows x columns) says which values are missing."""
    text = clock_text(dialect, start, seconds.tolist())
    for index, column in enumerate(dialect.columns):
        values = SHOWN[column.unit](shown[column.channel]) if column.channel else dialect.extra[column.name]
        if column.step:
            values = np.round(values / column.step) * column.step
        form = f"%.{column.decimals}f"
        cells = [form % value for value in values.tolist()]
        if dialect.decimal_comma and column.decimals:
            cells = [cell.replace(".", ",") for cell in cells]
        for row in np.flatnonzero(np.isnan(values)).tolist():
            cells[row] = dialect.open_probe
        if blanks is not None:
            for row in np.flatnonzero(blanks[:, index]).tolist():
                cells[row] = dialect.blank
        text.append(cells)
    lines = [dialect.delimiter.join(row) for row in zip(*text, strict=True)]
    head = dialect.delimiter.join([*dialect.time_names, *(column.name for column in dialect.columns)])
    for row in sorted(dialect.again, reverse=True):
        lines.insert(row, head)
    if dialect.twice:
        lines = [line for row, line in enumerate(lines) for _ in range(2 if row in dialect.twice else 1)]
    if dialect.cut:
        kept = lines[-1][: int(len(lines[-1]) * np.random.default_rng(seed).uniform(0.3, 0.8))]
        lines[-1] = kept.rstrip(dialect.delimiter)
    under = [dialect.delimiter.join(dialect.unit_line)] if dialect.unit_line else []
    whole = dialect.newline.join([*dialect.top, head, *under, *lines, ""])
    path.write_bytes(whole.encode(dialect.encoding))


def mapping_of(dialect: Dialect, *, auto_units: bool = False, channels: Sequence[str] | None = None) -> dict[str, Any]:
    """The mapping of the file's columns, in the shape that the reading of recordings takes."""
    engines: dict[str, dict[str, Any]] = {}
    common: dict[str, str] = {}
    units: dict[str, str] = {}
    names = {"map": "manifold_pressure", "ff": "fuel_flow", "rpm": "rpm", "tit": "tit"}
    for column in dialect.columns:
        channel = column.channel
        if not channel or (channels is not None and channel not in channels):
            continue
        if channel in ("lat", "lon"):
            continue
        units[column.name] = "auto" if auto_units else column.unit
        parts = channel.split("_")
        if channel in ("oat", "alt"):
            common[channel] = column.name
        elif channel == "ias":
            common["airspeed"] = column.name
        elif parts[0] in ("cht", "egt"):
            engines.setdefault(parts[1], {}).setdefault(parts[0], []).append(column.name)
        elif parts[0] == "oil":
            engines.setdefault(parts[2], {})[f"oil_{parts[1]}"] = column.name
        else:
            engines.setdefault(parts[1], {})[names[parts[0]]] = column.name
    time: Any = dialect.time_names[0] if len(dialect.time_names) == 1 else list(dialect.time_names)
    return {"time": time, "common": common, "engines": engines, "units": units}
