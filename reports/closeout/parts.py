"""The pieces that a close-out file is shown in, and how its values are written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from reports.engine.tables import Table
from reports.quantities import quantity

UNITS = "us"
NONE = "–"


@dataclass(frozen=True)
class Figure:
    """A drawing. alt : what is to be seen, for who can't see it."""

    svg: str
    alt: str
    caption: str


@dataclass(frozen=True)
class PhotoPart:
    """A photo of an inspection. path : its name in the store."""

    id: int
    path: str
    alt: str
    caption: str


@dataclass(frozen=True)
class Section:
    """One part of the file, top to bottom: text, facts, tables, figures, photos."""

    title: str
    text: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    photos: tuple[PhotoPart, ...] = field(default=())


def told(value: Any, kind: str, decimals: int | None = None) -> str:
    """A quantity with its unit, or a dash where it was not observed."""
    return NONE if value is None else quantity(float(value), kind, UNITS, decimals)


def day(text: str | None) -> str:
    """ "3 Jun 2026" of a date or a moment in the document."""
    return NONE if not text else f"{date.fromisoformat(text[:10]):%-d %b %Y}"


def moment(text: str | None, zone: str) -> str:
    """A moment on the shop's clock, with the hour in UTC beside it left to the document."""
    if not text:
        return NONE
    return f"{datetime.fromisoformat(text).astimezone(ZoneInfo(zone)):%-d %b %Y, %H:%M}"


def hours(value: float | None, places: int = 1) -> str:
    return NONE if value is None else f"{value:.{places}f}\u202fh"


def minutes(value: float | None) -> str:
    return NONE if value is None else f"{value:.0f}"


def table(caption: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> tuple[Table, ...]:
    """A table, or nothing where it would be empty."""
    return (Table(caption, heads, tuple(rows)),) if rows else ()
