"""Files damaged at random, always the same for a seed, and what must hold whatever the file: read, or refused."""

from __future__ import annotations

import gzip
import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from breakin.calc.recording import Unreadable, doubts, flights_in, look, read_table
from tests.calc.recording.made import LEGS, File, numbers

KINDS: tuple[File, ...] = (
    File(),
    File(delimiter=";", decimal=",", time="date_hms", units={"cht": "C", "egt": "C", "oil_temp": "C", "oat": "C"}),
    File(delimiter="\t", encoding="utf-16", newline="\r\n", time="us_ampm"),
    File(time="elapsed", before=("#Recorder dump", "tail,N000XX", ""), unit_line=True),
    File(time="hms", newline="\r\n", encoding="utf-8-sig"),
)
_WORDS = (
    b"", b"-", b"---", b"NaN", b"nan", b"inf", b"1e400", b"-40", b"999", b'"', b'""', b"'", b"\x00", b"\xff",
    b"\xef\xbb\xbf", b"99:99:99", b"00:00:00", b"2024-13-45 25:61:61", b"31.02.2024", b"1970-01-01 00:00:00",
    b"Time", b"RPM", b"9" * 400, b"0x10", b"1,5", b"1.5.5", b"--5", b"+", b"e", b"\r", b"\n", b"\n\n\n", b"\t",
    b",", b";;;;", b"|", "°".encode(), "ü".encode(), "漢".encode(), b"\xc3\x28", b"=1+1", b"<html>", b"#",
)  # fmt: skip


def originals() -> list[tuple[bytes, dict[str, Any]]]:
    """Whole files with their mappings, small enough to damage by the thousand."""
    found = []
    for number, kind in enumerate(KINDS):
        flight = numbers([(leg, lasts / 12) for leg, lasts in LEGS["flight"]], step=2.0, seed=number)
        found.append((kind.text(kind.lines(flight, 2.0)), kind.mapping(flight, auto=number == 3)))
    return found


def _lines(data: bytes, random_: random.Random, change: Callable[[list[bytes]], list[bytes] | None]) -> bytes:
    lines = data.split(b"\n")
    return b"\n".join(change(lines) or lines)


def damaged(data: bytes, random_: random.Random) -> bytes:
    """One to four kinds of damage, one after another."""
    for _ in range(random_.randint(1, 4)):
        data = random_.choice(_DAMAGES)(data, random_)[:400_000]
    return data


def _flip(data: bytes, random_: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(random_.choice((1, 5, 60, 600))):
        if out:
            out[random_.randrange(len(out))] = random_.randrange(256)
    return bytes(out)


def _cut(data: bytes, random_: random.Random) -> bytes:
    start, end = sorted((random_.randrange(len(data) + 1), random_.randrange(len(data) + 1)))
    return random_.choice((data[:start], data[start:], data[:start] + data[end:], data[start:end]))


def _insert(data: bytes, random_: random.Random) -> bytes:
    for _ in range(random_.choice((1, 3, 40))):
        at = random_.randrange(len(data) + 1)
        data = data[:at] + random_.choice(_WORDS) * random_.choice((1, 1, 2, 50)) + data[at:]
    return data


def _noise(data: bytes, random_: random.Random) -> bytes:
    at = random_.randrange(len(data) + 1)
    return data[:at] + random_.randbytes(random_.choice((1, 16, 3000))) + data[at:]


def _fields(data: bytes, random_: random.Random) -> bytes:
    def change(lines: list[bytes]) -> None:
        for _ in range(random_.choice((1, 10, 200))):
            at = random_.randrange(len(lines))
            mark = random_.choice((b",", b";", b"\t"))
            row = lines[at].split(mark)
            row[random_.randrange(len(row))] = random_.choice(_WORDS)
            lines[at] = mark.join(row)

    return _lines(data, random_, change)


def _column(data: bytes, random_: random.Random) -> bytes:
    mark = random_.choice((b",", b";", b"\t"))
    place, word = random_.randrange(20), random_.choice(_WORDS)

    def change(lines: list[bytes]) -> list[bytes]:
        out = []
        for number, line in enumerate(lines):
            row = line.split(mark)
            if number and place < len(row):
                row[place] = word
            out.append(mark.join(row))
        return out

    return _lines(data, random_, change)


def _order(data: bytes, random_: random.Random) -> bytes:
    def change(lines: list[bytes]) -> list[bytes]:
        kind = random_.randrange(6)
        if kind == 0:
            random_.shuffle(lines)
        elif kind == 1:
            lines = lines[::-1]
        elif kind == 2:
            lines = [line for line in lines for _ in range(random_.choice((1, 1, 2)))]
        elif kind == 3:
            at = random_.randrange(len(lines))
            lines = lines[:at] + lines[: random_.randrange(5)] + lines[at:]
        elif kind == 4:
            lines = lines[random_.randrange(4) :]
        else:
            lines = [line for line in lines if random_.random() > 0.3]
        return lines

    return _lines(data, random_, change)


def _whole(data: bytes, random_: random.Random) -> bytes:
    kinds: tuple[Callable[[], bytes], ...] = (
        lambda: data.replace(b"\n", b"\r"),
        lambda: data.replace(b"\n", b"\r\n"),
        lambda: data.replace(b",", b";"),
        lambda: data.replace(b".", b","),
        lambda: data.replace(b"\n", b",\n"),
        lambda: data.replace(b"\n", b""),
        lambda: data.replace(b"0", b""),
        lambda: data + data,
        lambda: data[1:],
        lambda: gzip.compress(data, 1),
        lambda: b"PK\x03\x04" + data,
        lambda: b"<html><body>" + data,
        lambda: data.decode("latin-1").encode("utf-16"),
        lambda: data.decode("latin-1").encode("utf-16-be"),
        lambda: b'"' + data.replace(b",", b'","'),
        lambda: data.replace(b",", b", "),
        lambda: data.replace(b"\n", b"\n\n"),
        lambda: b"\x00" * random_.choice((1, 100)) + data + b"\x00" * 500,
        lambda: b"",
        lambda: random_.randbytes(random_.choice((1, 10, 5000))),
        lambda: b"".join(random_.choice(_WORDS) for _ in range(random_.choice((3, 400)))),
        lambda: b"x," * random_.choice((1, 3000, 30_000)) + b"\n" + data,
        lambda: data.swapcase(),
    )
    return random_.choice(kinds)()


_DAMAGES = (_flip, _cut, _insert, _noise, _fields, _column, _order, _whole)


def _damaged_mapping(mapping: dict[str, Any], random_: random.Random) -> Any:
    kind = random_.randrange(9)
    changed: Any = {**mapping, "engines": {"1": dict(mapping["engines"]["1"])}, "units": dict(mapping["units"])}
    if kind == 0:
        changed["time"] = random_.choice(("Clock", None, [], ["Time"], ["Time", "Time"], 7, ["Date", "RPM"], "RPM"))
    elif kind == 1:
        changed["engines"]["1"]["rpm"] = random_.choice(("no such", "Time", None, 3, ["RPM"]))
    elif kind == 2:
        changed["units"] = {
            name: random_.choice(("F", "C", "auto", "kg/h", "m", "furlong", "", 5)) for name in changed["units"]
        }
    elif kind == 3:
        changed.pop(random_.choice(("time", "units", "common")))
    elif kind == 4:
        changed["engines"] = random_.choice(({}, {"3": {}}, {"1": {}}, None, [], {"1": {"cht": "CHT 1"}}))
    return changed


def holds(path: Path, mapping: Any) -> str:
    """Read a file in every way. "read" or "refused"; an AssertionError, or any other error, is a fault.

    Times never go back, rows count up, every number is finite or a blank, and a refusal says what and how to mend it.
    """
    ways: tuple[Callable[[], None], ...] = (
        lambda: _looked(path),
        lambda: _doubted(path, mapping),
        lambda: _table(path, mapping),
    )
    refused = 0
    for way in ways:
        try:
            way()
        except Unreadable as refusal:
            if not refusal.what or not refusal.mend.endswith(".") or (refusal.row or 1) < 1:
                raise AssertionError(f"a refusal that does not help: {refusal}") from refusal
            refused += 1
    return "refused" if refused == len(ways) else "read"


def _looked(path: Path) -> None:
    seen = look(path)
    assert seen.columns
    assert set(seen.mapping) == {"time", "engines", "common", "units"}
    for column in seen.columns:
        assert (column.low is None) == (column.high is None)
        assert 0 <= column.blank_share <= 1
    if seen.mapping["engines"]:
        _table(path, seen.mapping)


def _doubted(path: Path, mapping: Any) -> None:
    for question in doubts(path, mapping):
        assert question.text.endswith("?")


def _table(path: Path, mapping: Any) -> None:
    table = read_table(path, mapping)
    assert len(table) > 0
    assert np.isfinite(table.t).all()
    assert (np.diff(table.t) >= 0).all()
    assert table.t[0] == 0 or math.isclose(table.t[0], 0, abs_tol=1e-9)
    assert (np.diff(table.row) > 0).all()
    assert table.sample_s > 0
    for values in table.columns.values():
        assert values.dtype == np.float64
        assert len(values) == len(table)
    for found in flights_in(table):
        assert len(table.part(found.first_row, found.end_row)) > 0


def case(number: int, files: list[tuple[bytes, dict[str, Any]]], path: Path) -> str:
    """One case of the fuzz: a damaged file, every tenth with a damaged mapping too."""
    random_ = random.Random(number)
    data, mapping = random_.choice(files)
    data = damaged(data, random_)
    path.write_bytes(data)
    return holds(path, _damaged_mapping(mapping, random_) if random_.random() < 0.1 else mapping)
