"""Two people at the same moment: nothing is lost, nothing is kept twice, and the second one is told.

On PostgreSQL the row locks of the services do it; on SQLite a transaction takes the write lock at its start.
"""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection

from breakin.entries import parse_flight, parse_inspection, parse_oil
from breakin.models import DueItem, Finding, Flight, FlightEngine, IssuedCard, OilEvent
from breakin.services import corrections, findings, inspections, installing
from breakin.services.builds import PositionEntry, open_build
from breakin.services.cards import current_card
from breakin.services.flights import log_flight
from breakin.services.oil import add_oil
from engines.models import Build, Installation
from shop.errors import ConflictingResend, Refusal
from tests.factories import NOW, Cast, build, cast, engine, flown, raw_flight, seat

pytestmark = [pytest.mark.django_db(transaction=True)]
AT = NOW - timedelta(days=5)
SOON = AT + timedelta(hours=2)


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Cast:
    monkeypatch.setattr("breakin.services.common.jobs.queue", lambda *args: True)
    return cast()


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Start all acts together, each on a connection of its own; what each returned or raised."""
    gate, results = threading.Barrier(len(acts)), [None] * len(acts)

    def run(index: int, act: Callable[[], Any]) -> None:
        try:
            gate.wait(timeout=30)
            results[index] = act()
        except Exception as error:
            results[index] = error  # type: ignore[call-overload]
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads)
    return list(results)


def refusals(results: list[Any]) -> list[Refusal]:
    unexpected = [result for result in results if isinstance(result, Exception) and not isinstance(result, Refusal)]
    assert unexpected == []
    return [result for result in results if isinstance(result, Refusal)]


def logging(shop: Cast, raw: dict[str, Any]) -> Callable[[], Any]:
    entry = parse_flight(raw, units="us", zone="UTC", now=SOON)
    return lambda: log_flight(by=shop.ada, aircraft=shop.aircraft_1, entry=entry, now=SOON)


def test_one_form_sent_by_two_threads_is_one_flight(shop: Cast) -> None:
    raw = raw_flight(shop.build_1.engine, AT, meter_end=101.2, oil=[{"kind": "reading", "level": 7}])
    results = at_once(*[logging(shop, raw)] * 4)
    assert refusals(results) == []
    assert sorted(result.created for result in results) == [False, False, False, True]
    assert (Flight.objects.count(), OilEvent.objects.count()) == (1, 1)


def test_one_client_id_for_two_aircraft_is_kept_once(shop: Cast) -> None:
    client_id = str(uuid.uuid4())
    first = parse_flight(
        raw_flight(shop.build_1.engine, AT, meter_end=101.2, client_id=client_id), units="us", zone="UTC", now=SOON
    )
    second = parse_flight(
        raw_flight(shop.build_2.engine, AT, meter_end=101.2, client_id=client_id), units="us", zone="UTC", now=SOON
    )
    results = at_once(
        lambda: log_flight(by=shop.ada, aircraft=shop.aircraft_1, entry=first, now=SOON),
        lambda: log_flight(by=shop.ben, aircraft=shop.aircraft_2, entry=second, now=SOON),
    )
    assert [type(refusal) for refusal in refusals(results)] == [ConflictingResend]
    assert (Flight.objects.count(), FlightEngine.objects.count()) == (1, 1)


def test_two_flights_one_after_the_other_logged_at_once_share_no_hours(shop: Cast) -> None:
    later = AT + timedelta(minutes=90)
    results = at_once(
        logging(shop, raw_flight(shop.build_1.engine, AT, 1.0, meter_end=101.0)),
        logging(shop, raw_flight(shop.build_1.engine, later, 1.0, meter_end=102.0)),
    )
    assert refusals(results) == []
    starts = dict(FlightEngine.objects.values_list("meter_end_h", "meter_start_h"))
    # Whoever came second saw the first. Where that was the earlier flight, the start of the later one was left open.
    assert starts[101.0] == 100.0
    assert starts[102.0] in (101.0, None)
    assert sum(FlightEngine.objects.values_list("hours", flat=True)) == pytest.approx(2.0)


def test_two_flights_from_the_same_start_can_not_both_stand(shop: Cast) -> None:
    later = AT + timedelta(minutes=100)
    results = at_once(
        logging(shop, raw_flight(shop.build_1.engine, AT, 1.2, meter_start=100, meter_end=101.2)),
        logging(shop, raw_flight(shop.build_1.engine, later, 1.0, meter_start=100, meter_end=101.1)),
    )
    (refusal,) = refusals(results)
    assert {"engines.0.meter_start", "engines.0.meter_end"} & set(refusal.by_field())
    assert Flight.objects.count() == 1


def test_one_oil_entry_sent_by_two_threads_is_one_event(shop: Cast) -> None:
    raw = {"client_id": str(uuid.uuid4()), "engine_id": shop.build_1.engine_id, "kind": "reading", "level": 7}
    entry = parse_oil({**raw, "happened_at": AT.isoformat()}, units="us", zone="UTC", now=SOON)
    results = at_once(*[lambda: add_oil(by=shop.ada, engine=shop.build_1.engine, entry=entry, now=SOON)] * 3)
    assert refusals(results) == []
    assert OilEvent.objects.count() == 1


def test_two_swaps_at_once_are_one_swap(shop: Cast) -> None:
    other = engine()
    Installation.objects.filter(aircraft=shop.aircraft_1).update(position="left")
    seat(other, shop.aircraft_1, by=shop.tom, position="right")
    results = at_once(
        *[lambda: installing.swap(by=shop.tom, aircraft=shop.aircraft_1, at=AT, reason="annual", now=NOW)] * 2
    )
    (refusal,) = refusals(results)
    assert "only came into this seat" in str(refusal)
    left = Installation.objects.get(aircraft=shop.aircraft_1, position="left", until__isnull=True)
    assert left.engine == other
    assert Installation.objects.filter(aircraft=shop.aircraft_1).count() == 4


def test_one_engine_is_not_installed_twice_at_once(shop: Cast) -> None:
    one = engine()
    results = at_once(
        lambda: seat(one, shop.aircraft_1, by=shop.tom, position="right"),
        lambda: seat(one, shop.aircraft_2, by=shop.tom, position="right"),
    )
    assert [refusal.code for refusal in refusals(results)] == ["conflict"]
    assert one.installations.count() == 1


def test_one_engine_has_one_open_build(shop: Cast) -> None:
    one = engine()
    results = at_once(*[lambda n=n: build(one, by=shop.cora, number=f"B-{n}") for n in range(2)])
    assert [refusal.code for refusal in refusals(results)] == ["invalid"] or refusals(results)[0].code == "conflict"
    assert Build.objects.filter(engine=one).count() == 1


def test_two_cylinder_jobs_at_once_leave_one_open_build(shop: Cast) -> None:
    def job(number: str, minutes: int) -> Build:
        return open_build(
            by=shop.cora, engine=shop.build_1.engine, number=number, kind="cylinder",
            positions=[PositionEntry(3, finish="nitrided")], opened_at=AT + timedelta(minutes=minutes), now=NOW,
        )  # fmt: skip

    at_once(lambda: job("C-1", 0), lambda: job("C-2", 1))
    assert Build.objects.filter(engine=shop.build_1.engine, state="open").count() == 1


def test_two_people_clear_a_stop_and_one_verdict_is_kept(shop: Cast) -> None:
    (stop,) = flown(shop.build_1, 1.2, at=AT, cht_max=510).stops
    results = at_once(
        *[
            lambda cause=cause: findings.clear(
                by=shop.tom, finding=stop, verdict="fixed", cause=cause, action="replaced", now=SOON
            )
            for cause in ("baffle", "timing")
        ]
    )
    assert [refusal.code for refusal in refusals(results)] == ["conflict"]
    assert stop.verdicts.count() == 1


def test_acknowledging_while_another_clears_does_not_bring_it_back(shop: Cast) -> None:
    (stop,) = flown(shop.build_1, 1.2, at=AT, cht_max=510).stops
    results = at_once(
        lambda: findings.acknowledge(by=shop.cora, finding=stop, now=SOON),
        lambda: findings.clear(by=shop.tom, finding=stop, verdict="fixed", cause="a", action="b", now=SOON),
    )
    assert len(refusals(results)) <= 1
    assert Finding.objects.get(pk=stop.pk).state == "cleared"


def test_two_corrections_at_once_make_no_fork(shop: Cast) -> None:
    flight = flown(shop.build_1, 1.2, at=AT).flight

    def correcting(end: float) -> Callable[[], Any]:
        entry = parse_flight(raw_flight(shop.build_1.engine, AT, meter_end=end), units="us", zone="UTC", now=SOON)
        return lambda: corrections.correct_flight(by=shop.tom, flight=flight, entry=entry, reason="mistyped", now=SOON)

    (refusal,) = refusals(at_once(correcting(101.1), correcting(101.3)))
    assert "look at it first" in str(refusal)
    assert Flight.objects.filter(root=flight.root).count() == 2
    assert Flight.objects.current().count() == 1


def test_two_people_complete_one_item_and_the_second_is_told(shop: Cast) -> None:
    item = DueItem.objects.create(
        build=shop.build_1, rule="TEST", occurrence="1", rule_version=1, kind="oil_reading", title="Read the oil",
        text="Read it.", state="due", opened_at=AT,
    )  # fmt: skip

    def completing() -> Callable[[], Any]:
        raw = {"client_id": str(uuid.uuid4()), "kind": "oil_check", "reading": {"level": 7}}
        entry = parse_inspection(raw, units="us", zone="UTC", now=NOW)
        return lambda: inspections.complete_check(
            by=shop.tom, engine=shop.build_1.engine, entry=entry, due_item=item, now=NOW
        )

    results = at_once(completing(), completing())
    assert [refusal.code for refusal in refusals(results)] == ["conflict"]
    assert OilEvent.objects.count() == 1


def test_a_card_asked_for_at_once_is_one_card(shop: Cast) -> None:
    results = at_once(*[lambda: current_card(by=shop.ada, build=shop.build_1, now=NOW)] * 3)
    assert refusals(results) == []
    assert IssuedCard.objects.filter(build=shop.build_1).count() == 1
