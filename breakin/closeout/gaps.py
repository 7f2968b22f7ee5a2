"""What is not in the file: values that nobody observed, and rules that could not be answered."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from breakin.picture.recorded import hottest_head, takeoff_fuel_flow
from breakin.record import BuildRecord, RunFacts

NOT_ASSESSED = ("not observed", "not known")
_EACH_FLIGHT: tuple[tuple[str, Callable[[RunFacts], bool]], ...] = (
    ("power settings", lambda run: bool(run.blocks) or run.recorded is not None),
    ("full-throttle fuel flow", lambda run: takeoff_fuel_flow(run).value is not None),
    ("highest head temperature", lambda run: hottest_head(run).value is not None),
    ("whether the heads came down in the climb", lambda run: run.cht_falling_by_3000 in ("yes", "no")),
    ("ground minutes", lambda run: bool(run.sessions_min)),
    ("meter at the end", lambda run: run.meter_end_h is not None),
)
_KINDS = {
    "compression": "differential compression",
    "borescope": "borescope",
    "oil_analysis": "oil analysis",
    "fuel_flow": "fuel-flow set-up",
}


def missing(record: BuildRecord) -> list[str]:
    """Sentences: what was not logged on how many flights, readings that lack, inspections that nobody recorded."""
    flown = [run for run in record.runs if run.is_flight]
    told = [_lack(name, sum(not has(run) for run in flown), len(flown)) for name, has in _EACH_FLIGHT]
    read = {row.flight_root for row in record.oil if row.kind == "reading"}
    told.append(_lack("an oil reading", sum(run.root not in read for run in flown), len(flown)))
    stated = {row.flight_root for row in record.oil if row.kind in ("addition", "none_added")}
    told.append(_lack("whether oil was added", sum(run.root not in stated for run in flown), len(flown)))
    looked = {row.kind for row in record.inspections}
    told += [f"No {words} is on record." for kind, words in _KINDS.items() if kind not in looked]
    told += [f"Cylinder {row.number}: ring lot not on record." for row in _without_lot(record)]
    return [line for line in told if line]


def _without_lot(record: BuildRecord) -> Iterable[Any]:
    return (row for row in record.positions if row.disturbed and not row.ring_lot)


def _lack(what: str, lacks: int, of: int) -> str:
    return f"{what[0].upper()}{what[1:]}: not on record for {lacks} of {of} flights." if lacks else ""


def not_assessed(rules: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rules of the break-in that had nothing to judge by, with what they lacked."""
    return [
        {"rule": row["rule"], "title": row["title"], "answer": row["answer"], "why": row["text"]}
        for row in rules
        if row["answer"] in NOT_ASSESSED and not row["rule"].startswith(("N", "C"))
    ]
