"""A shop with builds that have ended, each with an oil log of its own: what the fleet's prior is learned from."""

from __future__ import annotations

from datetime import timedelta

from breakin.services.closing import close_incomplete
from engines.models import Build
from tests import factories
from tests.factories import NOW, Cast

FLIGHTS = 6
HOURS = 3.0


def ended_build(
    shop: Cast, number: int, *, rate_qt_h: float = 0.2, readings: int = FLIGHTS, incomplete: bool = False
) -> Build:
    """Six long flights, a steady loss of oil, a quart added when low; then closed out or given up."""
    into = factories.aircraft(f"QY-{number:03d}", shop.ada_customer)
    one = factories.engine()
    build = factories.build(one, by=shop.cora, number=f"F-{number:03d}", finish="nitrided")
    factories.seat(one, into, by=shop.tom)
    level = 6.5
    for flight in range(FLIGHTS):
        level -= HOURS * rate_qt_h
        shown = round(level * 4) / 4 if flight < readings else None
        added = 1.0 if level < 5.25 else None
        level += added or 0.0
        at = NOW - timedelta(days=30 - flight)
        factories.flown(build, HOURS, at=at, level_qt=shown, added_qt=added, by=shop.ada, cht_max=400)
    over = NOW - timedelta(days=10)
    if incomplete:
        close_incomplete(by=shop.cora, build=build, reason="It is over.", now=over)
    else:
        factories.closed_out(build, now=over, proposer=shop.tom, signer=shop.cora, notes="It is over.")
    build.refresh_from_db()
    return build


def ended_fleet(shop: Cast, count: int, *, rate_qt_h: float = 0.2) -> list[Build]:
    """So many ended builds, every third of them given up early."""
    return [ended_build(shop, number, rate_qt_h=rate_qt_h, incomplete=number % 3 == 2) for number in range(count)]
