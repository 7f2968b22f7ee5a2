"""A manager lets a due item stand undone, with a reason that stays on record."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.assess import no_longer_asked
from breakin.counts import Steps
from breakin.models import DueItem, DueState
from breakin.services.common import audit, judge, lock_build, need_reason, roles_of
from shop.errors import Refusal
from shop.models import Person, Role

_OPEN = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)


@transaction.atomic
def waive_due(*, by: Person, due_item: DueItem, reason: str, now: datetime) -> DueItem:
    """The item is asked for no more, though nothing closed it.

    Raises
    ------
    Refusal : "forbidden" for anybody but the manager; no reason; "conflict" when it is closed already.
    """
    if Role.MANAGER not in roles_of(by, now):
        raise Refusal.of("", "A due item is waived by the shop manager.", "forbidden")
    reason = need_reason(reason, "A waiver")
    build = lock_build(due_item.build)
    item = DueItem.objects.select_for_update().get(pk=due_item.pk)
    if item.state not in _OPEN:
        raise Refusal.of("", f"“{item.title}” is {item.get_state_display()} already. Load the page again.", "conflict")
    before, steps = item.state, Steps()
    item.state, item.escalation, item.closed_at = DueState.WAIVED, "", now
    item.waived_by, item.waived_reason = by, reason
    item.save(update_fields=["state", "escalation", "closed_at", "waived_by", "waived_reason"])
    audit(by=by, act="waive_due", subject=item, now=now, detail={"reason": reason, "rule": item.rule})
    steps.due_moved(item, before)
    judge([build], now, steps)
    no_longer_asked(build)
    return item
