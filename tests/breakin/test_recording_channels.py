"""Columns are confirmed once for a recorder and remembered; position is left out unless somebody wants it kept."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage

from breakin import jobs
from breakin.calc import recording as calc
from breakin.models import ChannelMap, ReadState, RecordedFlight, RecordingRead
from breakin.services.recording_channels import confirm_channels
from shop.errors import Refusal
from shop.models import AuditEvent
from tests.breakin import recorded_files as files
from tests.breakin.recording_cases import DAY, one_flight, read, sent, sent_and_read
from tests.factories import NOW, Cast, cast

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def shop() -> Cast:
    return cast()


def celsius(mapping: dict[str, Any]) -> dict[str, Any]:
    """The proposal with temperatures of the heads named to be in Celsius."""
    return {
        **mapping,
        "units": {name: "C" if name.startswith("CHT") else unit for name, unit in mapping["units"].items()},
    }


def confirm(shop: Cast, row: RecordingRead, **more: Any) -> ChannelMap:
    values: dict[str, Any] = {
        "by": shop.ada,
        "recording": row.recording,
        "mapping": row.look.get("mapping", {}),
        "clock_zone": "UTC",
        "keep_position": False,
        "now": NOW,
        **more,
    }
    return confirm_channels(**values)


def test_a_proposal_that_is_wholly_sure_asks_nobody(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())
    assert (row.state, row.channel_map, row.look["sure"]) == (ReadState.READ, None, True)


def test_a_file_that_shows_too_little_is_read_as_the_earlier_one_of_its_recorder(shop: Cast) -> None:
    run = files.written(DAY + timedelta(days=1), files.ground_run())
    first = sent_and_read(shop, run)
    assert (first.state, first.look["sure"]) == (ReadState.ASKS, False)

    sent_and_read(shop, one_flight())

    assert sent_and_read(shop, run + b"\n").state == ReadState.READ


def test_columns_without_units_are_asked_about_and_nothing_is_read(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight(names=False))
    assert (row.state, row.look["sure"]) == (ReadState.ASKS, False)
    assert row.look["questions"]
    assert {"name", "samples", "guess"} <= set(row.look["columns"][0])
    assert not row.table
    assert not RecordedFlight.objects.exists()


def test_what_was_confirmed_is_read_and_remembered_for_the_next_file(
    shop: Cast, django_capture_on_commit_callbacks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    queued: list[tuple[str, int]] = []
    monkeypatch.setattr(jobs, "queue", lambda task, *args: queued.append((task.name, *args)))
    row = sent_and_read(shop, one_flight(names=False))
    with django_capture_on_commit_callbacks(execute=True):
        kept = confirm(shop, row)
    assert queued == [("breakin.tasks.read_recording", row.pk)]
    assert (kept.confirmed_by, kept.signature) == (shop.ada, row.look["signature"])

    assert read(row.recording).channel_map == kept
    later = sent_and_read(shop, one_flight(DAY + timedelta(days=1), names=False))
    assert (later.state, later.channel_map) == (ReadState.READ, kept)


def test_files_that_wait_for_the_same_answer_are_read_with_it(shop: Cast) -> None:
    first = sent_and_read(shop, one_flight(names=False))
    second = sent_and_read(shop, one_flight(DAY + timedelta(days=1), names=False))
    confirm(shop, first)
    assert set(RecordingRead.objects.values_list("state", flat=True)) == {ReadState.WAITING}
    assert read(second.recording).state == ReadState.READ


def test_another_aircraft_or_another_recorder_is_asked_for_itself(shop: Cast) -> None:
    confirm(shop, sent_and_read(shop, one_flight(names=False)))
    theirs = sent_and_read(shop, one_flight(names=False), aircraft=shop.aircraft_2, by=shop.ben)
    other = sent_and_read(shop, one_flight(names=False, heads=(340.0, 350.0)))
    assert theirs.state == other.state == ReadState.ASKS


def test_the_same_answer_again_is_the_same_map_and_another_one_a_new_one(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())
    first = confirm(shop, row)
    assert confirm(shop, row) == first
    second = confirm(shop, row, clock_zone="Etc/GMT+6")
    assert second != first
    assert read(row.recording).channel_map == second


def test_a_map_that_the_next_file_contradicts_is_asked_about_once(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())
    confirm(shop, row, mapping=celsius(row.look["mapping"]))
    assert read(row.recording).state == ReadState.READ  # whoever confirmed it for this file has seen the question

    later = sent_and_read(shop, one_flight(DAY + timedelta(days=1)))
    assert later.state == ReadState.ASKS
    assert [question["field"] for question in later.look["questions"]] == ["units.cht"]
    confirm(shop, later, mapping=row.look["mapping"])
    assert read(later.recording).state == ReadState.READ


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda m: {**m, "time": None}, "Which column holds the time"),
        (lambda m: {**m, "time": ["Date", "Clock"]}, "no column “Clock”"),
        (lambda m: {**m, "engines": {}}, "at least engine speed"),
        (lambda m: {**m, "engines": {"1": {"cht": ["CHT1 (F)"]}}}, "no column for its speed"),
        (lambda m: {**m, "engines": {"3": {"rpm": "RPM"}}}, "not 1 or 2"),
        (lambda m: {**m, "engines": {"1": {"rpm": "RPM", "cht": ["CHT1 (F)", "CHT1 (F)"]}}}, "chosen for two things"),
        (lambda m: {**m, "engines": {"1": {"rpm": "N1"}}}, "no column “N1”"),
        (lambda m: {**m, "engines": {"1": {"rpm": "Time"}}}, "for the time and for a channel"),
        (lambda m: {**m, "units": {**m["units"], "MAP (inHg)": "furlong"}}, "does not fit"),
        (lambda m: {**m, "engines": ["RPM"]}, "wrong shape"),
    ],
)
def test_a_mapping_that_cannot_be_is_refused_with_what_to_do(shop: Cast, change: Any, words: str) -> None:
    row = sent_and_read(shop, one_flight())
    audited = AuditEvent.objects.count()
    with pytest.raises(Refusal, match=words) as caught:
        confirm(shop, row, mapping=change(row.look["mapping"]))
    assert set(caught.value.by_field()) == {"mapping"}
    assert not ChannelMap.objects.exists()
    assert AuditEvent.objects.count() == audited


def test_a_zone_that_is_none_and_a_day_to_come_are_refused_together(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight())
    with pytest.raises(Refusal) as caught:
        confirm(shop, row, clock_zone="Mars/Olympus", flight_date=date(2027, 1, 1))
    assert set(caught.value.by_field()) == {"clock_zone", "flight_date"}


def test_nothing_is_confirmed_before_somebody_has_looked(shop: Cast) -> None:
    recording = sent(shop, one_flight())
    with pytest.raises(Refusal, match="not been looked at") as caught:
        confirm(shop, RecordingRead.objects.get(pk=recording.pk))
    assert caught.value.code == "conflict"


# --- Where it flew ---------------------------------------------------------------------------------------------------


def test_position_is_left_out_of_the_table_and_of_what_is_shown(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight(position=True))
    assert row.state == ReadState.READ
    assert not {"latitude_deg", "longitude_deg"} & set(calc.read_parquet(row.table.path).columns)
    shown = {column["name"]: column for column in row.look["columns"]}
    assert row.look["position"] == ["Latitude", "Longitude"]
    for name in ("Latitude", "Longitude"):
        assert (shown[name]["samples"], shown[name]["low"], shown[name]["high"]) == ([], None, None)
    assert "47.5" not in str(row.look)
    with default_storage.open(str(row.table.name)) as table:
        assert b"latitude" not in table.read()


def test_position_is_kept_where_somebody_wants_it(shop: Cast) -> None:
    row = sent_and_read(shop, one_flight(position=True))
    confirm(shop, row, keep_position=True)
    row = read(row.recording)
    table = calc.read_parquet(row.table.path)
    assert float(table.columns["latitude_deg"][0]) == 47.5
    assert "47.5" not in str(row.look)
