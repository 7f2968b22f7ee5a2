"""Backup and restore, by the commands that a shop types."""

import io
import json
import tarfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from shop.backups import BackupError, Manifest, Member, verify
from tests.shop.commands import Place, place

# Rows whose fact table is guarded come along with their guards; any model does for the rows.
FILL = """
from shop.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
User.objects.create_user("{email}", "not-a-secret-of-anybody")
default_storage.save("recordings/{email}.csv", ContentFile(b"flight of {email}"))
"""
USERS = "from shop.models import User; print(sorted(User.objects.values_list('email', flat=True)))"
GUARDED = "from django.db import connection; from shop import guards; print(len(guards.installed(connection)))"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None) -> Iterator[tuple[Place, Path]]:
    """A place with one user and one file, and its backup."""
    with place(tmp_path_factory.mktemp("shop")) as here:
        here.migrate()
        here.python(FILL.format(email="first@shop.example"))
        file = here.data_dir / "monday.tar"
        here.run("backup", str(file))
        yield here, file


@pytest.fixture
def backup(shop: tuple[Place, Path]) -> Path:
    return shop[1]


def rewritten(source: Path, target: Path, change: dict[str, bytes | None]) -> Path:
    """A copy of a backup with members replaced (bytes), left out (None) or added."""
    with tarfile.open(source) as old, tarfile.open(target, "w") as new:
        contents = {info.name: old.extractfile(info).read() for info in old}  # type: ignore[union-attr]
        for name, content in (contents | change).items():
            if content is not None:
                info = tarfile.TarInfo(name)
                info.size = len(content)
                new.addfile(info, io.BytesIO(content))
    return target


def test_a_backup_is_one_private_file_with_database_first_and_manifest_last(backup: Path) -> None:
    with tarfile.open(backup) as tar:
        names = tar.getnames()
    assert names[0].startswith("database.")
    assert names[1:] == ["media/recordings/first@shop.example.csv", "manifest.json"]
    assert backup.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in backup.parent.glob(".backup-*")] == []


def test_a_backup_never_overwrites_another(shop: tuple[Place, Path]) -> None:
    here, file = shop
    before = file.read_bytes()
    done = here.attempt("backup", str(file))
    assert done.returncode != 0
    assert "is there already" in done.stderr
    assert file.read_bytes() == before


def test_a_backup_comes_back_whole_in_a_new_place(backup: Path, tmp_path: Path, django_db_setup: None) -> None:
    with place(tmp_path / "new") as new:
        assert "Restored the state of" in new.run("restore", str(backup))
        assert new.python(USERS) == "['first@shop.example']"
        assert (new.data_dir / "media/recordings/first@shop.example.csv").read_text() == "flight of first@shop.example"
        assert int(new.python(GUARDED)) > 5, "fact tables keep their guards"
        assert new.attempt("makemigrations", "--check", "--dry-run").returncode == 0


def test_data_are_replaced_by_force_only_and_are_then_kept_aside(
    backup: Path, tmp_path: Path, django_db_setup: None
) -> None:
    with place(tmp_path / "used") as used:
        used.migrate()
        used.python(FILL.format(email="later@shop.example"))
        refused = used.attempt("restore", str(backup))
        assert refused.returncode != 0
        assert "--force" in refused.stderr
        assert used.python(USERS) == "['later@shop.example']"

        used.run("restore", "--force", str(backup))
        assert used.python(USERS) == "['first@shop.example']"
        assert [path.name for path in (used.data_dir / "media/recordings").iterdir()] == ["first@shop.example.csv"]
        aside = next(used.data_dir.glob("before-restore-*"))
        assert (aside / "media/recordings/later@shop.example.csv").exists()
        assert next(aside.glob("database.*")).stat().st_size > 10_000
        assert list(used.data_dir.glob(".restore-*")) == []


def test_a_backup_with_a_changed_a_missing_or_an_added_file_is_refused(backup: Path, tmp_path: Path) -> None:
    name = "media/recordings/first@shop.example.csv"
    for number, (member, content) in enumerate({name: b"flight of another", "media/extra": b"x"}.items()):
        with pytest.raises(BackupError, match=f"damaged.*{member}"):
            verify(rewritten(backup, tmp_path / f"{number}.tar", {member: content}))
    with pytest.raises(BackupError, match=f"damaged.*{name}"):
        verify(rewritten(backup, tmp_path / "less.tar", {name: None}))


def test_a_backup_that_was_cut_short_is_refused(backup: Path, tmp_path: Path) -> None:
    whole = backup.read_bytes()
    for share in (0.3, 0.9):
        short = tmp_path / "short.tar"
        short.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(BackupError, match=r"cannot be read|has no manifest"):
            verify(short)


@pytest.mark.parametrize("name", ["../outside", "/etc/outside", "media/../../outside"])
def test_a_member_that_leads_out_of_the_folder_is_refused(backup: Path, tmp_path: Path, name: str) -> None:
    with pytest.raises(BackupError, match="does not belong in a backup"):
        verify(rewritten(backup, tmp_path / "bad.tar", {name: b"x"}))


def test_a_link_in_a_backup_is_refused(tmp_path: Path) -> None:
    with tarfile.open(tmp_path / "link.tar", "w") as tar:
        info = tarfile.TarInfo("media/link")
        info.type, info.linkname = tarfile.SYMTYPE, "/etc/passwd"
        tar.addfile(info)
    with pytest.raises(BackupError, match="does not belong in a backup"):
        verify(tmp_path / "link.tar")


def test_a_backup_of_a_newer_program_is_refused_before_anything_changes(
    backup: Path, tmp_path: Path, shop: tuple[Place, Path]
) -> None:
    manifest = verify(backup)
    newer = Manifest(manifest.taken_at, manifest.database, [*manifest.migrations, "shop.9999_later"], manifest.members)
    file = rewritten(backup, tmp_path / "newer.tar", {"manifest.json": newer.to_json()})
    done = shop[0].attempt("restore", "--force", str(file))
    assert done.returncode != 0
    assert "newer than this program, which lacks shop.9999_later" in done.stderr
    assert shop[0].python(USERS) == "['first@shop.example']"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"{", "cannot be read"),
        (b"[]", "cannot be read"),
        (json.dumps({"format": "other", "version": 1}).encode(), "not a backup of this program"),
        (json.dumps({"format": "run-in-book-backup", "version": 2}).encode(), "has version 2"),
        (json.dumps({"format": "run-in-book-backup", "version": 1, "members": []}).encode(), "cannot be read"),
    ],
)
def test_a_manifest_that_is_not_ours_is_refused_with_the_reason(text: bytes, says: str) -> None:
    with pytest.raises(BackupError, match=says):
        Manifest.from_json(text)


def test_a_manifest_survives_being_written_and_read() -> None:
    taken_at = datetime(2026, 11, 24, 9, 30, tzinfo=UTC).isoformat()
    manifest = Manifest(taken_at, "database.sqlite3", ["shop.0001_initial"], [Member("a", 3, "ff")])
    assert Manifest.from_json(manifest.to_json()) == manifest
