"""Questions about periods, asked of the database or of a row."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from shop.models import Period


def covering(at: datetime) -> Q:
    """Periods that hold at that moment."""
    return Q(since__lte=at) & (Q(until__isnull=True) | Q(until__gt=at))


def overlapping(since: datetime, until: datetime | None) -> Q:
    """Periods that share any time with this one."""
    later = Q(until__isnull=True) | Q(until__gt=since)
    return later if until is None else later & Q(since__lt=until)


def covers(period: Period, at: datetime) -> bool:
    return period.since <= at and (period.until is None or at < period.until)
