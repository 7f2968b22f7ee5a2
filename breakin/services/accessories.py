"""Accessories of an engine: entered with their interval and its source, and reset by work on themselves alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from breakin.services.common import audit, judge, live_builds, lock_engines, need_reason
from engines.models import RESETTING_ACTS, Accessory, AccessoryAct, AccessoryEvent, AccessoryKind, Build, Engine
from shop.errors import Problem, Refusal
from shop.models import Person

_LONGEST = {"source": 200, "part": 80, "done_by": 120}
_STEP_H = 0.05  # meters are read to a tenth
_HOURS_MOST, _MONTHS_MOST, _TOTAL_MOST = 20_000.0, 600, 40_000.0


@dataclass(frozen=True)
class AccessoryEntry:
    """What was done to an accessory, and what holds from then on.

    act : one of `AccessoryAct`. total_time_h : total time of the engine then [h]. own_hours_h : hours of its interval
    that were behind it then already. interval_h [h], interval_months : at least one. source : document and revision
    that the interval comes from. done_by : a person or a firm.
    """

    act: str
    done_on: date
    interval_h: float | None = None
    interval_months: int | None = None
    source: str = ""
    total_time_h: float | None = None
    own_hours_h: float | None = None
    part: str = ""
    done_by: str = ""
    words: str = ""


@transaction.atomic
def enter_accessory(
    *, by: Person, engine: Engine, kind: str, name: str, entry: AccessoryEntry, now: datetime
) -> Accessory:
    """An accessory that is limited by hours or by date, with when it was last done. It belongs to the engine.

    Raises
    ------
    Refusal : with every problem found; "conflict" where the engine has an accessory of this kind and name.
    """
    lock_engines([engine.pk])
    name = " ".join(name.split())
    problems = _check(entry, now)
    if kind not in AccessoryKind.values:
        problems.append(Problem("kind", "What is it? Choose one, or “other” with a name."))
    elif kind == AccessoryKind.OTHER and not name:
        problems.append(Problem("name", "What is it? Type its name."))
    if len(name) > 40:
        problems.append(Problem("name", f"{len(name)} characters are too long for a name: 40 at most."))
    if entry.act not in RESETTING_ACTS:
        problems.append(Problem("act", "What was last done to it? Its clock counts from there."))
    problems += _check_total(engine, entry)
    if problems:
        raise Refusal(problems)
    same = [each for each in watched(engine) if each.kind == kind and each.name.casefold() == name.casefold()]
    if same:
        raise Refusal.of(
            "name", f"“{same[0].label}” is on this engine already. Name this one, or enter what was done to that.",
            "conflict",
        )  # fmt: skip
    accessory = Accessory.objects.create(engine=engine, kind=kind, name=name)
    _write(accessory, entry, by, now)
    audit(by=by, act="enter_accessory", subject=accessory, now=now, detail={"kind": kind, "name": name})
    judge(live_builds([engine.pk]), now)
    return accessory


@transaction.atomic
def record_event(*, by: Person, accessory: Accessory, entry: AccessoryEntry, now: datetime) -> AccessoryEvent:
    """What was done to an accessory. Only this sets its clock anew and closes what was asked of it.

    Raises
    ------
    Refusal : with every problem found; "conflict" where this is in the book already, or it is no longer watched.
    """
    lock_engines([accessory.engine_id])
    problems = [*_check(entry, now), *_check_total(accessory.engine, entry)]
    standing = list(_standing(accessory))
    newest = max(standing, key=lambda row: row.pk, default=None)
    if newest is not None and newest.act == AccessoryAct.REMOVED:
        problems.append(Problem("", "It is no longer watched here. Enter it anew, or take that entry back first."))
    last = max((row.done_on for row in standing if row.act in RESETTING_ACTS), default=None)
    if last is not None and entry.act in RESETTING_ACTS and entry.done_on < last:
        problems.append(
            Problem("done_on", f"It was last done on {last}, after this day. Check the year, or take that entry back.")
        )
    before = [row.total_time_h for row in standing if row.total_time_h is not None and row.done_on <= entry.done_on]
    if entry.total_time_h is not None and before and entry.total_time_h < max(before) - _STEP_H:
        problems.append(
            Problem(
                "total_time_h",
                f"{entry.total_time_h:g} h is below {max(before):g} h, told here for an earlier day. Total time never "
                "falls: read it again, or take that entry back.",
            )
        )
    if entry.act == AccessoryAct.REMOVED and not entry.words.strip():
        problems.append(Problem("words", "Why is it no longer watched? A few words."))
    if any((row.act, row.done_on) == (entry.act, entry.done_on) for row in standing if row.act in RESETTING_ACTS):
        problems.append(Problem("done_on", "This is in the book already, with the same day."))
    if problems:
        raise Refusal(problems)
    event = _write(accessory, entry, by, now)
    audit(by=by, act="accessory_event", subject=event, now=now, detail={"act": entry.act})
    judge(live_builds([accessory.engine_id]), now)
    return event


@transaction.atomic
def take_back(*, by: Person, event: AccessoryEvent, reason: str, now: datetime) -> AccessoryEvent:
    """An entry was wrong: it never happened. What stood before it holds again; enter the right one anew.

    Raises
    ------
    Refusal : no reason, or "conflict" where it was taken back already.
    """
    lock_engines([event.accessory.engine_id])
    reason = need_reason(reason, "Taking an entry back")
    if event.withdrawn or AccessoryEvent.objects.filter(corrects=event).exists():
        raise Refusal.of("", "This entry was taken back already. Look again.", "conflict")
    row = AccessoryEvent.objects.create(
        accessory=event.accessory, root=event.root, corrects=event, withdrawn=True, act=event.act,
        done_on=event.done_on, interval_h=event.interval_h, interval_months=event.interval_months,
        source=event.source, words=reason, by=by, recorded_at=now,
    )  # fmt: skip
    audit(by=by, act="accessory_take_back", subject=row, now=now, detail={"reason": reason})
    judge(live_builds([event.accessory.engine_id]), now)
    return row


def done_with_engine(
    *,
    by: Person,
    engine: Engine,
    acts: Mapping[int, str],
    done_on: date,
    total_time_h: float | None,
    words: str,
    now: datetime,
) -> list[AccessoryEvent]:
    """Of the accessories of an engine, those that were done together with it; the others' hours go on.

    Parameters
    ----------
    acts : accessory id -> what was done to it. Interval, source and part stay as they were.

    Raises
    ------
    Refusal : as for `record_event`, at the field `accessory.<id>`.
    """
    made = []
    for accessory in watched(engine):
        act = acts.get(accessory.pk)
        if not act:
            continue
        terms = terms_of(accessory)
        entry = replace(terms, act=act, done_on=done_on, total_time_h=total_time_h, own_hours_h=None, words=words)
        try:
            made.append(record_event(by=by, accessory=accessory, entry=replace(entry, done_by=""), now=now))
        except Refusal as refusal:
            raise Refusal(Problem(f"accessory.{accessory.pk}", each.message) for each in refusal.problems) from None
    return made


def watched(engine: Engine) -> list[Accessory]:
    """The accessories of an engine whose clocks run."""
    rows = list(Accessory.objects.filter(engine=engine).order_by("kind", "name", "id"))
    events: dict[int, list[AccessoryEvent]] = {}
    standing = AccessoryEvent.objects.filter(accessory__engine=engine, corrected_by__isnull=True, withdrawn=False)
    for event in standing.order_by("id"):
        events.setdefault(event.accessory_id, []).append(event)
    found = []
    for row in rows:
        mine = events.get(row.pk, [])
        if mine and mine[-1].act != AccessoryAct.REMOVED and any(each.act in RESETTING_ACTS for each in mine):
            found.append(row)
    return found


def terms_of(accessory: Accessory) -> AccessoryEntry:
    """What holds for it now, as an entry to begin the next one from."""
    newest = _standing(accessory).order_by("-id").first()
    if newest is None:
        return AccessoryEntry(act="", done_on=date.min)
    return AccessoryEntry(
        act="",
        done_on=newest.done_on,
        interval_h=newest.interval_h,
        interval_months=newest.interval_months,
        source=newest.source,
        part=newest.part,
        done_by=newest.done_by,
    )


def _standing(accessory: Accessory) -> QuerySet[AccessoryEvent]:
    return AccessoryEvent.objects.filter(accessory=accessory, corrected_by__isnull=True, withdrawn=False)


def _write(accessory: Accessory, entry: AccessoryEntry, by: Person, now: datetime) -> AccessoryEvent:
    return AccessoryEvent.objects.create(
        accessory=accessory, act=entry.act, done_on=entry.done_on, total_time_h=entry.total_time_h,
        own_hours_h=entry.own_hours_h, interval_h=entry.interval_h, interval_months=entry.interval_months,
        source=entry.source.strip(), part=entry.part.strip(), done_by=entry.done_by.strip(),
        words=entry.words.strip(), by=by, recorded_at=now,
    )  # fmt: skip


def _check(entry: AccessoryEntry, now: datetime) -> list[Problem]:
    problems = []
    if entry.act not in AccessoryAct.values:
        problems.append(Problem("act", "What was done? Choose one."))
    if entry.done_on > now.date():
        problems.append(Problem("done_on", f"{entry.done_on} lies in the future. Check the date."))
    if entry.interval_h is None and entry.interval_months is None:
        problems.append(
            Problem(
                "interval_h", "After how many hours or months is it due? Type one or both, from the maker's document."
            )
        )
    if entry.interval_h is not None and not 0 < entry.interval_h <= _HOURS_MOST:
        problems.append(Problem("interval_h", f"{entry.interval_h:g} h is outside 0 to {_HOURS_MOST:g} h. Check it."))
    if entry.interval_months is not None and not 1 <= entry.interval_months <= _MONTHS_MOST:
        problems.append(Problem("interval_months", f"{entry.interval_months} months are outside 1 to {_MONTHS_MOST}."))
    if not entry.source.strip():
        problems.append(Problem("source", "Where does the interval stand? Name the maker's document and its revision."))
    if entry.total_time_h is not None and not 0 <= entry.total_time_h <= _TOTAL_MOST:
        problems.append(
            Problem("total_time_h", f"{entry.total_time_h:g} h is outside 0 to {_TOTAL_MOST:g} h. Check it.")
        )
    if entry.own_hours_h is not None and not 0 <= entry.own_hours_h <= _HOURS_MOST:
        problems.append(Problem("own_hours_h", f"{entry.own_hours_h:g} h is outside 0 to {_HOURS_MOST:g} h. Check it."))
    problems += [
        Problem(name, f"{len(getattr(entry, name))} characters are too long: {longest} at most.")
        for name, longest in _LONGEST.items()
        if len(getattr(entry, name)) > longest
    ]
    return problems


def _check_total(engine: Engine, entry: AccessoryEntry) -> list[Problem]:
    """Hours can be counted from a total time, or from a day within the build that runs."""
    if entry.interval_h is None or entry.total_time_h is not None or entry.act not in RESETTING_ACTS:
        return []
    newest = Build.objects.filter(engine=engine).order_by("-opened_at").first()
    if newest is not None and entry.done_on >= newest.opened_at.date():
        return []
    return [
        Problem(
            "total_time_h",
            "What was the total time of the engine then? Its hours are counted from there, since this was before the "
            "build that the book follows.",
        )
    ]
