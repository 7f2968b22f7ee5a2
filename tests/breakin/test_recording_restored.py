"""A backup holds the files of recordings; what was replaced while it ran is worked out again after the restore."""

from __future__ import annotations

import tarfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage

from breakin.models import ReadState, RecordingRead
from breakin.reading import claiming
from shop import backups
from tests.breakin.recording_cases import DAY, one_flight, only_flight, read, sent, sent_and_read
from tests.factories import NOW, Cast, cast

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def shop() -> Cast:
    return cast()


@pytest.fixture
def no_dump(monkeypatch: pytest.MonkeyPatch) -> None:
    """The database of a test can't be dumped from within its transaction; here it is about the files."""
    monkeypatch.setattr("shop.dumps.dump", lambda target: target.write_bytes(b"rows"))


@pytest.mark.usefixtures("no_dump")
def test_original_and_table_are_both_in_a_backup(shop: Cast, tmp_path: Path) -> None:
    row = sent_and_read(shop, one_flight())
    backups.write_backup(tmp_path / "b.tar", NOW)
    with tarfile.open(tmp_path / "b.tar") as tar:
        names = tar.getnames()
    assert {f"media/{row.recording.file.name}", f"media/{row.table.name}"} <= set(names)
    assert backups.verify(tmp_path / "b.tar")


@pytest.mark.usefixtures("no_dump")
def test_a_table_that_is_replaced_meanwhile_stops_no_backup_but_a_lost_original_does(
    shop: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = sent_and_read(shop, one_flight())
    real = backups._add

    def replaced(tar: tarfile.TarFile, path: Path, name: str) -> backups.Member:
        if lost in name:
            raise FileNotFoundError(path)
        return real(tar, path, name)

    monkeypatch.setattr(backups, "_add", replaced)
    lost = "media/tables/"
    backups.write_backup(tmp_path / "one.tar", NOW)
    assert f"media/{row.recording.file.name}" in [each.name for each in backups.verify(tmp_path / "one.tar").members]
    lost = "media/recordings/"
    with pytest.raises(FileNotFoundError):
        backups.write_backup(tmp_path / "two.tar", NOW)


def test_after_a_restore_what_is_missing_is_read_anew_and_the_rest_stays(shop: Cast) -> None:
    whole = sent_and_read(shop, one_flight())
    gone = sent_and_read(shop, one_flight(step_s=6))
    broken_off = sent(shop, one_flight(DAY.replace(day=9)))
    claiming.claim(broken_off.pk, NOW)
    flight = only_flight(gone)
    default_storage.delete(str(gone.table.name))

    answers = backups.restored.send(sender=None, taken_at=NOW)

    assert any("2 recording(s)" in str(said) for _receiver, said in answers)
    states = dict(RecordingRead.objects.values_list("pk", "state"))
    assert states == {
        whole.pk: ReadState.READ, gone.pk: ReadState.WAITING, broken_off.pk: ReadState.WAITING,
    }  # fmt: skip
    assert read(gone.recording).state == ReadState.READ
    assert only_flight(gone) == flight
