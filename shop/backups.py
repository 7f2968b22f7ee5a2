"""One file that holds everything: the database, then the files that people uploaded, then a manifest with hashes.

Not in it: the secret key (a new one signs everybody out), mails that were sent, the queue (the rows say what is to be
done) and files in object storage, which has its own versions.
"""

import hashlib
import io
import json
import os
import shutil
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.core.management import call_command
from django.dispatch import Signal

from shop import dumps

FORMAT = "run-in-book-backup"
VERSION = 1
MANIFEST = "manifest.json"
# A folder of files that are worked out from others. One may be replaced by a newer one while a backup is written; after
# a restore it is worked out again.
WORKED_OUT = "tables"
CHUNK = 1024 * 1024

# Sent when a restore is through, with taken_at (the moment of the backup). Messages that had not been sent then may
# have been sent since: whoever keeps them holds them back for a person to look at.
restored = Signal()


class BackupError(Exception):
    """A backup cannot be made, read or restored; the text says why and what to do."""


@dataclass(frozen=True)
class Member:
    """One file of a backup."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What a backup holds. taken_at is ISO 8601 in UTC, no later than the state of the database."""

    taken_at: str
    database: str
    migrations: list[str]
    members: list[Member]

    def to_json(self) -> bytes:
        return json.dumps({"format": FORMAT, "version": VERSION, **asdict(self)}, indent=1).encode()

    @classmethod
    def from_json(cls, text: bytes) -> "Manifest":
        try:
            raw = json.loads(text)
            if raw.pop("format") != FORMAT:
                raise BackupError("This file is not a backup of this program.")
            version = raw.pop("version")
            if version != VERSION:
                raise BackupError(f"The backup has version {version}, this program reads version {VERSION}.")
            return cls(**raw | {"members": [Member(**member) for member in raw["members"]]})
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise BackupError(f"The manifest of the backup cannot be read: {error}") from error


def media_root() -> Path | None:
    """The folder of uploaded files; None where they live in object storage."""
    return Path(default_storage.location) if isinstance(default_storage, FileSystemStorage) else None


# --- Backup -------------------------------------------------------------------------------------------------------


def write_backup(target: Path, taken_at: datetime) -> Manifest:
    """Write a backup to a new file, readable by its owner only. Others go on working meanwhile.

    Raises BackupError when the file exists or the database cannot be dumped. No half-written file is left.
    """
    if target.exists():
        raise BackupError(f"{target} is there already. Choose another name: a backup is never overwritten.")
    if not target.absolute().parent.is_dir():
        raise BackupError(f"The folder {target.absolute().parent} does not exist. Make it first.")
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=target.absolute().parent) as folder:
        dump = Path(folder) / dumps.dump_name()
        try:
            dumps.dump(dump)
        except dumps.DumpError as error:
            raise BackupError(str(error)) from error
        draft = Path(folder) / "draft"
        with draft.open("xb") as handle:
            os.fchmod(handle.fileno(), 0o600)
            manifest = _write_tar(handle, dump, taken_at)
            handle.flush()
            os.fsync(handle.fileno())
        try:
            os.link(draft, target)  # unlike a rename this fails where another backup has taken the name meanwhile
        except FileExistsError:
            raise BackupError(f"{target} is there already. Choose another name.") from None
    return manifest


def _write_tar(handle: IO[bytes], dump: Path, taken_at: datetime) -> Manifest:
    with tarfile.open(fileobj=handle, mode="w", format=tarfile.PAX_FORMAT) as tar:
        # The database first: a row whose file is missing would be worse than a file without a row.
        members = [_add(tar, dump, dump.name)]
        root = media_root()
        if root is not None and root.is_dir():
            members += _add_media(tar, root)
        manifest = Manifest(taken_at.isoformat(), dump.name, dumps.applied_migrations(), members)
        text = manifest.to_json()
        info = tarfile.TarInfo(MANIFEST)
        info.size, info.mode = len(text), 0o600
        tar.addfile(info, io.BytesIO(text))
    return manifest


def _add_media(tar: tarfile.TarFile, root: Path) -> list[Member]:
    members = []
    for path in sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink()):
        name = path.relative_to(root)
        try:
            members.append(_add(tar, path, f"media/{name.as_posix()}"))
        except FileNotFoundError:
            if name.parts[0] != WORKED_OUT:
                raise
    return members


class _Hashing:
    """A reader that hashes what passes through."""

    def __init__(self, inner: IO[bytes]) -> None:
        self.inner = inner
        self.digest = hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        data = self.inner.read(size)
        self.digest.update(data)
        return data


def _add(tar: tarfile.TarFile, path: Path, name: str) -> Member:
    with path.open("rb") as handle:
        info = tarfile.TarInfo(name)
        status = os.fstat(handle.fileno())
        info.size, info.mtime, info.mode = status.st_size, int(status.st_mtime), 0o600
        reader: Any = _Hashing(handle)
        tar.addfile(info, reader)
    return Member(name, info.size, reader.digest.hexdigest())


# --- Restore ------------------------------------------------------------------------------------------------------


def verify(source: Path) -> Manifest:
    """Read the whole file and compare it with its manifest. Raises BackupError when anything differs."""
    found: dict[str, Member] = {}
    manifest: Manifest | None = None
    try:
        with tarfile.open(source, mode="r:") as tar:
            for info, handle in _files(tar):
                if info.name == MANIFEST:
                    manifest = Manifest.from_json(handle.read())
                    continue
                digest = hashlib.sha256()
                for chunk in iter(lambda: handle.read(CHUNK), b""):  # noqa: B023 - used up within the round
                    digest.update(chunk)
                found[info.name] = Member(info.name, info.size, digest.hexdigest())
    except (tarfile.TarError, OSError, EOFError) as error:
        raise BackupError(f"{source} cannot be read as a backup: {error}") from error
    if manifest is None:
        raise BackupError(f"{source} has no manifest: it is cut short, or no backup of this program.")
    expected = {member.name: member for member in manifest.members}
    wrong = sorted(name for name in expected.keys() | found.keys() if expected.get(name) != found.get(name))
    if wrong:
        raise BackupError(f"{source} is damaged: {len(wrong)} file(s) differ from the manifest, first {wrong[0]}.")
    return manifest


def _files(tar: tarfile.TarFile) -> Iterator[tuple[tarfile.TarInfo, IO[bytes]]]:
    """The members, refusing whatever a backup never holds: links, devices, names that lead out of the folder."""
    for info in tar:
        path = PurePosixPath(info.name)
        handle = tar.extractfile(info) if info.isreg() else None
        if handle is None or path.is_absolute() or ".." in path.parts:
            raise BackupError(f"The member {info.name!r} does not belong in a backup. Nothing was restored.")
        yield info, handle


def restore(source: Path, now: datetime, force: bool, say: Callable[[str], object]) -> Manifest:
    """Replace database and uploaded files by those of a backup, bring them up to date, hold unsent messages.

    The program must be stopped. With `force` a place that is not empty is first moved to DATA_DIR/before-restore-...
    Raises BackupError before anything is changed when the backup is damaged, newer than the program or of the other
    database, and when the place is not empty.
    """
    manifest = verify(source)
    _refuse_misfit(manifest)
    empty = dumps.is_empty() and not _has_files(media_root())
    if not empty and not force:
        raise BackupError(
            "There are data here already. --force puts them aside and restores the backup in their place."
        )
    if dumps.others_connected():
        raise BackupError("Other programs are connected to the database. Stop the web server and the workers first.")
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".restore-", dir=settings.DATA_DIR) as folder:
        unpacked = Path(folder)
        _unpack(source, unpacked)
        try:
            dumps.check(unpacked / manifest.database)
            if not empty:
                say(f"What was here is now in {_put_aside(now)}")
            dumps.load(unpacked / manifest.database)
        except dumps.DumpError as error:
            raise BackupError(str(error)) from error
        _put_media(unpacked / "media")
    # Messages of the queue point to rows of the state before.
    shutil.rmtree(settings.QUEUE_DIR, ignore_errors=True)
    call_command("migrate", interactive=False, verbosity=0)
    call_command("createcachetable", verbosity=0)
    for receiver, answer in restored.send(sender=restore, taken_at=datetime.fromisoformat(manifest.taken_at)):
        say(str(answer) if answer else f"{receiver.__module__} has looked at the restored data")
    return manifest


def _refuse_misfit(manifest: Manifest) -> None:
    if manifest.database != dumps.dump_name():
        raise BackupError(
            f"The backup holds {manifest.database}, this place needs {dumps.dump_name()}: set or unset DATABASE_URL."
        )
    unknown = dumps.unknown_migrations(manifest.migrations)
    if unknown:
        raise BackupError(
            f"The backup is newer than this program, which lacks {unknown[0]}. Install that version first."
        )


def _has_files(root: Path | None) -> bool:
    return root is not None and root.is_dir() and any(path.is_file() for path in root.rglob("*"))


def _unpack(source: Path, folder: Path) -> None:
    with tarfile.open(source, mode="r:") as tar:
        for info, handle in _files(tar):
            target = folder / info.name
            target.parent.mkdir(parents=True, exist_ok=True)
            with target.open("xb") as out:
                shutil.copyfileobj(handle, out, CHUNK)
            target.chmod(settings.FILE_UPLOAD_PERMISSIONS)


def _put_aside(now: datetime) -> Path:
    """Keep the present state as a dump and a folder of files."""
    aside: Path = settings.DATA_DIR / f"before-restore-{now:%Y%m%dT%H%M%SZ}"
    aside.mkdir(mode=0o700)
    dumps.dump(aside / dumps.dump_name())
    root = media_root()
    if root is not None and root.is_dir():
        shutil.move(root, aside / "media")
    return aside


def _put_media(unpacked: Path) -> None:
    root = media_root()
    if root is None or not unpacked.is_dir():
        return
    root.parent.mkdir(parents=True, exist_ok=True)
    if root.is_dir():
        shutil.rmtree(root)  # put aside before, or without a file in it
    shutil.move(unpacked, root)
