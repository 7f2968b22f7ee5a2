"""Reading what an assessment holds, with nothing taken for granted: a missing key reads as not known."""

from __future__ import annotations

from typing import Any

from breakin.models import Assessment


def dig(assessment: Assessment | None, *keys: str) -> Any:
    """The value under these keys of the detail; None where any of them is missing."""
    value: Any = assessment.detail if assessment else None
    for key in keys:
        value = value.get(key) if isinstance(value, dict) else None
    return value


def number(assessment: Assessment | None, *keys: str) -> float | None:
    """The number under these keys; None where there is none."""
    value = dig(assessment, *keys)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def rows(assessment: Assessment | None, *keys: str) -> list[dict[str, Any]]:
    """The list of objects under these keys; empty where there is none."""
    value = dig(assessment, *keys)
    return [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []
