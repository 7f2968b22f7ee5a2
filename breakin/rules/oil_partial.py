"""O19: what the new cylinder itself says after a partial job, beside the loss, most of which comes from the others."""

from __future__ import annotations

from breakin.picture.picture import Picture
from breakin.record import InspectionFacts
from breakin.rules.base import WATCH, Answer, Hit, answer, rule
from breakin.rules.inspect_soon import evidence, hours_at
from breakin.rules.oil_trend import BEFORE_FROM_H

BEHIND_PSI = 5.0
MOST_GRADE = 1
TRADE = "common practice, no published source"


@rule(
    "O19",
    version=1,
    needs=("inspection",),
    severity="watch",
    title="The new cylinder itself",
    text="Where a cylinder or its rings were changed, that it has seated shows at that cylinder: from 15 h on its "
    "compression is no more than 5 psi under the mean of the cylinders that were left alone, and the borescope grades "
    "its bore 0 or 1. The last look of each kind counts.",
)
def new_cylinder(picture: Picture) -> Answer:
    record = picture.record
    if not record.partial:
        return Answer("not applicable", "All cylinders were done: there is none to compare with.")
    new = [str(position.number) for position in record.positions if position.disturbed]
    found = [_pressed(picture, new), _bored(picture, new)]
    hits = [one for one in found if isinstance(one, Hit)]
    said = " ".join(one for one in found if isinstance(one, str) and one)
    if hits:
        return answer(hits, "")
    if not said:
        return Answer("not observed", "No compression from 15 h on and no borescope of the new cylinder.")
    return Answer("met", said)


def _last(picture: Picture, kind: str, from_h: float = 0.0) -> InspectionFacts | None:
    rows = (row for row in reversed(picture.record.inspections) if row.kind == kind)
    return next((row for row in rows if hours_at(picture, row) >= from_h - 1e-9), None)


def _pressed(picture: Picture, new: list[str]) -> Hit | str:
    """The compression of the new cylinders beside the others: a hit, how they stand, or "" where it cannot be told."""
    row = _last(picture, "compression", BEFORE_FROM_H)
    readings: dict[str, float] = (row.results.get("readings") or {}) if row else {}
    others = [psi for number, psi in readings.items() if number not in new]
    mine = {number: readings[number] for number in new if number in readings}
    if row is None or not others or not mine:
        return ""
    mean = sum(others) / len(others)
    behind = {number: psi for number, psi in mine.items() if psi < mean - BEHIND_PSI - 1e-9}
    told = ", ".join(f"no. {number} {psi:g} psi" for number, psi in (behind or mine).items())
    text = f"Compression at {hours_at(picture, row):.1f} h: {told}, the others {mean:.0f} psi in the mean."
    if not behind:
        return text
    text += f" More than {BEHIND_PSI:g} psi under them: the new cylinder has not seated yet. Check it again."
    numbers = {"others_psi": mean, **{f"no_{number}_psi": psi for number, psi in behind.items()}}
    return Hit(str(row.root), WATCH, text, TRADE, row.at, numbers, evidence(row, told))


def _bored(picture: Picture, new: list[str]) -> Hit | str:
    """The bores of the new cylinders, in the same manner."""
    row = _last(picture, "borescope")
    grades: dict[str, int] = (row.results.get("grades") or {}) if row else {}
    mine = {number: grades[number] for number in new if number in grades}
    if row is None or not mine:
        return ""
    worn = {number: grade for number, grade in mine.items() if grade > MOST_GRADE}
    told = ", ".join(f"no. {number} grade {grade}" for number, grade in (worn or mine).items())
    text = f"Borescope at {hours_at(picture, row):.1f} h: {told}."
    if not worn:
        return text
    text += " A new bore grades 0 or 1: look for scores and glaze, and talk to the supplier of the cylinder."
    numbers = {f"no_{number}_grade": grade for number, grade in worn.items()}
    return Hit(str(row.root), WATCH, text, TRADE, row.at, numbers, evidence(row, told))
