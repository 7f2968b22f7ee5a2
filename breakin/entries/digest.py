"""The content of an entry as one hash: what tells a resend from another entry under the same identifier."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

# How and when it was sent is not content: the same flight may be typed with another unit or sent by another device.
_NOT_CONTENT = frozenset({"client_id", "written_at", "sent_at", "typed", "warnings", "order"})


def content_hash(entry: Any, *, about: str) -> str:
    """SHA-256 over what the entry says.

    Parameters
    ----------
    entry : dataclass of this package.
    about : what it belongs to, "aircraft 7": the same words about another aircraft are another fact.
    """
    canonical = json.dumps([about, _plain(asdict(entry))], sort_keys=True, default=str, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(name): _plain(each) for name, each in value.items() if name not in _NOT_CONTENT}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return round(value, 6) if isinstance(value, float) else value
