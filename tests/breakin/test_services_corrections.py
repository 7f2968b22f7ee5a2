"""Corrections: newer versions beside the older ones, who may make them, and two people at once."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.utils import DatabaseError

from breakin.entries import parse_flight, parse_oil
from breakin.models import Flight, FlightEngine, OilEvent, PowerBlock
from breakin.services.corrections import correct_flight, correct_oil, may_correct, withdraw_flight, withdraw_oil
from breakin.services.flights import LoggedFlight
from shop.errors import Refusal
from shop.models import Person
from tests.factories import NOW, Cast, cast, closed_out, engine, flown, oil_event, raw_flight, seat

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(days=5)
SOON = AT + timedelta(hours=2)


@pytest.fixture
def shop() -> Cast:
    return cast()


@pytest.fixture
def flight(shop: Cast) -> Flight:
    blocks = [{"duration": 60, "rpm": 2450, "map": 24.5}]
    return flown(shop.build_1, 1.2, at=AT, level_qt=7, added_qt=1, blocks=blocks).flight


def correct(
    shop: Cast, flight: Flight, *, by: Person | None = None, now: datetime = SOON, reason: str = "mistyped", **more: Any
) -> LoggedFlight:
    of = more.pop("engine", shop.build_1.engine)
    raw = raw_flight(of, AT, more.pop("hours", 1.3), **{"meter_end": 101.3, **more})
    entry = parse_flight(raw, units="us", zone="UTC", now=now)
    return correct_flight(by=by or shop.ada, flight=flight, entry=entry, reason=reason, now=now)


def test_a_correction_is_a_newer_version_with_children_of_its_own(shop: Cast, flight: Flight) -> None:
    newer = correct(shop, flight, blocks=[{"duration": 45}]).flight
    assert (newer.root, newer.corrects, newer.correction_reason) == (flight.root, flight, "mistyped")
    assert list(Flight.objects.current()) == [newer]
    assert newer.engines.get().meter_end_h == 101.3
    assert list(PowerBlock.objects.values_list("duration_min", flat=True)) == [60, 45]


def test_a_corrected_flight_does_not_stand_in_its_own_way(shop: Cast, flight: Flight) -> None:
    assert correct(shop, flight, hours=1.1, meter_end=101.1).flight.engines.get().hours == pytest.approx(1.1)


def test_oil_that_is_not_told_again_stays(shop: Cast, flight: Flight) -> None:
    newer = correct(shop, flight).flight
    current = OilEvent.objects.current().filter(flight_root=newer.root)
    assert list(current.values_list("kind", flat=True)) == ["reading", "addition"]
    assert OilEvent.objects.count() == 2


def test_oil_that_is_told_again_takes_the_place_of_the_older(shop: Cast, flight: Flight) -> None:
    reading = OilEvent.objects.get(kind="reading")
    correct(shop, flight, oil=[{"kind": "reading", "when": "after", "level": 6.5}])
    newer = OilEvent.objects.current().get()
    assert (newer.level_qt, newer.corrects, newer.root) == (6.5, reading, reading.root)
    withdrawn = OilEvent.objects.get(withdrawn=True)
    assert (withdrawn.kind, withdrawn.amount_qt, withdrawn.corrects) == (
        "addition", 1, OilEvent.objects.get(kind="addition", withdrawn=False)
    )  # fmt: skip


def test_when_the_engine_was_wrong_its_oil_goes_along(shop: Cast, flight: Flight) -> None:
    right = engine()
    seat(right, shop.aircraft_1, by=shop.tom, position="right")
    newer = correct(shop, flight, by=shop.tom, engine=right, reason="wrong_engine").flight
    assert [run.engine for run in newer.engines.all()] == [right]
    assert set(OilEvent.objects.current().values_list("engine", flat=True)) == {right.pk}


def test_a_correction_of_a_corrected_entry_is_refused_with_when_it_was(shop: Cast, flight: Flight) -> None:
    correct(shop, flight)
    with pytest.raises(Refusal, match=r"Somebody corrected this entry at 14:00 .*look at it first") as caught:
        correct(shop, flight, by=shop.tom)
    assert caught.value.code == "conflict"
    assert Flight.objects.count() == 2


def test_a_resend_of_a_correction_is_the_same_correction(shop: Cast, flight: Flight) -> None:
    client_id = str(uuid.uuid4())
    first, again = (correct(shop, flight, client_id=client_id) for _ in range(2))
    assert (first.created, again.created, first.flight) == (True, False, again.flight)


def test_a_form_that_logged_a_flight_does_not_correct_another(shop: Cast, flight: Flight) -> None:
    other = flown(shop.build_1, 1.0, at=AT + timedelta(days=1)).flight
    raw = raw_flight(
        shop.build_1.engine, AT + timedelta(days=1), 1.0, meter_end=102.2, client_id=str(other.client_id), oil=[]
    )
    now = AT + timedelta(days=1, hours=1)
    entry = parse_flight(raw, units="us", zone="UTC", now=now)
    with pytest.raises(Refusal, match="sent already"):
        correct_flight(by=shop.ada, flight=flight, entry=entry, reason="mistyped", now=now)


def test_the_pilot_corrects_for_seven_days(shop: Cast, flight: Flight) -> None:
    last = flight.received_at + timedelta(days=7)
    assert may_correct(shop.ada, flight, last) == ""
    assert "Ask the shop" in may_correct(shop.ada, flight, last + timedelta(seconds=1))
    with pytest.raises(Refusal, match="older than 7 days") as caught:
        correct(shop, flight, now=last + timedelta(hours=1))
    assert caught.value.code == "forbidden"


def test_a_technician_corrects_at_any_time_and_the_grade_falls(shop: Cast, flight: Flight) -> None:
    newer = correct(shop, flight, by=shop.tom, now=AT + timedelta(days=30)).flight
    assert (flight.grade, newer.grade) == ("B", "D")


def test_a_grade_never_rises(shop: Cast) -> None:
    old = flown(shop.build_1, 1.2, at=AT, note="from memory").flight
    with connection.cursor() as cursor, pytest.raises(DatabaseError), transaction.atomic():
        cursor.execute("UPDATE breakin_flight SET grade = 'D' WHERE id = %s", [old.pk])
    late = withdraw_flight(by=shop.tom, flight=old, reason="disputed", now=SOON)
    assert late.grade == "X"


def test_somebody_elses_entry_is_corrected_by_the_shop(shop: Cast, flight: Flight) -> None:
    with pytest.raises(Refusal, match="Somebody else wrote this entry"):
        correct(shop, flight, by=shop.ben)


def test_after_the_close_out_only_the_shop_corrects(shop: Cast, flight: Flight) -> None:
    closed_out(shop.build_1, now=SOON, proposer=shop.tom, signer=shop.cora)
    assert "closed out" in may_correct(shop.ada, flight, SOON)
    assert may_correct(shop.tom, flight, SOON) == ""


def test_a_flight_that_never_happened_is_withdrawn_with_its_oil(shop: Cast, flight: Flight) -> None:
    last = withdraw_flight(by=shop.ada, flight=flight, reason="duplicate", now=SOON)
    assert last.withdrawn
    assert FlightEngine.objects.filter(flight=last).count() == 1
    assert not Flight.objects.current().exists()
    assert not OilEvent.objects.current().exists()


def test_a_withdrawn_flight_can_not_be_corrected(shop: Cast, flight: Flight) -> None:
    last = withdraw_flight(by=shop.ada, flight=flight, reason="duplicate", now=SOON)
    with pytest.raises(Refusal, match="withdrawn"):
        correct(shop, last)


def test_an_unknown_reason_is_refused(shop: Cast, flight: Flight) -> None:
    with pytest.raises(Refusal) as caught:
        correct(shop, flight, reason="because")
    assert "reason" in caught.value.by_field()


def corrected_reading(shop: Cast, event: OilEvent, by: Person, **more: Any) -> OilEvent:
    raw = {"client_id": str(uuid.uuid4()), "engine_id": event.engine_id, "kind": event.kind, **more}
    entry = parse_oil(raw, units="us", zone="UTC", now=SOON)
    return correct_oil(by=by, event=event, entry=entry, reason="mistyped", now=SOON).event


def test_a_corrected_reading_stays_with_its_flight(shop: Cast, flight: Flight) -> None:
    reading = OilEvent.objects.get(kind="reading")
    newer = corrected_reading(shop, reading, shop.ada, level=6.5)
    assert (newer.flight_root, newer.when, newer.happened_at) == (flight.root, "after", reading.happened_at)
    assert (newer.level_qt, newer.root) == (6.5, reading.root)


def test_two_corrections_of_one_reading_make_no_fork(shop: Cast, flight: Flight) -> None:
    reading = OilEvent.objects.get(kind="reading")
    corrected_reading(shop, reading, shop.ada, level=6.5)
    with pytest.raises(Refusal, match="look at it first"):
        corrected_reading(shop, reading, shop.tom, level=6.25)
    assert OilEvent.objects.filter(root=reading.root).count() == 2


def test_an_entry_is_not_moved_to_an_engine_of_somebody_else(shop: Cast) -> None:
    event = oil_event(shop.build_1, "reading", at=AT, level=7).event
    with pytest.raises(Refusal, match="not one of yours"):
        corrected_reading(shop, event, shop.ada, level=7, engine_id=shop.build_2.engine_id)
    assert (
        corrected_reading(shop, event, shop.tom, level=7, engine_id=shop.build_2.engine_id).engine
        == shop.build_2.engine
    )


def test_a_reading_that_never_happened_is_withdrawn(shop: Cast) -> None:
    event = oil_event(shop.build_1, "reading", at=AT, level=7).event
    withdraw_oil(by=shop.ada, event=event, reason="mistyped", now=SOON)
    assert not OilEvent.objects.current().exists()
