"""The delivery of an aircraft with engines before their first hours: keep its plan, one revision after the other."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from breakin.calc.said import Said, said
from breakin.entries.delivery import DeliveryEntry
from breakin.models import DeliveryHour, DeliveryPlan
from breakin.services.common import audit, lock_aircraft
from engines.models import Aircraft, Build, BuildState
from shop.errors import Refusal
from shop.models import Person


@transaction.atomic
def plan_delivery(
    *,
    by: Person,
    aircraft: Aircraft,
    entry: DeliveryEntry,
    pilots: tuple[Person | None, Person | None],
    ferry_pilot: Person | None,
    after: int,
    now: datetime,
) -> DeliveryPlan:
    """Keep the next revision of the delivery plan of an aircraft.

    Parameters
    ----------
    pilots : who flies hour 1 and hour 2; None = not decided.
    after : the revision that was looked at; 0 = there was none.

    Raises
    ------
    Refusal : no engine of the aircraft is in break-in, or somebody has kept another revision meanwhile.
    """
    aircraft = lock_aircraft(aircraft)
    if not in_break_in(aircraft):
        raise Refusal.of("", _nothing_to_plan(aircraft))
    newest = DeliveryPlan.objects.filter(aircraft=aircraft).order_by("-revision").first()
    if (newest.revision if newest else 0) != after:
        raise Refusal.of(
            "",
            said("Somebody has kept another plan since you opened this page. Look at it below, then keep yours again."),
        )
    ferry = entry.ferry
    plan = DeliveryPlan.objects.create(
        aircraft=aircraft,
        revision=after + 1,
        home=entry.home,
        ferried=ferry is not None,
        ferry_min=ferry.minutes if ferry else None,
        ferry_nm=ferry.distance_nm if ferry else None,
        ferry_kt=ferry.ground_speed_kt if ferry else None,
        ferry_altitude_ft=ferry.altitude_ft if ferry else None,
        ferry_after_h=ferry.after_h if ferry else None,
        ferry_pilot=ferry_pilot if ferry else None,
        note=entry.note,
        typed=dict(entry.typed),
        made_at=now,
        made_by=by,
    )
    for number, (hour, pilot) in enumerate(zip(entry.hours, pilots, strict=True), 1):
        DeliveryHour.objects.create(
            plan=plan,
            number=number,
            field=hour.field,
            elevation_ft=hour.elevation_ft,
            oat_degf=hour.oat_degf,
            altitude_ft=hour.altitude_ft,
            pilot=pilot,
        )
    audit(by=by, act="plan_delivery", subject=plan, now=now, detail={"revision": plan.revision})
    return plan


def _nothing_to_plan(aircraft: Aircraft) -> Said:
    return said("No engine of {aircraft} is in break-in, so there is nothing to plan.", aircraft=aircraft.registration)


def in_break_in(aircraft: Aircraft) -> bool:
    """Is an engine that sits in the aircraft in an open build?"""
    return Build.objects.filter(
        state=BuildState.OPEN,
        engine__installations__aircraft=aircraft,
        engine__installations__until__isnull=True,
    ).exists()
