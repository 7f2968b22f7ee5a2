"""Phase of a build, what a review finds met and lacking, and the stage of the next flight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from breakin.calc.said import said
from breakin.picture.picture import Picture
from breakin.record import WaiverFacts
from breakin.rules.afterwards import follow_ups_ahead
from breakin.rules.criteria import OPEN_ITEMS, Criterion, criteria_of
from breakin.rules.oil import settling

# Where the plan gives the alternating stage no end of its own: own choice.
ALTERNATING_SHARE = 0.6
ALTERNATING_UNTIL_H = 5.0
LABELS = {
    "hour_1": said("Hour 1: constant 75 %"),
    "hour_2": said("Hour 2: 15 min at 75 %, 15 min at 65 %"),
    "alternating": said("30 min at 75 %, 30 min at 65 %"),
    "settle": said("Settling: 75 or 65 %, no circuits"),
}
MINUTES: dict[str, list[list[Any]]] = {
    "hour_1": [[60, "75"]],
    "hour_2": [[15, "75"], [15, "65"], [15, "75"], [15, "65"]],
    "alternating": [[30, "75"], [30, "65"]],
    "settle": [[30, "75"], [30, "65"]],
}


@dataclass(frozen=True)
class Waived:
    """A criterion that is not met and that a manager lets stand."""

    criterion: Criterion
    waiver: WaiverFacts


@dataclass(frozen=True)
class Review:
    """criteria : all of them; lacking : not met; waived : not met, and let stand by a manager."""

    criteria: tuple[Criterion, ...]
    lacking: tuple[Criterion, ...]
    waived: tuple[Waived, ...] = ()

    @property
    def met(self) -> tuple[str, ...]:
        """Sentences."""
        return tuple(f"{one.what}." for one in self.criteria if one.met)

    @property
    def ready(self) -> bool:
        return not self.lacking


def review_of(picture: Picture, open_words: tuple[str, ...], stopped: bool) -> Review:
    """Everything that "ready for review" asks for. A waiver counts only while its criterion is not met."""
    given = {row.criterion: row for row in picture.record.waivers}
    found = (*criteria_of(picture), _answered(open_words, stopped))
    waived = [Waived(one, given[one.key]) for one in found if not one.met and one.waivable and one.key in given]
    let_stand = {row.criterion.key for row in waived}
    return Review(
        criteria=found,
        lacking=tuple(one for one in found if not one.met and one.key not in let_stand),
        waived=tuple(waived),
    )


def _answered(open_words: tuple[str, ...], stopped: bool) -> Criterion:
    """No Stop stands and every call was answered. Nobody can waive that."""
    met = not stopped and not open_words
    why = f"Open: {', '.join(dict.fromkeys(open_words))}." if open_words else "A Stop stands."
    return Criterion(
        OPEN_ITEMS, said("No open Stop or call"), "None stands open." if met else why, said("Answer them."), met, False
    )


def phase_of(picture: Picture, review: Review) -> str:
    """The phase of a build, as in breakin.models.Phase."""
    record, credit = picture.record, picture.power.credit
    if record.state == "closed":
        return "follow_up" if follow_ups_ahead(picture) else "closed"
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
    if review.ready or record.proposal is not None:
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
