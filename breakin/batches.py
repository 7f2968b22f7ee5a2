"""Lots of rings and barrels: how the builds of each lot do, and which lot asks for a look at every engine with it.

Pure: rows of facts in, counts and alarms out. The lines, three builds slow or two Stops of one kind, are the project's
own choice: few enough to be early, and never a single engine's trouble. An alarm asks a question of the lot; it proves
nothing against it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

RING, BARREL = "ring", "barrel"
SLOW_BUILDS = 3
STOPS_OF_A_KIND = 2


@dataclass(frozen=True, order=True)
class Lot:
    """`kind` is RING or BARREL; a ring lot and a barrel lot of one name are two lots."""

    kind: str
    name: str

    def __str__(self) -> str:
        return f"{self.kind} lot {self.name}"


@dataclass(frozen=True)
class BatchRow:
    """One build. `stops` are the rules of its Stops, one entry for each Stop."""

    build: int
    lots: frozenset[Lot]
    running: bool = False
    slow: bool = False
    stops: tuple[str, ...] = ()


@dataclass(frozen=True)
class LotCount:
    """How the builds of a lot do. `stops` are (rule, how many), the most frequent first."""

    lot: Lot
    builds: tuple[int, ...]
    running: int
    slow: tuple[int, ...]
    stops: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Alarm:
    """Why a lot asks for a look. `rule` is "" for slow builds; `shown_by` are the builds with the trouble.

    `number` counts slow builds or Stops; `builds` are all builds with the lot, ended ones too.
    """

    lot: Lot
    rule: str
    number: int
    shown_by: tuple[int, ...]
    builds: tuple[int, ...]


def lot_counts(rows: Iterable[BatchRow]) -> tuple[LotCount, ...]:
    """Every lot that a build has, in the order of kind and name."""
    by_lot: dict[Lot, list[BatchRow]] = {}
    for row in rows:
        for lot in row.lots:
            by_lot.setdefault(lot, []).append(row)
    return tuple(_count(lot, by_lot[lot]) for lot in sorted(by_lot))


def _count(lot: Lot, rows: Sequence[BatchRow]) -> LotCount:
    kinds = Counter(rule for row in rows for rule in row.stops)
    return LotCount(
        lot=lot,
        builds=tuple(row.build for row in rows),
        running=sum(row.running for row in rows),
        slow=tuple(row.build for row in rows if row.slow),
        stops=tuple(sorted(kinds.items(), key=lambda each: (-each[1], each[0]))),
    )


def alarms(rows: Sequence[BatchRow]) -> tuple[Alarm, ...]:
    """The lots with three builds slow or more, and those with two Stops of one rule or more."""
    by_build = {row.build: row for row in rows}
    found = []
    for count in lot_counts(rows):
        if len(count.slow) >= SLOW_BUILDS:
            found.append(Alarm(count.lot, "", len(count.slow), count.slow, count.builds))
        for rule, number in count.stops:
            if number >= STOPS_OF_A_KIND:
                stopped = tuple(build for build in count.builds if rule in by_build[build].stops)
                found.append(Alarm(count.lot, rule, number, stopped, count.builds))
    return tuple(found)
