"""What a rule is, what it answers, and the registry that all rules stand in.

A rule looks at one picture of one build and answers in words. It names what it needs; where that is lacking its answer
is "not observed", never "passed". Each hit has an occurrence made from the roots of the facts that show it, so that the
same thing is found once, however often and by whichever version of the rule it is looked for.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal
from uuid import UUID

from breakin.calc.said import said
from breakin.picture.picture import Picture
from breakin.picture.recorded import (
    engine_of,
    hottest_head,
    oil_pressure,
    oil_pressure_idle,
    oil_temperature,
    sessions_min,
    takeoff_fuel_flow,
    takeoff_manifold,
    takeoff_rpm,
)

NOTE, WATCH, CALL, STOP = 1, 2, 3, 4
SEVERITY_WORDS = {NOTE: "note", WATCH: "watch", CALL: "call", STOP: "stop"}

# The words of every Stop: only a technician clears it.
STAND = said("Do not fly until a technician has found the cause and cleared this item.")

Word = Literal["met", "not met", "not observed", "not known", "not applicable"]


@dataclass(frozen=True)
class Hit:
    """One occurrence of what a rule looks for."""

    occurrence: str
    severity: int
    text: str
    source: str
    at: datetime
    numbers: dict[str, Any] = field(default_factory=dict)
    evidence: tuple[dict[str, str], ...] = ()
    title: str = ""
    for_customer: bool = True
    reopens: bool = False  # a closed break-in is taken up again for it

    @property
    def key(self) -> str:
        """The occurrence in the book. A Stop is one of its own: what was said of a milder finding does not clear it."""
        return f"{self.occurrence}:stop" if self.severity == STOP else self.occurrence


@dataclass(frozen=True)
class Asked:
    """Something that a rule asks of people: a due item.

    changes_at : moments at which time alone moves its state or its step of the ladder.
    closed_* : the event that closed it, when it is done.
    """

    occurrence: str
    kind: str
    title: str
    text: str
    state: str
    opened_at: datetime
    escalation: str = ""
    from_h: float | None = None
    due_h: float | None = None
    late_h: float | None = None
    due_at: datetime | None = None
    forecast_on: date | None = None
    evidence: tuple[dict[str, str], ...] = ()
    closed_at: datetime | None = None
    closed_by_kind: str = ""
    closed_by_root: UUID | None = None
    changes_at: tuple[datetime, ...] = ()


@dataclass(frozen=True)
class Answer:
    """A rule's answer with its reasons: a word, a sentence, what it found and what it asks for.

    changes_at : moments at which time alone can bring up something that is not asked for yet.
    """

    word: Word
    text: str
    hits: tuple[Hit, ...] = ()
    asked: tuple[Asked, ...] = ()
    changes_at: tuple[datetime, ...] = ()


Judge = Callable[[Picture], Answer]


@dataclass(frozen=True)
class Rule:
    """One small, named, versioned function.

    needs : names out of NEEDS; safety : runs in the transaction that stores a fact.
    judges_log_only : also asked for types outside the standard rules (reminders, clocks; never a verdict).
    """

    id: str
    version: int
    needs: tuple[str, ...]
    severity: str
    title: str
    text: str
    fn: Judge
    safety: bool = False
    judges_log_only: bool = False

    def ask(self, picture: Picture) -> Answer:
        """The rule's answer, or "not observed" with what is lacking."""
        if picture.record.type.log_only and not self.judges_log_only:
            return Answer("not applicable", "This type stands outside the standard rules: it is logged, not judged.")
        lacking = [LACKING[need] for need in self.needs if not NEEDS[need](picture)]
        return Answer("not observed", " ".join(lacking)) if lacking else self.fn(picture)


NEEDS: dict[str, Callable[[Picture], bool]] = {
    "flight": lambda picture: bool(picture.clock.flights),
    "run": lambda picture: bool(picture.clock.runs),
    "plan": lambda picture: picture.record.plan is not None,
    "meter": lambda picture: any(placed.run.meter_kind for placed in picture.clock.runs),
    "fuel flow": lambda picture: any(
        takeoff_fuel_flow(placed.run).value is not None for placed in picture.clock.flights
    ),
    "take-off settings": lambda picture: any(
        told.value is not None
        for placed in picture.clock.flights
        for told in (takeoff_manifold(placed.run), takeoff_rpm(placed.run))
    ),
    "heads": lambda picture: any(
        hottest_head(placed.run).value is not None or placed.run.cht_over_watch not in ("", "not_looked")
        for placed in picture.clock.flights
    ),
    "each head": lambda picture: any(row.excess_degf for row in picture.heat),
    "climb": lambda picture: any(row.falling != "not observed" for row in picture.heat),
    "oil pressure or temperature": lambda picture: any(
        told.value is not None
        for placed in picture.clock.runs
        for told in (oil_pressure(placed.run), oil_pressure_idle(placed.run), oil_temperature(placed.run))
    ),
    "words": lambda picture: any(placed.run.chips for placed in picture.clock.runs),
    "ground minutes": lambda picture: any(sessions_min(placed.run) for placed in picture.clock.runs),
    "reading": lambda picture: any(row.level_qt is not None for row in picture.oil_rows),
    "two readings": lambda picture: sum(row.level_qt is not None for row in picture.oil_rows) >= 2,
    "blocks": lambda picture: bool(picture.power.blocks),
    "descent": lambda picture: any(
        (engine := engine_of(placed.run)) is not None and engine.low_map_descent_min is not None
        for placed in picture.clock.flights
    ),
    "inspection": lambda picture: bool(picture.record.inspections),
    "filter": lambda picture: (
        any(row.kind == "oil_filter" for row in picture.record.inspections)
        or any(row.placed.event.filter_changed for row in picture.oil_rows)
    ),
    "opened filter": lambda picture: any(
        row.kind == "oil_filter" and row.results.get("opened") is True for row in picture.record.inspections
    ),
    "compression": lambda picture: any(row.kind == "compression" for row in picture.record.inspections),
    "oil analysis": lambda picture: any(row.kind == "oil_analysis" for row in picture.record.inspections),
    "breather": lambda picture: any(row.results.get("breather") is not None for row in picture.record.inspections),
    "fuel set-up": lambda picture: any(row.results.get("full_gph") is not None for row in picture.record.inspections),
    "landings": lambda picture: any(
        placed.run.landings is not None or placed.run.recorded is not None for placed in picture.clock.flights
    ),
    "persons aboard": lambda picture: bool(
        picture.clock.flights and picture.clock.flights[0].run.persons_aboard is not None
    ),
    "both engines": lambda picture: bool(picture.power.splits),
    "accessory": lambda picture: bool(picture.record.accessories),
}
LACKING = {
    "flight": "No flight has been logged.",
    "run": "No run of the engine has been logged.",
    "plan": "No run-in plan has been issued.",
    "meter": "No meter reading has been logged.",
    "fuel flow": "No full-throttle fuel flow has been logged.",
    "take-off settings": "No manifold pressure or rpm at take-off has been logged or recorded.",
    "heads": "No head temperature has been logged.",
    "each head": "No recording tells of each head.",
    "climb": "Nobody has noted whether the heads came down in the climb.",
    "oil pressure or temperature": "No oil pressure or temperature has been logged.",
    "words": "The pilot's words have not been logged.",
    "ground minutes": "No ground minutes have been logged.",
    "reading": "No oil level has been logged.",
    "two readings": "Two oil levels are needed.",
    "blocks": "No power settings have been logged.",
    "descent": "No recording tells of the descent.",
    "inspection": "No inspection has been recorded.",
    "filter": "No filter has come off yet.",
    "opened filter": "No filter has been cut open.",
    "compression": "Compression has not been checked.",
    "oil analysis": "No oil has been sent to a laboratory.",
    "breather": "Nobody has noted how much oil is at the breather.",
    "fuel set-up": "The fuel flow has not been set up here.",
    "landings": "Nobody has noted how many landings there were.",
    "persons aboard": "Nobody has noted how many were aboard the first flight.",
    "both engines": "No flight has power settings of both engines.",
    "accessory": "No accessory with a clock of its own is entered for this engine.",
}

RULES: dict[str, Rule] = {}


def rule(
    id: str,
    *,
    version: int,
    severity: str,
    title: str,
    text: str,
    needs: Iterable[str] = (),
    safety: bool = False,
    judges_log_only: bool = False,
) -> Callable[[Judge], Judge]:
    """Put a function into the registry."""

    def enter(fn: Judge) -> Judge:
        if id in RULES:
            raise ValueError(f"Rule {id} stands in the registry already.")
        RULES[id] = Rule(id, version, tuple(needs), severity, title, text, fn, safety, judges_log_only)
        return fn

    return enter


def rules_version() -> str:
    """One short word for the rules and their versions as they stand."""
    all_rules = ",".join(f"{one.id}.{one.version}" for one in RULES.values())
    return hashlib.sha256(all_rules.encode()).hexdigest()[:16]


def type_source(picture: Picture) -> str:
    """The source of a line that the engine type sets."""
    return f"engine type {picture.record.type.name}: {picture.record.type.source}"[:200]


def plan_source(picture: Picture) -> str:
    """The source of a line that the plan sets."""
    return picture.record.plan.name[:200] if picture.record.plan else "no plan"


def flight_evidence(root: UUID, words: str) -> dict[str, str]:
    return {"kind": "flight", "root": str(root), "words": words}


def oil_evidence(root: UUID | str, words: str) -> dict[str, str]:
    return {"kind": "oil", "root": str(root), "words": words}


def answer(hits: Iterable[Hit], met: str, *, asked: Iterable[Asked] = ()) -> Answer:
    """ "met" with this sentence when nothing was found, else "not met" with the worst that was."""
    found = tuple(hits)
    if not found:
        return Answer("met", met, (), tuple(asked))
    worst = max(found, key=lambda hit: (hit.severity, hit.at))
    return Answer("not met", worst.text, found, tuple(asked))
