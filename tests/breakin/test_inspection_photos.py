"""Photos: only pixels are kept, whatever was sent; too large, too many or no picture is refused in plain words."""

from __future__ import annotations

import io
import struct
import zlib
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from PIL import Image

from breakin.services import photos
from breakin.services.photos import Shown, add_photo, withdraw_photo
from engines.models import Inspection, Photo
from shop.errors import Refusal
from shop.models import Person
from tests.factories import NOW, Cast, cast
from tests.inspected import inspected, picture

pytestmark = pytest.mark.django_db
ORIENTATION, GPS, MAKE = 0x0112, 0x8825, 0x010F


@pytest.fixture
def shop() -> Cast:
    return cast()


@pytest.fixture
def look(shop: Cast) -> Inspection:
    return inspected(shop.build_1, "oil_filter", by=shop.tom, at=NOW - timedelta(days=1))


def add(look: Inspection, by: Person, upload: ContentFile[bytes], **more: Any) -> tuple[Photo, bool]:
    of = Shown("inspection", look.root, look.engine, look.happened_at)
    return add_photo(by=by, of=of, upload=upload, now=NOW, **more)


def kept(photo: Photo, which: str = "file") -> Image.Image:
    with getattr(photo, which).open("rb") as held:
        return Image.open(io.BytesIO(held.read()))


def test_place_and_camera_are_gone_and_it_stands_upright(shop: Cast, look: Inspection) -> None:
    told = Image.Exif()
    told[ORIENTATION], told[MAKE] = 6, "Camera of ours"
    told.get_ifd(GPS)[2] = (47.0, 12.0, 3.0)
    sent = picture(640, 480, exif=told, comment=b"a hidden word")
    photo, _ = add(look, shop.tom, sent)
    shown = kept(photo)
    assert shown.size == (480, 640)
    assert not dict(shown.getexif())
    assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive", "progression"}
    with photo.file.open("rb") as held:
        content = held.read()
    assert b"hidden" not in content
    assert b"Camera" not in content


def test_a_large_photo_is_kept_at_a_size_that_shows_everything_and_a_small_one(shop: Cast, look: Inspection) -> None:
    photo, _ = add(look, shop.tom, picture(4000, 3000))
    assert (kept(photo).size, kept(photo, "small").size) == ((2048, 1536), (480, 360))
    assert (photo.width, photo.height) == (2048, 1536)


@pytest.mark.parametrize(
    "sent", [picture(kind="PNG", colour=(9, 9, 9, 0)), picture(kind="WEBP"), picture(kind="PNG", colour=(1, 2, 3))]
)
def test_other_pictures_become_plain_ones_on_white(shop: Cast, look: Inspection, sent: ContentFile[bytes]) -> None:
    sent.seek(0)
    photo, _ = add(look, shop.tom, sent)
    assert kept(photo).format == "JPEG"


def test_the_same_file_twice_is_one_photo(shop: Cast, look: Inspection) -> None:
    first, made = add(look, shop.tom, picture())
    again, made_again = add(look, shop.tom, picture())
    assert (first, made, made_again) == (again, True, False)
    assert Photo.objects.count() == 1


def bomb() -> ContentFile[bytes]:
    """A PNG of a few bytes that says it is 30,000 by 30,000."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 90_001)
    return ContentFile(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b""), name="b.png"
    )


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (bomb(), "picture"),
        (picture(6000, 5000, kind="PNG"), "more than can be taken"),
        (ContentFile(b"not a picture", name="a.jpg"), "no picture"),
        (ContentFile(b"", name="a.jpg"), "no picture"),
        (ContentFile(b"<svg xmlns='http://www.w3.org/2000/svg'/>", name="a.svg"), "no picture"),
        (ContentFile(b"GIF89a" + b"\0" * 40, name="a.gif"), "no picture"),
        (ContentFile(picture(900, 900).read()[:400], name="cut.jpg"), "picture|damaged"),
    ],
    ids=["bomb", "png too large", "text", "empty", "svg", "gif", "cut short"],
)
def test_what_is_no_photo_is_refused_and_leaves_nothing_behind(
    shop: Cast, look: Inspection, sent: ContentFile[bytes], words: str
) -> None:
    sent.seek(0)
    with pytest.raises(Refusal, match=words) as refused:
        add(look, shop.tom, sent)
    assert "photos" in refused.value.by_field()
    assert not Photo.objects.exists()


def test_too_many_bytes_are_refused_while_they_come(
    shop: Cast, look: Inspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MOST_BYTES", 1000)
    with pytest.raises(Refusal, match="larger than"):
        add(look, shop.tom, picture(800, 800))


def test_too_many_photos_of_one_entry_are_refused(
    shop: Cast, look: Inspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MOST_A_FACT", 1)
    first, _ = add(look, shop.tom, picture())
    with pytest.raises(Refusal, match="are enough"):
        add(look, shop.tom, picture(colour=(1, 1, 1)))
    withdraw_photo(by=shop.tom, photo=first, reason="blurred", now=NOW)
    assert add(look, shop.tom, picture(colour=(1, 1, 1)))[1]


def test_what_a_customer_sends_the_customer_sees(shop: Cast, look: Inspection) -> None:
    assert add(look, shop.ada, picture())[0].for_customer
    assert not add(look, shop.tom, picture(colour=(2, 2, 2)))[0].for_customer


def test_a_photo_is_taken_away_by_who_sent_it_or_the_shop_with_a_reason(shop: Cast, look: Inspection) -> None:
    photo, _ = add(look, shop.ada, picture())
    with pytest.raises(Refusal) as caught:
        withdraw_photo(by=shop.ben, photo=photo, reason="mine", now=NOW)
    assert caught.value.code == "forbidden"
    with pytest.raises(Refusal, match="Why is it taken away"):
        withdraw_photo(by=shop.tom, photo=photo, reason="", now=NOW)
    kept_away = withdraw_photo(by=shop.tom, photo=photo, reason="a face in it", now=NOW)
    assert withdraw_photo(by=shop.ada, photo=photo, reason="again", now=NOW) == kept_away
