"""Phase of a build, what a review finds met and lacking, and the stage of the next flight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakin.picture.picture import Picture
from breakin.rules.afterwards import closed_at_h
from breakin.rules.base import Answer
from breakin.rules.oil import settling

EVIDENCE_SHARE = 0.7
ESTIMATED_SHARE = 0.1
# Where the plan gives the alternating stage no end of its own: own choice.
ALTERNATING_SHARE = 0.6
ALTERNATING_UNTIL_H = 5.0
LABELS = {
    "hour_1": "Hour 1: constant 75 %",
    "hour_2": "Hour 2: 15 min at 75 %, 15 min at 65 %",
    "alternating": "30 min at 75 %, 30 min at 65 %",
    "settle": "Settling: 75 or 65 %, no circuits",
}
MINUTES: dict[str, list[list[Any]]] = {
    "hour_1": [[60, "75"]],
    "hour_2": [[15, "75"], [15, "65"], [15, "75"], [15, "65"]],
    "alternating": [[30, "75"], [30, "65"]],
    "settle": [[30, "75"], [30, "65"]],
}


@dataclass(frozen=True)
class Lacking:
    what: str
    why: str
    mend: str


@dataclass(frozen=True)
class Review:
    """met : sentences; lacking : what is not met, why, and how to mend it."""

    met: tuple[str, ...]
    lacking: tuple[Lacking, ...]

    @property
    def ready(self) -> bool:
        return not self.lacking


def review_of(picture: Picture, said: Mapping[str, Answer], open_words: tuple[str, ...], stopped: bool) -> Review:
    """Everything that "ready for review" asks for, each with its button to mend it."""
    record, plan, clock = picture.record, picture.record.plan, picture.clock
    if record.type.log_only:
        return Review((), (Lacking("Judgement", "This type is logged, not judged.", "Follow the maker's plan."),))
    if plan is None:
        return Review((), (Lacking("Run-in plan", "No plan has been issued.", "Issue a plan."),))
    state = settling(picture)
    flights = clock.flights
    good = sum(1 for placed in flights if placed.run.grade in "AB")
    share = good / len(flights) if flights else 0.0
    filters = [row for row in record.inspections if row.kind == "oil_filter"]
    leaks = [row for row in record.inspections if row.kind in ("leak", "torque")]
    credit = picture.power.credit
    verdict = credit.first_two if credit else "not known"
    known = credit is not None and credit.final and verdict != "not known"
    missed_done = verdict != "missed" or any(row.kind == "borescope" for row in record.inspections)
    checks = [
        (
            state.provisional,
            "Oil loss provisionally settled",
            said["O5"].text,
            "Fly on; read the oil after each flight.",
        ),
        (
            state.agrees == "agrees",
            "The paper window agrees",
            " ".join(picture.oil.paper.reasons) if picture.oil.paper else "There is no paper window yet.",
            "More readings from 10 min after shutdown, on level ground, or a manager's waiver with its reason.",
        ),
        (
            clock.hours >= plan.minimum_h,
            f"At least {plan.minimum_h:g} h run",
            f"{clock.hours:.1f} h run.",
            "Fly on.",
        ),
        (known, "First two hours known", f"Verdict: {verdict}.", "Log the power blocks of the first flights."),
        (missed_done, "Added watch done", "The first two hours were missed.", "Record a borescope look."),
        (
            any(row.result == "normal" for row in filters),
            "First filter opened and normal",
            "No normal filter inspection." if filters else "No filter inspection is on record.",
            "Complete the first oil and filter.",
        ),
        (
            any(row.result == "normal" for row in leaks),
            "Leak and torque look done",
            "No leak or torque look without a finding is on record.",
            "Complete the leak and torque look.",
        ),
        (
            not stopped and not open_words,
            "No open Stop or call",
            f"Open: {', '.join(dict.fromkeys(open_words))}." if open_words else "A Stop stands.",
            "Answer them.",
        ),
        (
            clock.estimated_share <= ESTIMATED_SHARE,
            "Hours known",
            f"{clock.estimated_share:.0%} of the hours are estimated or unlogged.",
            "Log the missing flights or the basis clock.",
        ),
        (
            bool(flights) and share >= EVIDENCE_SHARE,
            "At least 70 % of flights with grade A or B",
            f"{good} of {len(flights)} flights have it.",
            "Log flights on the day, or hand in recordings.",
        ),
    ]
    met = tuple(f"{what}." for holds, what, _, _ in checks if holds and what != "Added watch done")
    lacking = tuple(Lacking(what, why, mend) for holds, what, why, mend in checks if not holds)
    return Review(met, lacking)


def phase_of(picture: Picture, review: Review) -> str:
    """The phase of a build, as in breakin.models.Phase."""
    record, credit = picture.record, picture.power.credit
    if record.state == "closed":
        plan, closed = record.plan, closed_at_h(picture)
        ahead = bool(plan and closed and plan.follow_up_h and picture.hours < closed[1] + max(plan.follow_up_h))
        return "follow_up" if ahead else "closed"
    if record.state in ("incomplete", "superseded"):
        return "incomplete"
    if not record.installed_now and any(row.ended_on is None for row in record.preservations):
        return "preserved"
    if not picture.clock.flights:
        return "awaiting"
    if record.type.log_only:
        return "log_only"
    if credit is not None and credit.hour_1.ended is None:
        return "hour_1"
    if credit is not None and credit.hour_2.ended is None:
        return "hour_2"
    reopened = any(event.kind == "reopened" for event in record.events)
    if review.ready and not reopened:
        return "review"
    if settling(picture).provisional:
        return "provisional"
    return "alternating" if picture.hours < _settling_from_h(picture) and not reopened else "settling"


def _settling_from_h(picture: Picture) -> float:
    """Hours at which alternating goes over into settling: the cap of the plan's stage, else by what is expected."""
    plan = picture.record.plan
    stage = plan.stage("alternating") if plan else None
    if stage is not None and stage.cap_h is not None:
        return stage.cap_h
    return ALTERNATING_SHARE * plan.expected_low_h if plan else ALTERNATING_UNTIL_H


def next_stage(picture: Picture, phase: str) -> dict[str, Any] | None:
    """The stage that the next flight belongs to, its minute table, and the credit still owed in it."""
    record, credit = picture.record, picture.power.credit
    if record.type.log_only or record.state != "open":
        return None
    kind = {"preserved": "hour_1", "awaiting": "hour_1", "hour_1": "hour_1", "hour_2": "hour_2"}.get(phase)
    kind = kind or ("alternating" if phase == "alternating" else "settle")
    stage = record.plan.stage(kind) if record.plan else None
    minutes = [list(row) for row in stage.minutes] if stage and stage.minutes else MINUTES[kind]
    owed: dict[str, float] = {}
    if credit is not None and kind == "hour_1":
        owed = {"75": max(0.0, 60.0 - credit.hour_1.target_75.central)}
    elif credit is not None and kind == "hour_2":
        owed = {
            "75": max(0.0, 25.0 - credit.hour_2.target_75.central),
            "65": max(0.0, 25.0 - credit.hour_2.target_65.central),
        }
    table = ", ".join(f"{minutes_:g} min at {band} %" for minutes_, band in minutes)
    left = ", ".join(f"{value:.0f} min at {band} %" for band, value in owed.items() if value > 0)
    sentence = f"Next: {table}." + (f" Still owed: {left}." if left else "")
    return {"stage": kind, "label": LABELS[kind], "sentence": sentence, "minutes": minutes, "owed": owed}
