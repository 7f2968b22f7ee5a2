"""What was written down of a finding, a due item or a notice, as its reader reads it: in his language and his units.

The book keeps the English text in US units; beside it stands the message that it was made from (breakin.calc.said).
A row from before there were messages, and one that was kept wrongly, is read as its text stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from django.utils.formats import get_format
from django.utils.translation import get_language, gettext

from breakin.calc.said import ENGLISH, US, Said, Tongue
from shop.written import day

ENGLISH_CODE = "en"


class Told(Protocol):
    """A row that says something: its text, and the messages of its fields as JSON."""

    text: Any
    said: Any


class Titled(Told, Protocol):
    title: Any


def say(message: Said, units: str = US) -> str:
    """A message in the active language."""
    return message.read(units, tongue())


def spoken(text: str, units: str = US) -> str:
    """A text in the active language and these units, where it is a message; else as it stands."""
    return text.read(units, tongue()) if isinstance(text, Said) else text


def kept(**fields: str) -> dict[str, Any]:
    """The messages of these fields as JSON keeps them; a text that was put together without one is left out."""
    return {name: text.to_dict() for name, text in fields.items() if isinstance(text, Said)}


def tongue() -> Tongue:
    """How the active language writes."""
    if (get_language() or ENGLISH_CODE).startswith(ENGLISH_CODE):
        return ENGLISH
    marks = (str(get_format(name)) for name in ("DECIMAL_SEPARATOR", "THOUSAND_SEPARATOR"))
    decimal, thousands = (mark if len(mark) == 1 else " " for mark in marks)
    return Tongue(gettext, decimal, thousands, " %", day)


def text_for(row: Told, units: str) -> str:
    """The sentence of a row for a reader of these units, in the active language."""
    return field_for(row, "text", units)


def title_for(row: Titled, units: str) -> str:
    """The title of a row, likewise."""
    return field_for(row, "title", units)


def field_for(row: Any, name: str, units: str) -> str:
    """One field of a row that says something, likewise."""
    return read(getattr(row, name), row.said.get(name) if isinstance(row.said, Mapping) else None, units)


def read(text: str, message: Any, units: str = US) -> str:
    """A text in English and US units for a reader, by the message that was kept beside it."""
    language = tongue()
    if language is ENGLISH and units == US:
        return text
    if not isinstance(message, Mapping):
        return text
    try:
        return Said.from_dict(message).read(units, language)
    except ValueError:
        return text
