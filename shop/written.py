"""Numbers and days as the language of the page writes them: "0.11" and "24 Nov", "0,11" and "24. Nov."."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import dateformat
from django.utils.formats import get_format
from django.utils.translation import pgettext

MINUS = "\u2212"


def decimal_mark() -> str:
    return str(get_format("DECIMAL_SEPARATOR"))


def digits(text: str) -> str:
    """A number that stands in digits with a decimal point, with the mark of the language: "8.25" as "8,25"."""
    return text.replace(".", decimal_mark())


def number(value: float, places: int) -> str:
    """A number to so many places, with a true minus; never "-0"."""
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return digits(text.replace("-", MINUS, 1))


def short(value: float) -> str:
    """A number in as few digits as it has, at most six: "8", "7.5"."""
    return digits(f"{value:g}".replace("-", MINUS, 1))


def day(value: date | datetime, *, year: bool = True) -> str:
    """A day of the calendar; of an instant, the day on its own clock."""
    # Translators: letters as in Django's date filter: j day, N month in short, Y year.
    pattern = pgettext("date", "j M Y") if year else pgettext("date", "j M")
    return dateformat.format(value, pattern)


def long_day(value: date | datetime) -> str:
    """A day with the month's whole name: "31 October 2026", "31. Oktober 2026"."""
    # Translators: letters as in Django's date filter: j day, F month, Y year.
    return dateformat.format(value, pgettext("date", "j F Y"))


def signed(value: float, places: int) -> str:
    """A number with its sign, also above zero."""
    return digits(f"{value:+.{places}f}".replace("-", MINUS, 1))
