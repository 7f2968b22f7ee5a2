"""Rows of the fleet board made straight, for tests of how the board reads them. Their judgement is not the matter."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db.models import Count

from breakin.models import Assessment, Lane, LaneCount, Phase
from engines.models import Aircraft, Build, Engine, Installation, Position
from shop.models import Customer
from tests import factories


def row(
    registration: str,
    *,
    lane: Lane = Lane.RUNNING,
    side: str = "",
    serial: str = "",
    customer: Customer | None = None,
    aircraft: Aircraft | None = None,
    **more: Any,
) -> Assessment:
    """One engine with its build and its assessment."""
    revision = factories.type_revision()
    serial = serial or f"L-{registration}{side[:1]}"
    engine = Engine.objects.create(engine_type=revision.engine_type, serial=serial)
    if aircraft is None and registration:
        aircraft = Aircraft.objects.filter(registration=registration).first() or factories.aircraft(
            registration, customer
        )
    seat = None
    if aircraft is not None:
        position = {"LEFT": Position.LEFT, "RIGHT": Position.RIGHT}.get(side, Position.SINGLE)
        since = factories.NOW - timedelta(days=30)
        seat = Installation.objects.create(
            engine=engine, aircraft=aircraft, position=position, since=since, min_oil_qt=4
        )
    opened = factories.NOW - timedelta(days=40)
    build = Build.objects.create(
        engine=engine, number=f"R-{serial}", kind="overhaul", type_revision=revision, opened_at=opened
    )
    values: dict[str, Any] = {
        "phase": Phase.SETTLING,
        "twin": bool(side),
        "customer_name": customer.name if customer else "",
        "place_name": aircraft.home.name if aircraft else "",
        "type_name": "TAV-4E",
        "build_kind": "overhaul",
        "finish": "nitrided",
        "computed_at": factories.NOW,
        "sort_key": f"{int(lane)}|{registration or '~'}|{side}|{serial}",
        **more,
    }
    return Assessment.objects.create(
        build=build,
        engine=engine,
        aircraft=aircraft,
        installation=seat,
        lane=lane,
        registration=registration,
        side=side,
        serial=serial,
        **values,
    )


def count_lanes() -> None:
    """Bring the small table of lane counts in line with the rows."""
    found = dict(Assessment.objects.filter(live=True).values_list("lane").annotate(n=Count("id")))
    for lane in Lane:
        LaneCount.objects.update_or_create(lane=lane, defaults={"builds": found.get(lane, 0)})
