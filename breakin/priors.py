"""What the shop's own ended builds say of oil loss by cylinder finish: worked out at night, and only ever proposed."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import Count, OuterRef, Subquery

from breakin.calc.errors import CalcError
from breakin.calc.oil.learn import (
    NEEDED_READINGS,
    Evidence,
    Learned,
    evidence,
    finish_numbers,
    learn,
    learned_prior,
    typical_decay_h,
)
from breakin.calc.oil.prior import BUILT_IN
from breakin.load import load
from breakin.models import OilEvent, OilEventKind, PriorProposal
from breakin.picture.oil_estimate import believed, log_for_estimate
from breakin.picture.picture import Picture
from breakin.record import BuildRecord
from engines.models import Build, BuildState

logger = logging.getLogger(__name__)

NEEDED_ENGINES = 5
# A value that moved by less is the same to anybody who reads a dipstick.
MATERIAL_SHARE = 0.05
MOST_BUILDS = 400  # the newest; some ten seconds of work
CHUNK = 50
ENDED = (BuildState.CLOSED, BuildState.INCOMPLETE, BuildState.SUPERSEDED)


def ended_with_log() -> int:
    """How many ended builds have a log to learn from, as far as counting tells: for the page."""
    current = {"kind": OilEventKind.READING, "corrected_by__isnull": True, "withdrawn": False}
    readings = (
        OilEvent.objects.filter(engine=OuterRef("engine"), happened_at__gte=OuterRef("opened_at"), **current)
        .order_by()
        .values("engine")
        .annotate(count=Count("pk"))
        .values("count")
    )
    rows = Build.objects.filter(state__in=ENDED).exclude(positions__disturbed=False)
    return rows.alias(readings=Subquery(readings)).filter(readings__gte=NEEDED_READINGS).count()


@dataclass(frozen=True)
class Fleet:
    """What the ended builds hold: evidence, and why the others say nothing: (build id, why)."""

    logs: tuple[Evidence, ...]
    left_out: tuple[tuple[int, str], ...]


def ended_builds() -> list[int]:
    """The builds that have ended, however they did; the newest, no more than one night can read."""
    rows = Build.objects.filter(state__in=ENDED).order_by("-closed_at", "-id")
    return list(rows.values_list("pk", flat=True)[:MOST_BUILDS])


def fleet(now: datetime) -> Fleet:
    """Read the logs of the ended builds. One that cannot be read is left out and says why; it stops nothing."""
    logs: list[Evidence] = []
    left_out: list[tuple[int, str]] = []
    for record in _records(ended_builds(), now):
        try:
            found = why_not(record) or _evidence(record, now)
        except CalcError as error:
            found = str(error)
        if isinstance(found, Evidence):
            logs.append(found)
        else:
            left_out.append((record.build_id, found))
    return Fleet(tuple(logs), tuple(left_out))


def why_not(record: BuildRecord) -> str:
    """Why a build's log says nothing of its finish before it is read; "" when it may."""
    if record.type.log_only:
        return "This type stands outside the standard rules."
    if not all(position.disturbed for position in record.positions):
        return "Not every cylinder was new: the others' loss rides along."
    return ""


def _records(ids: list[int], now: datetime) -> Iterator[BuildRecord]:
    for start in range(0, len(ids), CHUNK):
        yield from load(ids[start : start + CHUNK], now).values()


def _evidence(record: BuildRecord, now: datetime) -> Evidence | str:
    picture = Picture(record, now)
    entries = [row.entry for row in picture.oil_rows if row.entry is not None]
    log = log_for_estimate(record, picture.clock, entries, picture.leaks)
    found = evidence(log, str(record.build_id), believed(record, BUILT_IN)) if entries else None
    return found or "Too few oil readings, or no running between them."


def propose(now: datetime) -> PriorProposal | None:
    """Write tonight's proposal when the fleet moved a value; None when it did not, or when there is too little.

    Nothing is adopted here. What was proposed before and stands unchanged is not proposed again.
    """
    night = now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).date()
    if PriorProposal.objects.filter(night=night).exists():
        return None
    found = fleet(now)
    count = len(found.logs)
    if count < NEEDED_ENGINES:
        logger.info("Oil priors: %s of %s ended builds with a log.", count, NEEDED_ENGINES)
        return None
    rows = learn(found.logs)
    finishes = [_kept(row) for row in rows]
    if not _moved(finishes, _before()):
        return None
    name = f"shop {night.isoformat()}, {count} engines"
    with transaction.atomic():
        proposal, made = PriorProposal.objects.get_or_create(
            night=night,
            defaults={
                "made_at": now,
                "name": name,
                "engines": count,
                "finishes": finishes,
                "numbers": finish_numbers(learned_prior(rows, name)),
                "left_out": [{"build": build, "why": why} for build, why in found.left_out],
            },
        )
    return proposal if made else None


def _kept(row: Learned) -> dict[str, Any]:
    return {
        "finish": row.finish,
        "builds": [int(of) for of in row.of],
        "decay_h": [typical_decay_h(row.built_in), row.decay_h, *row.decay_band_h],
        "plateau_qt_h": [row.built_in.plateau_qt_h, row.plateau_qt_h, *row.plateau_band_qt_h],
    }


def _before() -> dict[str, tuple[float, float]]:
    """Decay time and plateau of each finish as proposed last, or as built in."""
    last = PriorProposal.objects.order_by("-night").first()
    if last is None:
        return {}
    return {row["finish"]: (row["decay_h"][1], row["plateau_qt_h"][1]) for row in last.finishes}


def _moved(finishes: list[dict[str, Any]], before: dict[str, tuple[float, float]]) -> bool:
    for row in finishes:
        built_in = row["decay_h"][0], row["plateau_qt_h"][0]
        values = row["decay_h"][1], row["plateau_qt_h"][1]
        for value, old in zip(values, before.get(row["finish"], built_in), strict=True):
            if abs(value / old - 1) >= MATERIAL_SHARE:
                return True
    return False
