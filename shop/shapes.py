"""Small drawn shapes that repeat what a state word says, for readers who scan rather than read.

Every shape differs from every other in outline, not in colour, so that print and colour-blind readers lose nothing.
All are drawn on a 16 x 16 field; "line" shapes are stroked, "solid" shapes are filled.
"""

from __future__ import annotations

from typing import NamedTuple


class Shape(NamedTuple):
    """One drawing: SVG path data on a 16 x 16 field, and whether it is stroked (``line``) or filled."""

    path: str
    line: bool = False


SHAPES: dict[str, Shape] = {
    # What must be done
    "stop": Shape("M4.7.5h6.6l4.2 4.2v6.6l-4.2 4.2H4.7L.5 11.3V4.7zM3.7 6.8v2.4h8.6V6.8z"),
    "call": Shape(
        "M1.5 3.5c0-1.5 2-3 3-2.5l2 3.5L5 6.5c.8 2 2.5 3.7 4.5 4.5l2-1.5 3.5 2c.5 1-1 3-2.5 3-5.5 0-11-5.5-11-11z"
    ),
    "late": Shape("M3 1h10L8.8 8 13 15H3l4.2-7z"),
    "slow": Shape("M1 12.5h14M1 12.5C5 12.5 7 6 15 5.5", line=True),
    "quiet": Shape("M11.5 1.5A7 7 0 1 0 14.5 11 6 6 0 0 1 11.5 1.5z"),
    "watch": Shape("M8 1.2 15 8l-7 6.8L1 8z", line=True),
    "note": Shape("M2 8h12", line=True),
    # Where a break-in stands
    "ready": Shape("M3 1.5h10v13H3zM5.5 5.5h5M5.5 8.5h5M5.5 11.5h3", line=True),
    "running": Shape("M4 2l9 6-9 6z"),
    "settling": Shape("M1 3c4 0 4 9 14 9", line=True),
    "follow-up": Shape("M13.5 8A5.5 5.5 0 1 1 11 3.4M8.5 3.6h3.2V.6", line=True),
    "not-flying": Shape("M8 1.8a6.2 6.2 0 1 0 0 12.4A6.2 6.2 0 0 0 8 1.8z", line=True),
    "closed": Shape("M2 2h12v12H2z"),
    "reopened": Shape("M14 8v6H2V2h6M9.5 6.5 14.5 1.5M10.5 1.5h4v4", line=True),
    "log-only": Shape("M2 14l1-4L11 2l3 3-8 8z", line=True),
    "preserved": Shape("M4.5 1.5h7M3 5h10v9.5H3z", line=True),
    # What a criterion says
    "met": Shape("M2 8.5 6.2 13 14 3.5", line=True),
    "not-met": Shape("M3 3l10 10M13 3 3 13", line=True),
    "partly": Shape("M8 1.8a6.2 6.2 0 1 0 0 12.4A6.2 6.2 0 0 0 8 1.8zM8 2v12", line=True),
    "not-known": Shape("M5 5.5a3 3 0 1 1 4.2 2.8C8 9 8 9.5 8 10.8M8 13.4v.8", line=True),
    "not-achievable": Shape("M2 2.5h12M8 14V6M4.5 9.2 8 5.7l3.5 3.5", line=True),
    # What a trend does
    "falling": Shape("M2 3l11 10M13.2 7v6.2H7", line=True),
    "flat": Shape("M1 10.5h14M1 14h14", line=True),
    "flat-high": Shape("M1 3h14M1 14h14M8 5.5v6", line=True),
    "rising": Shape("M2 13 13 3M7 2.8h6.2V9", line=True),
    "not-enough": Shape("M2 8h1.5M7.2 8h1.5M12.5 8H14", line=True),
    # What became of a message or an entry
    "waiting": Shape("M8 1.8a6.2 6.2 0 1 0 0 12.4A6.2 6.2 0 0 0 8 1.8zM8 4.5V8l3 2", line=True),
    "sent": Shape("M1.5 3.5h13v9h-13zM1.5 4 8 9l6.5-5", line=True),
    "received": Shape("M8 1.5v8M4.5 6.5 8 10l3.5-3.5M1.5 10v4h13v-4", line=True),
    "failed": Shape("M8 1.5v8M8 12.7v1.8", line=True),
    "caution": Shape("M8 1.5 15.2 14.5H.8zM8 6v4M8 11.8v1", line=True),
}

# Words whose shape is called by another name; every other word takes the shape that bears its own name.
_OTHER_NAMES: dict[str, str] = {
    "stopped": "stop",
    "call-today": "call",
    "chase": "call",
    "nudge": "note",
    "overdue": "late",
    "slow-to-settle": "slow",
    "gone-quiet": "quiet",
    "idle": "quiet",
    "ready-for-review": "ready",
    "running-in": "running",
    "first-hour": "running",
    "second-hour": "running",
    "alternating": "running",
    "provisionally-settled": "settling",
    "not-flying-yet": "not-flying",
    "awaiting-first-flight": "not-flying",
    "closed-out": "closed",
    "closed-incomplete": "closed",
    "superseded": "closed",
    "cleared": "met",
    "pickled": "preserved",
    "met-stated": "met",
    "met-measured": "met",
    "done": "met",
    "agrees": "met",
    "missed": "not-met",
    "waived": "partly",
    "disagrees": "not-met",
    "refused": "not-met",
    "undecided": "not-known",
    "unknown": "not-known",
    "not-observed": "not-known",
    "not-achievable-today": "not-achievable",
    "flat-but-high": "flat-high",
    "not-enough-readings-yet": "not-enough",
    "too-short": "not-enough",
    "due": "waiting",
    "due-soon": "waiting",
    "queued": "waiting",
}


def slug(word: str) -> str:
    """The word in lower case, letters and digits only, joined by hyphens: "Call today" -> "call-today"."""
    kept = "".join(letter if letter.isalnum() else " " for letter in word.lower())
    return "-".join(kept.split())


def kind_of(word: str) -> str:
    """The kind (name of the shape, and of the CSS class ``word--<kind>``) that belongs to a word; "" if it has none."""
    name = slug(word)
    name = _OTHER_NAMES.get(name, name)
    return name if name in SHAPES else ""
