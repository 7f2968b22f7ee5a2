"""What the fields of a form hold now: as one text a field, and what such a text means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from breakin.calc.errors import CalcError
from breakin.calc.units import Kind, parse

MINUTES_PER_HOUR = 60.0


def text_of(value: Any) -> str:
    """What was typed, with its unit, as one text; "" for nothing."""
    if value in (None, "", []):
        return ""
    if isinstance(value, Mapping):
        return f"{value['value']} {value['unit']}"
    return str(value)


def typed_texts(parts: Iterable[tuple[str, forms.Form]]) -> dict[str, str]:
    """Posted name of each field of these valid forms -> its text."""
    return {
        form.add_prefix(name): text_of(value)
        for _, form in parts
        for name, value in getattr(form, "cleaned_data", {}).items()
    }


def canonical(typed: Mapping[str, str] | str | None, kind: Kind, unit: str = "") -> float | None:
    """The value of a typed quantity in its canonical unit; None for nothing, or for what cannot be read."""
    if not typed:
        return None
    text, named = (typed, unit) if isinstance(typed, str) else (typed["value"], typed["unit"])
    try:
        return parse(text, named, kind).value
    except CalcError:
        return None


def minutes_of(text: str | None) -> float | None:
    """Minutes out of "75" or "1:15"; None for what cannot be read."""
    if not text:
        return None
    if ":" in text:
        hours = canonical(text, Kind.HOURS, "h")
        return None if hours is None else hours * MINUTES_PER_HOUR
    return canonical(text, Kind.MINUTES, "min")
