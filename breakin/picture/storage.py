"""How long an engine stood still, and for how many of those days a preservation held."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Protocol


class Held(Protocol):
    """A preservation: from a day on, good until a day, ended before it or not."""

    @property
    def preserved_on(self) -> date: ...
    @property
    def expires_on(self) -> date: ...
    @property
    def ended_on(self) -> date | None: ...


@dataclass(frozen=True)
class Storage:
    """From one day to another without running. `bare` of its `days` no preservation held; `over` until today."""

    since: date
    until: date
    over: bool
    days: int
    bare: int

    def __str__(self) -> str:
        to = f"{self.until:%-d %b %Y}" if self.over else "today"
        days = f"{self.days} day{'' if self.days == 1 else 's'} from {self.since:%-d %b %Y} to {to}"
        if not self.bare:
            return f"{days}, preserved all of them"
        return f"{days}, {self.bare} of them not preserved" if self.bare < self.days else f"{days}, not preserved"


def unprotected_days(held: Iterable[Held], since: date, until: date) -> int:
    """Days of a span on which no preservation held."""
    covered: set[int] = set()
    for one in held:
        last = min(one.expires_on, one.ended_on or one.expires_on, until)
        covered |= set(range(max(one.preserved_on, since).toordinal(), last.toordinal()))
    return (until - since).days - len(covered)


def storage_of(held: Iterable[Held], opened: date, first_run: date | None, today: date) -> Storage:
    """The time from the day of the build to its first run, or to today where it has not run yet."""
    until = max(first_run or today, opened)
    bare = unprotected_days(held, opened, until)
    return Storage(opened, until, first_run is not None, (until - opened).days, bare)
