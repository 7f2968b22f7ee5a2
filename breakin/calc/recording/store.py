"""The stored form of a recording: whole numbers in Parquet, lossless for the decimals of the file, and small.

Each column is taken back to the numbers of the file, scaled to whole numbers by its decimals, and kept as differences
from row to row within blocks of rows; block after block, and within a block column after column, in one Parquet
column. So short recordings don't pay for the headers of forty columns, and a part is read without the rest. A column
whose numbers have too many decimals keeps the bits of each. Order, decimals and units stand in the metadata as JSON.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Self

import numpy as np

from breakin.calc.recording.table import (
    UNKNOWN,
    ClockTime,
    Floats,
    Ints,
    Table,
    read_numbers,
    write_numbers,
    written_text,
)
from breakin.calc.recording.unreadable import Unreadable

VERSION = 1
BLOCK_ROWS = 65_536
MOST_DECIMALS = 7
AS_BITS = -1
_CLOCKS = ("t", "row")


def decimals_of(values: Floats) -> int:
    """Least number of decimals with which all values can be written, or AS_BITS when there is none.

    >>> decimals_of(np.array([1.0, 2.5, np.nan])), decimals_of(np.array([1 / 3]))
    (1, -1)
    """
    good = values[np.isfinite(values)]
    if np.isinf(values).any() or (len(good) and np.abs(good).max() > 1e8):
        return AS_BITS
    for decimals in range(MOST_DECIMALS + 1):
        if np.array_equal(np.round(good * 10.0**decimals) / 10.0**decimals, good):
            return decimals
    return AS_BITS


def _encoded(values: Floats, decimals: int) -> Ints:
    if decimals == AS_BITS:
        return np.where(np.isnan(values), UNKNOWN, values.view(np.int64))
    known = np.isfinite(values)
    whole = np.round(np.where(known, values, 0.0) * 10.0**decimals).astype(np.int64)
    if not known.all():
        at = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
        whole = np.where(at >= 0, whole[at], 0)
    return np.where(known, np.diff(whole, prepend=0), UNKNOWN)


def _decoded(numbers: Ints, decimals: int) -> Floats:
    unknown = numbers == UNKNOWN
    if decimals == AS_BITS:
        return np.where(unknown, np.nan, numbers.view(np.float64))
    whole = np.cumsum(np.where(unknown, 0, numbers)) / 10.0**decimals
    return np.where(unknown, np.nan, whole) if unknown.any() else whole


class Writer:
    """Writes a stored recording: rows are added in stretches, and what is known at the end goes to :meth:`finish`.

    Use it as a context: without `finish` no file is left.
    """

    def __init__(self, path: Path, names: Sequence[str]) -> None:
        self.path = path
        self.names = (*names, *_CLOCKS)
        self.rows = 0
        self.first_rows: list[int] = []
        self.decimals: list[tuple[int, ...]] = []
        self._waiting: list[list[Floats]] = [[] for _ in self.names]
        self._folder = Path(tempfile.mkdtemp(prefix="recording-"))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)

    def add(self, columns: Mapping[str, Floats], t: Floats, row: Ints) -> None:
        """Add rows: numbers as in the file, times [s] and indices of rows."""
        for place, name in enumerate(self.names[:-2]):
            self._waiting[place].append(columns[name])
        self._waiting[-2].append(t)
        self._waiting[-1].append(row.astype(np.float64))
        while sum(map(len, self._waiting[-1])) >= BLOCK_ROWS:
            self._flush(BLOCK_ROWS)

    def _flush(self, rows: int) -> None:
        whole = [np.concatenate(parts) if len(parts) > 1 else parts[0] for parts in self._waiting]
        self._waiting = [[values[rows:]] for values in whole]
        block = [np.ascontiguousarray(values[:rows]) for values in whole]
        decimals = tuple(decimals_of(values) for values in block)
        numbers = np.concatenate([_encoded(values, places) for values, places in zip(block, decimals, strict=True)])
        write_numbers(self._part(len(self.decimals)), [numbers], quick=True)
        self.decimals.append(decimals)
        self.first_rows.append(int(block[-1][0]))
        self.rows += rows

    def _part(self, number: int) -> Path:
        return self._folder / f"{number}.parquet"

    def finish(self, factors: Mapping[str, tuple[float, float]], **facts: Any) -> None:
        """Write the file.

        `facts` are the other fields of the table: started, has_date, suspicious, sample_s, notes, sides.
        """
        left = sum(map(len, self._waiting[-1]))
        if left:
            self._flush(left)
        places = [AS_BITS if min(of) == AS_BITS else max(of) for of in zip(*self.decimals, strict=True)]
        started: ClockTime | None = facts.get("started")
        used = list(dict.fromkeys(factors.get(name, (1.0, 0.0)) for name in self.names))
        known = {
            "version": VERSION,
            "rows": self.rows,
            "first_rows": self.first_rows,
            "names": self.names,
            "decimals": places,
            "factors": used,
            "factor": [used.index(factors.get(name, (1.0, 0.0))) for name in self.names],
        }
        text = json.dumps(known | facts | {"started": started.isoformat() if started else None}, separators=(",", ":"))
        temporary = self.path.with_name(self.path.name + ".part")
        try:
            write_numbers(temporary, self._blocks(places), text)
            temporary.replace(self.path)
        finally:
            temporary.unlink(missing_ok=True)

    def _blocks(self, places: Sequence[int]) -> Iterator[Ints]:
        for number, had in enumerate(self.decimals):
            numbers = read_numbers(self._part(number))
            if list(had) != list(places):
                columns = np.split(numbers, len(places))
                numbers = np.concatenate(
                    [_again(one, old, new) for one, old, new in zip(columns, had, places, strict=True)]
                )
            yield numbers


def _again(numbers: Ints, old: int, new: int) -> Ints:
    """Numbers of a column with other decimals."""
    if old == new:
        return numbers
    if new == AS_BITS:
        return _encoded(_decoded(numbers, old), AS_BITS)
    return np.where(numbers == UNKNOWN, UNKNOWN, numbers * 10 ** (new - old))


def write_parquet(table: Table, path: str | Path) -> None:
    """Store a table, lossless; :func:`read_parquet` gives it back.

    Parameters
    ----------
    table : a whole table or a part.
    path : written anew.
    """
    raw, factors = {}, {}
    for name, values in table.columns.items():
        raw[name], factors[name] = _as_in_file(values, table.factors.get(name, (1.0, 0.0)))
    with Writer(Path(path), tuple(raw)) as writer:
        writer.add(raw, table.t, table.row)
        writer.finish(
            factors,
            started=table.started,
            has_date=table.has_date,
            suspicious=table.suspicious,
            sample_s=table.sample_s,
            notes=table.notes,
            sides=table.sides,
        )


def _as_in_file(values: Floats, factor: tuple[float, float]) -> tuple[Floats, tuple[float, float]]:
    """The numbers of the file behind canonical ones, where they give back exactly these; else the canonical ones."""
    scale, offset = factor
    if factor == (1.0, 0.0):
        return values, factor
    raw = np.round((values - offset) / scale, MOST_DECIMALS)
    return (raw, factor) if np.array_equal(raw * scale + offset, values, equal_nan=True) else (values, (1.0, 0.0))


def read_parquet(
    path: str | Path, first_row: int = 0, end_row: int | None = None, columns: Iterable[str] | None = None
) -> Table:
    """A stored recording, or the rows first_row <= row < end_row of it.

    Parameters
    ----------
    columns : canonical names to read; None reads all. Names that are not recorded are passed over.

    Raises
    ------
    Unreadable : not a stored recording, or no rows there.
    """
    path = Path(path)
    try:
        facts = json.loads(written_text(path))
    except ValueError as error:
        raise Unreadable("the stored recording cannot be read", mend="Have the file read again.") from error
    if facts.get("version") != VERSION:
        raise Unreadable("the stored recording is of another version", mend="Have the file read again.")
    names = facts["names"]
    factors = {name: tuple(facts["factors"][place]) for name, place in zip(names, facts["factor"], strict=True)}
    chosen = [name for name in names if name in _CLOCKS or columns is None or name in set(columns)]
    first_rows = np.array(facts["first_rows"])
    start = max(int(np.searchsorted(first_rows, first_row, "right")) - 1, 0)
    end = len(first_rows) if end_row is None else max(int(np.searchsorted(first_rows, end_row, "left")), start + 1)
    parts: dict[str, list[Floats]] = {name: [] for name in chosen}
    for number in range(start, end):
        rows = min(BLOCK_ROWS, facts["rows"] - number * BLOCK_ROWS)
        numbers = read_numbers(path, number * BLOCK_ROWS * len(names), rows * len(names)).reshape(len(names), rows)
        for name in chosen:
            place = names.index(name)
            scale, offset = factors[name]
            values = _decoded(numbers[place], facts["decimals"][place])
            parts[name].append(values if (scale, offset) == (1.0, 0.0) else values * scale + offset)
    read = {name: np.concatenate(values) for name, values in parts.items()}
    t, row = read.pop("t"), read.pop("row").astype(np.int64)
    table = Table(
        columns=read,
        t=t,
        row=row,
        started=ClockTime.fromisoformat(facts["started"]) if facts["started"] else None,
        has_date=facts["has_date"],
        suspicious=facts["suspicious"],
        sample_s=facts["sample_s"],
        notes=tuple(facts["notes"]),
        sides=tuple(facts["sides"]),
        factors={name: factors[name] for name in read},
    )
    last = int(row[-1]) + 1 if end_row is None else end_row
    try:
        return table if first_row <= row[0] and last > row[-1] else table.part(first_row, last)
    except ValueError as error:
        raise Unreadable("the recording has no such rows", mend="Have the file read again.") from error
