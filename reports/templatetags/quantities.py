"""Quantities in the reader's units: `{% qty value "volume" reader %}`, `{% oil_rate value u reader %}`.

The last argument is a Reader, a Person (anything with `units`) or the name of a system of units.
"""

from __future__ import annotations

from typing import Any

from django import template

from reports import quantities

register = template.Library()


def units_of(reader: Any) -> str:
    """The system of units of a reader, a person or a plain name; US for nobody."""
    if isinstance(reader, str) and reader:
        return reader
    return str(getattr(reader, "units", "") or "us")


@register.simple_tag
def qty(value: float | None, kind: str, reader: Any = None, decimals: int | None = None) -> str:
    """A canonical value with its unit. For the kinds see `reports.quantities.quantity`."""
    return quantities.quantity(value, kind, units_of(reader), decimals)


@register.simple_tag
def oil_rate(value: float | None, u: float | None, reader: Any = None) -> str:
    """A loss of oil with its uncertainty."""
    return quantities.oil_rate(value, u, units_of(reader))


@register.simple_tag
def oil_level(value: float | None, u: float | None = None, reader: Any = None) -> str:
    """A dipstick level, with its uncertainty where that is known."""
    return quantities.level(value, u, units_of(reader))


@register.simple_tag
def unit_name(kind: str, reader: Any = None) -> str:
    """The unit in which this reader sees a kind."""
    return quantities.unit(kind, units_of(reader))


@register.filter
def minutes_text(minutes: float | None) -> str:
    """Minutes as people say them: "1 h 05 min"."""
    return quantities.minutes_text(minutes)


@register.filter
def share(value: float | None) -> str:
    """A share of one in whole percent."""
    return quantities.share(value)
