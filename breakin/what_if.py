"""What would change if a build were judged by other facts: two judgements side by side. Pure; nothing is written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from breakin.judgement import FoundHit, Judgement, judge
from breakin.record import BuildRecord, PlanFacts
from breakin.rules.base import STOP

Told = str | float | None
BANDS = ("75", "65")


@dataclass(frozen=True)
class Row:
    """One thing that a judgement says, before and after.

    kind : "minutes" [min], "hours" [h], "rate" [qt/h], "volume" [qt], "phase", "lane" or "words". None is not known.
    """

    what: str
    kind: str
    before: Told
    after: Told

    @property
    def changed(self) -> bool:
        return self.before != self.after


@dataclass(frozen=True)
class Named:
    """A finding by its title, with what it says."""

    severity: int
    title: str
    text: str


@dataclass(frozen=True)
class WhatIf:
    """appear and go : findings that only the second, only the first judgement has; graver first."""

    rows: tuple[Row, ...]
    appear: tuple[Named, ...]
    go: tuple[Named, ...]

    @property
    def changes(self) -> bool:
        return bool(self.appear or self.go or any(row.changed for row in self.rows))


def with_plan(record: BuildRecord, plan: PlanFacts, now: datetime) -> WhatIf:
    """What this plan would change for the build, were it the one in force at `now`."""
    return compare(judge(record, now), judge(replace(record, plan=plan), now))


def compare(before: Judgement, after: Judgement) -> WhatIf:
    """Two judgements of one build at one moment.

    A finding is the same one while its rule and occurrence are; a Stop of the first judgement never goes, since only a
    technician clears it.
    """
    first, second = _standing(before), _standing(after)
    return WhatIf(
        rows=tuple(
            Row(what, kind, value, other)
            for (what, kind, value), (_, _, other) in zip(_said(before), _said(after), strict=True)
        ),
        appear=_named(one for key, one in second.items() if key not in first),
        go=_named(one for key, one in first.items() if key not in second and one.hit.severity < STOP),
    )


def _said(judged: Judgement) -> Iterator[tuple[str, str, Told]]:
    """(what, kind, value) in a fixed order: the same rows for every judgement."""
    credit, oil, lines = judged.detail["credit"], judged.detail["oil"], judged.detail["oil"]["lines"] or {}
    stages = {each["stage"]: each for each in credit["stages"]}
    for stage, name in (("hour_1", "First hour"), ("hour_2", "Second hour"), ("alternating", "After two hours")):
        for band in BANDS:
            found = stages.get(stage)
            yield f"{name}, credit at {band} %", "minutes", found["minutes"][band]["central"] if found else None
    yield "First two hours", "words", credit["first_two"]["verdict"]
    yield "Phase", "phase", judged.phase
    yield "Lane on the board", "lane", judged.lane
    yield "Hours that count", "hours", judged.detail["clock"]["hours"]
    yield "Oil loss", "words", oil["word"]
    yield "Paper verdict on the oil", "words", oil["paper"]["verdict"]
    yield "Loss accepted up to", "rate", oil["accept_qt_h"]
    yield "Watch above", "rate", oil["watch_qt_h"]
    yield "Alarm above", "rate", oil["alarm_qt_h"]
    yield "Hold line", "volume", lines.get("hold")
    yield "Add one below", "volume", lines.get("add")
    lacking = [each["what"] for each in judged.detail["review"]["lacking"]]
    yield "Lacking for review", "words", "; ".join(lacking) or "nothing"


def _standing(judged: Judgement) -> dict[tuple[str, str], FoundHit]:
    return {one.key: one for one in judged.findings if one.standing}


def _named(found: Iterable[FoundHit]) -> tuple[Named, ...]:
    rows = [Named(one.hit.severity, one.hit.title or one.rule.title, one.hit.text) for one in found]
    return tuple(sorted(rows, key=lambda row: (-row.severity, row.title, row.text)))
