"""What every field of a form holds now, as one text a field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms


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
