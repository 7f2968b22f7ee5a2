"""A recording, read: a file to a table in canonical units, or to a stored file in bounded memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from breakin.calc.recording import magnitudes, scales, written_time
from breakin.calc.recording.clock import NEVER_SET
from breakin.calc.recording.store import Writer
from breakin.calc.recording.stretch import Progress, Reader, Stretch
from breakin.calc.recording.table import ClockTime, Floats, Table, clock_time

SAMPLE_ROWS = 4_000


@dataclass
class Sample:
    """Rows at even steps through the file, by which units that were left open are judged."""

    step: int = 1
    seen: int = 0
    columns: dict[str, Floats] = field(default_factory=dict)

    def add(self, columns: Mapping[str, Floats]) -> None:
        """Take every `step`-th row; the step doubles when there are many."""
        rows = len(next(iter(columns.values())))
        first = -self.seen % self.step
        for name, values in columns.items():
            had = self.columns.get(name)
            new = values[first :: self.step]
            self.columns[name] = new if had is None else np.concatenate((had, new))
        self.seen += rows
        while len(next(iter(self.columns.values()))) > SAMPLE_ROWS:
            self.step *= 2
            self.columns = {name: values[::2] for name, values in self.columns.items()}


def read_table(
    path: str | Path,
    mapping: Mapping[str, Any],
    *,
    progress: Progress | None = None,
    keep_position: bool = False,
    rated_hp: Mapping[str, float] | None = None,
    fuel_lb_per_gal: float = scales.AVGAS_LB_PER_US_GALLON,
    now: ClockTime | None = None,
) -> Table:
    """Read a recording whole.

    Parameters
    ----------
    path : the file.
    mapping : in the shape of the channel mapping; "position" {"latitude": name, "longitude": name} beside it.
    progress : told (bytes done, bytes in all).
    keep_position : keep latitude and longitude too.
    rated_hp : rated power by engine [hp]; used only where the unit of fuel flow was left open.
    fuel_lb_per_gal : weight of the fuel [lb/US gal], for flows in weight.
    now : date and time of reading; a recording from after it has a wrong date.

    Raises
    ------
    Unreadable : see there.
    """
    reader = Reader(Path(path), mapping, keep_position)
    parts = list(reader.stretches(progress))
    raw = parts[0] if len(parts) == 1 else _joined(parts)
    sample = Sample()
    sample.add({**raw.columns, "t": raw.t})
    factors, unit_notes = factors_of(reader, sample, rated_hp, fuel_lb_per_gal)
    columns = {}
    for name, values in raw.columns.items():
        scale, offset = factors[name]
        columns[name] = values if (scale, offset) == (1.0, 0.0) else values * scale + offset
    facts = _facts(reader, unit_notes, now)
    return Table(
        columns=columns,
        t=raw.t,
        row=raw.row,
        started=facts.started,
        has_date=facts.has_date,
        suspicious=facts.suspicious,
        sample_s=facts.sample_s,
        notes=facts.notes,
        sides=facts.sides,
        factors=factors,
    )


@dataclass(frozen=True)
class Facts:
    """What is known of a recording beside its numbers; the fields are those of the table."""

    rows: int
    sample_s: float
    started: ClockTime | None
    has_date: bool
    suspicious: bool
    notes: tuple[str, ...]
    sides: tuple[str, ...]


def convert(
    path: str | Path,
    mapping: Mapping[str, Any],
    parquet_path: str | Path,
    *,
    progress: Progress | None = None,
    keep_position: bool = False,
    rated_hp: Mapping[str, float] | None = None,
    fuel_lb_per_gal: float = scales.AVGAS_LB_PER_US_GALLON,
    now: ClockTime | None = None,
) -> Facts:
    """Read a recording of any size into a stored file, a stretch at a time.

    What :func:`breakin.calc.recording.store.read_parquet` gives of it is what :func:`read_table` gives of the file.
    Parameters are those of :func:`read_table`.

    Raises
    ------
    Unreadable : see there. No stored file is left then.
    """
    reader = Reader(Path(path), mapping, keep_position)
    sample = Sample()
    with Writer(Path(parquet_path), tuple(one.name for one in reader.wanted)) as writer:
        for stretch in reader.stretches(progress):
            sample.add({**stretch.columns, "t": stretch.t})
            writer.add(stretch.columns, stretch.t, stretch.row)
        factors, unit_notes = factors_of(reader, sample, rated_hp, fuel_lb_per_gal)
        facts = _facts(reader, unit_notes, now)
        writer.finish(
            factors,
            started=facts.started,
            has_date=facts.has_date,
            suspicious=facts.suspicious,
            sample_s=facts.sample_s,
            notes=facts.notes,
            sides=facts.sides,
        )
    return facts


def _joined(parts: list[Stretch]) -> Stretch:
    columns = {name: np.concatenate([part.columns[name] for part in parts]) for name in parts[0].columns}
    return Stretch(columns, np.concatenate([part.t for part in parts]), np.concatenate([part.row for part in parts]))


def _facts(reader: Reader, unit_notes: tuple[str, ...], now: ClockTime | None) -> Facts:
    started, dated = started_of(reader), reader.time_format.has_date
    notes = [*notes_of(reader), *unit_notes]
    wrong = False
    if dated and (started is None or reader.repair.start < NEVER_SET):
        wrong = True
        notes.append("The recorder's clock shows a date before 2 January 2000; it had not been set.")
    elif dated and started and now and started > now:
        wrong = True
        notes.append("The recorder's clock shows a date in the future.")
    if not reader.time_format.order_sure:
        words = {"dmy": "day before month", "mdy": "month before day"}[reader.time_format.order]
        notes.append(f"Day and month of the dates can be read in two ways; read as {words}.")
    sides = tuple(sorted({each.engine for each in reader.wanted if each.engine}))
    return Facts(reader.kept, reader.repair.step or 1.0, started, dated, wrong, tuple(notes), sides)


def factors_of(
    reader: Reader, sample: Sample, rated_hp: Mapping[str, float] | None, fuel_lb_per_gal: float
) -> tuple[dict[str, scales.Factor], tuple[str, ...]]:
    """(scale, offset) of each column by its name in the table; units left open are judged, each with a note."""
    open_groups = {one.group for one in reader.wanted if one.unit == "auto"}
    units: Mapping[str, str] = {}
    notes: list[str] = []
    if open_groups - {"rpm"}:
        by_column = {one.column: sample.columns[one.name] for one in reader.wanted}
        judged = magnitudes.judged(by_column, reader.wanted, rated_hp, sample.columns["t"])
        units = judged.units
        told = [group for group in units if group in open_groups - {"rpm", "fuel_flow"}]
        if told:
            said = ", ".join(f"{group.replace('_', ' ')} {units[group]}" for group in told)
            notes.append(f"Units left open were told by the size of the numbers: {said}.")
        if "fuel_flow" in open_groups:
            notes.extend(judged.notes)
    factors = {
        one.name: scales.factor(
            units.get(one.group, "deg") if one.unit == "auto" else one.unit, one.group, fuel_lb_per_gal
        )
        for one in reader.wanted
    }
    return factors, tuple(notes)


def started_of(reader: Reader) -> ClockTime | None:
    """The recorder's clock at t = 0, or None when it shows no time of day."""
    if reader.time_format.kind == "elapsed":
        return None
    return clock_time(reader.repair.start if reader.time_format.has_date else reader.repair.start % written_time.DAY)


def notes_of(reader: Reader) -> tuple[str, ...]:
    """What was left out or repaired, in sentences."""
    said = []

    def count(what: str, one: str, many: str) -> None:
        number = reader.dropped.get(what, 0)
        if number:
            said.append(one if number == 1 else many.format(number))

    count("cut", "A line that was cut short was left out.", "{:,} lines that were cut short were left out.")
    count("noise", "One line that holds no data was passed over.", "{:,} lines that hold no data were passed over.")
    count("timeless", "One row without a time was left out.", "{:,} rows without a time were left out.")
    count(
        "twins",
        "One row that repeats the row before was left out.",
        "{:,} rows that repeat the row before were left out.",
    )
    repair = reader.repair
    if repair.jumps:
        said.append(f"The recorder's clock jumped {_times(repair.jumps)}; the jump was taken out of the times.")
    if repair.gaps:
        said.append(
            f"Nothing was recorded {_times(repair.gaps)}, {repair.gap_s / 60:.1f} min in all; that time counts."
        )
    if repair.midnights:
        said.append("The clock passed midnight.")
    return tuple(said)


def _times(number: int) -> str:
    return "once" if number == 1 else "twice" if number == 2 else f"{number:,} times"
