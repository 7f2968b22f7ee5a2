"""I9: what the shop looks for when heads stay hot in the climb, or full throttle does not reach the air outside."""

from __future__ import annotations

from breakin.calc.said import said
from breakin.picture.picture import Picture
from breakin.rules.base import CALL, RULES, Answer, Asked, Hit, rule
from breakin.rules.inspect_soon import ask_shop

COOLING, INDUCTION = "look_cooling", "look_induction"
FITTING = {COOLING: ("baffle", "timing", "fuel_flow"), INDUCTION: ("induction", "instruments")}


@rule(
    "I9",
    version=1,
    needs=("flight",),
    severity="none",
    title=said("Look for the cause"),
    text="Heads that did not come down in the climb ask for a look at baffles, timing or fuel flow; a full throttle "
    "that does not reach the pressure of the air outside asks for a look at the intake. One look answers all flights "
    "before it; what a technician has cleared asks for none.",
)
def look_for_causes(picture: Picture) -> Answer:
    hot = [hit for hit in RULES["E3"].ask(picture).hits if hit.severity >= CALL]
    low = [hit for hit in RULES["E8"].ask(picture).hits if hit.occurrence.endswith(":manifold")]
    asked = (*_looks(picture, COOLING, hot), *_looks(picture, INDUCTION, low))
    open_now = sum(item.state != "done" for item in asked)
    return Answer("met", f"{len(asked)} looks asked for, {open_now} of them open.", (), asked)


def _looks(picture: Picture, kind: str, hits: list[Hit]) -> list[Asked]:
    """One due item for each time that the same thing showed again after a look."""
    looks = [row for row in picture.record.inspections if row.kind in FITTING[kind]]
    title, text = _WORDS[kind]
    rule_id = "E3" if kind == COOLING else "E8"
    asked: list[Asked] = []
    for hit in hits:
        if picture.record.decision(rule_id, hit.key) == "cleared":
            continue
        if asked and (asked[-1].closed_at is None or hit.at < asked[-1].closed_at):
            continue
        asked.append(ask_shop(picture, kind, hit.occurrence, hit.at, title, text, hit.evidence, looks))
    return asked


_WORDS = {
    COOLING: (
        said("Look for the cause of hot heads"),
        said(
            "Heads did not come down in the climb. Check baffles and seals, ignition timing or full-throttle fuel flow."
        ),
    ),
    INDUCTION: (
        said("Look for the cause of low manifold pressure"),
        said("Full throttle did not reach its manifold pressure. Check the intake, alternate air and the gauge."),
    ),
}
