"""What is doubtful in an oil log, and why the estimate and the paper window may say different things.

The estimate marks readings that do not fit and hours at which oil seems to have been poured in that nobody noted. The
paper window works with good readings alone. Both lists are worded here, with the entries they rest on.
"""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.said import qt, said
from breakin.picture.oil import OilPicture
from breakin.picture.oil_rows import OilRow
from breakin.picture.picture import Picture

DRAINED_MIN = 10.0


@dataclass(frozen=True)
class BadReading:
    """A reading that the estimate leaves out: what it was off by [qt], None when not known, and the likely reason."""

    row: OilRow
    off_qt: float | None
    reason: str


def bad_readings(oil: OilPicture) -> tuple[BadReading, ...]:
    """The readings that do not fit the log, in order."""
    if oil.estimate is None:
        return ()
    by_index = {row.entry_index: row for row in oil.rows if row.entry_index is not None}
    expected = expected_levels(oil)
    found = []
    for index in oil.estimate["outliers"]:
        row = by_index[index]
        awaited = expected.get(index)
        off = None if awaited is None or row.level_qt is None else row.level_qt - awaited
        found.append(BadReading(row, off, _reason(oil, row, off)))
    return tuple(found)


def expected_levels(oil: OilPicture) -> dict[int, float]:
    """Place of a reading among the entries -> the level expected before it was known [qt]."""
    readings = oil.trace.get("readings") if oil.trace else None
    return dict(zip(readings["index"], readings["expected"], strict=True)) if readings else {}


def _after_first_run(oil: OilPicture, row: OilRow) -> bool:
    """Is this the first reading after the first run of a fill?"""
    before = oil.rows[: oil.rows.index(row)]
    last = next((one for one in reversed(before) if one.placed.event.kind == "drain_fill" or one.anchor), None)
    return last is not None and last.placed.event.kind == "drain_fill" and row.placed.hours > last.placed.hours


def _reason(oil: OilPicture, row: OilRow, off: float | None) -> str:
    if off is None:
        return said("does not fit the readings around it")
    amount = (
        said("reads {off} lower than the log explains", off=qt(abs(off), 1))
        if off < 0
        else said("reads {off} higher than the log explains", off=qt(abs(off), 1))
    )
    if off < 0 and _after_first_run(oil, row):
        return said("{amount}: filter and cooler fill on the first run after an oil change", amount=amount)
    minutes = row.placed.event.minutes_since_shutdown
    if off < 0 and (minutes is None or minutes < DRAINED_MIN):
        return said("{amount}: read too soon after shutdown, or mistyped", amount=amount)
    return said("{amount}: on a slope, not wiped, or mistyped", amount=amount)


def unlogged_additions(oil: OilPicture) -> tuple[OilRow, ...]:
    """The first readings that show oil nobody noted."""
    if oil.estimate is None:
        return ()
    hours = [round(hour, 6) for hour in oil.estimate["missed_additions"]]
    found = []
    for row in oil.readings:
        if row.entry is not None and round(row.entry.hours, 6) in hours:
            hours.remove(round(row.entry.hours, 6))
            found.append(row)
    return tuple(found)


def left_out(oil: OilPicture) -> list[dict[str, object]]:
    """What the mass balance on paper leaves out beside windows, which tell it themselves: reasons and entries."""
    rows: list[tuple[float, float, str, tuple[str, ...]]] = []
    last_h = 0.0
    for row in oil.rows:
        event = row.placed.event
        if event.kind == "reading" and row.why_not:
            rows.append((row.placed.hours, row.placed.hours, f"reading: {row.why_not}", (str(event.root),)))
        if event.kind == "drain_fill":
            first = next((one for one in oil.rows if one.anchor and one.placed.hours > row.placed.hours), None)
            until = first.placed.hours if first else oil.rows[-1].placed.hours
            why = "first run after the fill: filter and cooler fill, so the balance starts at the next good reading"
            rows.append((last_h, until, why, (str(event.root),)))
        if row.anchor:
            last_h = row.placed.hours
    rows.sort(key=lambda row: (row[0], row[1]))
    return [{"from_h": a, "to_h": b, "why": why, "roots": list(roots)} for a, b, why, roots in rows]


def paper_against_estimate(picture: Picture, agrees: str) -> list[str]:
    """Why the two may differ in this log, each in a sentence; empty when they agree.

    agrees : "agrees", "disagrees" or "too short".
    """
    oil = picture.oil
    if agrees == "agrees" or oil.estimate is None or oil.paper is None:
        return []
    chance = oil.estimate["p_stabilized"]
    word = "has stabilized" if oil.estimate["stabilized"] else "has not stabilized yet, as far as can be told"
    verdict = {"passes": "passes", "fails": "fails", "too short": "is too short to judge"}[oil.paper.verdict]
    told = [f"The estimate says the loss {word} ({chance:.2f} of 0.85); the paper window {verdict}."]
    return [*told, *_differences(oil)]


def _differences(oil: OilPicture) -> list[str]:
    """What one of the two takes in and the other leaves out."""
    told = []
    bad = bad_readings(oil)
    window = oil.paper.window if oil.paper else None
    used = [one for one in bad if window and str(one.row.placed.event.root) in (window.roots[0], window.roots[-1])]
    if used:
        where = ", ".join(f"{one.row.level_qt:.2f} qt at {one.row.placed.hours:.1f} h" for one in used)
        told.append(f"The paper window starts or ends at a reading that the estimate leaves out as bad: {where}.")
    elif bad:
        where = ", ".join(f"{one.row.placed.hours:.1f} h" for one in bad)
        told.append(f"The estimate leaves out readings that do not fit: {where}.")
    over = [one for one in oil.windows if one.over_fill_qt > 0]
    if over:
        told.append(
            f"{len(over)} windows held over-fill and are left out on paper; the estimate keeps their readings and "
            "takes the breather's loss apart."
        )
    rough = [row for row in oil.readings if not row.good]
    if rough:
        told.append(f"{len(rough)} readings are not good enough for paper; the estimate uses them with their doubt.")
    if oil.leak_spans:
        spans = ", ".join(f"{from_h:.1f} to {to_h:.1f} h" for from_h, to_h in oil.leak_spans)
        told.append(f"A leak was open ({spans}): both leave that loss out.")
    missed = unlogged_additions(oil)
    if missed:
        where = ", ".join(f"{row.placed.hours:.1f} h" for row in missed)
        told.append(f"The estimate takes it that oil was poured in unnoted before {where}; paper cannot.")
    if any(entry.kind == "drain_fill" for entry in oil.entries):
        told.append("Paper starts anew at each fill; the estimate carries the loss over it, the first run apart.")
    if not told:
        told.append("The estimate weighs every reading since the start; paper takes the newest window alone.")
    return told
