"""A recorded flight finds the flight it is: before or after it was logged, with a wrong clock, with two recorders."""

from __future__ import annotations

import uuid
from datetime import UTC, date, timedelta
from pathlib import Path
from typing import Any

import pytest

from breakin.load import load
from breakin.models import DatedBy, Flight, FlightMatch, ReadState, RecordedEngine, RecordedFlight, RecordingRead
from breakin.reading.matching import explained, recorded_interval
from breakin.reading.matching import logged as as_logged
from breakin.record import RecordedRun, RunFacts
from breakin.services.corrections import withdraw_flight
from breakin.services.installing import install
from breakin.services.merging import merge_flights
from breakin.services.recording_channels import confirm_channels
from breakin.services.recording_matching import candidates, match_flight
from breakin.services.recordings import read_again
from shop.errors import Refusal
from tests.breakin import recorded_files as files
from tests.breakin.recording_cases import (
    BEGAN,
    CRUISE_MIN,
    DAY,
    ENDED,
    logged,
    one_flight,
    only_flight,
    read,
    root_of,
    sent,
    sent_and_read,
)
from tests.factories import NOW, Cast, cast, engine, flown

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def shop() -> Cast:
    return cast()


def run_of(shop: Cast, flight: Flight) -> RunFacts:
    record = load([shop.build_1.pk], NOW)[shop.build_1.pk]
    return next(run for run in record.runs if run.root == flight.root)


def recorded_of(shop: Cast, flight: Flight) -> RecordedRun:
    recorded = run_of(shop, flight).recorded
    assert recorded is not None
    return recorded


def unlogged(shop: Cast) -> tuple[Any, ...]:
    return load([shop.build_1.pk], NOW)[shop.build_1.pk].unlogged_recorded


# --- By time -------------------------------------------------------------------------------------------------------


def test_a_flight_logged_before_its_recording_came_is_found_by_time(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight()))

    assert (row.flight_root, row.confirmed) == (flight.root, False)
    recorded = recorded_of(shop, flight)
    assert (recorded.recorded_flight_id, recorded.confirmed, recorded.landings) == (row.pk, False, 1)
    assert recorded.engine.airborne_min == row.airborne_min
    assert recorded.engine.pieces
    assert unlogged(shop) == ()


def test_a_flight_logged_after_its_recording_came_is_found_too(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    read(recording)
    row = only_flight(recording)
    assert row.flight_root is None
    (asked,) = unlogged(shop)
    assert asked[:6] == (row.pk, row.began_at, row.ended_at, "flight", row.run_min, row.airborne_min)
    assert asked.seen_at == NOW

    flight = logged(shop)

    assert root_of(recording) == flight.root
    assert unlogged(shop) == ()


def test_the_record_of_a_build_moves_with_its_recording(shop: Cast) -> None:
    logged(shop)
    before = load([shop.build_1.pk], NOW)[shop.build_1.pk].digest()
    recording = sent(shop, one_flight())
    read(recording)
    matched = load([shop.build_1.pk], NOW)[shop.build_1.pk].digest()
    assert matched != before

    read_again(by=shop.ada, recording=recording, now=NOW)
    read(recording)
    assert load([shop.build_1.pk], NOW)[shop.build_1.pk].digest() == matched


def test_a_flight_with_less_than_half_in_common_is_another_one(shop: Cast) -> None:
    logged(shop, ended=ENDED + timedelta(minutes=35))
    assert root_of(sent_and_read(shop, one_flight())) is None


def test_two_logged_flights_that_both_fit_are_left_to_a_person(shop: Cast) -> None:
    flown(shop.build_1, 0.35, at=(BEGAN + timedelta(minutes=21)).replace(tzinfo=UTC))
    flown(shop.build_1, 0.35, at=ENDED.replace(tzinfo=UTC))
    recording = sent_and_read(shop, one_flight())

    assert root_of(recording) is None
    assert unlogged(shop)[0].kind == "flight"
    assert len(candidates(only_flight(recording))) == 2


def test_two_entries_of_one_flight_do_not_keep_its_recording_from_it(shop: Cast) -> None:
    first = logged(shop, meter_end=100.7)
    logged(shop, meter_end=100.7, ended=ENDED + timedelta(minutes=2), by=shop.cora)
    row = sent_and_read(shop, one_flight())

    assert root_of(row) == first.root
    assert recorded_of(shop, first)


def test_a_recorded_ground_run_is_no_flight_and_a_flight_no_ground_run(shop: Cast) -> None:
    shape = files.one_after_the_other(files.ground_run(20), files.flight(CRUISE_MIN))
    lasts = timedelta(minutes=52)
    run = flown(
        shop.build_1, 0, at=(DAY + timedelta(minutes=21)).replace(tzinfo=UTC), kind="ground_run", airborne=0,
        ground_before=20, meter_end=100.1,
    ).flight  # fmt: skip
    flight = logged(shop, ended=DAY + lasts + lasts, meter_end=100.8)
    recording = sent_and_read(shop, files.written(DAY, shape)).recording

    assert [row.flight_root for row in recording.flights.order_by("number")] == [run.root, flight.root]
    ground = recorded_of(shop, run).engine
    assert ground.run_min == pytest.approx(20, abs=0.5)
    assert ground.airborne_min == 0


def test_a_recorded_ground_run_within_a_logged_flight_asks_for_nothing(shop: Cast) -> None:
    logged(shop, ended=ENDED, ground_before=30)
    sent_and_read(shop, files.written(BEGAN - timedelta(minutes=20), files.ground_run(8)))
    assert unlogged(shop) == ()


def test_one_logged_flight_takes_one_recorded_flight_of_a_file(shop: Cast) -> None:
    shape = files.one_after_the_other(files.flight(12), files.flight(20), apart_min=5)
    flight = flown(shop.build_1, 1.4, at=(DAY + timedelta(minutes=96)).replace(tzinfo=UTC)).flight
    recording = sent_and_read(shop, files.written(DAY, shape)).recording

    first, second = recording.flights.order_by("number")
    assert (first.flight_root, second.flight_root) == (None, flight.root)
    assert unlogged(shop) == ()


# --- Two recorders -------------------------------------------------------------------------------------------------


def test_of_two_recorders_the_better_one_counts_and_the_other_stays(shop: Cast) -> None:
    flight = logged(shop)
    poor = sent_and_read(shop, one_flight(heads=(340.0, 350.0)), name="poor.csv")
    assert recorded_of(shop, flight).recording_id == poor.pk
    good = sent_and_read(shop, one_flight(), name="good.csv")
    coarse = sent_and_read(shop, one_flight(step_s=6), name="coarse.csv")

    assert root_of(poor) == root_of(good) == root_of(coarse) == flight.root
    assert recorded_of(shop, flight).recording_id == good.pk


def test_of_two_alike_the_first_one_that_came_counts(shop: Cast) -> None:
    flight = logged(shop)
    first = sent_and_read(shop, one_flight())
    sent_and_read(shop, one_flight() + b"\n", now=NOW + HOUR)
    assert recorded_of(shop, flight).recording_id == first.pk


def test_a_flight_that_two_recorders_saw_and_nobody_logged_is_asked_for_once(shop: Cast) -> None:
    sent_and_read(shop, one_flight(heads=(340.0, 350.0)))
    good = sent_and_read(shop, one_flight())
    assert [each.recorded_flight_id for each in unlogged(shop)] == [only_flight(good).pk]


# --- A person's word -----------------------------------------------------------------------------------------------


def test_what_a_person_says_holds_over_the_time(shop: Cast) -> None:
    flight = logged(shop)
    other = logged(shop, ended=ENDED + 30 * HOUR, meter_end=101.5)
    recording = sent_and_read(shop, one_flight())
    row = only_flight(recording)

    match = match_flight(by=shop.ada, recorded_flight=row, flight_root=other.root, now=NOW, clock_shift_s=0)

    assert (match.flight_root, match.by) == (other.root, shop.ada)
    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (other.root, True)
    assert run_of(shop, flight).recorded is None
    assert recorded_of(shop, other).confirmed
    read_again(by=shop.ada, recording=recording.recording, now=NOW)
    read(recording.recording)
    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (other.root, True)


def test_a_person_says_that_it_is_none_of_them_and_later_that_it_is_one(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight()))
    match_flight(by=shop.ada, recorded_flight=row, flight_root=None, now=NOW, reason="another day's file")
    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (None, True)

    match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW + HOUR)

    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (flight.root, True)
    assert [match.flight_root for match in FlightMatch.objects.order_by("at")] == [None, flight.root]


def test_a_flight_of_another_aircraft_is_refused(shop: Cast) -> None:
    theirs = flown(shop.build_2, 0.7, at=ENDED.replace(tzinfo=UTC)).flight
    row = only_flight(sent_and_read(shop, one_flight()))
    for root in (theirs.root, uuid.uuid4()):
        with pytest.raises(Refusal, match="no such flight"):
            match_flight(by=shop.ada, recorded_flight=row, flight_root=root, now=NOW)
    assert not FlightMatch.objects.exists()


def test_two_recorded_flights_of_a_file_are_not_one_flight(shop: Cast) -> None:
    flight = logged(shop)
    shape = files.one_after_the_other(files.flight(CRUISE_MIN), files.flight(12))
    first, second = sent_and_read(shop, files.written(DAY, shape)).recording.flights.order_by("number")
    match_flight(by=shop.ada, recorded_flight=first, flight_root=flight.root, now=NOW)
    with pytest.raises(Refusal, match="matched with it already") as caught:
        match_flight(by=shop.ada, recorded_flight=second, flight_root=flight.root, now=NOW, clock_shift_s=0)
    assert caught.value.code == "conflict"


# --- What becomes of the flight -------------------------------------------------------------------------------------


def test_a_merge_takes_the_match_to_the_flight_that_is_kept(shop: Cast) -> None:
    typed = logged(shop, meter_end=100.7)
    kept = logged(shop, meter_end=100.7, ended=ENDED + timedelta(minutes=40), by=shop.cora)
    by_time = only_flight(sent_and_read(shop, one_flight(), name="a.csv"))
    said = only_flight(sent_and_read(shop, one_flight(step_s=6), name="b.csv"))
    match_flight(by=shop.ada, recorded_flight=said, flight_root=typed.root, now=NOW)

    merge_flights(by=shop.cora, kept=kept, dropped=typed, reason="the same flight", now=NOW)

    for row in (by_time, said):
        row.refresh_from_db()
    assert said.flight_root == kept.root
    assert said.confirmed
    assert run_of(shop, kept).recorded is not None


def test_a_withdrawn_flight_gives_its_recording_back(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight()))
    match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW)

    withdraw_flight(by=shop.cora, flight=flight, reason="mistyped", now=NOW)

    row.refresh_from_db()
    assert (row.flight_root, row.confirmed) == (None, False)
    assert [each.recorded_flight_id for each in unlogged(shop)] == [row.pk]
    again = logged(shop, meter_end=100.7, note="anew")
    row.refresh_from_db()
    assert row.flight_root is None  # a person's word about a flight that is gone is asked about, not guessed over
    assert [candidate.flight for candidate in candidates(row)] == [again]


# --- A wrong clock --------------------------------------------------------------------------------------------------


def test_a_clock_off_by_hours_is_proposed_and_put_right_by_a_person(shop: Cast) -> None:
    flight = logged(shop)
    recording = sent_and_read(shop, one_flight(DAY + 6 * HOUR))
    row = only_flight(recording)
    assert row.flight_root is None
    (candidate,) = candidates(row)
    assert (candidate.flight, candidate.shift_s) == (flight, -6 * 3600.0)
    assert "6 hours ahead" in candidate.why
    assert candidate.overlap_min == pytest.approx(50, abs=3)

    match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW, clock_shift_s=candidate.shift_s)

    row.refresh_from_db()
    assert (row.dated_by, row.clock_shift_s) == (DatedBy.FLIGHT, -6 * 3600.0)
    assert abs(row.began_at - BEGAN.replace(tzinfo=UTC)) <= timedelta(seconds=10)
    read_again(by=shop.ada, recording=recording.recording, now=NOW)
    read(recording.recording)
    assert (root_of(recording), only_flight(recording).clock_shift_s) == (flight.root, -6 * 3600.0)


def test_without_a_shift_the_flight_that_is_named_puts_the_clock_right(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight(DAY.replace(year=2019))))
    assert row.dated_by == DatedBy.UNKNOWN
    assert unlogged(shop) == ()

    match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW)

    row.refresh_from_db()
    assert row.began_at.date() == DAY.date()
    assert recorded_of(shop, flight).recorded_flight_id == row.pk


def test_a_wrong_year_is_proposed_with_how_wrong_it_is(shop: Cast) -> None:
    logged(shop)
    row = only_flight(sent_and_read(shop, one_flight(DAY.replace(year=2019))))
    (candidate,) = candidates(row)
    assert candidate.shift_s == (DAY - DAY.replace(year=2019)).total_seconds()
    assert "days behind" in candidate.why


def test_a_clock_put_right_for_one_flight_is_right_for_the_whole_file(shop: Cast) -> None:
    shape = files.one_after_the_other(files.flight(CRUISE_MIN), files.flight(CRUISE_MIN))
    first = logged(shop)
    second = logged(shop, ended=ENDED + timedelta(minutes=83), meter_end=101.4)
    recording = sent_and_read(shop, files.written(DAY + 6 * HOUR, shape)).recording
    one, two = recording.flights.order_by("number")
    assert (one.flight_root, two.flight_root) == (None, None)

    match_flight(by=shop.ada, recorded_flight=one, flight_root=first.root, now=NOW)

    two.refresh_from_db()
    assert (two.flight_root, two.confirmed, two.dated_by) == (second.root, False, DatedBy.FLIGHT)


def test_the_zone_of_the_clock_put_right_later_takes_the_shift_away(shop: Cast) -> None:
    flight = logged(shop)
    recording = sent_and_read(shop, one_flight(DAY - 6 * HOUR + 2 * timedelta(hours=12)))  # a day late, too
    row = only_flight(recording)
    match_flight(by=shop.ada, recorded_flight=row, flight_root=flight.root, now=NOW)
    confirm_channels(
        by=shop.ada, recording=recording.recording, mapping=recording.look["mapping"], clock_zone="Etc/GMT+6",
        keep_position=False, now=NOW,
    )  # fmt: skip

    read(recording.recording)

    row.refresh_from_db()
    assert (row.flight_root, row.clock_shift_s) == (flight.root, -86_400.0)
    assert abs(row.began_at - BEGAN.replace(tzinfo=UTC)) <= timedelta(seconds=10)


def test_a_clock_in_the_zone_of_the_home_field_is_recognised_by_a_flight(shop: Cast) -> None:
    flight = logged(shop)
    row = sent_and_read(shop, one_flight(DAY - 6 * HOUR))
    assert root_of(row) == flight.root
    assert "Etc/GMT+6" in str(row.notes)


def test_a_shift_beyond_reason_is_refused(shop: Cast) -> None:
    row = only_flight(sent_and_read(shop, one_flight()))
    with pytest.raises(Refusal, match="40 years"):
        match_flight(by=shop.ada, recorded_flight=row, flight_root=None, now=NOW, clock_shift_s=2e9)


def test_an_engine_that_sat_there_at_the_right_time_gets_the_recording(shop: Cast) -> None:
    """The clock says yesterday, after a change of engine; the flight was before it."""
    flight = logged(shop)
    change = (DAY + timedelta(days=2)).replace(tzinfo=UTC)
    shop.build_1.engine.installations.update(until=change)
    newer = engine()
    install(
        by=shop.tom, engine=newer, aircraft=shop.aircraft_1, position="single", since=change, basis_clock="airborne",
        min_oil_qt=4, meters=[], now=NOW,
    )  # fmt: skip
    recording = sent_and_read(shop, one_flight(DAY + timedelta(days=4)))
    assert RecordedEngine.objects.get().engine == newer

    match_flight(by=shop.ada, recorded_flight=only_flight(recording), flight_root=flight.root, now=NOW)

    assert RecordingRead.objects.get().state == ReadState.WAITING
    read(recording.recording)
    assert RecordedEngine.objects.get().engine == shop.build_1.engine
    assert recorded_of(shop, flight)


# --- Handed in with a flight, and files without a date --------------------------------------------------------------


def test_a_file_handed_in_with_a_flight_is_that_flight_whatever_its_clock_says(shop: Cast) -> None:
    flight = logged(shop)
    for number, start in enumerate((DAY, DAY + 2 * HOUR, DAY.replace(year=2001), DAY.replace(hour=3, year=2014))):
        row = only_flight(sent_and_read(shop, one_flight(start), flight=flight, name=f"{number}.csv"))
        assert (row.flight_root, row.confirmed) == (flight.root, True), start
        assert abs(row.ended_at - flight.happened_at) < timedelta(minutes=15), start


def test_a_file_handed_in_with_a_flight_that_it_cannot_be_says_so(shop: Cast) -> None:
    flight = flown(shop.build_1, 2.5, at=ENDED.replace(tzinfo=UTC) + timedelta(days=1)).flight
    row = sent_and_read(shop, one_flight(DAY.replace(year=2001)), flight=flight)
    assert root_of(row) is None
    assert "none of what is recorded fits" in str(row.notes)


def test_a_file_without_a_date_takes_that_of_the_flight_it_was_handed_in_with(shop: Cast) -> None:
    flight = logged(shop)
    row = only_flight(sent_and_read(shop, one_flight(dated=False), flight=flight))
    assert (row.flight_root, row.dated_by) == (flight.root, DatedBy.FLIGHT)
    assert abs(row.began_at - BEGAN.replace(tzinfo=UTC)) <= timedelta(seconds=10)


def test_a_file_without_a_date_and_without_a_flight_asks_for_its_day(shop: Cast) -> None:
    flight = logged(shop)
    row = sent_and_read(shop, one_flight(dated=False))
    assert row.state == ReadState.ASKS
    assert [question["field"] for question in row.look["questions"]] == ["flight_date"]

    confirm_channels(
        by=shop.ada, recording=row.recording, mapping=row.look["mapping"], clock_zone="UTC", keep_position=False,
        now=NOW, flight_date=date(2026, 6, 10),
    )  # fmt: skip
    read(row.recording)

    recorded = only_flight(row)
    assert (recorded.dated_by, recorded.flight_root) == (DatedBy.PERSON, flight.root)
    assert abs(recorded.began_at - BEGAN.replace(tzinfo=UTC)) <= timedelta(seconds=10)


# --- The pure part ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "rank", "shift_h"),
    [
        (0, 0, 0),
        (60 * 5, 1, 5),
        (-60 * 8, 1, -8),
        (1440 * 3, 2, 72),
        (1440 * 400, 2, 9600),
        (60 * 24 * 30 + 700, 4, None),
    ],
)
def test_the_simplest_explanation_of_a_clock_goes_first(
    shop: Cast, minutes: int, rank: int, shift_h: float | None
) -> None:
    flight = as_logged(logged(shop))
    ran = flight.ran.shifted(-60.0 * minutes)
    (fit,) = explained(ran, flight.ran)
    assert fit.rank == rank
    if shift_h is not None:
        assert fit.shift_s == shift_h * 3600
    assert ran.shifted(fit.shift_s).is_mostly(flight.ran)


def test_flights_of_another_length_are_not_explained_away(shop: Cast) -> None:
    flight = as_logged(logged(shop, hours=2.5, meter_end=102.5))
    row = only_flight(sent_and_read(shop, one_flight(DAY + timedelta(days=2))))
    assert explained(recorded_interval(row), flight.ran) == []
    assert candidates(row) == []


def test_all_that_is_recorded_of_a_file_keeps_its_rows_through_a_reading(shop: Cast) -> None:
    """What a person said hangs on a row: it must go on meaning the same flight when more is found before it."""
    shape = files.one_after_the_other(files.flight(12), files.flight(CRUISE_MIN))
    recording = sent(shop, files.written(DAY, shape))
    read(recording)
    first, second = recording.flights.order_by("number")
    match_flight(by=shop.ada, recorded_flight=second, flight_root=None, now=NOW)
    RecordedFlight.objects.filter(pk=first.pk).delete()
    RecordedFlight.objects.filter(pk=second.pk).update(number=1)

    read_again(by=shop.ada, recording=recording, now=NOW)
    read(recording)

    again = list(recording.flights.order_by("number"))
    assert [row.number for row in again] == [1, 2]
    assert again[1].pk == second.pk
    assert again[1].confirmed
