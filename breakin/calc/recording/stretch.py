"""The rows of a file, stretch by stretch: which lines are data, their numbers as in the file, their repaired time."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording import clock, encoding, layout, scales, written_time
from breakin.calc.recording.gaps import Signals
from breakin.calc.recording.layout import Layout
from breakin.calc.recording.table import Block, Floats, Ints, parse_block
from breakin.calc.recording.unreadable import Unreadable

Progress = Callable[[int, int], None]
STRETCH_BYTES = 8 * 1024 * 1024
NOT_KNOWN = written_time.TimeFormat("", False)


@dataclass(frozen=True)
class Stretch:
    """Kept rows of one stretch: values as in the file by name of the table, and the clock."""

    columns: Mapping[str, Floats]
    t: Floats
    row: Ints


def head_of(path: Path) -> bytes:
    """The first bytes of a file.

    Raises
    ------
    Unreadable : the file cannot be opened.
    """
    try:
        with path.open("rb") as file:
            return file.read(encoding.HEAD_BYTES)
    except OSError as error:
        raise Unreadable("the file cannot be opened", mend="Upload it again.") from error


def blocks(path: Path, plan: Layout, progress: Progress | None = None) -> Iterator[tuple[bytes, bool]]:
    """Whole lines of data after the header, UTF-8 with line feeds, and whether they are the last of the file."""
    total = path.stat().st_size
    skip = plan.first_line
    decoder = codecs.getincrementaldecoder(plan.encoding)("replace")
    rest = b""
    with path.open("rb", buffering=0) as file:
        done = _start_of_data(file.read(encoding.HEAD_BYTES), plan)
        skip = 0 if done else skip
        file.seek(done)
        while True:
            raw = file.read(min(STRETCH_BYTES, max(total - done, 0)))
            done += len(raw)
            end = not raw or done >= total
            if plan.encoding != "utf-8":
                raw = decoder.decode(raw, end).encode().replace(b"\xef\xbb\xbf", b"") if raw or end else b""
            data = rest + raw if rest else raw
            rest = b""
            if not end:
                cut = data.rfind(b"\n") + 1 or (data.rfind(b"\r", 0, -1) + 1)
                data, rest = data[:cut], data[cut:]
                if len(rest) > STRETCH_BYTES:
                    raise Unreadable("a line has no end", mend="Export the recording again.")
            data = encoding.decoded(data, "utf-8")
            at = 0
            while skip and at < len(data):
                at = data.find(b"\n", at) + 1 or len(data)
                skip -= 1
            data = data[at:] if at else data
            if data or end:
                yield data, end
            if progress:
                progress(done, total)
            if end:
                return


def _start_of_data(head: bytes, plan: Layout) -> int:
    """Where the data start in a plain text, so that they need not be copied; 0 where lines must be mended first."""
    if plan.encoding != "utf-8" or b"\0" in head or head.count(b"\r") != head.count(b"\r\n"):
        return 0
    at = 0
    for _ in range(plan.first_line):
        at = head.find(b"\n", at) + 1
        if not at:
            return 0
    return at


def time_columns(plan: Layout, mapping: Mapping[str, Any]) -> tuple[int, ...]:
    """Indices of the columns of time: one, or date and time."""
    named = mapping.get("time")
    names = [named] if isinstance(named, str) else list(named) if isinstance(named, list | tuple) else []
    if not names or len(names) > 2:
        raise Unreadable("no column of time is chosen", mend="Choose the column of the time, or date and time.")
    return tuple(index_of(plan, name) for name in names)


def index_of(plan: Layout, name: object) -> int:
    """Index of a column by its name, exactly or without regard to case and blanks.

    Raises
    ------
    Unreadable : no such column.
    """
    if name in plan.names:
        return plan.names.index(str(name))
    near = [index for index, one in enumerate(plan.names) if one.casefold() == str(name).strip().casefold()]
    if len(near) != 1:
        mend = "Choose the columns again: this file has other columns than those that were chosen."
        raise Unreadable("the file has no such column", column=str(name), mend=mend)
    return near[0]


@dataclass
class Reader:
    """Reads one file in stretches and keeps what was seen on the way."""

    path: Path
    mapping: Mapping[str, Any]
    keep_position: bool = False
    plan: Layout = field(init=False)
    wanted: tuple[scales.Wanted, ...] = field(init=False)
    time_format: written_time.TimeFormat = NOT_KNOWN
    repair: clock.Repair = field(default_factory=lambda: clock.Repair(False))
    data_rows: int = 0
    kept: int = 0
    dropped: dict[str, int] = field(default_factory=dict)
    before: Floats | None = None

    def __post_init__(self) -> None:
        self.plan = layout.layout_of(head_of(self.path))
        self.wanted = scales.wanted_of(self.mapping, keep_position=self.keep_position)
        self.times = time_columns(self.plan, self.mapping)
        self.numbers = tuple(index_of(self.plan, one.column) for one in self.wanted)
        for place in self.times:
            if place in self.numbers:
                name = self.plan.names[place]
                raise Unreadable("the column is chosen for two things", column=name, mend="Choose it once.")

    def note(self, what: str, rows: int) -> None:
        if rows:
            self.dropped[what] = self.dropped.get(what, 0) + rows

    def stretches(self, progress: Progress | None = None) -> Iterator[Stretch]:
        """All kept rows, stretch by stretch."""
        for data, end in blocks(self.path, self.plan, progress):
            stretch = self._stretch(data, end) if data and not data.isspace() else None
            if stretch is not None:
                yield stretch
        if not self.kept:
            mend = "Look whether the columns are the right ones."
            raise Unreadable("no line holds both a time and a value", mend=mend)
        if self.repair.backward > max(10, 0.05 * self.kept):
            what = f"the time runs backward at {self.repair.backward:,} of {self.kept:,} rows"
            mend = "Choose the right column of the time, or export the recording in the order of time."
            raise Unreadable(what, column=self.plan.names[self.times[-1]], mend=mend)

    def _stretch(self, data: bytes, end: bool) -> Stretch | None:
        numeric = self._numeric_time(data)
        data = layout.unquoted(data, self.plan)
        if numeric:
            block = parse_block(data, self.plan, (), (*self.numbers, self.times[0]))
            raw = self._number_seconds(block.numbers[-1])
            values = block.numbers[:-1]
        else:
            block = parse_block(data, self.plan, self.times, self.numbers)
            raw = self._text_seconds(block)
            values = block.numbers
        good = np.isfinite(raw)
        kept, data_row = good, None
        if not (good.all() and block.last.all()):
            kept, data_row = self._sorted_out(data, block, values, good, end)
        elif end:
            kept = self._without_cut_end(data, kept)
        kept = self._without_twins(raw, values, kept)
        index = np.flatnonzero(kept)
        order = np.arange(len(raw)) if data_row is None else np.cumsum(data_row) - 1
        row = self.data_rows + order[index]
        self.data_rows += len(raw) if data_row is None else int(data_row.sum())
        if not len(index):
            return None
        whole = len(index) == len(raw)
        columns = [one if whole else one[index] for one in values]
        raw = raw if whole else raw[index]
        t = self._clock(raw, columns)
        self.kept += len(index)
        return Stretch({one.name: values for one, values in zip(self.wanted, columns, strict=True)}, t, row)

    def _numeric_time(self, data: bytes) -> bool:
        if self.time_format is NOT_KNOWN:
            self._numeric = False
            if len(self.times) == 1:
                lines = data[:16_384].decode("utf-8", "replace").split("\n")[:60]
                rows = (layout.split(line, self.plan.delimiter, self.plan.quoted) for line in lines)
                fields = [row[self.times[0]] for row in rows if len(row) > self.times[0]]
                plain = sum(layout.is_number(one) and len(one) != 14 for one in fields)
                self._numeric = plain > 0.5 * sum(one.casefold() not in layout.BLANKS for one in fields)
        return self._numeric

    def _number_seconds(self, values: Floats) -> Floats:
        if self.time_format is NOT_KNOWN:
            self.time_format = clock.number_format(values, self.plan.names[self.times[0]])
        raw = values * self.time_format.scale
        return raw - clock.SERIAL_1900 if self.time_format.kind == "serial" else raw

    def _text_seconds(self, block: Block) -> Floats:
        parts = [written_time.parts_of(texts) for texts in block.texts]
        dated = next((one for one in parts if one.date is not None), None)
        timed = parts[-1]
        if self.time_format is NOT_KNOWN and np.isfinite(timed.seconds).any():
            self.time_format = written_time.written_format(dated, timed, str(self.mapping.get("date_order", "")))
        if self.time_format is NOT_KNOWN:
            return np.full(len(timed.seconds), np.nan)
        if not self.time_format.has_date or dated is None or dated.date is None:
            return timed.seconds
        return timed.seconds + written_time.day_seconds(dated.date, self.time_format.order)

    def _sorted_out(
        self, data: bytes, block: Block, values: tuple[Floats, ...], good: NDArray[np.bool_], end: bool
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """(kept, data row) of each line where some have no time or an empty last column."""
        filled = np.zeros(len(good), np.int64)
        for one in values:
            filled += np.isfinite(one)
        lines = data.split(b"\n")
        lines = lines if lines[-1] else lines[:-1]
        mark = self.plan.delimiter.encode()
        aligned = len(lines) == len(good)
        short = np.zeros(len(good), bool)
        if aligned:
            marks = np.fromiter((line.count(mark) for line in lines), np.int64, len(lines))
            usual = int(np.bincount(marks).argmax())
            short = marks < usual
        timeless = ~good & (filled >= max(1, len(values) // 3)) & ~short
        empty = good & (filled == 0) & short
        data_row = (good & ~empty) | timeless
        cut = good & short & data_row
        if cut.mean() > 0.05:
            # This recorder leaves out empty fields at the end of a line; only the very last line may be cut.
            cut[: np.flatnonzero(data_row)[-1]] = False
            cut &= end
        kept = good & data_row & ~cut
        self.note("cut", int(cut.sum()))
        self.note("timeless", int(timeless.sum()))
        blank = sum(not line or line.isspace() for line in lines) if aligned else 0
        self.note("noise", int((~data_row).sum()) - blank)
        if end and not cut.any():
            kept = self._without_cut_end(data, kept)
        return kept, data_row

    def _without_cut_end(self, data: bytes, kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Leave out a last line without its line end, unless its last number is as long as those before it."""
        if data.endswith(b"\n") or not len(kept) or not kept[-1]:
            return kept
        lines = data.rsplit(b"\n", 4)[-4:]
        ends = [line.rsplit(self.plan.delimiter.encode(), 1)[-1].strip() for line in lines]
        decimals = [
            len(one) - one.replace(b",", b".").find(b".") if b"." in one.replace(b",", b".") else 0 for one in ends
        ]
        if len(lines) > 1 and decimals[-1] > 0 and decimals[-1] >= max(decimals[:-1]):
            return kept
        self.note("cut", 1)
        kept = kept.copy()
        kept[-1] = False
        return kept

    def _without_twins(self, raw: Floats, values: tuple[Floats, ...], kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Leave out rows that repeat the row before."""
        index = np.flatnonzero(kept)
        if len(index) < 2:
            return kept
        still = np.flatnonzero(np.diff(raw[index]) == 0) + 1
        if not len(still):
            return kept
        here, there = index[still], index[still - 1]
        same = np.ones(len(still), bool)
        for one in values:
            a, b = one[here], one[there]
            same &= (a == b) | (np.isnan(a) & np.isnan(b))
        kept = kept.copy()
        kept[here[same]] = False
        self.note("twins", int(same.sum()))
        return kept

    def _clock(self, raw: Floats, columns: list[Floats]) -> Floats:
        self.repair.dated = self.time_format.has_date or self.time_format.kind == "elapsed"
        signals = Signals(self.wanted, columns, self.before)
        self.before = signals.last()
        return self.repair.times(raw, signals)
