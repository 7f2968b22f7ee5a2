"""I-rules: what a technician found. The verdict is his; the form keeps it from being milder than what he measured."""

from __future__ import annotations

from breakin.calc.said import fixed, said, sentences
from breakin.picture.picture import Picture
from breakin.rules.base import RULES, STAND, STOP, WATCH, Answer, Hit, answer, rule

# The rules that read one kind of inspection; what they find of it is not said a second time.
OF_KINDS = ("I2", "I3", "I4", "I5", "I7")
GRAVE = {"watch": WATCH, "stop": STOP}
KINDS = {
    "oil_check": said("Oil check"),
    "oil_filter": said("Oil change and filter"),
    "leak": said("Leak and torque look"),
    "compression": said("Differential compression"),
    "borescope": said("Borescope"),
    "oil_analysis": said("Oil analysis"),
    "torque": said("Torque and rigging recheck"),
    "fuel_flow": said("Fuel-flow set-up"),
    "instruments": said("Instrument check"),
    "preservation": said("Preservation"),
    "baffle": said("Baffle and cooling check"),
    "timing": said("Ignition timing"),
    "static_rpm": said("Static rpm run-up"),
    "induction": said("Manifold-pressure and intake check"),
}


@rule(
    "I1",
    version=2,
    needs=("inspection",),
    severity="watch or stop, as the technician found",
    title=said("Inspection"),
    text="A technician's verdict of stop stands until a technician has cleared it; a verdict of watch is shown until "
    "somebody has taken it up.",
    safety=True,
    judges_log_only=True,
)
def inspections(picture: Picture) -> Answer:
    hits = []
    already = _said_already(picture)
    for row in picture.record.inspections:
        if row.result not in GRAVE or already.get(str(row.root), 0) >= GRAVE[row.result]:
            continue
        what = KINDS.get(row.kind, row.kind)
        hours = fixed(picture.clock.hours_at(row.at))
        if row.result == "stop":
            text = sentences(said("{what} at {hours} h: stop.", what=what, hours=hours), STAND)
            title = said("{what}: stop", what=what)
        else:
            text = said("{what} at {hours} h: watch. See what the technician wrote down.", what=what, hours=hours)
            title = said("{what}: watch", what=what)
        hits.append(
            Hit(
                str(row.root),
                GRAVE[row.result],
                text,
                "the technician's inspection",
                row.at,
                {"kind": row.kind},
                ({"kind": "inspection", "root": str(row.root), "words": f"{what}: {row.result}"},),
                title,
            )
        )
    return answer(hits, f"{len(picture.record.inspections)} inspections, nothing that another rule does not say.")


def _said_already(picture: Picture) -> dict[str, int]:
    """Root of an inspection -> how grave the rule of its kind finds it: one cause is one thing to clear."""
    found: dict[str, int] = {}
    for one in (RULES[name] for name in OF_KINDS):
        for hit in one.ask(picture).hits:
            for shown in hit.evidence:
                found[shown["root"]] = max(hit.severity, found.get(shown["root"], 0))
    return found
