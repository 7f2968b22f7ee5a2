"""Adding oil events: where they stand, what fits the sump, what to do at the level."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.entries import parse_oil
from breakin.models import Assessment, OilEvent
from breakin.services.oil import add_oil
from shop.errors import ConflictingResend, Refusal
from tests.factories import NOW, Cast, cast, flown, oil_event

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(days=5)
READING: dict[str, Any] = {"minutes_since_shutdown": 20, "level_ground": True, "wiped_twice": True}


@pytest.fixture
def shop() -> Cast:
    return cast()


def refused(shop: Cast, kind: str, **more: Any) -> dict[str, list[str]]:
    with pytest.raises(Refusal) as caught:
        oil_event(shop.build_1, kind, at=AT, **more)
    return caught.value.by_field()


def test_a_reading_is_kept_as_the_stick_showed_it(shop: Cast) -> None:
    logged = oil_event(shop.build_1, "reading", at=AT, level="7,25", **READING)
    assert (logged.created, logged.event.level_qt, logged.event.typed["level"]) == (True, 7.25, ["7,25", "qt"])
    assert Assessment.objects.get(build=shop.build_1).dirty_at is not None


@pytest.mark.parametrize(
    ("level", "code"), [(3.9, "below_no_go"), (4.9, "add_one"), (5.5, "leave"), (6.0, "leave"), (6.1, "above_hold")]
)
def test_the_answer_says_what_to_do_at_this_level(shop: Cast, level: float, code: str) -> None:
    advice = oil_event(shop.build_1, "reading", at=AT, level=level, **READING).advice
    assert advice is not None
    assert advice.code == code


def test_the_offset_of_the_stick_counts_in_the_advice_and_not_in_the_record(shop: Cast) -> None:
    shop.build_1.engine.installations.update(dipstick_offset_qt=1.0)
    logged = oil_event(shop.build_1, "reading", at=AT, level=4.5, **READING)
    assert logged.advice is not None
    assert (logged.event.level_qt, logged.advice.code) == (4.5, "leave")


def test_an_event_of_a_flight_takes_its_moment_from_the_flight(shop: Cast) -> None:
    flight = flown(shop.build_1, 1.2, at=AT).flight
    for when, moment in (("before", AT - timedelta(minutes=72)), ("after", AT)):
        event = add(shop, level=7, flight_root=str(flight.root), when=when).event
        assert (event.happened_at, event.when) == (moment, when)


def add(shop: Cast, **more: Any) -> Any:
    raw = {"client_id": f"00000000-0000-0000-0000-{OilEvent.objects.count():012d}", "engine_id": shop.build_1.engine_id}
    entry = parse_oil({**raw, "kind": "reading", **more}, units="us", zone="UTC", now=NOW)
    return add_oil(by=shop.ada, engine=shop.build_1.engine, entry=entry, now=NOW)


def test_a_flight_of_another_engine_is_refused(shop: Cast) -> None:
    flight = flown(shop.build_2, 1.2, at=AT).flight
    assert "no such flight" in refused(shop, "reading", level=7, flight_root=str(flight.root))["flight_root"][0]


def test_before_a_flight_can_not_be_after_its_end(shop: Cast) -> None:
    flight = flown(shop.build_1, 1.2, at=AT - timedelta(days=1)).flight
    assert "when" in refused(shop, "reading", level=7, flight_root=str(flight.root), when="before")


def test_more_than_the_sump_holds_is_refused(shop: Cast) -> None:
    assert "more than 10 qt" in refused(shop, "reading", level=10.25)["level"][0]
    assert "amount" in refused(shop, "addition", amount=8.5, oil_kind="mineral")
    assert oil_event(shop.build_1, "addition", at=AT, amount=8, oil_kind="mineral").created


def test_the_refusal_repeats_the_unit_that_was_typed(shop: Cast) -> None:
    (message,) = refused(shop, "reading", level="10 L")["level"]
    assert "“10 L”" in message
    assert "10.57 qt" in message


def test_a_meter_below_the_last_flight_is_refused(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=1))
    assert "runs backwards" in refused(shop, "reading", level=7, meter_reading=101.0)["meter_reading"][0]
    assert oil_event(shop.build_1, "reading", at=AT, level=7, meter_reading=101.2).created


def test_an_event_before_the_engine_was_in_the_book_is_refused(shop: Cast) -> None:
    with pytest.raises(Refusal, match="before this engine was in the book"):
        oil_event(shop.build_1, "reading", at=NOW - timedelta(days=61), level=7)


def test_draining_and_filling_is_entered_by_a_technician(shop: Cast) -> None:
    fill: dict[str, Any] = {"drained": 6.5, "filled": 7, "oil_kind": "mineral"}
    with pytest.raises(Refusal) as caught:
        oil_event(shop.build_1, "drain_fill", at=AT, **fill)
    assert caught.value.code == "forbidden"
    assert oil_event(shop.build_1, "drain_fill", at=AT, by=shop.tom, **fill).event.filled_qt == 7


def test_a_resend_is_the_same_event_and_a_changed_one_is_refused(shop: Cast) -> None:
    raw: dict[str, Any] = {"client_id": "7b0e7a2e-54a1-4b7a-9e5f-0b4a2b1d0003", "level": 7}
    assert oil_event(shop.build_1, "reading", at=AT, **raw).created
    assert not oil_event(shop.build_1, "reading", at=AT, **raw).created
    with pytest.raises(ConflictingResend):
        oil_event(shop.build_1, "reading", at=AT, **raw | {"level": 6})
    assert OilEvent.objects.count() == 1


def test_told_from_memory_is_the_weakest_grade(shop: Cast) -> None:
    assert oil_event(shop.build_1, "reading", at=AT, level=7, recalled=True).event.grade == "D"
