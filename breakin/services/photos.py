"""Photos beside a fact. What is kept is drawn anew from what was sent: no location, no camera, no hidden content."""

from __future__ import annotations

import hashlib
import io
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from breakin.calc.said import fixed, said, sentences
from breakin.services.common import audit, is_staff
from engines.models import Engine, Photo, PhotoWithdrawal
from shop.errors import Refusal
from shop.models import Person

MOST_BYTES = 20 * 1024 * 1024
# A phone's largest picture. A JPEG is opened at a fraction of its size; the others are opened whole.
MOST_PIXELS, MOST_PIXELS_WHOLE = 64_000_000, 26_000_000
LONGEST_SIDE, SMALL_SIDE = 2048, 480
MOST_A_FACT = 24
QUALITY = 85
_FORMATS = ("JPEG", "PNG", "WEBP")  # what a phone calls MPO opens as a JPEG
_MEND = said("Send a JPEG, PNG or WebP picture.")


class Upload(Protocol):
    """What an uploaded file offers: Django's UploadedFile and File do."""

    name: str | None

    def chunks(self, chunk_size: int | None = None) -> Iterator[bytes]: ...


@dataclass(frozen=True)
class Shown:
    """The fact that a photo shows: what it is, its root, its engine and its moment."""

    about: str
    root: UUID
    engine: Engine
    at: datetime


def add_photo(
    *, by: Person, of: Shown, upload: Upload, now: datetime, caption: str = "", for_customer: bool = False
) -> tuple[Photo, bool]:
    """Keep a photo of a fact.

    Returns
    -------
    the photo, and False when the very same file of this fact was there before.

    Raises
    ------
    Refusal : too large, no picture that can be read, too many of one fact.
    """
    sent = _take(upload)
    sha256 = hashlib.sha256(sent).hexdigest()
    before = Photo.objects.filter(root=of.root, sha256=sha256).first()
    if before is not None:
        return before, False
    if Photo.objects.filter(root=of.root, withdrawal=None).count() >= MOST_A_FACT:
        enough = said("{most} photos of one entry are enough. Withdraw one that is not needed.", most=str(MOST_A_FACT))
        raise Refusal.of("photos", enough)
    picture, small, size = _drawn(sent, _name(upload))
    stem = f"photos/{now:%Y/%m}/{of.root.hex[:8]}-{sha256[:24]}"
    stored: list[str] = []
    try:
        stored.append(default_storage.save(f"{stem}.jpg", ContentFile(picture)))
        stored.append(default_storage.save(f"{stem}-small.jpg", ContentFile(small)))
        with transaction.atomic():
            photo = Photo.objects.create(
                engine=of.engine,
                about=of.about,
                root=of.root,
                of_at=of.at,
                # A photo that a customer sends is the customer's own to see.
                for_customer=for_customer or not is_staff(by, now),
                caption=caption.strip()[:120],
                sha256=sha256,
                file=stored[0],
                small=stored[1],
                width=size[0],
                height=size[1],
                size_bytes=len(picture),
                uploaded_at=now,
                uploaded_by=by,
            )
            audit(by=by, act="add_photo", subject=photo, now=now, detail={"about": of.about, "sha256": sha256})
            return photo, True
    except BaseException as error:
        for name in stored:
            default_storage.delete(name)
        kept = Photo.objects.filter(root=of.root, sha256=sha256).first() if isinstance(error, IntegrityError) else None
        if kept is not None:
            return kept, False  # the same file came twice at once
        raise


def withdraw_photo(*, by: Person, photo: Photo, reason: str, now: datetime) -> PhotoWithdrawal:
    """Show a photo no longer; it and the reason stay on record. Harmless when that was done before.

    Raises
    ------
    Refusal : "forbidden" for anybody but the shop and who sent it; no reason.
    """
    if by.pk != photo.uploaded_by_id and not is_staff(by, now):
        raise Refusal.of("", said("Somebody else sent this photo. Ask the shop to take it away."), "forbidden")
    reason = reason.strip()[:200]
    if not reason:
        raise Refusal.of("reason", said("Why is it taken away? Say it in a few words."))
    with transaction.atomic():
        kept, made = PhotoWithdrawal.objects.get_or_create(
            photo=photo, defaults={"by": by, "at": now, "reason": reason}
        )
        if made:
            audit(by=by, act="withdraw_photo", subject=photo, now=now, detail={"reason": reason})
        return kept


def _name(upload: Upload) -> str:
    return "".join(char for char in (upload.name or "photo") if char.isprintable())[:60]


def _take(upload: Upload) -> bytes:
    held = io.BytesIO()
    for chunk in upload.chunks():
        if held.tell() + len(chunk) > MOST_BYTES:
            large = said("“{name}” is larger than {most} MB.", name=_name(upload), most=str(MOST_BYTES // 2**20))
            raise Refusal.of("photos", sentences(large, _MEND))
        held.write(chunk)
    return held.getvalue()


def _drawn(sent: bytes, name: str) -> tuple[bytes, bytes, tuple[int, int]]:
    """The picture and a small one as JPEG, upright and without anything but their pixels; the picture's size."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(sent), formats=_FORMATS) as image:
                most = MOST_PIXELS if image.format in ("JPEG", "MPO") else MOST_PIXELS_WHOLE
                if image.width * image.height > most:
                    raise Refusal.of(
                        "photos",
                        said(
                            "“{name}” has {width} x {height} pixels, more than can be taken. Send it smaller.",
                            name=name,
                            width=fixed(image.width, 0),
                            height=fixed(image.height, 0),
                        ),
                    )
                image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = _plain(ImageOps.exif_transpose(image))
    except (UnidentifiedImageError, Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        unread = said("“{name}” is no picture that can be read.", name=name)
        raise Refusal.of("photos", sentences(unread, _MEND)) from error
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:
        damaged = said("“{name}” is damaged or cut short. Take or send it again.", name=name)
        raise Refusal.of("photos", sentences(damaged, _MEND)) from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    picture = _jpeg(upright)
    size = upright.size
    upright.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return picture, _jpeg(upright), size


def _plain(image: Image.Image) -> Image.Image:
    """Pixels only, on white where the picture was transparent."""
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        shown = image.convert("RGBA")
        ground = Image.new("RGB", shown.size, "white")
        ground.paste(shown, mask=shown.getchannel("A"))
        return ground
    made = Image.new("RGB", image.size)
    made.paste(image.convert("RGB"))
    return made


def _jpeg(image: Image.Image) -> bytes:
    held = io.BytesIO()
    settings: dict[str, Any] = {"quality": QUALITY, "optimize": True, "progressive": True}
    image.save(held, "JPEG", **settings)
    return held.getvalue()
