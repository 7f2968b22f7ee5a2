"""The many ways of writing a time of day and a date.

Texts are read by shape: rows whose separators stand where those of an example stand are read together, digit by digit.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DAY = 86_400.0
MOST_SHAPES = 48

_DATE = r"(?P<a>\d{4}|\d{1,2})(?P<sep>[-./])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{4}|\d{2})(?!\d)"
_TIME = r"(?P<h>\d{1,3}):(?P<mi>\d{2})(?::(?P<s>\d{2})(?:[.,](?P<f>\d{1,6})\d*)?)?\s?(?P<ampm>[AaPp][Mm]?)?"
_COMPACT_DATE = r"(?P<a>(?:19|20)\d{2})(?P<b>\d{2})(?P<c>\d{2})"
_SHAPES = tuple(
    re.compile(one)
    for one in (
        rf"\s*{_DATE}[T ,]+\s*{_TIME}\s*(?:Z|UTC|[+-]\d{{2}}:?\d{{2}})?\s*$",
        rf"\s*{_TIME}\s*(?:Z|UTC|[+-]\d{{2}}:?\d{{2}})?\s*$",
        rf"\s*{_DATE}\s*$",
        rf"\s*{_COMPACT_DATE}[T _-]?(?P<h>\d{{2}}):?(?P<mi>\d{{2}}):?(?P<s>\d{{2}})(?:[.,](?P<f>\d{{1,6}})\d*)?Z?\s*$",
        rf"\s*{_COMPACT_DATE}\s*$",
        r"\s*(?P<h>\d{2})(?P<mi>\d{2})(?P<s>\d{2})\s*$",
    )
)


@dataclass(frozen=True)
class TimeFormat:
    """How time is written.

    kind : "clock" (texts with colons or dates), "elapsed" (a number since some start) or "epoch" (seconds since 1970).
    has_date : a date stands in the file. order : "ymd", "dmy", "mdy" or "" without a date.
    order_sure : no other order of day and month fits the file.
    text : in words, for people.
    scale : seconds for one unit of a number.
    """

    kind: str
    has_date: bool
    order: str = ""
    order_sure: bool = True
    text: str = ""
    scale: float = 1.0


@dataclass(frozen=True)
class Parts:
    """Fields of written times, one array each; NaN where the text is no time. `date` is the three date fields."""

    seconds: Floats
    date: tuple[Floats, Floats, Floats] | None
    year_first: bool
    dots: bool
    half_day: bool


def match(text: str) -> re.Match[str] | None:
    """The shape a written time or date fits, or None."""
    for shape in _SHAPES:
        found = shape.match(text)
        if found:
            return found
    return None


def parts_of(texts: Sequence[str | None]) -> Parts:
    """Read written times.

    Parameters
    ----------
    texts : the fields as written; None for a blank.

    >>> float(parts_of(["11:46:31", "01:00:00 PM", None]).seconds[1])
    46800.0
    """
    n = len(texts)
    alike = _all_alike(texts)
    if alike is not None:
        return alike
    seconds, first, second, third = (np.full(n, np.nan) for _ in range(4))
    lengths = np.fromiter((len(one) if one else 0 for one in texts), np.int64, n)
    year_first = dots = half_day = any_date = False
    shapes = 0
    for length in np.unique(lengths[(lengths > 2) & (lengths < 48)]):
        where = np.flatnonzero(lengths == length)
        joined = "".join(texts if len(where) == n else [texts[int(index)] or "" for index in where])  # type: ignore[arg-type]
        raw = joined.encode("ascii", "replace")
        letters = np.frombuffer(raw, np.uint8).reshape(len(where), int(length))
        while len(where) and shapes < MOST_SHAPES:
            shapes += 1
            example = bytes(letters[0]).decode("ascii")
            found = match(example)
            same = _same_shape(letters, found)
            if found:
                rows, chosen = (letters, where) if same.all() else (letters[same], where[same])
                seconds[chosen] = _seconds(rows, found)
                if found.re.groupindex.get("a"):
                    any_date = True
                    year_first = year_first or found.end("a") - found.start("a") == 4
                    dots = dots or found.groupdict().get("sep") == "."
                    for into, name in ((first, "a"), (second, "b"), (third, "c")):
                        into[chosen] = _digits(rows, found, name)
                half_day = half_day or bool(found.groupdict().get("ampm"))
            letters, where = letters[~same], where[~same]
    return Parts(seconds, (first, second, third) if any_date else None, year_first, dots, half_day)


def _all_alike(texts: Sequence[str | None]) -> Parts | None:
    """The quick way, for texts that all have the shape of the first; None when they don't."""
    found = match(texts[0]) if texts and texts[0] else None
    if found is None:
        return None
    try:
        raw = "".join(texts).encode("ascii")  # type: ignore[arg-type]
    except (TypeError, UnicodeEncodeError):
        return None
    if len(raw) != len(texts) * len(found.string):
        return None
    letters = np.frombuffer(raw, np.uint8).reshape(len(texts), len(found.string))
    if not _same_shape(letters, found).all():
        return None
    groups = found.groupdict()
    date = None
    if groups.get("a"):
        date = (_digits(letters, found, "a"), _digits(letters, found, "b"), _digits(letters, found, "c"))
    return Parts(
        _seconds(letters, found),
        date,
        date is not None and found.end("a") - found.start("a") == 4,
        groups.get("sep") == ".",
        bool(groups.get("ampm")),
    )


def _same_shape(letters: NDArray[np.uint8], found: re.Match[str] | None) -> NDArray[np.bool_]:
    """Rows with a digit wherever the first row has one, and the same sign elsewhere."""
    example = letters[0]
    digit = (example >= 48) & (example <= 57)
    loose = np.zeros(len(example), bool)
    if found and found.groupdict().get("ampm"):
        loose[found.start("ampm")] = True
    fixed = ~digit & ~loose
    same = (letters[:, fixed] == example[fixed]).all(axis=1)
    same &= ((letters[:, digit] >= 48) & (letters[:, digit] <= 57)).all(axis=1)
    for column in np.flatnonzero(loose):
        same &= np.isin(letters[:, column], np.frombuffer(b"AaPp", np.uint8))
    return np.asarray(same)


def _digits(letters: NDArray[np.uint8], found: re.Match[str], name: str) -> Floats:
    start, end = found.span(name)
    total = np.zeros(len(letters))
    for column in range(start, end):
        total = total * 10.0 + (letters[:, column] - 48.0)
    return total


def _seconds(letters: NDArray[np.uint8], found: re.Match[str]) -> Floats:
    groups = found.groupdict()
    if groups.get("h") is None:
        return np.zeros(len(letters))
    hours, minutes = _digits(letters, found, "h"), _digits(letters, found, "mi")
    if groups.get("ampm"):
        sign = letters[:, found.start("ampm")]
        evening = (sign == ord("P")) | (sign == ord("p"))
        wrong = (hours > 12) | (hours < 1)
        hours = np.where(wrong, np.nan, hours % 12 + 12.0 * evening)
    total = hours * 3600.0 + minutes * 60.0
    rest = np.zeros(len(letters))
    if groups.get("s"):
        rest = _digits(letters, found, "s")
    if groups.get("f"):
        total = total + _digits(letters, found, "f") / 10.0 ** (found.end("f") - found.start("f"))
    return np.where((minutes > 59) | (rest > 60), np.nan, total + rest)


def date_order(parts: Parts, hint: str = "") -> tuple[str, bool]:
    """The order of day, month and year, and whether the file leaves no other.

    Told by numbers over 12, dots, AM and PM, a day that counts up; then `hint`.
    """
    if parts.year_first or parts.date is None:
        return "ymd", True
    first, second, _third = parts.date
    if np.nanmax(first, initial=0.0) > 12:
        return "dmy", True
    if np.nanmax(second, initial=0.0) > 12:
        return "mdy", True
    if parts.dots:
        return "dmy", True
    if parts.half_day:
        return "mdy", True
    # The day counts up over midnight and the month does not.
    if np.nanmin(first) != np.nanmax(first) and np.nanmin(second) == np.nanmax(second):
        return "dmy", True
    if np.nanmin(second) != np.nanmax(second) and np.nanmin(first) == np.nanmax(first):
        return "mdy", True
    return hint or "mdy", False


def day_seconds(date: tuple[Floats, Floats, Floats], order: str) -> Floats:
    """Seconds from 1970 to the start of each day; NaN for a date that does not exist."""
    places = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}[order]
    year, month, day = (date[place] for place in places)
    year = np.where(year < 70, year + 2000, np.where(year < 100, year + 1900, year))
    good = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year >= 1900)
    months = np.where(good, (year - 1970) * 12 + month - 1, 0).astype(np.int64)
    start = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    end = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    whole = np.where(good, day, 1).astype(np.int64)
    good &= whole <= end - start
    return np.where(good, (start + whole - 1) * DAY, np.nan)


def written_format(dated: Parts | None, timed: Parts, hint: str = "") -> TimeFormat:
    """How texts write the time: `dated` has the date, when there is one; `hint` is the order a person confirmed."""
    if dated is None or dated.date is None:
        return TimeFormat("clock", False, text="time of day without a date")
    order, sure = date_order(dated, hint)
    words = {"ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year"}[order]
    half = " with AM and PM" if timed.half_day else ""
    return TimeFormat("clock", True, order, sure or bool(hint), f"date as {words}, and time of day{half}")
