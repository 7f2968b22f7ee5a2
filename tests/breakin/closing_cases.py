"""The rules of what comes after a close-out, on both sides of their lines: cases of the table in test_rules_table.py.

The build is closed after six flights of 1.5 h, at 9 h, with a loss of 0.08 qt/h; the invented plan accepts 0.15 and is
alarmed at 0.58 qt/h. Lines: twice the closing rate in two windows in a row or the alarm rate once, half a year without
preservation - the shop's own, common practice without a published source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from breakin.record import BuildRecord, EventFacts, OilFacts, PreservationFacts, SealedFacts
from breakin.rules.sealed import facts_of
from tests.breakin.oil_cases import reseated
from tests.breakin.records import Case, added, after, checked, level, record, root, run

FLIGHTS, HOURS = 6, 1.5
CLOSED_DAY, CLOSED_H = 6.5, FLIGHTS * HOURS
BEFORE = (6.0, 5.9, 5.8, 5.65, 5.55, 5.4)
ALL_MET = (("settled", True), ("evidence", True), ("leak", False))


def sealed_of(one: BuildRecord, **more: Any) -> SealedFacts:
    """What a file sealed on day 6.5 says of the facts of this record until then."""
    values: dict[str, Any] = {
        "number": 1,
        "at": after(CLOSED_DAY),
        "hours": CLOSED_H,
        "rate_qt_h": 0.08,
        "u_qt_h": 0.02,
        "window": (4.5, 9.0, 0.08, 0.045),
        "first_two": "not known",
        "criteria": ALL_MET,
        "roots": tuple((f.root, f.kind, f.words, f.recording) for f in facts_of(one) if f.at <= after(CLOSED_DAY)),
    }
    return SealedFacts(**{**values, **more})


def flown_on(*levels: float, hours: float = HOURS, start: tuple[float, ...] = BEFORE) -> BuildRecord:
    """Closed out after the levels of `start`; then a flight and a good reading a day."""
    quarts = (*start, *levels)
    days = range(1, len(quarts) + 1)
    runs = tuple(run(d, HOURS if d <= FLIGHTS else hours) for d in days)
    one = record(*runs, oil=tuple(level(d, q) for d, q in zip(days, quarts, strict=True)))
    return closed(one)


def closed(one: BuildRecord, **more: Any) -> BuildRecord:
    event = EventFacts("closed_out", after(CLOSED_DAY), CLOSED_H)
    return replace(one, state="closed", closed_at=after(CLOSED_DAY), events=(event,), sealed=sealed_of(one, **more))


def losing(rate: float, flights: int) -> BuildRecord:
    """Flights of 4.5 h after the close-out, each losing so much."""
    return flown_on(*(BEFORE[-1] - rate * 4.5 * n for n in range(1, flights + 1)), hours=4.5)


def reread(one: BuildRecord, **more: Any) -> BuildRecord:
    """The third reading corrected after the file was sealed."""
    oil = tuple(replace(row, received_at=after(8), **more) if n == 2 else row for n, row in enumerate(one.oil))
    return replace(one, oil=oil)


def _regraded(grade: str) -> BuildRecord:
    """The first three flights corrected after the close-out: told late, with this grade."""
    one = flown_on()
    runs = tuple(replace(row, received_at=after(8), grade=grade) if n < 3 else row for n, row in enumerate(one.runs))
    return replace(one, runs=runs)


def _other_oil(quarts: float, told_day: float) -> BuildRecord:
    """Oil of another kind poured on day 2, told on another day."""
    poured: OilFacts = added(2, quarts, oil_kind="ad", received_at=after(told_day))
    one = flown_on()
    return replace(one, oil=tuple(sorted((*one.oil, poured), key=lambda row: (row.at, row.order))))


def _still(days: float, *kept: PreservationFacts) -> BuildRecord:
    """Flown again so many days after the close-out."""
    one = record(*(run(d, HOURS) for d in range(1, FLIGHTS + 1)), run(CLOSED_DAY + days, HOURS))
    return replace(closed(one), preservations=kept)


def _kept(from_day: float, to_day: float) -> PreservationFacts:
    return PreservationFacts(after(from_day).date(), after(to_day).date())


def _rings(psi: float, breather: int) -> BuildRecord:
    """Flown to 29 h after the close-out; then two cylinders at this compression, oil at the breather 0 to 3."""
    one = record(*(run(d, HOURS) for d in range(1, FLIGHTS + 1)), run(8, 10.0), run(9, 10.0))
    tested = {"input_psi": 80.0, "readings": {"1": psi, "2": psi, "3": 76.0, "4": 75.0}}
    looks = (
        replace(checked(10, "compression"), results=tested),
        replace(checked(10, "leak"), results={"breather": breather}),
    )
    return replace(closed(one), inspections=looks)


_LATE = level(4.2, 5.7, flight_root=None, root=root("late"), received_at=after(9))
CLOSING_CASES: list[Case] = [
    ("the facts are as they were sealed", "C1", flown_on(5.3, 5.2), []),
    ("a reading was corrected after the close-out", "C1", reread(flown_on(), level_qt=5.5), [2]),
    ("a reading was withdrawn", "C1", (lambda one: replace(one, oil=one.oil[:-1]))(flown_on()), [2]),
    ("a reading from before came in late", "C1", (lambda one: replace(one, oil=(*one.oil, _LATE)))(flown_on()), [2]),
    ("a criterion still holds by the corrected facts", "C2", _regraded("B"), []),
    ("half of the evidence turned out to be from memory", "C2", _regraded("D"), [3]),
    ("a criterion that was never met can't fall", "C2", reread(flown_on()), []),
    ("one window over twice the closing rate", "C3", losing(0.24, 1), []),
    ("two windows in a row over twice the closing rate", "C3", losing(0.24, 2), [3]),
    ("two windows just under twice the closing rate", "C3", losing(0.20, 2), []),
    ("three windows over twice it, on a seat revised since", "C3", reseated(losing(0.24, 3), 6.8, rpm_error=5.0), [3]),
    ("the same since a separator was fitted", "C3", reseated(losing(0.24, 3), 6.8, separator=True), []),
    ("one window over the alarm rate", "C3", flown_on(2.0, hours=4.5), [3]),
    ("one window just under the alarm rate", "C3", flown_on(2.8, hours=4.5), []),
    ("the confirming window confirms", "C4", losing(0.09, 1), []),
    ("the confirming window fails", "C4", losing(0.21, 1), [3]),
    ("a window between the two can't be told", "C4", losing(0.16, 1), []),
    ("183 days without running", "C5", _still(183), []),
    ("184 days without running or preservation", "C5", _still(185), [3]),
    ("a year, but preserved", "C5", _still(365, _kept(7, 371)), []),
    ("a year, preserved too short", "C5", _still(365, _kept(7, 160)), [3]),
    ("a quart of another oil was told late", "C6", _other_oil(1.0, 9), []),
    ("three quarts of another oil were told late", "C6", _other_oil(3.0, 9), [3]),
    ("two cylinders low, the breather dry", "C7", _rings(50.0, 0), []),
    ("two cylinders low, the breather heavy", "C7", _rings(50.0, 3), [3]),
    ("compression good, the breather heavy", "C7", _rings(74.0, 3), []),
    ("three quarts of another oil were known before", "C6", _other_oil(3.0, 2.1), []),
]
