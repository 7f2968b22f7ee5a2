"""Values as JSON columns take them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def plain(value: Any) -> Any:
    """Dicts, lists, text and numbers only; what is not a number (NaN, infinity) is None, as in "not known"."""
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if hasattr(value, "item") and not isinstance(value, str | bytes):
        value = value.item()  # a number of numpy
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value
