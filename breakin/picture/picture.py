"""The whole picture of a build at one moment. Each part is worked out when first asked for, so that the safety rules,
which run while somebody waits, never pay for the oil estimate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from breakin.calc.seating import Seating
from breakin.picture.clock import Clock, clock_of
from breakin.picture.heat import HeatRow, heat_of, seating
from breakin.picture.oil import OilPicture, oil_of
from breakin.picture.oil_before import RateBefore, rate_before
from breakin.picture.oil_rows import Leak, OilRow, oil_rows
from breakin.picture.power import PowerPicture, power_of
from breakin.record import BuildRecord


@dataclass
class Picture:
    """A record, the moment, and what follows from the two."""

    record: BuildRecord
    now: datetime

    @cached_property
    def clock(self) -> Clock:
        return clock_of(self.record)

    @cached_property
    def _oil_rows(self) -> tuple[tuple[OilRow, ...], tuple[Leak, ...]]:
        return oil_rows(self.record, self.clock)

    @property
    def oil_rows(self) -> tuple[OilRow, ...]:
        return self._oil_rows[0]

    @property
    def leaks(self) -> tuple[Leak, ...]:
        return self._oil_rows[1]

    @cached_property
    def power(self) -> PowerPicture:
        return power_of(self.record, self.clock)

    @cached_property
    def heat(self) -> tuple[HeatRow, ...]:
        return heat_of(self.record, self.clock)

    @cached_property
    def seating(self) -> Seating:
        return seating(self.record, self.clock)

    @cached_property
    def oil(self) -> OilPicture:
        before = self.rate_before
        known = None if before is None else (before.rate, before.u_rate)
        return oil_of(self.record, self.clock, *self._oil_rows, known)

    @cached_property
    def rate_before(self) -> RateBefore | None:
        return rate_before(self.record)

    @property
    def hours(self) -> float:
        return self.clock.hours
