"""The oil tables of an engine's page, worded from the assessment's detail, and the table that they all are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakin.models import OilEventKind, OilKind
from reports.quantities import level, oil_rate

Detail = Mapping[str, Any]
H = "\u202fh"


@dataclass(frozen=True)
class Table:
    """caption; heads; rows of plain texts. For reports/_table.html."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def cells(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """Each row as (head, text), for a phone where a row is a card."""
        return tuple(tuple(zip(self.heads, row, strict=True)) for row in self.rows)


@dataclass(frozen=True)
class StripRow:
    """One oil event on the strip. `mark` says whether it is judged by, or why not."""

    at: datetime | None
    hours: str
    what: str
    level: str
    mark: str
    judged: bool
    href: str


def oil_strip(oil: Detail, units: str) -> tuple[StripRow, ...]:
    """Every oil event, newest first: level with its uncertainty, and whether it can be judged by."""
    return tuple(_strip_row(each, units) for each in reversed(oil.get("entries") or []))


def _strip_row(each: Detail, units: str) -> StripRow:
    kind = str(each.get("kind", ""))
    words = OilEventKind(kind).label if kind in OilEventKind.values else kind.replace("_", " ")
    amount = each.get("amount_qt") if kind != OilEventKind.DRAIN_FILL else each.get("filled_qt")
    if amount is not None and kind != OilEventKind.READING:
        words += f", {level(amount, None, units)}"
    oil_kind = each.get("oil_kind") or ""
    if oil_kind in OilKind.values:
        words += f" of {OilKind(oil_kind).label}"
    if each.get("when"):
        words += f", {each['when']} the flight"
    reading = each.get("level_qt") is not None
    judged = bool(each.get("anchor"))
    hours = each.get("hours")
    return StripRow(
        at=_moment(each.get("at")),
        hours="" if hours is None else f"{hours:.1f}{H}{', estimated' if each.get('estimated') else ''}",
        what=words,
        level=level(each.get("level_qt"), each.get("u_qt"), units) if reading else "",
        mark=("judged by" if judged else str(each.get("why_not") or "not judged by")) if reading else "",
        judged=judged,
        href=f"#fact-{each['root']}" if each.get("root") else "",
    )


def _moment(text: Any) -> datetime | None:
    return datetime.fromisoformat(text) if isinstance(text, str) and text else None


def windows(oil: Detail, units: str) -> Table | None:
    """Mass balance between readings that can be judged by: start, added, end, loss."""
    rows = tuple(
        (
            f"{each['from_h']:.1f} to {each['to_h']:.1f}{H}",
            f"{level(each.get('level_from'), None, units)} to {level(each.get('level_to'), None, units)}",
            level(each.get("added_qt") or 0.0, None, units),
            oil_rate(each.get("rate_qt_h"), each.get("u_qt_h"), units),
            "judged" if each.get("assessable") else f"not judged: {each.get('why_not') or 'too short'}",
            level(each["over_fill_qt"], None, units) if each.get("over_fill_qt") else "none",
        )
        for each in oil.get("windows") or []
    )
    heads = ("Between", "Level", "Added", "Loss", "Judged", "Over-fill part")
    caption = "Mass balance: what was there, what was poured in, what was left. One standard deviation after ±."
    return Table(caption, heads, rows) if rows else None
