"""Numbers pasted from a spreadsheet: which separator, which column is what, and every cell that is no number.

Only reading. Lines are counted as they were pasted, heading included, so that they agree with the spreadsheet's rows.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from breakin.calc.units import Kind, to_canonical
from shop.errors import Problem

LONGEST = 40_000
MOST_LINES, MOST_CELLS = 120, 60
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
_AMBIGUOUS = re.compile(r"[+-]?(?!0,)\d{1,3},\d{3}")
_SPOKEN = {"tab": "tab", ";": "semicolon", ",": "comma", " ": "blank"}
# Which column a heading names, and the units it may name beside it. The first unit is the usual one.
_HEADINGS: tuple[tuple[str, re.Pattern[str], Kind | None, tuple[str, ...]], ...] = (
    ("altitude", re.compile(r"^(pressure alt|alt|pa\b|press\.? ?alt|density alt)", re.IGNORECASE), Kind.ALTITUDE,
     ("ft", "m")),
    ("rpm", re.compile(r"^(rpm|engine speed|speed|r/min|n\b)", re.IGNORECASE), None, ()),
    ("mp", re.compile(r"^(mp\b|map\b|manifold|boost)", re.IGNORECASE), Kind.PRESSURE_MANIFOLD,
     ("inHg", "hPa", "mbar", "kPa", "mmHg")),
    ("hp", re.compile(r"^(hp|bhp|power|kw)\b", re.IGNORECASE), Kind.POWER, ("hp", "kW")),
    ("pct", re.compile(r"^(%|pct|percent|per cent)", re.IGNORECASE), None, ()),
)  # fmt: skip
NAMES = {"altitude": "altitude", "rpm": "rpm", "mp": "MP", "hp": "hp", "pct": "%"}


@dataclass(frozen=True)
class Line:
    """One pasted line that is not empty: its number, from 1, and its cells as text."""

    number: int
    cells: tuple[str, ...]


@dataclass
class Cells:
    """What was pasted into the field `name` of a form. `problems` grows as it is read; `said` tells how it was read."""

    name: str
    lines: list[Line]
    separator: str
    problems: list[Problem] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def problem(self, message: str) -> None:
        self.problems.append(Problem(self.name, message))

    def number(self, line: Line, index: int, column: str) -> float | None:
        """The cell as a number; None, with a problem, where it is none."""
        text = line.cells[index].strip().removesuffix("%").strip() if index < len(line.cells) else ""
        where = f"row {line.number}, column {column}"
        if not text:
            self.problem(f"{where}: it is empty. Fill it in, or leave the whole row out.")
            return None
        if _AMBIGUOUS.fullmatch(text):
            plain = text.replace(",", "")
            self.problem(
                f"{where}: “{text}” may be {plain} or {text.replace(',', '.')}. Write {plain}, or more digits."
            )
            return None
        if not _NUMBER.fullmatch(text):
            self.problem(f"{where}: “{text[:40]}” is not a number. Correct it as it stands in the document.")
            return None
        return float(text.replace(",", "."))


def cells_of(name: str, text: str) -> Cells:
    """The pasted text as lines of cells, separated by tabs, semicolons, commas or blanks.

    A comma is a decimal mark unless it separates: a tab or a semicolon anywhere in the text goes before it.
    """
    found = Cells(name, [], "")
    if len(text) > LONGEST:
        found.problem(f"{len(text)} characters are too many for a chart. Paste its numbers alone.")
        return found
    found.separator = _separator(text)
    for number, raw in enumerate(text.splitlines(), 1):
        if not raw.strip():
            continue
        cells = (
            raw.split() if found.separator == " " else raw.split({"tab": "\t"}.get(found.separator, found.separator))
        )
        cells = [each.strip().strip('"') for each in cells]
        while cells and not cells[-1]:
            cells.pop()
        found.lines.append(Line(number, tuple(cells)))
    if len(found.lines) > MOST_LINES or any(len(line.cells) > MOST_CELLS for line in found.lines):
        found.problem(
            f"More than {MOST_LINES} rows or {MOST_CELLS} columns are no power chart. Paste its numbers alone."
        )
        found.lines = []
    return found


def _separator(text: str) -> str:
    if "\t" in text:
        return "tab"
    if ";" in text:
        return ";"
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if any(re.search(r",\s|,.*,", line) for line in lines) or not any(re.search(r"\S\s+\S", line) for line in lines):
        return ","
    return " "


def is_number(text: str) -> bool:
    return bool(_NUMBER.fullmatch(text.strip().removesuffix("%").strip()))


@dataclass(frozen=True)
class Column:
    """A column of a list: what it holds, its heading as pasted, and the unit it is in (empty where it has none)."""

    name: str
    heading: str
    unit: str = ""
    kind: Kind | None = None

    def canonical(self, value: float) -> float:
        return to_canonical(value, self.unit, self.kind) if self.kind else value


def columns_of(found: Cells, heading: Line) -> list[Column] | None:
    """What each heading names; None, with a problem, where one is not known or comes twice."""
    columns: list[Column] = []
    for text in heading.cells:
        known = next((row for row in _HEADINGS if row[1].match(text.strip())), None)
        if known is None:
            found.problem(
                f"row {heading.number}: the heading “{text[:40]}” is not known. Use altitude, rpm, MP, and hp or %."
            )
            return None
        name, _, kind, units = known
        unit = next((each for each in units if re.search(rf"\b{re.escape(each)}\b", text, re.IGNORECASE)), "")
        if any(column.name == name for column in columns):
            found.problem(f"row {heading.number}: two columns are headed {NAMES[name]}. Leave one of them out.")
            return None
        columns.append(Column(name, text.strip(), unit or (units[0] if units else ""), kind))
        if unit and unit != units[0]:
            found.said.append(f"{NAMES[name]} was read in {unit} and is kept in {units[0]}.")
    return columns


def listed(found: Cells, usual: Sequence[str]) -> list[tuple[Line, dict[str, float]]]:
    """A list with one point a row. Without a heading the columns are taken to be `usual`, which is said.

    Returns the rows that could be read whole, in canonical units, under altitude, rpm, mp, hp or pct.
    """
    if not found.lines:
        return []
    first, *rest = found.lines
    if any(is_number(cell) for cell in first.cells):
        rest = found.lines
        columns: list[Column] | None = [Column(name, NAMES[name]) for name in usual]
        found.said.append(f"There is no heading: the columns were taken to be {', '.join(NAMES[n] for n in usual)}.")
    else:
        columns = columns_of(found, first)
    if columns is None:
        return []
    rows = []
    for line in rest:
        if len(line.cells) > len(columns):
            found.problem(
                f"row {line.number}: {len(line.cells)} cells for {len(columns)} columns. The separator was taken to be "
                f"a {_SPOKEN[found.separator]}; use a semicolon where decimals have a comma."
            )
            continue
        before = len(found.problems)
        values = {
            column.name: found.number(line, index, column.heading or NAMES[column.name])
            for index, column in enumerate(columns)
        }
        if len(found.problems) == before:
            read = {column.name: column.canonical(values[column.name] or 0.0) for column in columns}
            rows.append((line, read))
    return rows
