"""The one module that touches the data-frame library, and the table that a recording becomes.

polars is imported inside functions only: a process that forks later must never have loaded it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.layout import Layout
from breakin.calc.recording.unreadable import Unreadable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
ClockTime = datetime
"""Date and time of a clock, without a zone."""


@dataclass(frozen=True)
class Table:
    """A recording, or a part of one, in canonical units.

    columns : by canonical name, for example "rpm_1", "map_1_inhg", "cht_1_3_degf", "alt_ft"; NaN is a blank.
    t : [s] since the first data row of the file, on the repaired clock.
    row : index of each kept data row among the data rows of the file.
    started : the recorder's own clock at t = 0; None when it showed no time of day. Without `has_date` only its time
        of day means anything. suspicious : the date cannot be right.
    sample_s : usual time between rows [s].
    notes : what was dropped, repaired or assumed, each a sentence.
    sides : engines that are recorded, "1" and "2".
    factors : (scale, offset) with which the numbers of the file were made canonical, by column.
    """

    columns: Mapping[str, Floats]
    t: Floats
    row: Ints
    started: ClockTime | None = None
    has_date: bool = False
    suspicious: bool = False
    sample_s: float = 1.0
    notes: tuple[str, ...] = ()
    sides: tuple[str, ...] = ("1",)
    factors: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.t)

    def get(self, name: str) -> Floats | None:
        """A column, or None when it is not recorded."""
        return self.columns.get(name)

    def heads(self, side: str, kind: str = "cht") -> tuple[str, ...]:
        """Names of the columns of one kind of probe of one engine, in order of cylinders."""
        start = f"{kind}_{side}_"
        names = [name for name in self.columns if name.startswith(start)]
        return tuple(sorted(names, key=lambda name: int(name.removeprefix(start).split("_")[0])))

    def part(self, first_row: int, end_row: int) -> Table:
        """The rows first_row <= row < end_row; times stay those of the file.

        Raises
        ------
        ValueError : no row lies there.
        """
        start, end = (int(one) for one in np.searchsorted(self.row, (first_row, end_row)))
        if end <= start:
            raise ValueError(f"no rows from {first_row} to {end_row}")
        columns = {name: values[start:end] for name, values in self.columns.items()}
        return replace(self, columns=columns, t=self.t[start:end], row=self.row[start:end])


@dataclass(frozen=True)
class Block:
    """Lines of a file as columns, texts and numbers in the order asked for; `last` where the last column is filled."""

    texts: tuple[list[str | None], ...]
    numbers: tuple[Floats, ...]
    last: NDArray[np.bool_]


def parse_block(data: bytes, layout: Layout, texts: Sequence[int], numbers: Sequence[int]) -> Block:
    """Parse lines of data.

    Parameters
    ----------
    data : whole lines, UTF-8 with line feeds, without the header and without quotation marks.
    texts, numbers : indices of the columns to hand out.

    Raises
    ------
    Unreadable : polars can make nothing of it.
    """
    import polars as pl

    count = len(layout.names)
    names = [f"c{index}" for index in range(count)]
    schema: dict[str, type[pl.DataType]] = {name: pl.String for name in names}
    for index in numbers:
        schema[names[index]] = pl.Float64
    taken = sorted({*texts, *numbers, count - 1})
    try:
        frame = (
            pl.scan_csv(
                data,
                has_header=False,
                schema=schema,
                separator=layout.delimiter,
                quote_char=None,
                decimal_comma=layout.decimal == "," and layout.delimiter != ",",
                ignore_errors=True,
                extra_columns="ignore",
                missing_columns="insert",
                raise_if_empty=False,
            )
            .select(names[index] for index in taken)
            .collect()
        )
    except (pl.exceptions.PolarsError, ValueError) as error:
        mend = "Export the recording again."
        raise Unreadable(
            f"the lines cannot be split into columns ({str(error).splitlines()[0][:120]})", mend=mend
        ) from error
    last = frame.get_column(names[-1])
    return Block(
        tuple(frame.get_column(names[index]).to_list() for index in texts),
        tuple(frame.get_column(names[index]).to_numpy() for index in numbers),
        last.is_not_null().to_numpy() if last.null_count() else np.ones(len(frame), bool),
    )


def clock_time(seconds: float) -> ClockTime | None:
    """The date and time of day of a number of seconds since 1970, or None outside the years 1900 to 9999."""
    if not -2.2e9 < seconds < 2.5e11:
        return None
    return datetime.fromtimestamp(seconds, UTC).replace(tzinfo=None)


UNKNOWN = int(np.iinfo(np.int64).min)
"""Stands for a blank among numbers that are written."""


def write_numbers(path: Path, blocks: Iterable[Ints], text: str = "", *, quick: bool = False) -> None:
    """Write whole numbers to a Parquet file of one column, "change".

    Parameters
    ----------
    blocks : the numbers in order; :data:`UNKNOWN` becomes a null.
    text : kept under "recording" in the metadata of the file.
    quick : for a file that is read again soon.
    """
    import polars as pl
    from polars.io.plugins import register_io_source

    def source(*_pushed: Any) -> Iterator[pl.DataFrame]:
        for block in blocks:
            series = pl.Series("change", block)
            yield pl.select(pl.when(series != UNKNOWN).then(series).alias("change"))

    register_io_source(source, schema={"change": pl.Int64}).sink_parquet(
        path,
        compression="zstd" if quick else "brotli",
        compression_level=1 if quick else 10,
        statistics=False,
        metadata={"recording": text},
    )


def read_numbers(path: Path, offset: int = 0, count: int | None = None) -> Ints:
    """`count` numbers of :func:`write_numbers` from `offset` on."""
    import polars as pl

    frame = pl.scan_parquet(path).slice(offset, count).collect()
    return frame.get_column("change").fill_null(UNKNOWN).to_numpy()


def written_text(path: Path) -> str:
    """The text that :func:`write_numbers` put beside the numbers.

    Raises
    ------
    Unreadable : not such a file.
    """
    import polars as pl

    try:
        text = pl.read_parquet_metadata(path).get("recording")
    except (pl.exceptions.PolarsError, OSError) as error:
        raise Unreadable("the stored recording cannot be read", mend="Have the file read again.") from error
    if text is None:
        raise Unreadable("the stored file is not a recording", mend="Have the file read again.")
    return str(text)
