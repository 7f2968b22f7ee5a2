"""A recording is read by one worker, says how far it is, and whatever goes wrong loses neither file nor words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from celery.exceptions import SoftTimeLimitExceeded
from django.core.files.storage import default_storage
from django.db import OperationalError
from django.utils import timezone

from breakin import jobs, reading, tasks
from breakin.calc import recording as calc
from breakin.models import Assessment, DatedBy, ReadState, RecordedEngine, RecordedFlight, RecordingRead
from breakin.reading import claiming
from breakin.services.recording_channels import confirm_channels
from breakin.services.recordings import read_again
from shop.models import AuditEvent, JobRun
from tests.breakin import recorded_files as files
from tests.breakin.recording_cases import BEGAN, DAY, ENDED, one_flight, only_flight, read, sent, sent_and_read
from tests.factories import NOW, Cast, cast

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def shop() -> Cast:
    return cast()


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, tuple[int, ...]]]:
    messages: list[tuple[str, tuple[int, ...]]] = []
    monkeypatch.setattr(jobs, "queue", lambda task, *args: messages.append((task.name, args)))
    return messages


def test_a_file_becomes_a_flight_of_the_engine_that_sat_there(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())

    assert (row.state, row.problem, row.step) == (ReadState.READ, {}, "")
    assert (row.rows, row.sample_s, row.version) == (637, 5.0, calc.VERSION)
    flight = only_flight(row)
    assert (flight.kind, flight.landings, flight.dated_by) == ("flight", 1, DatedBy.FILE)
    assert abs(flight.began_at - BEGAN.replace(tzinfo=UTC)) <= timedelta(seconds=10)
    assert abs(flight.ended_at - ENDED.replace(tzinfo=UTC)) <= timedelta(seconds=10)
    assert flight.airborne_min == pytest.approx(40.5, abs=2.5)
    engine = RecordedEngine.objects.get()
    assert (engine.engine, engine.side) == (shop.build_1.engine, "1")
    assert engine.summary["airborne_min"] == flight.airborne_min
    with default_storage.open(str(row.table.name)) as table:
        assert table.read(4) == b"PAR1"


def test_the_table_holds_what_the_file_holds_and_the_file_stays_as_it_came(shop: Cast) -> None:
    content = one_flight()
    row = sent_and_read(shop, content)

    table = calc.read_parquet(row.table.path)
    assert len(table) == 637
    assert float(table.columns["map_1_inhg"][0]) == 29.3
    with default_storage.open(str(row.recording.file.name)) as kept:
        assert kept.read() == content


def test_storing_asks_for_the_reading_and_the_task_does_it(
    shop: Cast, queued: list[tuple[str, tuple[int, ...]]], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        recording = sent(shop, one_flight())
    assert queued == [("breakin.tasks.read_recording", (recording.pk,))]
    assert RecordingRead.objects.get().state == ReadState.WAITING
    queued.clear()

    tasks.read_recording(recording.pk)

    assert RecordingRead.objects.get().state == ReadState.READ
    assert queued == [("breakin.tasks.assess_build", (shop.build_1.pk,))]
    assert Assessment.objects.get(build=shop.build_1).dirty_at is not None


def test_a_second_message_changes_nothing(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    read(recording)
    before = RecordingRead.objects.values().get(), list(RecordedFlight.objects.values()), AuditEvent.objects.count()

    assert reading.read_recording(recording.pk, NOW + MINUTE) == []

    after = RecordingRead.objects.values().get(), list(RecordedFlight.objects.values()), AuditEvent.objects.count()
    assert after == before


def test_of_two_workers_one_reads(shop: Cast) -> None:
    recording = sent(shop, one_flight())

    assert claiming.claim(recording.pk, NOW) is not None
    assert claiming.claim(recording.pk, NOW) is None
    assert claiming.claim(recording.pk, NOW + 14 * MINUTE) is None
    assert claiming.claim(recording.pk, NOW + 15 * MINUTE) is not None


def test_a_message_that_comes_again_because_its_worker_died_is_taken_up_at_once(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    claiming.claim(recording.pk, NOW)  # and then the worker is killed

    assert reading.read_recording(recording.pk, NOW + MINUTE) == []
    assert RecordingRead.objects.get().state == ReadState.READING
    assert reading.read_recording(recording.pk, NOW + MINUTE, again=True) == [shop.build_1.pk]
    assert RecordingRead.objects.get().state == ReadState.READ


def test_whoever_is_overtaken_keeps_nothing(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = sent(shop, one_flight())
    real = calc.flights_in

    def asked_for_anew_meanwhile(table: calc.Table) -> Any:
        claiming.ask(recording.pk, NOW + MINUTE)
        return real(table)

    monkeypatch.setattr(calc, "flights_in", asked_for_anew_meanwhile)
    assert reading.read_recording(recording.pk, NOW) == []

    row = RecordingRead.objects.get()
    assert (row.state, row.asked_at) == (ReadState.WAITING, NOW + MINUTE)
    assert not RecordedFlight.objects.exists()
    assert not default_storage.exists(f"tables/{NOW:%Y/%m}/{recording.sha256[:32]}.parquet")


def test_an_overtaken_worker_stops_at_its_next_word_of_progress(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    claiming.claim(recording.pk, NOW)
    first = claiming.Progress(recording.pk, NOW)
    first.step("reading rows")
    claiming.claim(recording.pk, NOW + MINUTE, again=True)

    with pytest.raises(claiming.Overtaken):
        claiming.Progress(recording.pk, NOW).step("looking for flights")


def test_progress_is_written_at_most_twice_a_second(shop: Cast, django_assert_num_queries: Any) -> None:
    recording = sent(shop, one_flight())
    claiming.claim(recording.pk, NOW)
    seconds: Iterator[float] = iter(number / 10 for number in range(1000))
    progress = claiming.Progress(recording.pk, NOW, clock=lambda: next(seconds))

    with django_assert_num_queries(3):  # at 0, 0.5 and 1.0 s
        progress.step("reading rows")
        for done in range(1, 11):
            progress(done, 10)

    row = RecordingRead.objects.get()
    assert (row.step, row.done, row.total) == ("reading rows", 10, 10)


def test_what_cannot_be_read_says_what_where_and_how_to_mend_it(shop: Cast) -> None:
    recording = sent(shop, b"one,two\nthree,four\nfive,six\n")
    row = read(recording)

    assert row.state == ReadState.REFUSED
    assert set(row.problem) == {"what", "row", "column", "mend"}
    assert row.problem["what"]
    assert row.problem["mend"].endswith(".")
    assert default_storage.exists(str(recording.file.name))


def test_a_fault_of_the_program_loses_neither_the_file_nor_the_worker(
    shop: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = sent(shop, one_flight())
    monkeypatch.setattr(calc, "analyse_flight", lambda *args: 1 / 0)

    row = read(recording)

    assert row.state == ReadState.REFUSED
    assert "fault of the program" in row.problem["what"]
    assert default_storage.exists(str(recording.file.name))
    monkeypatch.undo()
    read_again(by=shop.cora, recording=recording, now=NOW)
    assert read(recording).state == ReadState.READ


@pytest.mark.parametrize("limit", [SoftTimeLimitExceeded, MemoryError])
def test_a_file_beyond_what_the_server_gives_says_how_to_send_it(
    shop: Cast, monkeypatch: pytest.MonkeyPatch, limit: type[Exception]
) -> None:
    def too_large(*args: Any, **more: Any) -> None:
        raise limit

    monkeypatch.setattr(calc, "convert", too_large)
    row = sent_and_read(shop, one_flight())
    assert row.state == ReadState.REFUSED
    assert "files of their own" in row.problem["mend"]


def test_a_newer_reading_that_fails_leaves_the_older_one_standing(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = sent(shop, one_flight())
    read(recording)
    monkeypatch.setattr(calc, "analyse_flight", lambda *args: 1 / 0)
    read_again(by=shop.cora, recording=recording, now=NOW)

    row = read(recording)

    assert row.state == ReadState.READ
    assert "fault of the program" in row.problem["what"]
    assert RecordedFlight.objects.count() == 1
    assert default_storage.exists(str(row.table.name))


def test_a_database_that_is_away_leaves_the_reading_to_the_minute(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = sent(shop, one_flight())

    def away(*args: Any) -> None:
        raise OperationalError

    monkeypatch.setattr("breakin.reading.reader.keep", away)
    with pytest.raises(OperationalError):
        reading.read_recording(recording.pk, NOW)
    assert RecordingRead.objects.get().state == ReadState.READING
    monkeypatch.undo()
    assert reading.left_over(NOW + 15 * MINUTE) == [recording.pk]
    assert read(recording, NOW + 15 * MINUTE).state == ReadState.READ


def test_the_minute_queues_again_what_was_lost(shop: Cast, queued: list[tuple[str, tuple[int, ...]]]) -> None:
    now = timezone.now()
    lost = sent(shop, one_flight(), now=now - 2 * MINUTE)
    fresh = sent(shop, one_flight(DAY + timedelta(days=1)), now=now)

    tasks.tick()

    assert ("breakin.tasks.read_recording", (lost.pk,)) in queued
    assert ("breakin.tasks.read_recording", (fresh.pk,)) not in queued


def test_a_file_that_kills_its_reader_does_so_three_times_and_no_more(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    at = NOW
    for _attempt in range(claiming.MOST_ATTEMPTS):
        assert claiming.claim(recording.pk, at) is not None
        at += 15 * MINUTE
        left = reading.left_over(at)

    assert left == []
    row = RecordingRead.objects.get()
    assert row.state == ReadState.REFUSED
    assert "broke off 3 times" in row.problem["what"]
    read_again(by=shop.cora, recording=recording, now=at)
    assert read(recording, at).state == ReadState.READ


def test_an_original_that_was_lost_comes_back_with_the_same_file(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    default_storage.delete(str(recording.file.name))
    assert "not there any more" in read(recording).problem["what"]

    assert sent(shop, one_flight()) == recording
    read_again(by=shop.ada, recording=recording, now=NOW)

    assert read(recording).state == ReadState.READ


def test_reading_again_keeps_the_rows_and_drops_the_older_table(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    first = read(recording)
    flight = only_flight(recording)
    read_again(by=shop.ada, recording=recording, now=NOW)

    second = read(recording)

    assert only_flight(recording).pk == flight.pk
    assert first.table.name != second.table.name
    assert default_storage.exists(str(second.table.name))
    assert not default_storage.exists(str(first.table.name))


def test_a_night_has_a_share_read_again_when_the_program_reads_better(
    shop: Cast, monkeypatch: pytest.MonkeyPatch, queued: list[tuple[str, tuple[int, ...]]]
) -> None:
    recording = sent(shop, one_flight())
    read(recording)
    queued.clear()
    tasks.recordings()
    assert queued == []

    monkeypatch.setattr(calc, "VERSION", calc.VERSION + 1)
    JobRun.objects.filter(name=jobs.RECORDINGS).delete()
    tasks.recordings()
    tasks.recordings()

    assert queued == [("breakin.tasks.read_recording", (recording.pk,))]
    assert read(recording).version == calc.VERSION


def test_no_more_than_a_nights_share(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    for day in range(3):
        sent_and_read(shop, one_flight(DAY + timedelta(days=day)))
    monkeypatch.setattr(calc, "VERSION", calc.VERSION + 1)

    assert len(claiming.ask_stale(NOW, calc.VERSION, limit=2)) == 2


def test_an_engine_that_was_entered_later_has_its_recordings_read_again(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())
    seat = shop.build_1.engine.installations.get()
    assert reading.ask_stale(NOW) == []

    type(seat).objects.filter(pk=seat.pk).update(since=BEGAN.replace(tzinfo=UTC) + timedelta(hours=2))

    assert reading.ask_stale(NOW) == [row.pk]
    read(row.recording)
    assert not RecordedEngine.objects.exists()
    assert "no engine was in QX-901" in str(only_flight(row).summary["notes"])


def test_several_flights_of_one_file(shop: Cast) -> None:
    shape = files.one_after_the_other(files.ground_run(), files.flight(12), files.flight(15))
    row = sent_and_read(shop, files.written(DAY, shape))

    flights = list(row.recording.flights.order_by("number"))
    assert [each.kind for each in flights] == ["ground_run", "flight", "flight"]
    assert [each.airborne_min > 0 for each in flights] == [False, True, True]
    assert all(a.ended_at < b.began_at for a, b in pairwise(flights))
    assert flights[1].summary["t0"] < flights[1].summary["began_t"]


def test_a_recording_in_which_nothing_ran_says_so(shop: Cast) -> None:
    still = [(0.0, 0.0, 29.3, 0.0, 620.0, 0.0, -270.0), (10.0, 0.0, 29.3, 0.0, 620.0, 0.0, -270.0)]
    mapping = sent_and_read(shop, one_flight()).look["mapping"]
    recording = sent(shop, files.written(DAY, still))
    read(recording)
    confirm_channels(by=shop.ada, recording=recording, mapping=mapping, clock_zone="UTC", keep_position=False, now=NOW)
    row = read(recording)

    assert (row.state, row.look["questions"]) == (ReadState.READ, [])
    assert "did not run" in str(row.notes)
    assert not row.recording.flights.exists()
