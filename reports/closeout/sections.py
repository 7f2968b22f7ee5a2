"""A close-out document as sections of text, facts, tables and figures: one wording for the page and for the print."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from reports.closeout import flown, iron, oiled, said
from reports.closeout.parts import Section

__all__ = ["Section", "sections_of", "title_of"]


def title_of(document: dict[str, Any]) -> str:
    """Whose file it is; without a number while it is a draft."""
    file, engine = document["file"], document["engine"]
    number = f"Close-out file {file['number']}" if "number" in file else "Draft of the close-out file"
    return f"{number} of build {file['build']}, engine {engine['type']} {engine['serial']}"


def sections_of(document: dict[str, Any]) -> tuple[Section, ...]:
    """Every section, in the order in which it is read."""
    parts: Iterable[Iterable[Section]] = (
        said.head(document),
        iron.sections(document),
        flown.sections(document),
        oiled.sections(document),
        said.after(document),
    )
    return tuple(section for part in parts for section in part)
