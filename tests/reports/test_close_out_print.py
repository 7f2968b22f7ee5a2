"""The print of a close-out file: tagged as ISO 14289-1 (PDF/UA-1) asks, the same bytes each time, all of it there.

What is looked for is from memory of the standard: a marked structure tree, a language, a title that the window shows,
headings, tables with header cells, alternative texts of figures.
"""

from __future__ import annotations

import io
import json
import re
import zlib
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.storage import default_storage
from PIL import Image

from breakin import assess
from reports.closeout.flown import time_at_power
from reports.closeout.printing import print_out
from reports.closeout.sections import sections_of
from tests import factories
from tests.factories import NOW, closed_out, flown

pytestmark = pytest.mark.django_db
SUM = "ab" * 32


_kept: list[str] = []


@pytest.fixture
def document() -> dict[str, Any]:
    """Made by the first test, read by all."""
    if not _kept:
        _kept.append(_sealed_document())
    made: dict[str, Any] = json.loads(_kept[0])
    return made


def _sealed_document() -> str:
    shop = factories.cast()
    block = {"duration": 40, "rpm": 2450, "map": 24.6, "pressure_altitude": 3000, "oat": 50}
    for number in range(9):
        flown(shop.build_1, 1.2, level_qt=6.5 - 0.1 * number, cht_max=390, takeoff_ff=16.0, blocks=[block])
    assess.assess_build(shop.build_1.pk, NOW)
    file = closed_out(shop.build_1, now=NOW + timedelta(hours=1), proposer=shop.tom, signer=shop.cora)
    with file.document.open() as held:
        return str(held.read().decode())


def unpacked(pdf: bytes) -> bytes:
    """The file with every compressed stream laid open behind it."""
    found = [pdf]
    for held in re.findall(rb"stream\r?\n(.*?)endstream", pdf, flags=re.DOTALL):
        try:
            found.append(zlib.decompress(held))
        except zlib.error:
            continue
    return b"\n".join(found)


def test_it_is_tagged_with_language_title_headings_tables_and_alternative_texts(document: dict[str, Any]) -> None:
    pdf = unpacked(print_out(document, SUM))
    assert re.search(rb"/Marked\s+true", pdf)
    assert re.search(rb"/Lang\s*\(en-GB\)", pdf)
    assert re.search(rb"/DisplayDocTitle\s+true", pdf)
    assert b"pdfuaid:part" in pdf
    assert re.search(rb"<pdfuaid:part>\s*1\s*<", pdf)
    assert b"Close-out file 1 of build B-QX-901" in pdf
    assert b"/StructTreeRoot" in pdf
    for tag in (b"/H1", b"/Table", b"/TH", b"/TD", b"/Figure", b"/Caption"):
        assert re.search(tag + rb"\b", pdf), tag
    assert re.search(rb"/Scope\s*/Column", pdf)
    assert len(re.findall(rb"/Alt\s*[(<]", pdf)) >= 1


def test_it_is_the_same_bytes_each_time(document: dict[str, Any]) -> None:
    assert print_out(document, SUM) == print_out(document, SUM)


def test_a_draft_prints_too(document: dict[str, Any]) -> None:
    draft = {**document, "signed": None, "file": {k: v for k, v in document["file"].items() if k != "number"}}
    assert print_out(draft, SUM).startswith(b"%PDF-")


def test_photos_of_an_inspection_stand_in_it(document: dict[str, Any]) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "grey").save(picture, "JPEG")
    name = default_storage.save("photos/filter.jpg", io.BytesIO(picture.getvalue()))
    photo = {"id": 1, "caption": "Pleats", "sha256": SUM, "file": name}
    look = {
        "root": "x", "kind": "oil change and filter", "kind_code": "oil_filter", "happened_at": "2026-06-01T12:00:00Z",
        "hours": 9.6, "result": "normal", "results": {"opened": True}, "performed_by": "Tom", "inspector": "",
        "note": "", "photos": [photo, {**photo, "file": "photos/gone.jpg"}],
    }  # fmt: skip
    bare, shown = print_out(document, SUM), print_out({**document, "inspections": [look]}, SUM)
    assert len(shown) > len(bare)
    assert b"/DCTDecode" in shown
    assert b"Pleats" in unpacked(shown)


def test_every_section_has_something_to_read(document: dict[str, Any]) -> None:
    for section in sections_of(document):
        assert section.text or section.facts or section.tables, section.title
        for table in section.tables:
            assert table.caption
            assert all(head for head in table.heads)
            assert all(len(row) == len(table.heads) for row in table.rows)
        assert all(len(each.alt) > 40 for each in section.figures)


def test_minutes_are_counted_in_steps_of_five_percent_and_none_is_lost() -> None:
    def block(pct: float | None, minutes: float, **more: Any) -> dict[str, Any]:
        return {"pct": pct, "duration_min": minutes, "band": None, "counted": True, **more}

    blocks = [
        block(74.9, 30), block(75.0, 20), block(66.0, 10), block(None, 15, band="75"), block(None, 5),
        block(70.0, 99, counted=False),
    ]  # fmt: skip
    assert time_at_power(blocks) == [
        ("65 to 70\u202f%", 10.0), ("70 to 75\u202f%", 30.0), ("75 to 80\u202f%", 20.0), ("as on the card", 15.0),
        ("not known", 5.0),
    ]  # fmt: skip
    assert time_at_power([]) == []
