"""Assess a build: read its facts, judge them, and write down what moved. The same on a write and at night.

Judging twice writes once: nothing is written when neither the facts nor the rules moved and no moment has passed at
which time alone changes something. A finding or due item is one row for its (build, rule, occurrence), whatever version
of the rule finds it.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from breakin.assess_rows import write_due_items, write_findings
from breakin.bulk import update_rows
from breakin.counts import Steps, lane_of
from breakin.judgement import ASKED_TODAY, Judgement, judge, safety_hits, whole_sentences
from breakin.load import load
from breakin.models import Assessment, AssessmentDay, DueItem, Finding, FindingState, Lane, Severity
from breakin.record import BuildRecord
from breakin.reopening import reopen_by_rule
from breakin.rules import RULES_VERSION
from engines.models import Build

logger = logging.getLogger(__name__)
CHUNK = 50  # judged in one transaction; a pilot's entry waits no longer than that takes

# Columns that a judgement sets; the rest of the row says when and from what it was made.
_BOARD = (
    "registration side twin serial customer_name type_name build_kind finish hours expected_low_h expected_high_h "
    "first_two_word oil_level_qt oil_rate_qt_h oil_rate_u_qt_h oil_word takeoff_ff_word cht_max_degf cht_line_degf "
    "next_touch next_touch_h next_touch_on last_heard_at stops calls watches notes evidence_share owner_name sort_key "
    "asks place_name"
)
_JUDGED = ["live", "phase", "reopened", "stopped", "lane", "lane_reasons", "call_reason", "detail", *_BOARD.split()]
_MADE = ["inputs_digest", "rules_version", "computed_at", "data_until", "next_change_at", "aircraft", "installation"]


@dataclass(frozen=True)
class Outcome:
    """Of a set of builds: how many were judged, how many of them moved, and the ids that could not be judged."""

    done: int
    changed: int
    failed: tuple[int, ...]


def assess_build(build_id: int, now: datetime) -> bool:
    """Judge one build; True when anything was written."""
    return bool(_assess([build_id], now))


def assess_many(build_ids: Iterable[int], now: datetime) -> Outcome:
    """Judge builds in chunks. One that fails is logged and passed over; its chunk is then judged one by one."""
    ids = list(dict.fromkeys(build_ids))
    done = changed = 0
    failed: list[int] = []
    for start in range(0, len(ids), CHUNK):
        chunk = ids[start : start + CHUNK]
        try:
            changed += len(_assess(chunk, now))
            done += len(chunk)
        except Exception:
            logger.exception("A chunk of builds could not be judged together; one by one now.")
            for build_id in chunk:
                try:
                    changed += len(_assess([build_id], now))
                    done += 1
                except Exception:
                    logger.exception("Build %s could not be judged.", build_id)
                    failed.append(build_id)
    return Outcome(done, changed, tuple(failed))


def mark_dirty(build_ids: Iterable[int], now: datetime) -> None:
    """Say that facts came in which are not judged yet."""
    Assessment.objects.filter(build__in=list(build_ids)).update(dirty_at=now)


def due_ids(now: datetime) -> QuerySet[Assessment, int]:
    """Builds to judge now: facts came in, time moved something, or the rules changed. The longest waiting first."""
    waiting = Q(dirty_at__isnull=False) | Q(live=True, next_change_at__lte=now)
    rows = Assessment.objects.filter(waiting).order_by(F("dirty_at").asc(nulls_last=True), "next_change_at", "build_id")
    return rows.values_list("build_id", flat=True)


@transaction.atomic
def safety(build: Build, now: datetime, steps: Steps | None = None) -> list[Finding]:
    """Ask the safety rules at once, inside the transaction that stores a fact, and show a Stop or a call on the board.

    By how much the kept counts move goes into `steps`, which the caller writes; without it they are written here.

    Returns
    -------
    the findings of the safety rules that stand open, the gravest first. The full judgement follows after the commit.
    """
    mine = steps or Steps()
    row = _locked([build.pk]).get(build.pk)
    record = load([build.pk], now)[build.pk]
    hits = safety_hits(record, now)
    write_findings({build.pk: hits}, now, steps=mine, only_rules=True)
    keys = {one.key for one in hits}
    standing = Finding.objects.filter(build=build, state__in=[FindingState.OPEN, FindingState.ACKNOWLEDGED])
    found = [one for one in standing if (one.rule, one.occurrence) in keys]
    if row is not None:
        _show_at_once(row, list(standing), mine)
    if steps is None:
        mine.write()
    return sorted(found, key=lambda one: (-one.severity, one.rule, one.occurrence))


def _show_at_once(row: Assessment, standing: Sequence[Finding], steps: Steps) -> None:
    stops = [one for one in standing if one.severity == Severity.STOP]
    calls = [one for one in standing if one.severity == Severity.CALL and one.state == FindingState.OPEN]
    if not stops and not calls:
        return
    lane = Lane.STOPPED if stops else Lane(min(row.lane, Lane.CALL))
    if lane == row.lane and bool(stops) == row.stopped and len(stops) == row.stops and len(calls) == row.calls:
        return
    before = lane_of(row)
    worst = stops or calls
    row.stopped, row.lane, row.stops, row.calls = bool(stops), lane, len(stops), len(calls)
    row.live = row.asks = True
    row.lane_reasons = [one.text for one in worst]
    row.call_reason = whole_sentences(worst[0].text)
    row.sort_key = f"{int(lane)}|{row.sort_key.partition('|')[2]}"[:80]
    # The row no longer says what its digest stands for; the full judgement is to look again in any case.
    row.inputs_digest = ""
    shown = ["stopped", "lane", "stops", "calls", "live", "asks", "sort_key"]
    row.save(update_fields=[*shown, "lane_reasons", "call_reason", "inputs_digest"])
    steps.lane(before, lane_of(row))


def no_longer_asked(build: Build) -> None:
    """A due item was closed: the engine leaves the list of today at once when that was all it asked for."""
    still = DueItem.objects.filter(build=OuterRef("build"), state__in=ASKED_TODAY)
    calm = Assessment.objects.filter(build=build, asks=True).exclude(live=True, lane__in=[Lane.STOPPED, Lane.CALL])
    calm.exclude(Exists(still)).update(asks=False)


@transaction.atomic
def _assess(ids: Sequence[int], now: datetime) -> list[int]:
    """Judge builds together; the ids of those of which something was written."""
    rows = _locked(ids)
    records = load(rows, now)
    digests = {pk: record.digest() for pk, record in records.items()}
    stale = [pk for pk in rows if pk in records and _is_stale(rows[pk], digests[pk], now)]
    judged = {pk: judge(records[pk], now) for pk in stale}
    for pk, record in _taken_up_again(judged, now).items():
        records[pk], judged[pk], digests[pk] = record, judge(record, now), record.digest()
    moved_facts = {pk for pk in stale if rows[pk].inputs_digest != digests[pk]}
    steps = Steps()
    found = {pk: one.findings for pk, one in judged.items()}
    written = write_findings(found, now, steps=steps, moved_facts=moved_facts)
    written |= write_due_items({pk: one.due for pk, one in judged.items()}, now, steps)
    saved = []
    for pk, judgement in judged.items():
        row, before = rows[pk], lane_of(rows[pk])
        if _take_over(row, records[pk], judgement, digests[pk], now):
            written.add(pk)
        saved.append(row)
        steps.lane(before, lane_of(row))
    if saved:
        update_rows(saved, [*_JUDGED, *_MADE])
        _keep_days([(rows[pk], judged[pk]) for pk in judged if pk in written or pk in moved_facts], now)
    _clear_dirty(rows)
    steps.write()
    return sorted(written)


def _taken_up_again(judged: dict[int, Judgement], now: datetime) -> dict[int, BuildRecord]:
    """The records, read anew, of those closed builds that their judgement reopens."""
    reopened = reopen_by_rule(judged, now)
    return load(reopened, now) if reopened else {}


def _locked(ids: Sequence[int]) -> dict[int, Assessment]:
    """The assessments of these builds, locked: builds first, as the services do, and in one order, so that nobody
    waits for somebody who waits for him.
    """
    list(Build.objects.select_for_update(no_key=True).filter(pk__in=list(ids)).order_by("pk").values_list("pk"))
    rows = Assessment.objects.select_for_update().filter(build__in=list(ids)).order_by("build_id")
    return {row.build_id: row for row in rows}


def _is_stale(row: Assessment, digest: str, now: datetime) -> bool:
    same = row.inputs_digest == digest and row.rules_version == RULES_VERSION and row.computed_at is not None
    return not same or (row.next_change_at is not None and row.next_change_at <= now)


def _take_over(row: Assessment, record: BuildRecord, judgement: Judgement, digest: str, now: datetime) -> bool:
    """Put the judgement into the row; True when anything that people see has moved."""
    seat = record.installation if record.installed_now else None
    values: dict[str, Any] = {
        "live": judgement.live,
        "phase": judgement.phase,
        "reopened": judgement.reopened,
        "stopped": judgement.stopped,
        "lane": judgement.lane,
        "lane_reasons": list(judgement.lane_reasons),
        "call_reason": judgement.call_reason,
        "detail": judgement.detail,
        **judgement.board,
    }
    moved = row.computed_at is None or any(getattr(row, name) != value for name, value in values.items())
    for name, value in values.items():
        setattr(row, name, value)
    row.inputs_digest, row.rules_version, row.computed_at = digest, judgement.rules_version, now
    row.data_until, row.next_change_at = judgement.data_until, judgement.next_change_at
    row.aircraft_id = seat.aircraft_id if seat else None
    row.installation_id = seat.id if seat else None
    return moved


def _clear_dirty(rows: dict[int, Assessment]) -> None:
    """Take the mark away, unless another fact came in meanwhile."""
    marks: dict[datetime, list[int]] = {}
    for row in rows.values():
        if row.dirty_at is not None:
            marks.setdefault(row.dirty_at, []).append(row.pk)
    for moment, pks in marks.items():
        Assessment.objects.filter(pk__in=pks, dirty_at=moment).update(dirty_at=None)


def _keep_days(judged: Sequence[tuple[Assessment, Judgement]], now: datetime) -> None:
    """One row a day and build on which something changed: the last of the day stands."""
    day = now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).date()
    rows = [
        AssessmentDay(
            build_id=row.build_id,
            day=day,
            phase=row.phase,
            stopped=row.stopped,
            lane=row.lane,
            hours=row.hours,
            oil_rate_qt_h=row.oil_rate_qt_h,
            oil_rate_u_qt_h=row.oil_rate_u_qt_h,
            p_stabilized=judgement.detail["oil"]["p_stabilized"],
            inputs_digest=row.inputs_digest,
        )
        for row, judgement in judged
    ]
    AssessmentDay.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["build", "day"],
        update_fields=[
            "phase",
            "stopped",
            "lane",
            "hours",
            "oil_rate_qt_h",
            "oil_rate_u_qt_h",
            "p_stabilized",
            "inputs_digest",
        ],
    )
