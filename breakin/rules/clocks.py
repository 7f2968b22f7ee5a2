"""H-rules: the clock that everything else is counted on."""

from __future__ import annotations

from breakin.calc.said import fixed, said
from breakin.picture.picture import Picture
from breakin.rules.base import CALL, NOTE, WATCH, Answer, Hit, answer, flight_evidence, rule

KINDS = {
    "new": "a new engine: total time and break-in start together",
    "factory_rebuilt": "a factory rebuilt engine: the maker grants a new record",
    "overhaul": "an overhaul: break-in and time since overhaul start at 0, total time goes on",
    "top_overhaul": "a top overhaul: break-in starts at 0, time since overhaul goes on",
    "cylinder": "cylinders replaced: break-in starts at 0 for the disturbed positions only",
    "rings": "rings or hone: break-in starts at 0 for the disturbed positions only",
}
SOURCE = "the hour meters of the aircraft; common practice, no published source"


@rule(
    "H1",
    version=1,
    needs=("run",),
    severity="note",
    title=said("Break-in hours"),
    text="The sum of the flights on the basis clock since the first start in the airframe. Ground and cell minutes "
    "stand apart. Of two entries of one flight the better-graded counts until somebody merges them.",
    judges_log_only=True,
)
def break_in_hours(picture: Picture) -> Answer:
    clock = picture.clock
    hits = []
    for dropped, kept in picture.record.left_out:
        run = next(placed.run for placed in clock.runs if placed.run.root == kept)
        evidence = (flight_evidence(kept, "counts"), flight_evidence(dropped, "possible duplicate"))
        text = said("Two entries look like the same flight. The better-graded one counts until somebody merges them.")
        hits.append(Hit(str(dropped), NOTE, text, SOURCE, run.at, {}, evidence, said("Possible duplicate")))
    told = f"{clock.hours:.1f} h in {len(clock.flights)} flights; {clock.ground_min:.0f} min on the ground"
    told += f", {clock.cell_min:.0f} min in the test cell." if clock.cell_min else "."
    return Answer("met", told, tuple(hits))


@rule(
    "H2",
    version=1,
    severity="none",
    title=said("Which clocks started at 0"),
    text="Total time never falls. An overhaul resets time since overhaul, not total time; only the maker or its agency "
    "grants zero time with a rebuilt engine.",
    judges_log_only=True,
)
def which_clocks(picture: Picture) -> Answer:
    return Answer("met", f"Build {picture.record.number} is {KINDS.get(picture.record.kind, picture.record.kind)}.")


@rule(
    "H3",
    version=1,
    needs=("flight",),
    severity="none",
    title=said("Estimated hours"),
    text="Hours read from another clock are estimated with the installation's own ratio. They may remind, never close "
    "out: over a tenth estimated or unlogged keeps a build from review.",
    judges_log_only=True,
)
def estimated_hours(picture: Picture) -> Answer:
    clock = picture.clock
    share = clock.estimated_share
    if not share:
        return Answer("met", "All hours stand on the basis clock.")
    word = "met" if share <= 0.1 else "not met"
    return Answer(
        "met" if word == "met" else "not met", f"{share:.0%} of {clock.hours:.1f} h are estimated or unlogged."
    )


@rule(
    "H4",
    version=1,
    needs=("meter",),
    severity="watch; call for a meter that went back",
    title=said("Unlogged running"),
    text="A meter that moved by more than half as much again as was logged, and by more than an hour, ran without a "
    "log: ask the owner. Until then those hours are of unknown power and unknown oil. A meter goes back only with a "
    "change of meter.",
    judges_log_only=True,
)
def unlogged_running(picture: Picture) -> Answer:
    at = {placed.run.root: placed.run.at for placed in picture.clock.runs}
    hits = [
        Hit(
            str(span.root),
            WATCH,
            said(
                "The meter moved {hours} h more than was logged, from {start} h to {end} h. Ask who flew; until then "
                "power and oil of these hours are unknown.",
                hours=fixed(span.hours),
                start=fixed(span.from_h),
                end=fixed(span.to_h),
            ),
            SOURCE,
            at[span.root],
            {"from_h": span.from_h, "to_h": span.to_h, "hours": span.hours},
            (flight_evidence(span.root, "its meter shows the gap"),),
        )
        for span in picture.clock.unlogged
    ]
    hits += [
        Hit(
            f"{step.root}:back",
            CALL,
            said(
                "The meter read {before} h and then {now} h. Enter the meter change, or correct the reading.",
                before=fixed(step.before_h),
                now=fixed(step.now_h),
            ),
            SOURCE,
            at[step.root],
            {"before_h": step.before_h, "now_h": step.now_h},
            (flight_evidence(step.root, f"read {step.now_h:.1f} h"),),
            said("Meter went back"),
        )
        for step in picture.clock.backward
    ]
    return answer(hits, "The meter moved as much as was logged.")
