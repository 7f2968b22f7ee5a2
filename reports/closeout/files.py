"""Sealed files as a reader may have them, and the question whether a file in hand is one of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db.models import Q, QuerySet

from breakin.closeout.canonical import sha256
from breakin.models import CloseOutFile, Finding, FindingState
from engines.models import Build
from reports.reader import Reader
from shop import access

_HASH = re.compile(r"[0-9a-f]{64}")
LARGEST = 30_000_000
_OWN = {"is_own": True}  # as the access layer marks them


def files_of(reader: Reader) -> QuerySet[CloseOutFile]:
    """The sealed files that this reader may have: the shop all, others those signed while they held the aircraft.

    A file names persons and shows their words, so that a later owner asks the shop for it.
    """
    rows = access.visible_to(reader.user, CloseOutFile.objects.all())
    rows = rows.filter(**_OWN).select_related("build__engine__engine_type", "signed_by", "proposed_by")
    return rows.order_by("-signed_at", "-id")


def files_of_build(reader: Reader, build: Build | None) -> tuple[CloseOutFile, ...]:
    return tuple(files_of(reader).filter(build=build)) if build else ()


def changed_since(reader: Reader, file: CloseOutFile) -> tuple[Finding, ...]:
    """What stands against this file since it was sealed: evidence that changed, criteria that fell. For the shop."""
    still = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
    rows = access.visible_to(reader.user, Finding.objects.filter(build=file.build, state__in=still))
    return tuple(rows.filter(rule__in=("C1", "C2"), source=f"close-out file {file.number}"))


@dataclass(frozen=True)
class Found:
    """Whether a file in hand is a sealed one. part : "document" or "print". digest : its SHA-256."""

    digest: str
    file: CloseOutFile | None
    part: str


def look_up(reader: Reader, digest: str) -> Found:
    """The sealed file of this sum, among those the reader may have."""
    file = files_of(reader).filter(Q(document_sha256=digest) | Q(print_sha256=digest)).first()
    part = "" if file is None else "document" if file.document_sha256 == digest else "print"
    return Found(digest, file, part)


def digest_of(upload: UploadedFile) -> str:
    """SHA-256 of what was sent."""
    return sha256(b"".join(_chunks(upload)))


def _chunks(upload: UploadedFile) -> Iterator[bytes]:
    yield from upload.chunks()


def digest_in(text: str) -> str:
    """The SHA-256 in a pasted text: spaces, colons and capitals are let pass; "" where there is none."""
    bare = re.sub(r"[\s:]", "", text).lower()
    found = _HASH.search(bare)
    return found[0] if found and len(bare) == 64 else ""


def described(file: CloseOutFile) -> dict[str, Any]:
    """A sealed file as the programming interface lists it."""
    return {
        "id": file.pk,
        "build": file.build.number,
        "number": file.number,
        "signed_at": file.signed_at,
        "signed_by": file.signed_by.name,
        "proposed_by": file.proposed_by.name,
        "reservations": file.reservations,
        "document_sha256": file.document_sha256,
        "print_sha256": file.print_sha256,
        "rules_version": file.rules_version,
        "software_version": file.software_version,
    }
