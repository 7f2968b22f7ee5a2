"""What "inspect soon" asks of the shop: a due item that only a fitting look closes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from breakin.picture.picture import Picture
from breakin.record import InspectionFacts
from breakin.rules.base import Asked
from breakin.rules.reminders import DAY, LADDER, step_by_time

METAL, RINGS, CUT_FILTER = "look_metal", "look_rings", "cut_filter"
CALL_AFTER, MANAGER_AFTER = 7 * DAY, 14 * DAY  # own choice: the trade says "soon"


def hours_at(picture: Picture, row: InspectionFacts) -> float:
    """Break-in hours at an inspection: by its own clock time where the technician gave none."""
    return picture.clock.hours_at(row.at)


def evidence(row: InspectionFacts, words: str) -> tuple[dict[str, str], ...]:
    return ({"kind": "inspection", "root": str(row.root), "words": words},)


def soon(
    picture: Picture, kind: str, row: InspectionFacts, title: str, text: str, fitting: Iterable[InspectionFacts]
) -> Asked:
    """Look again: asked of the technicians at once, a call after a week, the manager after two."""
    return ask_shop(picture, kind, str(row.root), row.at, title, text, evidence(row, title), fitting)


def ask_shop(
    picture: Picture,
    kind: str,
    occurrence: str,
    since: datetime,
    title: str,
    text: str,
    shown: tuple[dict[str, str], ...],
    fitting: Iterable[InspectionFacts],
) -> Asked:
    """A due item of the shop from a moment on; the first fitting look after that moment closes it."""
    done = next((one for one in fitting if one.at > since), None)
    reached, moments = step_by_time(picture.now, [(since, 2), (since + CALL_AFTER, 3), (since + MANAGER_AFTER, 4)])
    return Asked(
        occurrence=occurrence,
        kind=kind,
        title=title,
        text=text,
        state="done" if done else "late" if reached >= 3 else "due",
        opened_at=since,
        escalation="" if done else LADDER[reached],
        due_at=since + CALL_AFTER,
        evidence=shown,
        closed_at=done.at if done else None,
        closed_by_kind="inspection" if done else "",
        closed_by_root=done.root if done else None,
        changes_at=() if done else moments,
    )
