"""Logging a flight: what is kept, what is refused, and that a resend is harmless."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.entries import parse_flight
from breakin.models import Assessment, Flight, FlightEngine, IssuedCard, OilEvent, PowerBlock
from breakin.services.cards import current_card
from breakin.services.flights import LoggedFlight, log_flight
from breakin.services.installing import change_meter
from engines.models import Installation
from shop.errors import ConflictingResend, Refusal
from shop.models import AuditEvent
from tests.factories import NOW, Cast, cast, engine, flown, person, raw_flight, seat

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(days=10)


@pytest.fixture
def shop() -> Cast:
    return cast()


def log(shop: Cast, raw: dict[str, Any], **more: Any) -> LoggedFlight:
    now = more.pop("now", AT + timedelta(hours=1))
    entry = parse_flight(raw, units="us", zone="UTC", now=now)
    return log_flight(**{"by": shop.ada, "aircraft": shop.aircraft_1, "entry": entry, "now": now, **more})


def raw_1(shop: Cast, hours: float = 1.2, **more: Any) -> dict[str, Any]:
    return raw_flight(shop.build_1.engine, AT, hours, **more)


def refused(shop: Cast, raw: dict[str, Any], **more: Any) -> dict[str, list[str]]:
    with pytest.raises(Refusal) as caught:
        log(shop, raw, **more)
    return caught.value.by_field()


def test_a_flight_keeps_its_engine_and_oil(shop: Cast) -> None:
    logged = flown(shop.build_1, 1.2, level_qt=7.5, added_qt=1)
    assert logged.created
    run = FlightEngine.objects.get(flight=logged.flight)
    assert (run.meter_start_h, run.meter_end_h, run.hours_estimated) == (100.0, 101.2, False)
    assert run.hours == pytest.approx(1.2)
    kinds = list(OilEvent.objects.filter(flight_root=logged.flight.root).values_list("kind", flat=True))
    assert kinds == ["reading", "addition"]


def test_the_act_is_written_down_and_the_build_is_to_be_judged(
    shop: Cast, django_capture_on_commit_callbacks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    queued: list[tuple[Any, ...]] = []
    monkeypatch.setattr("breakin.services.common.jobs.queue", lambda task, *args: queued.append(args))
    with django_capture_on_commit_callbacks(execute=True):
        log(shop, raw_1(shop, meter_end=101.2))
    assert queued == [(shop.build_1.pk,)]
    assert Assessment.objects.get(build=shop.build_1).dirty_at == AT + timedelta(hours=1)
    assert AuditEvent.objects.filter(act="log_flight", actor=shop.ada).count() == 1


def test_a_broker_that_is_down_does_not_fail_the_log(
    shop: Cast, django_capture_on_commit_callbacks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def down(*args: Any, **kwargs: Any) -> None:
        raise ConnectionError("no broker")

    monkeypatch.setattr("breakin.tasks.assess_build.delay", down)
    with django_capture_on_commit_callbacks(execute=True):
        logged = log(shop, raw_1(shop, meter_end=101.2))
    assert Flight.objects.filter(pk=logged.flight.pk).exists()


def test_same_client_id_twice_keeps_one_flight(shop: Cast) -> None:
    raw = raw_1(shop, meter_end=101.2, oil=[{"kind": "reading", "level": 7}])
    first, again = log(shop, raw), log(shop, raw)
    assert (first.created, again.created) == (True, False)
    assert first.flight == again.flight
    assert OilEvent.objects.count() == 1


def test_same_client_id_with_other_content_is_refused(shop: Cast) -> None:
    raw = raw_1(shop, meter_end=101.2)
    log(shop, raw)
    with pytest.raises(ConflictingResend, match="Fix this entry"):
        log(shop, {**raw, "airborne": 60})
    assert Flight.objects.get().airborne_min == 72


def test_same_client_id_for_another_aircraft_is_refused(shop: Cast) -> None:
    raw = raw_1(shop, meter_end=101.2)
    log(shop, raw)
    with pytest.raises(ConflictingResend):
        log(shop, raw, aircraft=shop.aircraft_2, by=shop.ben)


def test_nothing_is_kept_of_a_refused_flight(shop: Cast) -> None:
    problems = refused(shop, raw_1(shop, meter_end=101.2, oil=[{"kind": "reading", "level": 11}]))
    assert "full: 8 qt" in problems["engines.0.oil.0.level"][0]
    assert (Flight.objects.count(), OilEvent.objects.count()) == (0, 0)


def test_the_level_may_be_two_quarts_above_full(shop: Cast) -> None:
    assert log(shop, raw_1(shop, meter_end=101.2, oil=[{"kind": "reading", "level": 10}])).created


def test_an_engine_of_another_aircraft_is_refused_with_those_that_are_there(shop: Cast) -> None:
    problems = refused(shop, raw_flight(shop.build_2.engine, AT, meter_end=101.2))
    assert str(shop.build_1.engine) in problems["engines.0.engine_id"][0]


def test_an_engine_that_came_later_is_refused(shop: Cast) -> None:
    early = NOW - timedelta(days=51)
    problems = refused(shop, raw_flight(shop.build_1.engine, early, meter_end=101.2))
    assert "was not in QX-901" in problems["engines.0.engine_id"][0]


def test_a_meter_below_the_last_reading_is_refused_with_that_reading(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=1))
    problems = refused(shop, raw_1(shop, meter_end=100.9))
    assert "101.2 h, the last reading (the flight of 4 Jun 2026)" in problems["engines.0.meter_end"][0]


def test_a_meter_at_the_last_reading_may_start_there(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=1))
    run = log(shop, raw_1(shop, meter_end=102.4)).flight.engines.get()
    assert (run.meter_start_h, round(run.hours, 3)) == (101.2, 1.2)


def test_a_flight_logged_late_must_fit_below_the_next_one(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT + timedelta(days=1), meter_end=102.0)
    problems = refused(shop, raw_1(shop, meter_end=102.3))
    assert "reached 102.0 h later" in problems["engines.0.meter_end"][0]
    assert log(shop, raw_1(shop, meter_end=101.0, hours=1.0)).created


def test_after_a_change_of_meter_lower_readings_are_taken(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=2))
    change_meter(
        by=shop.tom, aircraft=shop.aircraft_1, position="single", kind="tach", at=AT - timedelta(days=1),
        old_reading_h=101.2, new_reading_h=0.0, now=AT,
    )  # fmt: skip
    run = log(shop, raw_1(shop, meter_end=1.2)).flight.engines.get()
    assert (run.meter_start_h, run.meter_end_h) == (0.0, 1.2)


def test_hours_that_ran_without_a_log_are_not_counted_to_this_flight(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=1))
    run = log(shop, raw_1(shop, meter_end=104.5)).flight.engines.get()
    assert (run.meter_start_h, run.meter_end_h) == (None, 104.5)
    assert (run.hours, run.hours_estimated) == (1.2, True)


def test_without_any_meter_the_airborne_time_is_an_estimate(shop: Cast) -> None:
    run = log(shop, raw_1(shop)).flight.engines.get()
    assert (run.hours, run.hours_estimated, run.meter_kind) == (1.2, True, "")


def test_hobbs_alone_gives_estimated_tach_hours(shop: Cast) -> None:
    raw = raw_1(shop, meter_kind="hobbs", meter_start=500, meter_end=501.4)
    run = log(shop, raw).flight.engines.get()
    assert run.hours_estimated
    assert run.hours == pytest.approx(1.4 * 0.85)


def test_five_pairs_teach_the_ratio_of_the_installation(shop: Cast) -> None:
    tach, hobbs = 100.0, 500.0
    for day in range(5):
        at = AT - timedelta(days=9 - day)
        meters = [{"kind": "hobbs", "start": hobbs, "end": hobbs + 1.25}]
        flown(shop.build_1, 1.0, at=at, meter_end=tach + 1.0, meters=meters)
        tach, hobbs = tach + 1.0, hobbs + 1.25
    raw = raw_1(shop, meter_kind="hobbs", meter_start=hobbs, meter_end=hobbs + 1.5)
    assert log(shop, raw).flight.engines.get().hours == pytest.approx(1.5 * 0.8)


def test_four_pairs_do_not_teach_it_yet(shop: Cast) -> None:
    Installation.objects.filter(engine=shop.build_1.engine).update(tach_per_hobbs=0.9)
    for day in range(4):
        meters = [{"kind": "hobbs", "start": 500 + 1.25 * day, "end": 501.25 + 1.25 * day}]
        flown(shop.build_1, 1.0, at=AT - timedelta(days=9 - day), meter_end=101.0 + day, meters=meters)
    raw = raw_1(shop, meter_kind="hobbs", meter_start=505, meter_end=506.5)
    assert log(shop, raw).flight.engines.get().hours == pytest.approx(1.5 * 0.9)


def test_airborne_longer_than_the_meter_moved_is_refused_with_the_last_reading(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=1))
    problems = refused(shop, raw_1(shop, meter_end=101.5, hours=1.2))
    assert "last reading was 101.2 h" in problems["engines.0.meter_end"][0]


def test_as_on_the_card_writes_the_blocks_of_the_card(shop: Cast) -> None:
    card = current_card(by=shop.tom, build=shop.build_1, now=AT - timedelta(hours=3))
    run = log(shop, raw_1(shop, meter_end=101.2, as_on_card=True)).flight.engines.get()
    assert run.as_on_card == card
    assert list(run.blocks.values_list("duration_min", "stated_band")) == [(60.0, "75")]


def test_a_flight_shorter_than_its_card_is_not_as_on_the_card(shop: Cast) -> None:
    current_card(by=shop.tom, build=shop.build_1, now=AT - timedelta(hours=3))
    problems = refused(shop, raw_1(shop, hours=0.9, meter_end=100.9, as_on_card=True))
    assert "asks for 60 min" in problems["engines.0.as_on_card"][0]


def test_an_alternating_card_is_repeated_until_landing(shop: Cast) -> None:
    plan = shop.build_1.plans.get()
    card = IssuedCard.objects.create(
        build=shop.build_1, number=1, plan=plan, stage="alternating", minutes=[[30, "75"], [30, "65"]],
        issued_at=AT - timedelta(hours=3), valid_until=AT,
    )  # fmt: skip
    log(shop, raw_1(shop, hours=1.8, meter_end=101.8, as_on_card=True, card_id=card.pk))
    blocks = list(PowerBlock.objects.values_list("duration_min", "stated_band"))
    assert blocks == [(30, "75"), (30, "65"), (30, "75"), (8, "65")]


def test_without_a_card_nothing_was_flown_as_on_it(shop: Cast) -> None:
    problems = refused(shop, raw_1(shop, meter_end=101.2, as_on_card=True))
    assert "No card was handed out" in problems["engines.0.as_on_card"][0]


def test_a_card_of_another_engine_is_refused(shop: Cast) -> None:
    card = current_card(by=shop.tom, build=shop.build_2, now=AT - timedelta(hours=3))
    problems = refused(shop, raw_1(shop, meter_end=101.2, as_on_card=True, card_id=card.pk))
    assert "engines.0.card_id" in problems


def test_an_overlapping_flight_is_kept_and_shown_as_a_possible_duplicate(shop: Cast) -> None:
    log(shop, raw_1(shop, meter_end=101.2))
    second = log(shop, {**raw_1(shop, meter_end=101.2), "ended_at": (AT + timedelta(minutes=20)).isoformat()})
    assert (second.created, second.possible_duplicate) == (True, True)
    assert Flight.objects.count() == 2


def test_two_flights_of_a_day_are_no_duplicates(shop: Cast) -> None:
    log(shop, raw_1(shop, meter_end=101.2))
    later = AT + timedelta(hours=2)
    second = log(shop, raw_flight(shop.build_1.engine, later, 1.0, meter_end=102.2), now=later)
    assert not second.possible_duplicate


def test_the_same_meter_end_hours_later_is_a_possible_duplicate(shop: Cast) -> None:
    log(shop, raw_1(shop, meter_end=101.2))
    later = AT + timedelta(hours=3)
    second = log(shop, raw_flight(shop.build_1.engine, later, 1.2, meter_end=101.2), now=later)
    assert second.possible_duplicate


@pytest.mark.parametrize(
    ("late", "written", "source", "recalled", "grade"),
    [
        (timedelta(hours=1), None, "portal", False, "B"),
        (timedelta(hours=24), None, "portal", False, "B"),
        (timedelta(hours=25), None, "portal", False, "C"),
        (timedelta(days=6), timedelta(hours=2), "portal", False, "B"),
        (timedelta(days=6), timedelta(days=3), "portal", False, "C"),
        (timedelta(days=6), timedelta(days=9), "portal", False, "C"),
        (timedelta(days=7, minutes=1), timedelta(hours=2), "portal", False, "D"),
        (timedelta(hours=1), None, "phone", False, "C"),
        (timedelta(hours=1), None, "portal", True, "D"),
        (timedelta(hours=1), None, "file", False, "A"),
    ],
)
def test_the_grade_tells_how_soon_it_was_written_and_received(
    shop: Cast, late: timedelta, written: timedelta | None, source: str, recalled: bool, grade: str
) -> None:
    raw = raw_1(shop, meter_end=101.2) | ({"written_at": (AT + written).isoformat()} if written else {})
    logged = log(shop, raw | {"recalled": recalled}, now=AT + late, source=source)
    assert logged.flight.grade == grade


def test_a_pilot_who_does_not_fly_the_aircraft_is_refused(shop: Cast) -> None:
    problems = refused(shop, raw_1(shop, meter_end=101.2, pilot_id=shop.ben.pk))
    assert "does not fly QX-901" in problems["pilot_id"][0]


def test_whoever_logs_is_the_pilot_unless_it_is_the_shop(shop: Cast) -> None:
    assert log(shop, raw_1(shop, meter_end=101.2)).flight.pilot == shop.ada
    later = raw_flight(shop.build_1.engine, AT + timedelta(hours=6), 1.0, meter_end=102.2)
    by_shop = log(shop, later, by=shop.tom, now=AT + timedelta(hours=7)).flight
    assert by_shop.pilot is None
    on_behalf = raw_flight(shop.build_1.engine, AT + timedelta(hours=9), 1.0, meter_end=103.2)
    logged = log(shop, on_behalf, by=shop.tom, on_behalf_of=shop.ada, now=AT + timedelta(hours=10)).flight
    assert (logged.pilot, logged.entered_by) == (shop.ada, shop.tom)


def test_a_ground_run_is_kept_without_airborne_time(shop: Cast) -> None:
    logged = log(shop, raw_1(shop, hours=0, kind="ground_run", ground_before=25, meter_end=100.2))
    assert (logged.flight.airborne_min, logged.flight.engines.get().meter_end_h) == (0, 100.2)


def test_a_twin_keeps_both_engines_though_only_one_is_in_break_in(shop: Cast) -> None:
    other = engine()
    seat(other, shop.aircraft_1, by=shop.tom, position="right")
    raw = raw_1(shop, meter_end=101.2)
    raw["engines"].append({"engine_id": other.pk, "meter_end": 101.2, "blocks": [{"duration": 60, "rpm": 2400}]})
    assert log(shop, raw).flight.engines.count() == 2


def test_an_oil_reading_before_the_flight_carries_the_moment_it_began(shop: Cast) -> None:
    oil = [{"kind": "reading", "when": "before", "level": 7}, {"kind": "reading", "level": 6.75}]
    logged = log(shop, raw_1(shop, meter_end=101.2, oil=oil))
    before, after = OilEvent.objects.order_by("happened_at")
    assert before.happened_at == AT - timedelta(minutes=72)
    assert (after.happened_at, after.when, after.flight_root) == (AT, "after", logged.flight.root)


def test_draining_and_filling_is_not_logged_by_a_pilot(shop: Cast) -> None:
    problems = refused(
        shop, raw_1(shop, meter_end=101.2, oil=[{"kind": "drain_fill", "filled": 7, "oil_kind": "mineral"}])
    )
    assert "technician" in problems["kind"][0]


def test_a_chosen_field_gives_its_elevation(shop: Cast) -> None:
    raw = raw_1(shop, meter_end=101.2) | {"place_id": shop.place.pk}
    assert log(shop, raw).flight.field_elevation_ft == shop.place.elevation_ft
    assert "place_id" in refused(shop, raw_1(shop, meter_end=101.2) | {"place_id": 10_000})


def test_a_stop_stands_in_the_answer(shop: Cast) -> None:
    logged = log(shop, raw_1(shop, meter_end=101.2, cht_max=510))
    assert [finding.build for finding in logged.stops] == [shop.build_1]
    assert Assessment.objects.get(build=shop.build_1).stopped


def test_a_flight_of_an_engine_without_a_build_needs_no_build(shop: Cast) -> None:
    plain = engine()
    seat(plain, shop.aircraft_2, by=shop.tom, position="right")
    raw = raw_flight(plain, AT, meter_end=101.2)
    assert log(shop, raw, aircraft=shop.aircraft_2, by=shop.ben).stops == []


def test_a_stranger_named_as_pilot_of_the_shop_is_taken_when_he_has_a_role(shop: Cast) -> None:
    corin = person("Corin", role="break_in_pilot")
    assert log(shop, raw_1(shop, meter_end=101.2, pilot_id=corin.pk)).flight.pilot == corin
