"""Which lots ask for a look at every engine with them, and which do not."""

from __future__ import annotations

from breakin.batches import BARREL, RING, Alarm, BatchRow, Lot, alarms, lot_counts

R7, R8, B7 = Lot(RING, "R7"), Lot(RING, "R8"), Lot(BARREL, "R7")


def row(build: int, *lots: Lot, slow: bool = False, stops: tuple[str, ...] = (), running: bool = False) -> BatchRow:
    return BatchRow(build, frozenset(lots or (R7,)), running, slow, stops)


def test_one_slow_build_of_three_is_no_alarm() -> None:
    assert alarms([row(1, slow=True), row(2), row(3)]) == ()


def test_two_slow_builds_of_three_are_no_alarm() -> None:
    assert alarms([row(1, slow=True), row(2, slow=True), row(3)]) == ()


def test_three_slow_builds_are_an_alarm_that_names_every_build_with_the_lot() -> None:
    rows = [row(1, slow=True), row(2, slow=True, running=True), row(3), row(4, slow=True)]

    assert alarms(rows) == (Alarm(R7, "", 3, (1, 2, 4), (1, 2, 3, 4)),)


def test_slow_builds_of_different_lots_are_not_added_up() -> None:
    assert alarms([row(1, R7, slow=True), row(2, R7, slow=True), row(3, R8, slow=True)]) == ()


def test_a_ring_lot_and_a_barrel_lot_of_one_name_are_two_lots() -> None:
    assert alarms([row(1, R7, slow=True), row(2, R7, slow=True), row(3, B7, slow=True)]) == ()


def test_two_stops_of_the_same_rule_are_an_alarm() -> None:
    rows = [row(1, stops=("H1",)), row(2, stops=("H1", "P9")), row(3)]

    assert alarms(rows) == (Alarm(R7, "H1", 2, (1, 2), (1, 2, 3)),)


def test_two_stops_of_different_rules_are_no_alarm() -> None:
    assert alarms([row(1, stops=("H1",)), row(2, stops=("P9",))]) == ()


def test_two_stops_of_one_rule_in_one_build_count_as_two() -> None:
    assert alarms([row(1, stops=("H1", "H1")), row(2)]) == (Alarm(R7, "H1", 2, (1,), (1, 2)),)


def test_a_build_with_two_lots_counts_for_both() -> None:
    rows = [row(n, R7, B7, slow=True) for n in (1, 2, 3)]

    assert [each.lot for each in alarms(rows)] == [B7, R7]


def test_a_lot_says_how_many_run_are_slow_and_stopped() -> None:
    (count,) = lot_counts([row(1, running=True, slow=True, stops=("H1",)), row(2, stops=("P9", "P9"))])

    assert (count.builds, count.running, count.slow) == ((1, 2), 1, (1,))
    assert count.stops == (("P9", 2), ("H1", 1))
