"""The tables of an engine's page, worded from the assessment's detail. Each says the same as a picture or sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakin.models import OilEventKind, OilKind
from reports.quantities import NOT_KNOWN, level, minutes_text, oil_rate, quantity

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


def stages(credit: Detail) -> Table | None:
    """Credit of each stage in minutes: central value, with least and most beside it."""
    rows = tuple(
        (
            str(each.get("label") or each.get("stage", "")),
            _needed(each.get("needed")),
            _minutes(each.get("minutes"), "75"),
            _minutes(each.get("minutes"), "65"),
            str(each["changes"]) if each.get("changes") is not None else NOT_KNOWN,
            str(each.get("met") or NOT_KNOWN),
        )
        for each in credit.get("stages") or []
    )
    heads = ("Stage", "Needed", "At 75 %", "At 65 %", "Changes", "Criterion")
    caption = (
        "Minutes credited in each stage. Stated: taken from the card as flown; measured: from settings or a recording."
    )
    return Table(caption, heads, rows) if rows else None


def _needed(needed: Any) -> str:
    if isinstance(needed, dict):
        return ", ".join(f"{minutes_text(value)} at {band}\u202f%" for band, value in needed.items() if value)
    if isinstance(needed, int | float):
        return minutes_text(needed)
    return str(needed or "")


def _minutes(minutes: Any, band: str) -> str:
    held = (minutes or {}).get(band) or {}
    central = held.get("central")
    if central is None:
        return ""
    text = minutes_text(central)
    least, most = held.get("least"), held.get("most")
    if least is not None and most is not None and round(least) != round(most):
        text += f" (from {minutes_text(least)} to {minutes_text(most)})"
    stated = held.get("stated") or 0
    if stated and round(stated) == round(central):
        return f"{text}, stated"
    return text + (f", {minutes_text(stated)} of it stated" if stated else "")


def blocks(credit: Detail) -> Table | None:
    """The power picture as a table."""
    rows = tuple(
        (
            f"{each['from_h']:.1f}{H}" if each.get("from_h") is not None else NOT_KNOWN,
            minutes_text(each.get("duration_min")),
            _percent(each),
            f"{each['band']}\u202f%" if each.get("band") else str(each.get("label") or NOT_KNOWN),
            str(each.get("method") or each.get("source") or ""),
        )
        for each in credit.get("blocks") or []
    )
    heads = ("From", "For", "Power", "Counts as", "Known from")
    return Table("Blocks of power, in order of flying", heads, rows) if rows else None


def _percent(each: Detail) -> str:
    if each.get("pct") is None and each.get("source") == "stated":
        return "as on the card"
    if each.get("pct") is None:
        return f"not known: {each.get('why_unknown') or 'no settings given'}"
    sigma = f"\u202f±\u202f{each['sigma']:.0f}" if each.get("sigma") else ""
    return f"{each['pct']:.0f}{sigma}\u202f%"


def heat(detail: Detail, units: str) -> Table | None:
    """Take-off fuel flow and the hottest cylinder head, flight by flight; band and lines stand in the caption."""
    flights = list(detail.get("flights") or [])
    rows = tuple(
        (
            f"{each['hours']:.1f}{H}" if each.get("hours") is not None else NOT_KNOWN,
            _fuel_flow(each, units),
            str(each.get("ff_word") or "not observed"),
            quantity(each.get("cht_max_degf"), "temperature", units) if each.get("cht_max_degf") else "not observed",
            {True: "yes", False: "no"}.get(each.get("falling"), str(each.get("falling") or "not observed")),
        )
        for each in reversed(flights)
    )
    heads = ("At", "Full-throttle fuel flow", "Against its band", "Hottest CHT", "Falling by 3,000\u202fft")
    return Table(_heat_caption(flights[-1], units), heads, rows) if rows else None


def _heat_caption(newest: Detail, units: str) -> str:
    said = ["Newest flight first."]
    if newest.get("ff_low") is not None and newest.get("ff_high") is not None:
        low, high = (quantity(newest[name], "fuel_flow", units) for name in ("ff_low", "ff_high"))
        said.append(f"Fuel flow band {low} to {high}; corrected means for the density of the air.")
    lines = (("watch_degf", "our watch line"), ("limit_degf", "maker's limit"))
    told = [f"{words} {quantity(newest[name], 'temperature', units)}" for name, words in lines if newest.get(name)]
    if told:
        said.append(f"CHT: {', '.join(told)}.")
    return " ".join(said)


def _fuel_flow(each: Detail, units: str) -> str:
    if each.get("ff_gph") is None:
        return "not observed"
    text = quantity(each["ff_gph"], "fuel_flow", units)
    corrected = each.get("ff_corrected_gph")
    if corrected is not None and abs(corrected - each["ff_gph"]) >= 0.05:
        text += f", corrected {quantity(corrected, 'fuel_flow', units)}"
    return text
