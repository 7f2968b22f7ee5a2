"""Adopt what the shop's fleet proposes, or go back to the built-in prior: for open builds only, and with a reason."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.models import Assessment, PriorAdoption, PriorProposal
from breakin.services.common import audit, need_reason, queue_assess, roles_of
from engines.models import BuildState
from shop.errors import Refusal
from shop.models import Person, Role

_LONGEST_REASON = 400
# So many are judged by tasks of their own; the minutely run works off the rest.
_AT_ONCE = 200


@transaction.atomic
def adopt(*, by: Person, proposal: PriorProposal | None, reason: str, now: datetime) -> PriorAdoption:
    """Take a proposal into use for the open builds, or with None the built-in prior again.

    Open builds are judged anew. Builds that have ended keep the prior they ended with.

    Raises
    ------
    Refusal : "forbidden" when the person is no manager; no reason, or a long one; "conflict" when it holds already.
    """
    if Role.MANAGER not in roles_of(by, now):
        raise Refusal.of("", "A prior is adopted by a manager only. Ask one.", "forbidden")
    reason = need_reason(reason, "Adopting a prior")
    if len(reason) > _LONGEST_REASON:
        raise Refusal.of("reason", f"{len(reason)} characters are too long. Keep it under {_LONGEST_REASON}.")
    newest = PriorAdoption.objects.select_related("proposal").first()
    if (newest.proposal if newest else None) == proposal:
        raise Refusal.of("", "This prior is in force already. Load the page again.", "conflict")
    adoption = PriorAdoption.objects.create(proposal=proposal, by=by, at=now, reason=reason)
    audit(by=by, act="adopt_prior", subject=adoption, now=now, detail={"prior": str(adoption), "reason": reason})
    _judge_open_builds(now)
    return adoption


def _judge_open_builds(now: datetime) -> None:
    """Have the open builds judged. Rows are locked in the order of the judgement, so that neither waits in a circle."""
    mine = Assessment.objects.filter(build__state=BuildState.OPEN)
    ids = list(mine.select_for_update(of=("self",)).order_by("build_id").values_list("build_id", flat=True))
    mine.filter(build__in=ids).update(dirty_at=now)
    queue_assess(ids[:_AT_ONCE])
