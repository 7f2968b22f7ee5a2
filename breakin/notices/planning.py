"""Write down what people are to be told: a row for each person, level and channel, once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from breakin.models import (
    Assessment,
    DueItem,
    DueState,
    Finding,
    FindingState,
    Lane,
    Notice,
    NoticeLevel,
    NoticeState,
    PhoneCall,
    Reached,
    Severity,
    ShopNote,
)
from breakin.notices.wanted import UNANSWERED_AFTER, notices_for, open_due_items, open_findings, open_notes, wanted

BATCH = 200  # rows written at a time, so that nobody else waits long for the write lock
FRESH_LIMIT = 500
CLOSED_DUE = (DueState.DONE, DueState.WAIVED, DueState.GONE)
CLOSED_FINDING = (FindingState.CLEARED, FindingState.GONE)


@dataclass(frozen=True)
class Planned:
    """How many rows are new or wanted again, and whether a Stop is among them."""

    new: int
    stops: bool


def plan(now: datetime, build_ids: Iterable[int] | None = None) -> Planned:
    """Write the notices that these builds (None = every live build) call for, and note which were answered.

    Twice changes nothing: a row is unique by build, subject, level, recipient and channel.
    """
    ids = _live_ids() if build_ids is None else list(build_ids)
    new, stops = 0, False
    for start in range(0, len(ids), BATCH):
        part = ids[start : start + BATCH]
        written = _write(wanted(part, now), now)
        new, stops = new + written.new, stops or written.stops
        mark_answered(now, part)
    return Planned(new, stops)


def plan_fresh(now: datetime) -> Planned:
    """The minutely share of planning: only what nobody was told of yet, found by index."""
    return _write(notices_for([*_fresh_findings(now), *_fresh_due_items(), *_fresh_notes(now)], now), now)


def mark_answered(now: datetime, build_ids: Iterable[int]) -> int:
    """Note on the notices of these builds that the fact they asked for has come; how many.

    Answered by a fact or by a technician's clearing, never by a click on the notice.
    """
    asked = Notice.objects.filter(build__in=list(build_ids), answered_at__isnull=True)
    due = Subquery(DueItem.objects.filter(pk=OuterRef("due_item")).values("closed_at")[:1])
    found = Subquery(Finding.objects.filter(pk=OuterRef("finding")).values("closed_at")[:1])
    done = asked.filter(due_item__state__in=CLOSED_DUE, due_item__closed_at__isnull=False).update(answered_at=due)
    done += asked.filter(finding__state__in=CLOSED_FINDING, finding__closed_at__isnull=False).update(answered_at=found)
    return done + _answered_by_phone(asked)


def _answered_by_phone(asked: QuerySet[Notice]) -> int:
    """What the shop wrote is answered once it has spoken with somebody about the aircraft."""
    spoken = PhoneCall.objects.filter(aircraft=OuterRef("aircraft"), reached=Reached.SPOKEN, at__gte=OuterRef("at"))
    notes = ShopNote.objects.filter(pk__in=asked.filter(note__isnull=False).values("note"))
    found = notes.annotate(spoken=Subquery(spoken.order_by("at").values("at")[:1])).exclude(spoken=None)
    return sum(asked.filter(note=note).update(answered_at=at) for note, at in found.values_list("pk", "spoken"))


def _live_ids() -> list[int]:
    return list(Assessment.objects.filter(live=True).order_by("build_id").values_list("build_id", flat=True))


def _write(rows: dict[str, Notice], now: datetime) -> Planned:
    if not rows:
        return Planned(0, False)
    known = dict(Notice.objects.filter(key__in=list(rows)).values_list("key", "state"))
    fresh = [row for key, row in rows.items() if key not in known]
    again = [row for key, row in rows.items() if known.get(key) == NoticeState.DROPPED]
    Notice.objects.bulk_create(fresh, batch_size=BATCH, ignore_conflicts=True)
    for row in again:
        _ask_again(row)
    return Planned(len(fresh) + len(again), any(row.level == NoticeLevel.STOP for row in (*fresh, *again)))


def _ask_again(row: Notice) -> None:
    """A notice that was dropped unsent is wanted once more: a fact was taken back, or a person came back."""
    dropped = Notice.objects.filter(key=row.key, state=NoticeState.DROPPED)
    dropped.update(
        state=row.state,
        not_before=row.not_before,
        aircraft=row.aircraft,
        text=row.text,
        message=None,
        answered_at=None,
        why_not_sent="",
    )


def _fresh_findings(now: datetime) -> list[Finding]:
    told = Notice.objects.filter(finding=OuterRef("pk"))
    lanes = Assessment.objects.filter(live=True, lane__in=[Lane.STOPPED, Lane.CALL]).values("build_id")
    untold = Q(severity=Severity.STOP) & ~Exists(told.filter(level=NoticeLevel.STOP))
    uncalled = Q(severity=Severity.CALL) & ~Exists(told.filter(level=NoticeLevel.CALL))
    unanswered = (
        Q(severity=Severity.STOP, state=FindingState.OPEN, opened_at__lte=now - UNANSWERED_AFTER)
        & ~Exists(told.filter(level=NoticeLevel.MANAGER))
    )  # fmt: skip
    return list(open_findings().filter(untold | uncalled | unanswered, build__in=lanes)[:FRESH_LIMIT])


def _fresh_notes(now: datetime) -> list[ShopNote]:
    told = Notice.objects.filter(note=OuterRef("pk"))
    return list(open_notes(now).filter(~Exists(told))[:FRESH_LIMIT])


def _fresh_due_items() -> list[DueItem]:
    told = Notice.objects.filter(due_item=OuterRef("pk"), level=OuterRef("escalation"))
    near = (DueState.DUE_SOON, DueState.DUE, DueState.LATE)
    return list(open_due_items().filter(~Exists(told), state__in=near)[:FRESH_LIMIT])
