"""Which engine sits where: no overlap, a swap in one act, meters that are changed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.services import installing
from breakin.services.installing import MeterEntry
from engines.models import Aircraft, Engine, Installation, Meter
from shop.errors import Refusal
from shop.models import AuditEvent, Person
from tests.factories import NOW, aircraft, build, cast, customer, engine, flown, person, seat

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(days=3)


@pytest.fixture
def tom() -> Person:
    return person("Tom", role="line_technician")


def twin(tom: Person) -> tuple[Aircraft, Engine, Engine]:
    held_by = customer("Charter", person("Ada"))
    into, left, right = aircraft("QX-903", held_by), engine(), engine()
    for one, position, oil in ((left, "left", 7.0), (right, "right", 8.0)):
        build(one, by=tom)
        seat(one, into, by=tom, position=position, min_oil_qt=oil)
    return into, left, right


def refused(**more: Any) -> Refusal:
    with pytest.raises(Refusal) as caught:
        seat(**more)
    return caught.value


def test_an_engine_sits_in_one_place_at_a_time(tom: Person) -> None:
    one = engine()
    seat(one, aircraft("QX-903"), by=tom)
    caught = refused(of=one, into=aircraft("QX-904"), by=tom)
    assert caught.code == "conflict"
    assert "QX-903" in caught.by_field()["engine"][0]


def test_a_position_holds_one_engine_at_a_time(tom: Person) -> None:
    into = aircraft("QX-903")
    first = engine()
    seat(first, into, by=tom)
    assert str(first) in refused(of=engine(), into=into, by=tom).by_field()["position"][0]
    assert seat(engine(), into, by=tom, position="right").position == "right"


def test_an_earlier_period_overlaps_one_that_still_holds(tom: Person) -> None:
    one = engine()
    seat(one, aircraft("QX-903"), by=tom, since=AT)
    assert refused(of=one, into=aircraft("QX-904"), by=tom, since=AT - timedelta(days=9)).code == "conflict"


def test_an_engine_may_follow_where_another_was_removed(tom: Person) -> None:
    into, first = aircraft("QX-903"), engine()
    installing.remove(by=tom, installation=seat(first, into, by=tom), at=AT, reason="overhaul", now=NOW)
    assert seat(engine(), into, by=tom, since=AT).since == AT


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"position": "tail"}, "position"),
        ({"since": NOW + timedelta(minutes=1)}, "since"),
        ({"min_oil_qt": 0}, "min_oil_qt"),
        ({"dipstick_offset_qt": 3.1}, "dipstick_offset_qt"),
        ({"tach_per_hobbs": 2}, "tach_per_hobbs"),
        ({"colour": "red"}, "colour"),
        ({"first_meter_h": -1}, "meters.0.reading_h"),
    ],
)
def test_an_installation_with_a_mistake_is_refused_in_its_field(tom: Person, more: dict[str, Any], field: str) -> None:
    assert field in refused(of=engine(), into=aircraft("QX-903"), by=tom, **more).by_field()
    assert not Installation.objects.exists()


def test_a_swap_closes_two_seats_and_opens_two(tom: Person) -> None:
    into, left, right = twin(tom)
    new_left, new_right = installing.swap(by=tom, aircraft=into, at=AT, reason="annual", now=NOW)
    assert (new_left.engine, new_right.engine) == (right, left)
    assert (new_left.position, new_left.min_oil_qt, new_right.min_oil_qt) == ("left", 7.0, 8.0)
    assert Installation.objects.filter(until=AT).count() == 2
    assert AuditEvent.objects.get(act="swap").detail["reason"] == "annual"


def test_after_a_swap_readings_follow_the_serial(tom: Person) -> None:
    into, left, _right = twin(tom)
    of_left = left.builds.get()
    flown(of_left, 1.0, at=AT - timedelta(days=1), meter_end=101.0)
    installing.swap(by=tom, aircraft=into, at=AT, reason="annual", now=NOW)
    run = flown(of_left, 1.0, at=AT + timedelta(days=1), meter_end=101.0).flight.engines.get()
    assert (run.engine, run.installation.position, run.meter_start_h) == (left, "right", 100.0)


def test_a_swap_before_flights_in_the_book_is_refused(tom: Person) -> None:
    into, left, _right = twin(tom)
    flown(left.builds.get(), 1.0, at=AT)
    with pytest.raises(Refusal, match="1 flight"):
        installing.swap(by=tom, aircraft=into, at=AT - timedelta(days=1), reason="annual", now=NOW)
    assert Installation.objects.filter(until__isnull=True).count() == 2


def test_a_single_has_nothing_to_swap(tom: Person) -> None:
    into = aircraft("QX-903")
    seat(engine(), into, by=tom)
    with pytest.raises(Refusal, match="Nothing to swap"):
        installing.swap(by=tom, aircraft=into, at=AT, reason="annual", now=NOW)


def test_a_revised_seat_is_a_new_row_that_continues_the_old(tom: Person) -> None:
    old = seat(engine(), aircraft("QX-903"), by=tom)
    new = installing.revise(by=tom, installation=old, at=AT, reason="fitted", separator=True, now=NOW)
    assert (new.continues, new.separator, new.min_oil_qt) == (old, True, old.min_oil_qt)
    with pytest.raises(Refusal, match="ended already"):
        installing.revise(by=tom, installation=old, at=AT, reason="again", separator=False, now=NOW)


def test_a_changed_meter_closes_one_row_and_opens_the_next(tom: Person) -> None:
    shop = cast_of(tom)
    new = change(shop, tom, old_reading_h=120, new_reading_h=0)
    old = Meter.objects.get(aircraft=shop, until=AT)
    assert (old.reading_at_end_h, new.reading_at_start_h, new.until) == (120, 0, None)


def test_an_old_meter_does_not_end_below_its_start(tom: Person) -> None:
    with pytest.raises(Refusal) as caught:
        change(cast_of(tom), tom, old_reading_h=99, new_reading_h=0)
    assert "old_reading_h" in caught.value.by_field()


def cast_of(tom: Person) -> Aircraft:
    into = aircraft("QX-903")
    seat(engine(), into, by=tom)
    return into


def change(into: Aircraft, tom: Person, **readings: Any) -> Meter:
    return installing.change_meter(by=tom, aircraft=into, position="single", kind="tach", at=AT, now=NOW, **readings)


def test_a_meter_that_runs_on_is_left_as_it_is_when_the_engine_changes(tom: Person) -> None:
    into = aircraft("QX-903")
    installing.remove(by=tom, installation=seat(engine(), into, by=tom), at=AT, reason="overhaul", now=NOW)
    installing.install(
        by=tom, engine=engine(), aircraft=into, position="single", since=AT, basis_clock="tach", min_oil_qt=4.0,
        meters=[MeterEntry("tach", 150.0), MeterEntry("hobbs", 200.0)], now=NOW,
    )  # fmt: skip
    assert list(Meter.objects.order_by("kind").values_list("kind", "reading_at_start_h")) == [
        ("hobbs", 200),
        ("tach", 100),
    ]


def test_the_standing_cast_is_complete() -> None:
    shop = cast()
    assert shop.build_1.engine.installations.get().aircraft == shop.aircraft_1
    assert shop.aircraft_2.holdings.get().customer == shop.ben_customer
