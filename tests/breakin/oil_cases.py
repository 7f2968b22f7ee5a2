"""The oil rules on both sides of their lines: cases of the table in test_rules_table.py, and logs made by a known rate.

The invented type has an 8-qt sump, settles at 6 qt, has a minimum of 4 qt, and a ceiling of 0.58 qt/h; its plan accepts
0.15 qt/h and expects 8 to 12 h. Logs come from a rate as a function of hours, read to a quarter quart as on a stick.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from breakin.record import BuildRecord, InspectionFacts, OilFacts, PositionFacts, RunFacts
from tests.breakin.records import SEAT, Case, added, after, blocks, checked, level, record, root, run

HALF_LIGHT = blocks((30, 24.66), (60, 18.0))
PARTIAL = tuple(PositionFacts(number, number == 3, "nitrided") for number in range(1, 5))


def levels(*quarts: float, hours: float = 1.5, **more: Any) -> BuildRecord:
    """A flight and a good reading a day."""
    days = range(1, len(quarts) + 1)
    return record(
        *(run(d, hours) for d in days), oil=tuple(level(d, q) for d, q in zip(days, quarts, strict=True)), **more
    )


def losing(
    rate: Callable[[float], float], flights: int, *, hours: float = 1.5, start: float = 6.0, low: float = 5.0
) -> tuple[tuple[RunFacts, ...], tuple[OilFacts, ...]]:
    """Flights of one length with a reading after each; a quart is added where the level fell under `low`."""
    runs, oil, now = [], [], start
    for day in range(1, flights + 1):
        now -= rate((day - 0.5) * hours) * hours
        runs.append(run(day, hours))
        oil.append(level(day, round(now * 4) / 4))
        if now < low:
            oil.append(added(day))
            now += 1.0
    return tuple(runs), tuple(oil)


def logged(rate: Callable[[float], float], flights: int, **more: Any) -> BuildRecord:
    runs, oil = losing(rate, flights, **more)
    return record(*runs, oil=oil)


def steady(rate: float) -> Callable[[float], float]:
    return lambda hours: rate


def falling(to: float, within: float, first: float = 0.4) -> Callable[[float], float]:
    return lambda hours: to + first * math.exp(-hours / within)


def climbing(per_h: float, since: float = 12.0) -> Callable[[float], float]:
    return lambda hours: 0.08 + 0.35 * math.exp(-hours / 3.0) + per_h * max(0.0, hours - since)


def with_level(one: BuildRecord, day: int, quarts: float) -> BuildRecord:
    """The same log with another level after the flight of this day."""
    oil = tuple(
        replace(row, level_qt=quarts) if row.kind == "reading" and row.root == level(day, 0.0).root else row
        for row in one.oil
    )
    return replace(one, oil=oil)


def rough_until(one: BuildRecord, day: float) -> BuildRecord:
    """The same log with every reading before this day taken straight after shutdown."""
    oil = tuple(
        replace(row, minutes_since_shutdown=5.0) if row.kind == "reading" and row.at < after(day) else row
        for row in one.oil
    )
    return replace(one, oil=oil)


def without_addition(one: BuildRecord, number: int) -> BuildRecord:
    """The same log with one addition not noted."""
    poured = [row for row in one.oil if row.kind == "addition"][number]
    return replace(one, oil=tuple(row for row in one.oil if row is not poured))


def filled(day: float, quarts: float, **more: Any) -> OilFacts:
    values = {"kind": "drain_fill", "level_qt": None, "filled_qt": quarts, "oil_kind": "mineral", "order": 2}
    return level(day, 0.0, **{"root": root(f"filled {day}"), **values, **more})


def partial(before: float, now: float, flights: int) -> BuildRecord:
    """Cylinder no. 3 of four replaced; readings of ten flights before it, and of so many after."""
    runs, oil = losing(steady(before), 10)
    runs_now, oil_now = losing(steady(now), flights)
    earlier = {"earlier_runs": runs, "earlier_oil": oil}
    return record(*runs_now, oil=oil_now, kind="cylinder", positions=PARTIAL, **earlier)


def looked(kind: str, *each: float) -> InspectionFacts:
    """A look at four cylinders on the evening of the first day: psi of 80, or grades."""
    by_number = {str(number): value for number, value in enumerate(each, start=1)}
    results = {"input_psi": 80.0, "readings": by_number} if kind == "compression" else {"grades": by_number}
    return replace(checked(1, kind), results=results)


def renewed(hours: float, *looks: InspectionFacts) -> BuildRecord:
    """Cylinder no. 3 of four replaced, and so many hours flown before these looks."""
    return record(run(1, hours), kind="cylinder", positions=PARTIAL, inspections=looks)


def reseated(one: BuildRecord, day: float, **more: Any) -> BuildRecord:
    """The same log with something different about the seat from this day on."""
    before, since = replace(SEAT, until=after(day)), replace(SEAT, id=2, since=after(day), **more)
    return replace(one, installations=(before, since))


GLAZED = replace(logged(steady(0.4), 14), runs=tuple(run(day, 1.5, blocks=HALF_LIGHT) for day in range(1, 15)))

TOPPED = record(
    *(run(day, 1.5) for day in range(1, 9)),
    oil=tuple(
        row for day in range(1, 9) for row in (level(day, 7.0 + 0.25 * (day % 2)), added(day, 0.75 if day % 2 else 0.5))
    ),
)
HIDDEN = without_addition(logged(steady(0.4), 14, hours=1.8), 1)
GOOD_FIT = logged(falling(0.06, 3.0), 12)

OIL_CASES: list[Case] = [
    # Ceiling 0.58 qt/h for 180 hp.
    ("half a quart an hour is under the ceiling", "O4", levels(6.0, 5.5, 5.0, 4.25), []),
    ("a quart an hour is over the ceiling", "O4", levels(6.5, 5.0, 3.5, 2.0), [4]),
    # Flat but high: accept 0.15 qt/h.
    ("a loss that falls under the accept rate is not flat but high", "O6", logged(falling(0.06, 3.0), 12), []),
    ("flat, under the accept rate, is fine", "O6", logged(steady(0.1), 12), []),
    ("flat at three times it is watched at the first window", "O6", rough_until(logged(steady(0.45), 8), 4), [2]),
    ("the same is watched when no window shows it yet", "O6", rough_until(logged(steady(0.45), 10), 8), [2]),
    ("flat at twice the accept rate asks for a call at the second window", "O6", logged(steady(0.4), 12), [3]),
    # A step: 1.5 qt within 2 h, from 6 qt or below.
    ("a quart and a quarter in a flight is no step", "O7", levels(6.0, 4.75), []),
    ("a quart and a half in a flight stops", "O7", levels(6.0, 4.5), [4]),
    ("the same in a flight of 2 h stops", "O7", levels(6.0, 4.5, hours=2.0), [4]),
    ("the same in 2.1 h is judged as a window", "O7", levels(6.0, 4.5, hours=2.1), []),
    ("a step read straight after shutdown shows nothing", "O7", record(run(1), run(2), oil=(
        level(1, 6.0), level(2, 4.5, minutes_since_shutdown=5.0))), []),
    ("a step from over-fill, belly not looked at, asks", "O7", record(run(1), run(2), oil=(
        level(1, 7.5), level(2, 6.0, belly_oil=None))), [3]),
    ("a step from over-fill with a dry belly is noted", "O7", levels(7.5, 6.0), [1]),
    ("a step from over-fill with drips stops", "O7", record(run(1), run(2), oil=(
        level(1, 7.5), level(2, 6.0, belly_oil=2))), [4]),
    ("a step far below the settling level stops, over-filled or not", "O7", levels(7.0, 4.5), [4]),
    ("a step that ends a quart and a quarter below it is noted", "O7", levels(7.0, 4.75), [1]),
    ("what was poured in is counted as lost too", "O7", record(run(1), run(2), oil=(
        level(1, 5.0), added(1), level(2, 4.5))), [4]),
    ("filter and cooler may take 0.8 qt on the first run", "O7", record(run(1), run(2), oil=(
        filled(1, 7.0), level(1, 6.0, order=3), level(2, 3.75))), []),
    ("more than that on the first run stops", "O7", record(run(1), run(2), oil=(
        filled(1, 7.0), level(1, 6.0, order=3), level(2, 3.5))), [4]),
    # Rises of half a quart.
    ("a level that rose a quarter is noise", "O8", levels(6.0, 6.25), []),
    ("a level that rose half a quart asks for a call", "O8", levels(6.0, 6.5), [3]),
    ("a rise that the next reading confirms stops", "O8", levels(6.0, 6.75, 6.5), [4]),
    ("a rise that the next reading denies does not", "O8", levels(6.0, 6.5, 6.0), [3]),
    ("a second rise stops", "O8", levels(6.0, 6.5, 6.0, 6.5), [3, 4]),
    ("a rise that was poured in is none", "O8", record(run(1), run(2), oil=(level(1, 6.0), added(1), level(2, 6.75))),
        []),
    # Minimum for flight: 4 qt.
    ("a level at the minimum is taken", "O9", levels(4.0), []),
    ("a level under the minimum asks for a call", "O9", levels(3.75), [3]),
    ("a second level under the minimum stops", "O9", levels(3.75, 3.75), [3, 4]),
    # The plan's oil is straight mineral.
    ("a quart of another oil is noted", "O10", record(run(1), oil=(added(1, oil_kind="ad"),)), [1]),
    ("a quart and a quarter is watched", "O10", record(run(1), oil=(added(1, 1.25, oil_kind="ad"),)), [2]),
    ("just under three quarts is watched", "O10", record(run(1), oil=(added(1, 2.9, oil_kind="ad"),)), [2]),
    ("three quarts of another oil ask for a call", "O10", record(run(1), oil=(added(1, 3.0, oil_kind="ad"),)), [3]),
    ("three single quarts in one fill ask for a call", "O10", record(run(1), run(2), run(3), oil=tuple(
        added(day, oil_kind="ad") for day in (1, 2, 3))), [1, 2, 3]),
    ("a full fill of another oil asks for a call", "O10", record(run(1), oil=(filled(1, 6.0, oil_kind="ad"),)), [3]),
    ("the plan's oil is fine", "O10", record(run(1), oil=(added(1, 3.0),)), []),
    # Expected: at most 12 h.
    ("half as long again is not slow yet", "O11", record(run(1, 9.0), run(2, 9.0)), []),
    ("longer than that is slow", "O11", record(run(1, 9.0), run(2, 9.1)), [3]),
    ("slow and flown light is suspected of glaze", "O11", GLAZED, [3, 2]),
    # The rate before: 0.12 qt/h, so 0.18 after 15 h.
    ("a partial build at the rate before is fine", "O12", partial(0.12, 0.1, 14), []),
    ("one at twice the rate before asks for a call", "O12", partial(0.12, 0.3, 14), [3]),
    ("one at twice the rate before is not compared before 15 h", "O12", partial(0.12, 0.3, 10), []),
    # The new cylinder beside the others: 5 psi, from 15 h on, and grade 1.
    ("a new cylinder 5 psi under the others is fine", "O19", renewed(16, looked("compression", 70, 70, 65, 70)), []),
    ("one 6 psi under them is watched", "O19", renewed(16, looked("compression", 70, 70, 64, 70)), [2]),
    ("one 6 psi under them is not judged before 15 h", "O19", renewed(14, looked("compression", 70, 70, 64, 70)), []),
    ("one of the others under the new one is not its matter", "O19", renewed(
        16, looked("compression", 70, 60, 70, 70)), []),
    ("a new bore of grade 1 is fine", "O19", renewed(8, looked("borescope", 2, 2, 1, 2)), []),
    ("a new bore of grade 2 is watched", "O19", renewed(8, looked("borescope", 0, 0, 2, 0)), [2]),
    # What the estimate sees in the whole log.
    ("a settled loss does not climb", "O14", GOOD_FIT, []),
    ("a loss that climbs over the accept rate asks for a call", "O14", logged(climbing(0.03), 20), [3]),
    ("one that climbs under it is watched", "O14", logged(climbing(0.008), 20), [2]),
    ("a log with every addition noted asks for nothing", "O15", logged(steady(0.4), 14, hours=1.8), []),
    ("a log with one addition left out asks who added", "O15", HIDDEN, [2]),
    ("additions to the hold line are fine", "O16", logged(steady(0.3), 14), []),
    ("additions well above the settling level are noted", "O16", TOPPED, [1]),
    ("readings that fit are fine", "O17", GOOD_FIT, []),
    ("a reading a quart and a half low is noted", "O17", with_level(GOOD_FIT, 9, 3.75), [1]),
    ("a separator fitted during the log is noted", "O18", reseated(GOOD_FIT, 4.5, separator=True), [1]),
    ("a seat revised for something else is none", "O18", reseated(GOOD_FIT, 4.5, rpm_error=20.0), []),
    ("a separator fitted before the first flight is none", "O18", reseated(GOOD_FIT, 0.5, separator=True), []),
]  # fmt: skip
