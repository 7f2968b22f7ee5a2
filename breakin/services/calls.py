"""The shop phoned somebody: keep what was said, take up the calls it answers, and when to phone next."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from breakin.models import Finding, FindingState, PhoneCall, Reached
from breakin.services.common import audit
from breakin.services.findings import acknowledge
from engines.models import Aircraft
from shop.errors import Problem, Refusal
from shop.models import Person

_LONGEST = 1000
_FARTHEST = timedelta(days=366)


@transaction.atomic
def log_call(
    *,
    by: Person,
    aircraft: Aircraft,
    person: Person | None,
    reached: str,
    said: str,
    next_on: date | None = None,
    for_customer: bool = False,
    answered: Iterable[Finding] = (),
    now: datetime,
) -> PhoneCall:
    """Keep a phone call.

    Parameters
    ----------
    for_customer : may the holder's people read what was said?
    answered : open findings that were talked about: they are taken up, and stay until they are cleared.

    Raises
    ------
    Refusal : nothing said, an unknown outcome, a next day that is past or far away, or findings "answered" though
        nobody was spoken with.
    """
    said = said.strip()
    today = now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).date()
    answered = list(answered)
    problems = []
    if reached not in Reached.values:
        problems.append(Problem("reached", f"How did it end? Choose one of {', '.join(Reached.labels)}."))
    if not said:
        problems.append(Problem("said", "What was said or agreed? Write a line."))
    elif len(said) > _LONGEST:
        problems.append(Problem("said", f"{len(said)} characters are too long. Keep it under {_LONGEST}."))
    if next_on is not None and next_on < today:
        problems.append(Problem("next_on", f"{next_on} is past. Choose today or a later day."))
    elif next_on is not None and next_on > today + _FARTHEST:
        problems.append(Problem("next_on", f"{next_on} is more than a year away. Check the year."))
    if answered and reached != Reached.SPOKEN:
        problems.append(Problem("answered", "Nobody was spoken with, so nothing is taken up by it. Untick these."))
    if problems:
        raise Refusal(problems)
    call = PhoneCall.objects.create(
        aircraft=aircraft,
        person=person,
        reached=reached,
        said=said,
        next_on=next_on,
        for_customer=for_customer,
        by=by,
        at=now,
    )
    audit(by=by, act="log_call", subject=call, now=now, detail={"reached": reached, "findings": len(answered)})
    for finding in answered:
        if finding.state == FindingState.OPEN:
            acknowledge(by=by, finding=finding, now=now)
    return call
