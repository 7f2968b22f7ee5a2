"""Where the cylinders sit, drawn from the pilot's seat: boxes in rows, disturbed ones by hatch and by word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engines.models import CylinderPosition, EngineTypeRevision

BOX_W, BOX_H, GAP, EDGE = 150, 84, 12, 26
# Without a map the boxes only stand in the order of their numbers: so many to a row.
UNMAPPED_ROW = 3


@dataclass(frozen=True)
class Box:
    """One cylinder in the picture; x and y of its upper left corner in the drawing's own units."""

    x: int
    y: int
    number: int
    disturbed: bool
    word: str
    finish: str

    @property
    def middle(self) -> int:
        return self.x + BOX_W // 2

    @property
    def lines(self) -> tuple[int, int, int]:
        """Where its three lines of text stand."""
        return self.y + 38, self.y + 57, self.y + 74


@dataclass(frozen=True)
class PositionPicture:
    """`mapped` is false where the type has no map: the boxes then say nothing about places."""

    width: int
    height: int
    boxes: tuple[Box, ...]
    mapped: bool
    says: str

    box_width: int = BOX_W
    box_height: int = BOX_H
    band: int = 14


def position_picture(revision: EngineTypeRevision, positions: Sequence[CylinderPosition]) -> PositionPicture:
    """The picture of a build's cylinders, by the map of its engine type where it has one."""
    known = {each.number: each for each in positions}
    numbers = range(1, max([revision.cylinders, *known]) + 1)
    rows: Sequence[Sequence[int | None]] = revision.mapped_rows
    if any(number > revision.cylinders for number in known):
        rows = ()
    mapped = bool(rows)
    rows = rows or [numbers[start : start + UNMAPPED_ROW] for start in range(0, len(numbers), UNMAPPED_ROW)]
    edge = EDGE if mapped else 2
    boxes = tuple(
        _box(number, known.get(number), 2 + column * (BOX_W + GAP), edge + row * (BOX_H + GAP))
        for row, line in enumerate(rows)
        for column, number in enumerate(line)
        if number is not None
    )
    wide, high = max(len(line) for line in rows), len(rows)
    return PositionPicture(
        width=wide * (BOX_W + GAP) - GAP + 4,
        height=2 * edge + high * (BOX_H + GAP) - GAP,
        boxes=boxes,
        mapped=mapped,
        says="; ".join(f"no. {box.number} {box.word}" for box in boxes),
    )


def _box(number: int, position: CylinderPosition | None, x: int, y: int) -> Box:
    if position is None:
        return Box(x, y, number, False, "left as it was", "")
    word = "disturbed" if position.disturbed else "left as it was"
    return Box(x, y, number, position.disturbed, word, position.get_finish_display() if position.finish else "")
