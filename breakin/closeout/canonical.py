"""One way only to write a document down, so that its SHA-256 can be worked out by anybody.

UTF-8 without a byte order mark; the keys of every object sorted by code point; no space after commas and colons; no
line break at the end; numbers as JSON writes the shortest decimal that reads back the same. The file is these bytes.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

PLACES = 6
HOW_TO_CHECK = (
    "This document is the file itself, byte for byte: UTF-8, keys sorted, no spaces between, no line break at the end. "
    "Work out its SHA-256 with any tool and compare it with the one that the shop keeps and that the print shows. "
    "Reading the JSON and writing it again with sorted keys, without spaces and without escaping letters gives the "
    "same bytes."
)


def plain(value: Any) -> Any:
    """The value as JSON knows it: moments in UTC, floats to six places, whole numbers without a point."""
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, float):
        short = round(value, PLACES)
        return int(short) if short.is_integer() else short
    return value


def canonical(document: dict[str, Any]) -> bytes:
    """The bytes of a document of plain values."""
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.encode()


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
