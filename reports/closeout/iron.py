"""The engine, its build, plan, seats and clocks, as sections."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reports.closeout.parts import NONE, Section, day, hours, minutes, table, told
from reports.engine.accessories import interval_words
from reports.engine.tables import Table

Document = dict[str, Any]
_RATES = ("accept_qt_h", "watch_qt_h", "alarm_qt_h")


def sections(document: Document) -> Iterator[Section]:
    yield _engine(document)
    yield _plan(document)
    yield _clocks(document)


def _engine(document: Document) -> Section:
    engine, build = document["engine"], document["build"]
    flow = NONE
    if engine["takeoff_ff_low_gph"] is not None and engine["takeoff_ff_high_gph"] is not None:
        flow = (
            f"{told(engine['takeoff_ff_low_gph'], 'fuel_flow')} to {told(engine['takeoff_ff_high_gph'], 'fuel_flow')}"
        )
    facts = (
        ("Type", f"{engine['maker']} {engine['type']}, numbers rev. {engine['type_revision']}"),
        ("Source of the numbers", engine["source"]),
        ("Rated", f"{told(engine['rated_hp'], 'power', 0)} at {told(engine['rated_rpm'], 'rpm')}"),
        ("Sump full mark", told(engine["sump_full_qt"], "volume")),
        ("Full-throttle fuel flow", flow),
        ("CHT: watch line, maker's limit", f"{_degf(engine['cht_watch_degf'])}, {_degf(engine['cht_limit_degf'])}"),
        ("Built by", build["builder"] or NONE),
        ("Inspected by", build["inspector"] or NONE),
        ("Assembly lube", build["assembly_lube"] or NONE),
        ("Cylinders, front row first, from the pilot's seat", _map(engine["cylinder_map"])),
    )
    rows = [
        (
            str(row["number"]),
            "yes" if row["disturbed"] else "no",
            row["finish"] or NONE,
            row["bore"] or NONE,
            NONE if row["hone_angle_deg"] is None else f"{row['hone_angle_deg']:g}°",
            row["piston"] or NONE,
            ", ".join(part for part in (row["ring_lot"], row["ring_facing"]) if part) or NONE,
            NONE if row["ring_gap_in"] is None else f"{row['ring_gap_in']:.3f}\u202fin",
            " ".join(
                part for part in (row["barrel_serial"], f"lot {row['barrel_lot']}" if row["barrel_lot"] else "") if part
            )
            or NONE,
        )
        for row in document["positions"]
    ]
    heads = ("No.", "New or re-honed", "Finish", "Bore", "Hone", "Piston", "Ring lot, facing", "Gap", "Barrel")
    numbered = f": {engine['numbering']}" if engine["numbering"] else ""
    return Section("Engine and build", facts=facts, tables=table(f"Cylinder positions{numbered}", heads, rows))


def _map(rows: list[list[int | None]] | None) -> str:
    """The places of the cylinders in words: "2 1, then 4 3"."""
    if not rows:
        return "places not on record"
    return ", then ".join(" ".join("(none)" if number is None else str(number) for number in row) for row in rows)


def _degf(value: float | None) -> str:
    return told(value, "temperature", 0)


def _plan(document: Document) -> Section:
    plan = document["plan"]
    if plan is None:
        return Section("Run-in plan", ("No plan was issued.",))
    bands = "; ".join(
        f"{band}\u202f%: {low:g} to {high:g}\u202f%" for band, (low, high) in sorted(plan["credit"].items())
    )
    facts = (
        ("Plan", f"{plan['template'] or plan['variant']}, revision {plan['revision']}"),
        ("Source", f"{plan['source']}, {plan['source_revision']}"),
        ("Issued", f"{day(plan['issued_at'])} by {plan['issued_by']}"),
        ("Expected hours", f"{plan['expected_low_h']:g} to {plan['expected_high_h']:g}\u202fh"),
        ("Least hours", hours(plan["minimum_h"])),
        ("Credit bands", f"{bands}; light below {plan['low']:g}\u202f%"),
        ("Oil loss: accept, watch, alarm", f"{', '.join(f'{plan[name]:.2f}' for name in _RATES)}\u202fqt/h"),
        ("Oil kind", plan["oil_kind"]),
    )
    return Section("Run-in plan", facts=facts)


def _clocks(document: Document) -> Section:
    clock = document["clocks"]
    total = clock["total_time_h"]
    facts = (
        ("Basis clock", str(clock["basis"] or NONE)),
        ("Run hours", hours(clock["hours"])),
        ("Total time", hours(total) if total is not None else "not on record"),
        ("Since overhaul at the build", hours(clock["time_since_overhaul_at_build_h"])),
        ("Estimated or unlogged", f"{clock['estimated_share'] * 100:.0f}\u202f% of the hours"),
        ("Ground running", f"{clock['ground_min']:.0f}\u202fmin in all"),
        ("Test cell", f"{clock['cell_min']:.0f}\u202fmin, in no rate and no hour"),
    )
    return Section("Seats and clocks", facts=facts, tables=_clock_tables(document))


def _clock_tables(document: Document) -> tuple[Table, ...]:
    seats = [
        (
            f"{row['registration']}{'' if row['position'] == 'single' else ' ' + row['position']}",
            day(row["since"]),
            day(row["until"]) if row["until"] else "today",
            row["basis_clock"],
            f"{told(row['min_oil_qt'], 'volume')} ({row['min_oil_source']})",
            "yes" if row["separator"] else "no",
        )
        for row in document["installations"]
    ]
    meters = [
        (
            row["registration"],
            f"{row['kind']} {row['serial']}".strip(),
            day(row["since"]),
            hours(row["reading_at_start_h"]),
            day(row["until"]) if row["until"] else "today",
            hours(row["reading_at_end_h"]),
        )
        for row in document["clocks"]["meters"]
    ]
    cell = [
        (
            day(row["run_on"]),
            minutes(row["minutes"]),
            told(row["oil_used_qt"], "volume"),
            _degf(row["cht_max_degf"]),
            told(row["full_throttle_ff_gph"], "fuel_flow"),
            row["leaks"] or "nothing was said",
        )
        for row in document["cell_runs"]
    ]
    kept = [
        (day(row["preserved_on"]), day(row["expires_on"]), day(row["ended_on"]), row["preservative"] or NONE)
        for row in document["preservations"]
    ]
    return (
        *table("Where this serial sat", ("Seat", "From", "Until", "Basis", "Minimum oil", "Separator"), seats),
        *table("Meters, with every change", ("Aircraft", "Meter", "From", "At", "Until", "At"), meters),
        *table(
            "Runs in the test cell",
            ("On", "Minutes", "Oil used", "Highest CHT", "Full-throttle fuel flow", "Leaks"),
            cell,
        ),
        *table(
            "Storage between build and first run", ("From", "Until", "Days", "Of them not preserved"), _stood(document)
        ),
        *table("Preservation", ("From", "Good until", "Ended", "With"), kept),
        *table(
            "Accessories with clocks of their own: work on the engine reset none of them",
            ("Accessory", "Interval and its source", "Last done", "Due", "Left"),
            _accessories(document),
        ),
    )


def _stood(document: Document) -> list[tuple[str, ...]]:
    """One row; none for a file from before this was kept."""
    row = document.get("storage")
    if not row:
        return []
    return [(day(row["since"]), day(row["until"]), str(row["days"]), str(row["not_preserved_days"]))]


def _accessories(document: Document) -> list[tuple[str, ...]]:
    """None for a file from before these were kept."""
    return [
        (
            f"{row['accessory']}, {row['part']}" if row["part"] else row["accessory"],
            f"{interval_words(row['interval_h'], row['interval_months'])}; {row['source']}",
            f"{row['last']} {day(row['done_on'])}{_at(row['total_time_h'])}",
            " or ".join(
                ([f"at {hours(row['due_total_time_h'])} total time"] if row["due_total_time_h"] is not None else [])
                + ([day(row["due_on"])] if row["due_on"] else [])
            )
            or NONE,
            hours(row["left_h"]),
        )
        for row in document.get("accessories") or ()
    ]


def _at(total_h: float | None) -> str:
    return "" if total_h is None else f" at {hours(total_h)} total time"
