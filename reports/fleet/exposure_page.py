"""The exposure page: engines whose break-in might be hard to defend under warranty, each with its reasons.

Read from the assessments alone. No reason weighs against another, and nothing here is about a person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, F, Q
from django.urls import reverse

from breakin.models import Assessment
from reports.engine.header import oil_rate_plain
from reports.quantities import hours_of, oil_rate, share
from reports.reader import Reader

PAGE = 50
# Less than this share of flights with grade A or B is thin evidence: own choice, no source.
THIN_EVIDENCE = 0.70
MISSED = Q(first_two_word="missed")
HIGH = Q(oil_word="flat but high")
THIN = Q(evidence_share__lt=THIN_EVIDENCE)


@dataclass(frozen=True)
class ExposureRow:
    """One build; `reasons` are (word, sentence with its numbers)."""

    url: str
    name: str
    side: str
    engine: str
    customer: str
    standing: str
    hours: str
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ExposurePage:
    """`counts` are sentences over all builds that have been judged."""

    counts: tuple[str, ...]
    rows: tuple[ExposureRow, ...]
    first_url: str
    next_url: str


def exposure_page(reader: Reader, after: str) -> ExposurePage:
    """The page behind the row `after` (its id in the order of the page); anything else is the first page.

    Two queries, however many engines there are.
    """
    start = int(after) if after.isascii() and after.isdigit() and len(after) < 19 else 0
    found = (
        Assessment.objects.filter(MISSED | HIGH | THIN, build_id__gt=start)
        .select_related("build")
        .annotate(first_two=F("detail__credit__first_two__reasons"), accepted=F("detail__oil__accept_qt_h"))
        .defer("detail")
        .order_by("build_id")
    )
    rows = list(found[: PAGE + 1])
    more, rows = len(rows) > PAGE, rows[:PAGE]
    return ExposurePage(
        counts=_counts(),
        rows=tuple(_row(row, reader.units) for row in rows),
        first_url=reverse("exposure") if start else "",
        next_url=f"{reverse('exposure')}?{urlencode({'after': rows[-1].build_id})}" if more else "",
    )


def _counts() -> tuple[str, ...]:
    n = Assessment.objects.aggregate(
        judged=Count("pk"),
        any=Count("pk", filter=MISSED | HIGH | THIN),
        missed=Count("pk", filter=MISSED),
        timed=Count("pk", filter=~Q(first_two_word__in=("", "not known"))),
        high=Count("pk", filter=HIGH),
        trended=Count("pk", filter=~Q(oil_word__in=("", "not enough readings", "log only"))),
        thin=Count("pk", filter=THIN),
        graded=Count("pk", filter=Q(evidence_share__isnull=False)),
    )
    return (
        f"{n['any']} of {n['judged']} builds stand here, open and ended ones, for one reason or more.",
        f"First two hours missed: {n['missed']} of {n['timed']} for which they are known.",
        f"Oil loss flat but high: {n['high']} of {n['trended']} with enough readings for a trend.",
        f"Evidence share under {share(THIN_EVIDENCE)}: {n['thin']} of {n['graded']} that have flown.",
    )


def _row(row: Any, units: str) -> ExposureRow:
    return ExposureRow(
        url=f"{reverse('engine', args=[row.engine_id])}?build={row.build_id}",
        name=row.registration or "in no aircraft",
        side=row.side if row.side != "single" else "",
        engine=f"{row.type_name} s/n {row.serial}, build {row.build.number}",
        customer=row.customer_name,
        standing=row.get_phase_display(),
        hours=hours_of(row.hours, row.expected_low_h, row.expected_high_h),
        reasons=_reasons(row, units),
    )


def _reasons(row: Any, units: str) -> tuple[tuple[str, str], ...]:
    reasons = []
    if row.first_two_word == "missed":
        said: Sequence[str] = row.first_two or ("The first two hours were missed.",)
        reasons.append(("First two hours missed", " ".join(said)))
    if row.oil_word == "flat but high":
        loss = f"Loss {oil_rate(row.oil_rate_qt_h, row.oil_rate_u_qt_h, units)}"
        line = f", accepted up to {oil_rate_plain(row.accepted, units)}" if row.accepted is not None else ""
        reasons.append(("Flat but high", f"{loss}{line}."))
    if row.evidence_share is not None and row.evidence_share < THIN_EVIDENCE:
        reasons.append(("Thin evidence", f"{share(row.evidence_share)} of its flights have grade A or B."))
    return tuple(reasons)
