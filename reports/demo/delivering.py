"""Planning a delivery in the demo, as the shop does before it hands an aircraft over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from breakin.entries.delivery import DeliveryEntry, FerryEntry, HourEntry
from breakin.models import DeliveryPlan
from breakin.services import delivery
from engines.models import Aircraft
from reports.demo import story
from shop.models import Person, Place


def plan_delivery(people: Mapping[str, Person], aircraft: Aircraft, row: story.Delivery, at: datetime) -> DeliveryPlan:
    """The next revision of the plan of an aircraft."""
    place = Place.objects.get(name=row.field)
    hour = HourEntry(place.name, place.elevation_ft, row.altitude_ft, row.oat)
    pilot = people[row.pilot]
    return delivery.plan_delivery(
        by=people[row.by],
        aircraft=aircraft,
        entry=DeliveryEntry(row.home, (hour, hour), FerryEntry(*row.ferry), row.note, {}),
        pilots=(pilot, pilot),
        ferry_pilot=people[row.ferry_pilot],
        after=aircraft.delivery_plans.count(),
        now=at,
    )
