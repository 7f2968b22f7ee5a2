"""A shop's existing engines as one table, CSV or XLSX: one line for each engine in break-in.

Only reading: which column is which, and what stands in it as text. What it means is the service's.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from shop.errors import Problem, Refusal

MOST_BYTES = 4 * 1024 * 1024
MOST_ROWS = 2000
_MOST_UNPACKED = 64 * 1024 * 1024
_LONGEST_CELL = 400


@dataclass(frozen=True)
class SheetColumn:
    """A column that the import knows. say : what belongs in it, for the page and the empty table."""

    name: str
    label: str
    needed: bool
    say: str


COLUMNS = (
    SheetColumn("customer", "Customer", True, "owner, club or firm; the same name is the same customer"),
    SheetColumn("customer_phone", "Customer phone", False, "of a new customer"),
    SheetColumn("contact", "Contact", False, "whom to call first"),
    SheetColumn("contact_email", "Contact e-mail", False, "empty: this person is phoned"),
    SheetColumn("contact_phone", "Contact phone", False, ""),
    SheetColumn("registration", "Registration", True, ""),
    SheetColumn("home", "Home field", True, "as it stands among the places"),
    SheetColumn("position", "Position", False, "single, left or right; empty is single"),
    SheetColumn("engine_type", "Engine type", True, "designation as it stands among the engine types"),
    SheetColumn("serial", "Engine serial", True, ""),
    SheetColumn("build_number", "Build number", True, "the shop's own"),
    SheetColumn("build_kind", "Kind of work", True, "new, factory rebuilt, overhaul, top overhaul"),
    SheetColumn("build_opened", "Build opened", True, "date, like 2026-05-31"),
    SheetColumn("finish", "Cylinder finish", True, "of all cylinders; mixed ones are opened by hand"),
    SheetColumn("total_time", "Total time", False, "hours at the build"),
    SheetColumn("since_overhaul", "Time since overhaul", False, "hours at the build"),
    SheetColumn("plan", "Run-in plan", False, "name of the template; empty: issued later"),
    SheetColumn("installed", "Installed", True, "date, like 2026-06-14"),
    SheetColumn("clock", "Basis clock", True, "tach, hobbs, recorder or airborne"),
    SheetColumn("meter", "Meter at installation", False, "hours; not for airborne time"),
    SheetColumn("minimum_oil", "Minimum oil for flight", True, "US quarts, from the POH/AFM"),
)
LABELS = {column.name: column.label for column in COLUMNS}


@dataclass(frozen=True)
class SheetRow:
    """One line of the table: its number in the file (1 is the heading) and the text of each known column."""

    number: int
    values: dict[str, str]


def empty_table() -> str:
    """The heading and a line that says what belongs where, as CSV."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([column.label for column in COLUMNS])
    return out.getvalue()


def as_csv(rows: Iterable[SheetRow]) -> str:
    """The rows again as CSV, with the line numbers they came with: what a preview sends back to be imported."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["line", *(column.label for column in COLUMNS)])
    for row in rows:
        writer.writerow([row.number, *(row.values.get(column.name, "") for column in COLUMNS)])
    return out.getvalue()


def read_table(name: str, content: bytes) -> list[SheetRow]:
    """The rows of an uploaded table.

    Raises
    ------
    Refusal : too large, not a table, columns missing, unknown or named twice, no rows, or too many.
    """
    if len(content) > MOST_BYTES:
        raise Refusal.of("table", f"“{name}” is larger than {MOST_BYTES // 1024 // 1024} MB. Leave out what is old.")
    if not content.strip():
        raise Refusal.of("table", f"“{name}” is empty. Save the table again, then send it.")
    lines = _workbook(name, content) if content.startswith(b"PK") else _text(name, content)
    return _rows(name, lines)


def _workbook(name: str, content: bytes) -> list[Sequence[str]]:
    from openpyxl import load_workbook  # heavy, and needed by nobody else

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(each.file_size for each in packed.infolist()) > _MOST_UNPACKED:
                raise Refusal.of("table", f"“{name}” unpacks to far more than a table holds. Save it as CSV.")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        # The size a workbook states may be wrong; what it holds is counted instead.
        sheet.reset_dimensions()
        found: list[Sequence[str]] = []
        for cells in sheet.iter_rows(max_row=MOST_ROWS + 50, max_col=200, values_only=True):
            found.append([_cell(value) for value in cells])
        return found
    except Refusal:
        raise
    except Exception as error:
        # The library raises whatever its parsers raise; none of them is worth a server error.
        raise Refusal.of("table", f"“{name}” is no workbook that can be read. Save it as XLSX or CSV.") from error


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _text(name: str, content: bytes) -> list[Sequence[str]]:
    if b"\x00" in content and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refusal.of("table", f"“{name}” is not text. Save the table as CSV or XLSX.")
    text = _decoded(content)
    head = text.split("\n", 1)[0]
    delimiter = max(";,\t", key=head.count)
    if delimiter not in head:
        raise Refusal.of(
            "table", f"“{name}” has one column only. Save it with commas, semicolons or tabs between them."
        )
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise Refusal.of(
            "table", f"“{name}” can't be read as a table: {error}. Look for a lone quotation mark."
        ) from error


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _key(text: str) -> str:
    return "".join(char for char in text.casefold() if char.isalnum())


_KNOWN = {_key(column.label): column.name for column in COLUMNS} | {
    _key(column.name): column.name for column in COLUMNS
}


def _rows(name: str, lines: Sequence[Sequence[str]]) -> list[SheetRow]:
    at = next((index for index, cells in enumerate(lines) if any(cell.strip() for cell in cells)), None)
    if at is None:
        raise Refusal.of("table", f"“{name}” is empty. Fill in a line for each engine.")
    heads = [str(cell).strip() for cell in lines[at]]
    numbered = bool(heads) and _key(heads[0]) == "line"
    places = _places(name, heads, numbered)
    found = list(_filled(lines, at, places, numbered))
    if not found:
        raise Refusal.of("table", f"“{name}” has a heading and no lines. Fill in a line for each engine.")
    if len(found) > MOST_ROWS:
        raise Refusal.of("table", f"“{name}” has more than {MOST_ROWS} lines. Send it in parts.")
    return found


def _places(name: str, heads: Sequence[str], numbered: bool) -> dict[int, str]:
    problems: list[Problem] = []
    places: dict[int, str] = {}
    for index, head in enumerate(heads):
        if not head or (numbered and index == 0):
            continue
        known = _KNOWN.get(_key(head))
        if known is None:
            problems.append(Problem("table", f"Column “{head[:60]}” is not known. Rename it, or take it out."))
        elif known in places.values():
            problems.append(Problem("table", f"Column “{head[:60]}” stands there twice. Take one out."))
        else:
            places[index] = known
    problems += [
        Problem("table", f"Column “{column.label}” is missing. Add it: {column.say or 'it is needed'}.")
        for column in COLUMNS
        if column.needed and column.name not in places.values()
    ]
    if problems:
        raise Refusal(problems[:40])
    return places


def _filled(lines: Sequence[Sequence[str]], at: int, places: dict[int, str], numbered: bool) -> Iterator[SheetRow]:
    for index, cells in enumerate(lines[at + 1 :], at + 2):
        line = str(cells[0]).strip() if numbered and cells else ""
        number = int(line) if line.isdigit() else index
        values = {places[place]: str(cell).strip() for place, cell in enumerate(cells) if place in places}
        for name, value in values.items():
            if len(value) > _LONGEST_CELL:
                raise Refusal.of(
                    "table", f"Line {number}, {LABELS[name]}: {len(value)} characters. Keep it under {_LONGEST_CELL}."
                )
        if any(values.values()):
            yield SheetRow(number, values)
