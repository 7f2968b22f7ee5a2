"""Logging a flight: what is kept, what is refused, and that a resend is harmless."""

from __future__ import annotations

import pytest

from breakin.models import FlightEngine, OilEvent
from tests.factories import Cast, cast, flown

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Cast:
    return cast()


def test_a_flight_keeps_its_engine_and_oil(shop: Cast) -> None:
    logged = flown(shop.build_1, 1.2, level_qt=7.5, added_qt=1)
    assert logged.created
    run = FlightEngine.objects.get(flight=logged.flight)
    assert (run.meter_start_h, run.meter_end_h, run.hours_estimated) == (100.0, 101.2, False)
    assert run.hours == pytest.approx(1.2)
    kinds = list(OilEvent.objects.filter(flight_root=logged.flight.root).values_list("kind", flat=True))
    assert kinds == ["reading", "addition"]
