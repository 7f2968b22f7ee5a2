"""Keep an instrument's file exactly as it came, and have it read. It is only refused if it can't be a recording."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator
from datetime import datetime
from functools import partial
from pathlib import PurePath
from typing import IO, Protocol
from uuid import UUID

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from breakin import jobs, reading, tasks
from breakin.calc.said import Said, said, sentences
from breakin.models import Flight, Recording, RecordingRead
from breakin.services.common import audit, lock_aircraft
from engines.models import Aircraft
from shop.errors import Refusal
from shop.models import Person

_CHUNK = 256 * 1024
_HEAD = 4096
# First bytes of files that are no table of text, whatever their name says.
_OTHER_FILES: tuple[tuple[bytes, Said], ...] = (
    (b"PK\x03\x04", said("a zip archive or a workbook")),
    (b"PK\x05\x06", said("a zip archive")),
    (b"\x1f\x8b", said("a gzip archive")),
    (b"BZh", said("a bzip2 archive")),
    (b"\xfd7zXZ\x00", said("an xz archive")),
    (b"7z\xbc\xaf\x27\x1c", said("a 7z archive")),
    (b"Rar!", said("a rar archive")),
    (b"\x89PNG", said("a picture")),
    (b"\xff\xd8\xff", said("a picture")),
    (b"GIF8", said("a picture")),
    (b"BM", said("a picture")),
    (b"II*\x00", said("a picture")),
    (b"MM\x00*", said("a picture")),
    (b"%PDF", said("a PDF")),
    (b"\x7fELF", said("a program")),
    (b"MZ", said("a program")),
    (b"\xca\xfe\xba\xbe", said("a program")),
    (b"#!", said("a program")),
    (b"\xd0\xcf\x11\xe0", said("an old office document")),
    (b"SQLite format 3", said("a database")),
)
_ALSO_WORDS = frozenset({b"BM", b"MZ"})  # a heading may begin with these; then there is no zero byte behind them
_MARKUP = (b"<!doctype", b"<html", b"<script", b"<?xml", b"<svg")
_MEND = said("Send the recorder's own export as a text table (.csv or .txt), one file a flight, not packed.")
_TEXT_ENDS = frozenset({".csv", ".txt", ".log", ".tsv", ".dat"})


class Upload(Protocol):
    """What an uploaded file offers: Django's UploadedFile and File do."""

    name: str | None

    def chunks(self, chunk_size: int | None = None) -> Iterator[bytes]: ...


def store_recording(
    *, by: Person, aircraft: Aircraft, upload: Upload, now: datetime, note: str = "", flight_root: UUID | None = None
) -> tuple[Recording, bool]:
    """Keep a file under a name of its own, hashed while it is written.

    Returns
    -------
    the recording, and False when the very same file of this aircraft was there before.

    Raises
    ------
    Refusal : empty, too large, or no text table.
    """
    name = _clean_name(upload.name or "")
    ending = PurePath(name).suffix.lower()
    if ending not in _TEXT_ENDS:
        raise _refused(said("“{name}” does not end in .csv, .txt, .tsv, .log or .dat.", name=name), _MEND)
    if flight_root is not None and not Flight.objects.current().filter(root=flight_root, aircraft=aircraft).exists():
        none = said("There is no such flight of this aircraft. Choose it from the list, or none.")
        raise Refusal.of("flight_root", none)
    with tempfile.TemporaryFile() as held:
        sha256, size = _take(upload, name, held)
        before = Recording.objects.filter(aircraft=aircraft, sha256=sha256).first()
        held.seek(0)
        if before is not None:
            if not default_storage.exists(str(before.file.name)):
                default_storage.save(str(before.file.name), File(held))  # its file was lost: here it is again
            return before, False
        stored = default_storage.save(f"recordings/{now:%Y/%m}/{sha256[:32]}{ending}", File(held))
    try:
        with transaction.atomic():
            lock_aircraft(aircraft)
            recording = Recording.objects.create(
                aircraft=aircraft,
                sha256=sha256,
                file=stored,
                original_name=name,
                size_bytes=size,
                uploaded_at=now,
                uploaded_by=by,
                flight_root=flight_root,
                note=note.strip(),
            )
            RecordingRead.objects.create(recording=recording, asked_at=now)
            audit(by=by, act="store_recording", subject=recording, now=now, detail={"bytes": size, "sha256": sha256})
            queue_reading(recording.pk)
            return recording, True
    except IntegrityError:
        # The same file came twice at once; the other one is kept.
        default_storage.delete(stored)
        return Recording.objects.get(aircraft=aircraft, sha256=sha256), False
    except BaseException:
        default_storage.delete(stored)
        raise


def queue_reading(recording_id: int) -> None:
    """Have a recording that waits read once this transaction is kept. A broker that is down only delays it."""
    transaction.on_commit(partial(jobs.queue, tasks.read_recording, recording_id), robust=True)


def read_again(*, by: Person, recording: Recording, now: datetime) -> None:
    """Have a recording read anew. What its last reading said stands until then."""
    with transaction.atomic():
        lock_aircraft(recording.aircraft)
        reading.ask(recording.pk, now)
        audit(by=by, act="read_again", subject=recording, now=now)
        queue_reading(recording.pk)


def _take(upload: Upload, name: str, held: IO[bytes]) -> tuple[str, int]:
    """Copy the upload into `held`; its SHA-256 and size. Refused as soon as it can't be a recording."""
    limit = settings.MAX_UPLOAD_BYTES
    digest, size, head = hashlib.sha256(), 0, b""
    for chunk in upload.chunks(_CHUNK):
        size += len(chunk)
        if size > limit:
            most = str(limit // (1024 * 1024))
            raise _refused(said("“{name}” is larger than {most} MB. Send one file a flight.", name=name, most=most))
        if len(head) < _HEAD:
            head += chunk[: _HEAD - len(head)]
            _refuse_other_files(name, head)
        digest.update(chunk)
        held.write(chunk)
    if size == 0:
        raise _refused(said("“{name}” is empty. Copy it from the recorder again.", name=name))
    _refuse_unreadable(name, head)
    return digest.hexdigest(), size


def _refuse_other_files(name: str, head: bytes) -> None:
    for magic, what in _OTHER_FILES:
        if head.startswith(magic) and (magic not in _ALSO_WORDS or b"\x00" in head):
            raise _refused(said("“{name}” is {what}, whatever its name says.", name=name, what=what), _MEND)
    if head.lstrip().lower().startswith(_MARKUP):
        raise _refused(said("“{name}” is a web page or XML, not a table.", name=name), _MEND)


def _refuse_unreadable(name: str, head: bytes) -> None:
    """The start of a table is text in some encoding, with more than one value in a line."""
    text = head.removeprefix(b"\xef\xbb\xbf")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = head.decode("utf-16", errors="ignore").encode()
    if b"\x00" in text or sum(byte < 9 or 13 < byte < 32 for byte in text) > len(text) // 100:
        raise _refused(said("“{name}” is not text.", name=name), _MEND)
    if not any(mark in text for mark in (b",", b";", b"\t")):
        bare = said("“{name}” has no columns: neither comma, semicolon nor tab.", name=name)
        raise _refused(bare, _MEND)


def _refused(*parts: Said) -> Refusal:
    return Refusal.of("upload", sentences(*parts))


def _clean_name(name: str) -> str:
    """The name as sent, without folders and control characters; for reading only, never for the disk."""
    base = os.path.basename(name.replace("\\", "/"))
    return "".join(char for char in base if char.isprintable())[:200] or "file"
