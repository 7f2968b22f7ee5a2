"""Who holds an aircraft: a sale with its cut-off, and its new home."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.services.common import audit, judge, live_builds, lock_aircraft, need_reason
from engines.models import Aircraft, Holding, Installation, PilotAssignment
from shop.errors import Problem, Refusal
from shop.models import Customer, Person, Place


@transaction.atomic
def transfer(
    *,
    by: Person,
    aircraft: Aircraft,
    customer: Customer,
    at: datetime,
    reason: str,
    end_assignments: bool = True,
    home: Place | None = None,
    now: datetime,
) -> Holding:
    """An aircraft changes hands at a moment. History stays with engine and aircraft; who sees what goes by the moment.

    The old holder keeps sight of what happened until then, the new one sees the technical facts before it without
    persons, words or photos. Messages about what is still due go to the new holder.

    Parameters
    ----------
    end_assignments : pilots assigned to the aircraft are no longer, from that moment on.
    home : its new home field, where it has another one. It holds from now on; flights in the book keep their fields.

    Raises
    ------
    Refusal : in the future, before the present holding began, to the holder it has, or without a reason.
    """
    aircraft = lock_aircraft(aircraft)
    reason = need_reason(reason, "A change of holder")
    held = Holding.objects.select_for_update().filter(aircraft=aircraft, until__isnull=True).first()
    problems = []
    if at > now:
        problems.append(Problem("at", f"{at:%Y-%m-%d %H:%M} UTC lies in the future. Enter it when it has happened."))
    if held is not None and held.customer_id == customer.pk:
        problems.append(Problem("customer", f"{customer.name} holds {aircraft.registration} already. Choose another."))
    earlier = Holding.objects.filter(aircraft=aircraft, until__gt=at).order_by("-until").first()
    if held is not None and at <= held.since:
        problems.append(
            Problem(
                "at", f"{held.customer.name} holds it only since {held.since:%Y-%m-%d %H:%M} UTC. Take a later time."
            )
        )
    elif earlier is not None:
        problems.append(
            Problem("at", f"It was held by another until {earlier.until:%Y-%m-%d %H:%M} UTC. Take a later time.")
        )
    if problems:
        raise Refusal(problems)
    if held is not None:
        held.until = at
        held.save(update_fields=["until"])
    ended = 0
    if end_assignments:
        for assignment in PilotAssignment.objects.select_for_update().filter(aircraft=aircraft, until__isnull=True):
            assignment.until = max(at, assignment.since)
            if assignment.until > assignment.since:
                assignment.save(update_fields=["until"])
                ended += 1
    new = Holding.objects.create(aircraft=aircraft, customer=customer, since=at)
    detail = {"from": held.customer_id if held else None, "to": customer.pk, "reason": reason, "pilots ended": ended}
    if home is not None and home.pk != aircraft.home_id:
        detail |= {"home from": aircraft.home_id, "home to": home.pk}
        aircraft.home = home
        aircraft.save(update_fields=["home"])
    audit(by=by, act="transfer", subject=new, now=now, detail=detail)
    seated = Installation.objects.filter(aircraft=aircraft, until__isnull=True).values_list("engine_id", flat=True)
    judge(live_builds(seated), now)
    return new
