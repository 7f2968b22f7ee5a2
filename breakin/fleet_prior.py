"""Which prior of oil loss holds for a build: the adopted one while it is open; once it has ended, that of its end.

An adoption reaches open builds only. A build that has ended keeps the prior that was in force when its end was written
down, so that nobody's settled judgement moves afterwards; one that is opened again takes the newest.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache

from django.db.models import Max

from breakin.calc.oil.learn import prior_from_numbers
from breakin.calc.oil.prior import BUILT_IN, Prior
from breakin.models import PriorAdoption, PriorProposal
from engines.models import Build, BuildEvent, BuildEventKind, BuildState

ENDS = (BuildEventKind.CLOSED_OUT, BuildEventKind.CLOSED_INCOMPLETE, BuildEventKind.SUPERSEDED)
_KEPT = ("proposal__name", "proposal__numbers")


def in_force() -> Prior:
    """The prior that holds for open builds."""
    newest = PriorAdoption.objects.values_list(*_KEPT).first()
    return BUILT_IN if newest is None else _prior(*newest)


def priors_by_build(builds: Iterable[Build]) -> dict[int, Prior]:
    """The prior of each of these builds, by its id: two queries however many there are."""
    rows = list(builds)
    adopted = [
        (at, _prior(*kept)) for at, *kept in PriorAdoption.objects.order_by("at", "id").values_list("at", *_KEPT)
    ]
    if not adopted:
        return {build.pk: BUILT_IN for build in rows}
    ends = _ends([build.pk for build in rows if build.state != BuildState.OPEN])
    found: dict[int, Prior] = {}
    for build in rows:
        until = ends.get(build.pk, build.closed_at) if build.state != BuildState.OPEN else None
        held = [prior for at, prior in adopted if until is None or at <= until]
        found[build.pk] = held[-1] if held else BUILT_IN
    return found


def prior_of_proposal(proposal: PriorProposal) -> Prior:
    """The prior that a proposal holds."""
    return prior_from_numbers(proposal.numbers, proposal.name)


def _ends(build_ids: list[int]) -> dict[int, datetime]:
    """When the shop wrote down the last end of each build."""
    events = BuildEvent.objects.filter(build__in=build_ids, kind__in=ENDS).order_by()
    return {row["build_id"]: row["last"] for row in events.values("build_id").annotate(last=Max("recorded_at"))}


def _prior(name: str | None, numbers: dict[str, dict[str, float]] | None) -> Prior:
    return BUILT_IN if name is None else _read(name, json.dumps(numbers, sort_keys=True))


@lru_cache(maxsize=64)
def _read(name: str, numbers: str) -> Prior:
    """One object for one text: the estimate keeps what it has prepared for a prior as long as the object lives."""
    return prior_from_numbers(json.loads(numbers), name)
