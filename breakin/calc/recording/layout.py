"""How a delimited text file is laid out: separator, decimal mark, header line, line of units.

No instrument's format is known here. The lines that hold most fields and mostly numbers are the data; the last line
of names in front of them is the header.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from breakin.calc.recording.encoding import LAYOUT_BYTES, encoding_of, lines_of
from breakin.calc.recording.unreadable import Unreadable

LAYOUT_LINES = 160
FEW_LINES = 12
MOST_COLUMNS = 2_000
LONGEST_LINE = 65_536
SEPARATORS = (",", ";", "\t", "|")
BLANKS = (
    "",
    "-",
    "--",
    "---",
    "----",
    "nan",
    "na",
    "n/a",
    "null",
    "none",
    "inf",
    "-inf",
    "err",
    "error",
    "fail",
    "xxx",
)

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")
_CLOCKLIKE = re.compile(r"\d{1,4}([-./:T ]\s?\d{1,2}){2}")


@dataclass(frozen=True)
class Layout:
    """Where things are in the file.

    encoding : name for :func:`codecs.decode`; "utf-8" also with a byte-order mark, which is left out.
    delimiter, decimal : one character each. quoted : fields may stand in double quotes.
    header_line : index of the header among the lines, from 0. names : its fields, as written.
    units : text of the unit of each column, from the line under the header or from brackets in the name, or "".
    first_line : index of the first line that may hold data.
    """

    encoding: str
    delimiter: str
    decimal: str
    quoted: bool
    header_line: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    first_line: int


def unquoted(data: bytes, plan: Layout) -> bytes:
    """Lines of data without quotation marks; a separator inside quotes becomes a point.

    Each line is taken by itself, so that one unbalanced mark can't swallow the lines after it.
    """
    if b'"' not in data:
        return data
    mark, usual = plan.delimiter.encode(), len(plan.names) - 1
    lines = data.split(b"\n")
    for number, line in enumerate(lines):
        if b'"' in line:
            if line.count(mark) > usual and line.count(b'"') % 2 == 0:
                fields = split(line.decode("utf-8", "replace"), plan.delimiter, True)
                lines[number] = mark.join(one.replace(plan.delimiter, ".").encode() for one in fields)
            lines[number] = lines[number].replace(b'"', b"")
    return b"\n".join(lines)


def split(line: str, delimiter: str, quoted: bool) -> list[str]:
    """The fields of one line, without blanks around them."""
    if quoted and '"' in line:
        return [one.strip() for one in next(csv.reader([line], delimiter=delimiter), [])]
    return [one.strip() for one in line.split(delimiter)]


def is_number(text: str) -> bool:
    """Whether a field is a plain number, with a point or a comma."""
    return bool(_NUMBER.match(text))


def _is_value(text: str) -> bool:
    return is_number(text) or bool(_CLOCKLIKE.match(text)) or text.casefold() in BLANKS


def layout_of(head: bytes) -> Layout:
    """How the file is laid out, from its first bytes (at most :data:`LAYOUT_BYTES` are looked at).

    Raises
    ------
    Unreadable : not a text, no columns, only a header, too many columns, lines without end.
    """
    encoding = encoding_of(head)
    lines = lines_of(head[:LAYOUT_BYTES], encoding)
    if len(lines) < 20:
        lines = lines_of(head, encoding)
    lines = lines[:LAYOUT_LINES]
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            mend = "A recording has one line for each moment; export it again."
            raise Unreadable(f"the line has {len(line):,} or more characters", row=number, mend=mend)
    quoted = any('"' in line for line in lines)
    delimiter, width = _delimiter(lines, quoted)
    if width > MOST_COLUMNS:
        mend = f"At most {MOST_COLUMNS:,} columns are read; export fewer."
        raise Unreadable(f"there are {width:,} columns", mend=mend)
    rows = [split(line, delimiter, quoted) for line in lines[:FEW_LINES]]
    try:
        header, early = _header(rows, width)
    except Unreadable:
        rows = [split(line, delimiter, quoted) for line in lines]
        header, early = _header(rows, width)
    names = _unique(rows[header])
    if len(rows) > header + 1 and all(
        len(row) == len(names) + 1 and not row[-1] for row in rows[header + 1 : header + 9]
    ):
        names = _unique([*rows[header], ""])
    units_line = header + 1 if header + 1 < len(rows) and _is_unit_line(rows[header + 1], len(names)) else None
    units = rows[units_line] if units_line is not None else [""] * len(names)
    units = (units + [""] * len(names))[: len(names)]
    first = header + 1 if units_line is None else units_line + 1
    first = first if early is None else early
    _refuse_wrong_width(rows, first, names, delimiter)
    texts = tuple(_unit_in(name) or ("" if unit in BLANKS else unit) for name, unit in zip(names, units, strict=True))
    decimal = _decimal(lines[first:], delimiter, quoted)
    return Layout(encoding, delimiter, decimal, quoted, header, names, texts, first)


def _unique(names: list[str]) -> tuple[str, ...]:
    """Names of columns, each once: a name that comes again is counted, an empty one is told by its place."""
    seen: Counter[str] = Counter()
    out: list[str] = []
    for place, name in enumerate(names, 1):
        name = name or f"column {place}"
        seen[name] += 1
        while seen[name] > 1 and (again := f"{name} ({seen[name]})") in (*names, *out):
            seen[name] += 1
        out.append(name if seen[name] == 1 else again)
    return tuple(out)


def _delimiter(lines: list[str], quoted: bool) -> tuple[str, int]:
    """The separator with which most lines have the same number of fields, and that number."""
    best, best_score, width = "", 0.0, 1
    filled = [line for line in lines if line.strip()]
    sample = filled[:20] + filled[20:][-20:]
    for one in SEPARATORS:
        counts = Counter(len(split(line, one, True)) if quoted else line.count(one) + 1 for line in sample)
        counts.pop(1, None)
        if not counts:
            continue
        fields, lines_with = max(counts.items(), key=lambda each: (each[1] * min(each[0], 8), each[0]))
        # Decimal commas also split lines; the true separator leaves fields that are values.
        values = total = 0
        for line in sample[-10:]:
            row = split(line, one, quoted)
            if len(row) == fields:
                values += sum(map(_is_value, row))
                total += len(row)
        score = lines_with / len(sample) * max(values / total if total else 0.0, 0.01) ** 2 * (1 - 0.5 / fields)
        if one == "," and ";" in "".join(sample[-20:]):
            score *= 0.5
        if score > best_score:
            best, best_score, width = one, score, fields
    if not best:
        mend = "The columns must be separated by commas, semicolons or tabs, and there must be a time and a value."
        raise Unreadable("no columns were found", mend=mend)
    return best, width


def _header(rows: list[list[str]], width: int) -> tuple[int, int | None]:
    """Index of the line of names: the last one of names before the first line of data.

    Where data come first, as from a recorder that writes in a ring: the first line of names after them, and the index
    of the first line of data.
    """
    found = early = None
    for index, row in enumerate(rows):
        filled = [one for one in row if one]
        if len(row) < max(2, width - 1) or len(row) > width + 1 or not filled:
            continue
        numbers = sum(map(_is_value, filled)) / len(filled)
        if numbers > 0.5 and _has_number(filled):
            if found is not None:
                return found, None
            early = index if early is None else early
        elif numbers <= 0.3 and len(filled) >= 0.5 * len(row):
            if early is not None:
                return index, early
            if found is None or not _is_unit_line(row, len(rows[found])):
                found = index
    if early is not None:
        mend = "Put one line with the name of each column before the numbers."
        what = "there are numbers but no line with names of columns before them"
        names = max((sum(map(bool, one)) for one in rows[:early] if not any(map(_is_value, one))), default=0)
        if names > 1:
            what = f"the lines hold {len(rows[early])} values but the header names {names} columns"
            mend = "If the numbers have a decimal comma, export with semicolons between the columns."
        raise Unreadable(what, row=early + 1, mend=mend)
    if found is None:
        raise Unreadable("no line with the names of columns was found", mend="Export the recording with its header.")
    raise Unreadable("there is a header but no line of data", row=found + 1, mend="Export the recording again.")


def _has_number(fields: list[str]) -> bool:
    return any(is_number(one) or _CLOCKLIKE.match(one) for one in fields)


_UNITS = re.compile(
    r"[\[(]?\s*(°?\s*[fc]|deg\.?\s*[fc]|in\.?\s?hg|inches|\"hg|hpa|mbar|kpa|mmhg|mb|bar|psi|gph|gal/hr?|usg/h|l/hr?|lph|"
    r"kg/hr?|lb/hr?|pph|ft|feet|m|kts?|knots|km/h|kmh|kph|mph|rpm|1/min|u/min|v|volts?|a|amps?|%|s|sec|seconds|"
    r"hh:mm:ss|h:m:s|[dmy]{2,4}[-./][dmy]{2,4}[-./][dmy]{2,4}|deg|°|-+|h|min|gal|l|lb|kg|hz|g|utc|local|text|"
    r"time|date|hms|ymd)\s*[\])]?$",
    re.IGNORECASE,
)


def _is_unit_line(row: list[str], width: int) -> bool:
    filled = [one for one in row if one]
    if len(row) < width - 1 or _has_number(row):
        return False
    return not filled or sum(bool(_UNITS.match(one)) for one in filled) >= 0.6 * len(filled)


def _unit_in(name: str) -> str:
    """The unit in brackets at the end of a name, or after a comma: "CHT 1 (F)" -> "F"."""
    found = re.search(r"[\[(]([^\[\]()]{1,12})[\])]\s*$", name) or re.search(r"[,_ ]\s*(°[FC])\s*$", name)
    return found[1].strip() if found and _UNITS.match(found[1].strip()) else ""


def _decimal(lines: list[str], delimiter: str, quoted: bool) -> str:
    if delimiter == ",":
        return "."  # a comma inside quotation marks becomes a point when they are taken off
    fields = [one for line in lines[:40] for one in split(line, delimiter, quoted) if is_number(one)]
    commas, points = sum("," in one for one in fields), sum("." in one for one in fields)
    return "," if commas > points else "."


def _refuse_wrong_width(rows: list[list[str]], first: int, names: tuple[str, ...], delimiter: str) -> None:
    widths = Counter(len(row) for row in rows[first : first + 300] if any(row))
    if widths:
        usual, _times = widths.most_common(1)[0]
        if usual > len(names) + 1:
            what = f"the lines hold {usual} values but the header names {len(names)} columns"
            mend = "Export the recording again."
            if delimiter == ",":
                mend = "If the numbers have a decimal comma, export with semicolons between the columns."
            raise Unreadable(what, row=first + 1, mend=mend)
