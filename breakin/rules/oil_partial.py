"""After a partial job: the loss against the rate before (O12), and what the new cylinder itself says (O19).

Most of the loss comes from the cylinders that were left alone, so that neither of the two is enough.
"""

from __future__ import annotations

from breakin.calc.said import fixed, joined, number, qt_h, said, sentences
from breakin.picture.picture import Picture
from breakin.record import InspectionFacts
from breakin.rules.base import CALL, WATCH, Answer, Hit, answer, oil_evidence, rule
from breakin.rules.inspect_soon import evidence, hours_at

BEFORE_SHARE, BEFORE_FROM_H = 1.5, 15.0
BEHIND_PSI = 5.0
MOST_GRADE = 1
TRADE = "common practice, no published source"


@rule(
    "O12",
    version=1,
    needs=("two readings",),
    severity="call",
    title=said("Loss against the rate before"),
    text="Where a cylinder or its rings were changed, most of the loss comes from the others: after 15 h the loss with "
    "its doubt must not be over one and a half times the rate before the change. The change itself is judged by that "
    "cylinder's head temperature, compression and borescope.",
)
def against_before(picture: Picture) -> Answer:
    record, oil, before = picture.record, picture.oil, picture.rate_before
    if not record.partial:
        return Answer("not applicable", "All cylinders were done: there is no rate before to compare with.")
    looks = ", ".join(f"{name} {_looked(picture, kind)}" for name, kind in _PARTIAL_LOOKS)
    if before is None:
        return Answer("not known", f"No readings from before the change can be judged. {looks[0].upper()}{looks[1:]}.")
    was = f"{before.rate:.2f} ± {before.u_rate:.2f} qt/h before the change, over {before.hours:.1f} h"
    if oil.rate is None or oil.u_rate is None:
        return Answer("not known", f"Loss {was}. {oil.refusal}")
    told = f"Loss {oil.rate:.2f} ± {oil.u_rate:.2f} qt/h now, {was}"
    if picture.hours <= BEFORE_FROM_H:
        waits = f"compared from {BEFORE_FROM_H:.0f} h on, {picture.hours:.1f} h run"
        return Answer("not known", f"{told}; {waits}. {looks[0].upper()}{looks[1:]}.")
    if oil.rate + oil.u_rate <= BEFORE_SHARE * before.rate:
        return Answer("met", f"{told}. {looks[0].upper()}{looks[1:]}.")
    first = next((row for row in oil.readings if row.placed.hours > BEFORE_FROM_H), oil.readings[-1])
    text = said(
        "Loss {rate} ± {doubt} now, {before} ± {doubt_before} before the change, over {hours} h: with its doubt over "
        "one and a half times that. Call; borescope and compression of the new cylinder.",
        rate=qt_h(oil.rate, bare=True),
        doubt=qt_h(oil.u_rate),
        before=qt_h(before.rate, bare=True),
        doubt_before=qt_h(before.u_rate),
        hours=fixed(before.hours),
    )
    numbers = {"rate_qt_h": oil.rate, "u_qt_h": oil.u_rate, "before_qt_h": before.rate, "u_before_qt_h": before.u_rate}
    evidence = (
        *(oil_evidence(root, "before the change") for root in before.roots),
        *(oil_evidence(row.placed.event.root, f"{row.level_qt:.2f} qt") for row in oil.readings[-4:]),
    )
    key = str(first.placed.event.root)
    hit = Hit(key, CALL, text, "readings before the change", first.placed.event.at, numbers, evidence)
    return Answer("not met", text, (hit,))


_PARTIAL_LOOKS = (("compression", "compression"), ("borescope", "borescope"))


def _looked(picture: Picture, kind: str) -> str:
    last = next((row for row in reversed(picture.record.inspections) if row.kind == kind), None)
    return "not looked at yet" if last is None else last.result


@rule(
    "O19",
    version=1,
    needs=("inspection",),
    severity="watch",
    title=said("The new cylinder itself"),
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
    told = sentences(*(one for one in found if isinstance(one, str)))
    if hits:
        return answer(hits, "")
    if not told:
        return Answer("not observed", "No compression from 15 h on and no borescope of the new cylinder.")
    return Answer("met", told)


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
    told = joined(
        (said("no. {number} {psi} psi", number=no, psi=number(psi)) for no, psi in (behind or mine).items()), ", "
    )
    text = said(
        "Compression at {hours} h: {cylinders}, the others {mean} psi in the mean.",
        hours=fixed(hours_at(picture, row)),
        cylinders=told,
        mean=fixed(mean, 0),
    )
    if not behind:
        return text
    text = sentences(
        text,
        said(
            "More than {line} psi under them: the new cylinder has not seated yet. Check it again.",
            line=number(BEHIND_PSI),
        ),
    )
    numbers = {"others_psi": mean, **{f"no_{no}_psi": psi for no, psi in behind.items()}}
    return Hit(str(row.root), WATCH, text, TRADE, row.at, numbers, evidence(row, told))


def _bored(picture: Picture, new: list[str]) -> Hit | str:
    """The bores of the new cylinders, in the same manner."""
    row = _last(picture, "borescope")
    grades: dict[str, int] = (row.results.get("grades") or {}) if row else {}
    mine = {number: grades[number] for number in new if number in grades}
    if row is None or not mine:
        return ""
    worn = {number: grade for number, grade in mine.items() if grade > MOST_GRADE}
    told = joined(
        (said("no. {number} grade {grade}", number=no, grade=number(grade)) for no, grade in (worn or mine).items()),
        ", ",
    )
    text = said("Borescope at {hours} h: {cylinders}.", hours=fixed(hours_at(picture, row)), cylinders=told)
    if not worn:
        return text
    text = sentences(
        text, said("A new bore grades 0 or 1: look for scores and glaze, and talk to the supplier of the cylinder.")
    )
    numbers = {f"no_{no}_grade": grade for no, grade in worn.items()}
    return Hit(str(row.root), WATCH, text, TRADE, row.at, numbers, evidence(row, told))
