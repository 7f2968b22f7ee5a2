"""What a recording brings into the book: a flight that nobody logged, its hours, a Stop at once."""

from __future__ import annotations

from datetime import UTC, timedelta
from pathlib import Path
from typing import Any

import pytest

from breakin.doubles import without_doubles
from breakin.load import load
from breakin.models import DatedBy, Finding, Flight, FlightMatch, OilEvent, RecordedFlight, Severity
from breakin.record import RunFacts
from breakin.services.recording_logging import log_from_recording
from engines.models import Installation
from shop.errors import ConflictingResend, Refusal
from shop.facts import Grade, Source
from tests.breakin import recorded_files as files
from tests.breakin.recording_cases import (
    CRUISE_MIN,
    DAY,
    ENDED,
    logged,
    one_flight,
    only_flight,
    root_of,
    sent_and_read,
)
from tests.factories import NOW, Cast, aircraft, assessment, build, cast, engine, flown, seat

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def shop() -> Cast:
    return cast()


def runs(shop: Cast) -> tuple[RunFacts, ...]:
    return load([shop.build_1.pk], NOW)[shop.build_1.pk].runs


def recorded(shop: Cast, **more: Any) -> RecordedFlight:
    return only_flight(sent_and_read(shop, one_flight(**more)))


def test_a_recorded_flight_becomes_an_entry_of_grade_a(shop: Cast) -> None:
    row = recorded(shop)

    made = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)

    flight = made.flight
    assert (flight.source, flight.grade, flight.kind) == (Source.FILE, Grade.FILE, "run_in")
    assert (flight.happened_at, flight.landings, flight.pilot) == (row.ended_at, 1, shop.ada)
    assert flight.airborne_min == pytest.approx(row.airborne_min, abs=0.01)
    assert flight.ground_before_min == pytest.approx(6.3, abs=0.7)
    assert flight.ground_after_min == pytest.approx(3.5, abs=1.5)
    assert set(flight.typed) == {"engines.0.engine_id"}
    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (flight.root, True)
    (run,) = runs(shop)
    assert run.recorded is not None
    assert run.recorded.recorded_flight_id == row.pk
    assert abs(run.started_at - row.began_at) < timedelta(minutes=2)
    assert load([shop.build_1.pk], NOW)[shop.build_1.pk].unlogged_recorded == ()


@pytest.mark.parametrize(
    ("basis", "hours_of", "estimated"),
    [
        ("recorder", lambda row: row.run_min / 60, False),
        ("airborne", lambda row: row.airborne_min / 60, False),
        ("hobbs", lambda row: row.run_min / 60, True),
        ("tach", lambda row: 0.85 * row.run_min / 60, True),
    ],
)
def test_its_hours_are_the_recorders_on_the_basis_clock(shop: Cast, basis: str, hours_of: Any, estimated: bool) -> None:
    Installation.objects.filter(aircraft=shop.aircraft_1).update(basis_clock=basis)
    row = recorded(shop)
    run = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW).flight.engines.get()
    assert run.hours == pytest.approx(hours_of(row), abs=0.01)
    assert run.hours_estimated is estimated


def test_a_meter_reading_and_oil_go_with_it(shop: Cast) -> None:
    row = recorded(shop)
    mine = {
        "engine_id": shop.build_1.engine_id,
        "meter_kind": "tach",
        "meter_end": 100.7,
        "oil": [{"kind": "reading", "when": "after", "level": 7.5, "minutes_since_shutdown": 20}],
    }
    made = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW, raw={"engines": [mine], "note": "smooth"})
    run = made.flight.engines.get()
    assert run.hours == pytest.approx(0.7)
    assert not run.hours_estimated
    assert made.flight.note == "smooth"
    assert "airborne" not in made.flight.typed
    assert made.flight.typed["engines.0.meter_end"] == ["100.7", "h"]
    assert OilEvent.objects.get().flight_root == made.flight.root


def test_the_same_again_is_the_same_flight(shop: Cast) -> None:
    row = recorded(shop)
    first = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)
    again = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)
    assert (again.flight, again.created) == (first.flight, False)
    assert (Flight.objects.count(), FlightMatch.objects.count()) == (1, 1)
    with pytest.raises(ConflictingResend):
        log_from_recording(by=shop.ada, recorded_flight=row, now=NOW, raw={"note": "something else"})


def test_one_that_belongs_to_a_flight_is_not_logged_again(shop: Cast) -> None:
    logged(shop)
    with pytest.raises(Refusal, match="belongs to a flight in the book already") as caught:
        log_from_recording(by=shop.ada, recorded_flight=recorded(shop), now=NOW)
    assert caught.value.code == "conflict"
    assert Flight.objects.count() == 1


def test_one_without_a_known_time_is_not_logged(shop: Cast) -> None:
    row = recorded(shop, start=DAY.replace(year=2011))
    assert row.dated_by == DatedBy.UNKNOWN
    with pytest.raises(Refusal, match="not known when this was"):
        log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)


def test_what_the_recording_says_is_not_typed_over(shop: Cast) -> None:
    with pytest.raises(Refusal, match="The recording says this") as caught:
        log_from_recording(by=shop.ada, recorded_flight=recorded(shop), now=NOW, raw={"airborne": 60, "landings": 2})
    assert set(caught.value.by_field()) == {"airborne", "landings"}


def test_an_unusual_reading_beside_it_is_asked_about_and_nothing_is_kept(shop: Cast) -> None:
    row = recorded(shop)
    mine = {"engine_id": shop.build_1.engine_id, "oil": [{"kind": "addition", "amount": 2.5, "oil_kind": "mineral"}]}
    with pytest.raises(Refusal) as caught:
        log_from_recording(by=shop.ada, recorded_flight=row, now=NOW, raw={"engines": [mine]})
    assert caught.value.code == "confirm"
    assert not Flight.objects.exists()
    (field,) = caught.value.by_field()
    raw = {"engines": [mine], "confirmed": [field]}
    assert log_from_recording(by=shop.ada, recorded_flight=row, now=NOW, raw=raw).created


def test_a_recorded_ground_run_counts_its_minutes_on_the_ground(shop: Cast) -> None:
    sent_and_read(shop, one_flight(DAY - timedelta(days=1)))
    row = only_flight(sent_and_read(shop, files.written(DAY, files.ground_run(18))))
    flight = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW).flight
    assert (flight.kind, flight.airborne_min) == ("ground_run", 0)
    assert flight.ground_before_min == pytest.approx(18, abs=0.3)
    (run,) = runs(shop)
    assert run.recorded is not None
    assert run.recorded.engine.run_min == pytest.approx(18, abs=0.3)


def test_both_engines_of_a_twin_are_logged_and_each_knows_the_other(shop: Cast) -> None:
    twin = aircraft("QX-903", shop.ada_customer)
    left, right = engine(), engine()
    builds = [build(one, by=shop.cora) for one in (left, right)]
    seat(left, twin, by=shop.tom, position="left")
    seat(right, twin, by=shop.tom, position="right")
    row = only_flight(sent_and_read(shop, one_flight(engines=2), aircraft=twin))

    flight = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW).flight

    assert {run.engine for run in flight.engines.all()} == {left, right}
    records = load([each.pk for each in builds], NOW)
    mine, other = (records[each.pk].runs[0].recorded for each in builds)
    assert mine is not None
    assert other is not None
    assert (mine.engine, mine.other) == (other.other, other.engine)
    assert mine.split_pct == other.split_pct
    assert mine.split_pct is not None


# --- Safety ---------------------------------------------------------------------------------------------------------


def stops() -> list[Finding]:
    return list(Finding.objects.filter(severity=Severity.STOP))


def hot() -> bytes:
    return files.written(DAY, files.flight(CRUISE_MIN, hot_degf=160))


def test_a_recorded_limit_that_was_broken_is_a_stop_as_soon_as_the_file_is_read(shop: Cast) -> None:
    logged(shop)
    assert stops() == []
    sent_and_read(shop, hot())
    assert {stop.build for stop in stops()} == {shop.build_1}
    assert assessment(shop.build_1).stopped


def test_it_is_a_stop_as_soon_as_the_flight_is_logged_where_the_file_came_first(shop: Cast) -> None:
    sent_and_read(shop, hot())
    assert stops() == []
    made = flown(shop.build_1, 0.68, at=ENDED.replace(tzinfo=UTC), ground_before=6, ground_after=4)
    assert [stop.pk for stop in made.stops] == [stop.pk for stop in stops()]
    assert made.stops


def test_it_is_a_stop_as_soon_as_it_is_logged_from_the_recording(shop: Cast) -> None:
    row = only_flight(sent_and_read(shop, hot()))
    log_from_recording(by=shop.ada, recorded_flight=row, now=NOW)
    assert stops()


# --- Two entries of one flight ---------------------------------------------------------------------------------------


def test_a_typed_entry_with_its_meter_counts_over_the_one_from_the_file_and_takes_the_recording(shop: Cast) -> None:
    row = recorded(shop)
    from_file = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW).flight
    typed = logged(shop, meter_end=100.7)

    record = load([shop.build_1.pk], NOW)[shop.build_1.pk]

    (run,) = record.runs
    assert (run.root, run.hours_estimated) == (typed.root, False)
    assert run.recorded is not None
    assert record.left_out == ((from_file.root, typed.root),)
    assert root_of(row.recording) == from_file.root


def test_without_a_meter_the_entry_from_the_file_counts(shop: Cast) -> None:
    row = recorded(shop)
    from_file = log_from_recording(by=shop.ada, recorded_flight=row, now=NOW).flight
    logged(shop, meter_end=None)
    (run,) = runs(shop)
    assert run.root == from_file.root
    assert run.recorded is not None


def test_three_entries_of_one_flight_all_point_to_the_one_that_counts(shop: Cast) -> None:
    log_from_recording(by=shop.ada, recorded_flight=recorded(shop), now=NOW)
    logged(shop, meter_end=None, by=shop.cora)
    typed = logged(shop, meter_end=100.7)
    record = load([shop.build_1.pk], NOW)[shop.build_1.pk]
    assert [run.root for run in record.runs] == [typed.root]
    assert {instead for _root, instead in record.left_out} == {typed.root}
    assert len(record.left_out) == 2
    assert without_doubles(record.runs)[0] == record.runs
