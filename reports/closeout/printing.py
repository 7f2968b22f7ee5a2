"""The print of a close-out file: a tagged PDF (PDF/UA-1, PDF/A-2a) set from its document alone.

The same document always gives the same bytes: the moment in the PDF is that of the signature, fonts are those beside
this module, and nothing of the machine goes in.
"""

from __future__ import annotations

import base64
import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import typst
from django.core.files.storage import default_storage
from PIL import Image

from reports.closeout.sections import Section, sections_of, title_of

HERE = Path(__file__).parent
STANDARDS = ["a-2a", "ua-1"]
_SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def print_out(document: dict[str, Any], sha256: str) -> bytes:
    """The PDF of a document whose bytes have this SHA-256."""
    moment = datetime.fromisoformat((document.get("signed") or {}).get("at") or "1970-01-01T00:00:00+00:00")
    said = {
        "title": title_of(document),
        "shop": document["shop"]["name"],
        "sha256": sha256,
        "statement": document["statement"],
        "sections": [_plain(section) for section in sections_of(document)],
        "date": [moment.year, moment.month, moment.day],
    }
    compile_: Any = typst.compile  # its type variable for the input can not be inferred
    return bytes(
        compile_(
            (HERE / "close_out.typ").read_bytes(),
            font_paths=[str(HERE / "fonts")],
            ignore_system_fonts=True,
            pdf_standards=STANDARDS,
            sys_inputs={"document": json.dumps(said, ensure_ascii=False)},
            timestamp=moment.astimezone(UTC),
        )
    )


def _plain(section: Section) -> dict[str, Any]:
    return {
        "title": section.title,
        "text": [_narrow(line) for line in section.text],
        "facts": [[_narrow(label), _narrow(value)] for label, value in section.facts],
        "tables": [
            {
                "caption": _narrow(table.caption),
                "heads": [_narrow(head) for head in table.heads],
                "rows": [[_narrow(cell) for cell in row] for row in table.rows],
            }
            for table in section.tables
        ],
        "figures": [{"svg": each.svg, "alt": each.alt, "caption": _narrow(each.caption)} for each in section.figures],
        "photos": [
            {"svg": _framed(each.path), "alt": each.alt, "caption": _narrow(each.caption)} for each in section.photos
        ],
    }


def _framed(path: str) -> str:
    """A stored photo as a drawing with the picture in it; an empty frame says that it can't be read any more."""
    try:
        with default_storage.open(path) as held:
            content = held.read()
        with Image.open(io.BytesIO(content)) as picture:
            width, height, kind = *picture.size, (picture.format or "jpeg").lower()
    except (OSError, ValueError):
        return (
            f'{_SVG} viewBox="0 0 400 300"><text x="20" y="150" font-size="20">This photo can not be read.</text></svg>'
        )
    held64 = base64.b64encode(content).decode()
    image = f'<image width="{width}" height="{height}" xlink:href="data:image/{kind};base64,{held64}"/>'
    return f'{_SVG} viewBox="0 0 {width} {height}">{image}</svg>'


def _narrow(text: str) -> str:
    """The faces of the print have no narrow space: an ordinary one that does not break stands in."""
    return text.replace("\u202f", "\u00a0").replace("\u2009", "\u00a0")
