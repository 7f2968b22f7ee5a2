"""What an act would change in the judgement of a build, as a page shows it before anybody signs."""

from __future__ import annotations

from dataclasses import dataclass

from breakin.models import Lane, Phase, Severity
from breakin.what_if import Named, Row, Told, WhatIf
from reports.engine.header import oil_rate_plain
from reports.engine.tables import Table
from reports.quantities import level

NOT_KNOWN = "not known"
HEADS = ("What", "Now", "After")


@dataclass(frozen=True)
class Compared:
    """One build. changed and same : tables of what would change and of what would stay; None where there is nothing.

    appear and go : (severity, title, text) of findings.
    """

    name: str
    changed: Table | None
    same: Table | None
    appear: tuple[tuple[str, str, str], ...]
    go: tuple[tuple[str, str, str], ...]

    @property
    def nothing(self) -> bool:
        return self.changed is None and not self.appear and not self.go


def compared(name: str, found: WhatIf, units: str) -> Compared:
    """`name` says which build, for the headings."""
    return Compared(
        name=name,
        changed=_table(f"What would change, {name}", [row for row in found.rows if row.changed], units),
        same=_table(f"What would stay, {name}", [row for row in found.rows if not row.changed], units),
        appear=tuple(_finding(one) for one in found.appear),
        go=tuple(_finding(one) for one in found.go),
    )


def _table(caption: str, rows: list[Row], units: str) -> Table | None:
    if not rows:
        return None
    texts = ((row.what, _text(row.kind, row.before, units), _text(row.kind, row.after, units)) for row in rows)
    return Table(caption, HEADS, tuple(texts))


def _text(kind: str, value: Told, units: str) -> str:
    """A value in the reader's units."""
    if value is None or value == "":
        return NOT_KNOWN
    if kind == "phase":
        return str(Phase(str(value)).label)
    if kind == "lane":
        return str(Lane(value).label)
    if isinstance(value, str):
        return value
    if kind == "rate":
        return oil_rate_plain(value, units)
    if kind == "volume":
        return level(value, None, units)
    return f"{value:.0f}\u202fmin" if kind == "minutes" else f"{value:.1f}\u202fh"


def _finding(one: Named) -> tuple[str, str, str]:
    return str(Severity(one.severity).label).capitalize(), one.title, one.text
