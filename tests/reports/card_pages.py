"""Aircraft with power charts for the tests of the next-flight card, and what a page of it was made from."""

from __future__ import annotations

import json
from typing import Any

from django.test import Client

from breakin import assess
from engines.models import Aircraft, EngineTypeRevision
from reports.pilot.card_content import CardContent
from tests import factories
from tests.calc.test_charts import FOLDER
from tests.factories import NOW, Cast

# What the teaching types have beside the cast's own type.
TYPES: dict[str, dict[str, Any]] = {
    "TAV-4E": {},
    "TAV-4C": {"rated_hp": 160, "prop_control": "fixed", "fuel_system": "carburettor", "takeoff_ff_low_gph": None,
               "takeoff_ff_high_gph": None, "fuel_flow_compensates": None},
    "VRN-6T": {"rated_hp": 310, "induction": "turbocharged", "altitude_cap_ft": 8000.0, "tit_limit_degf": 1650.0,
               "cht_limit_degf": 460, "fuel_flow_compensates": False, "max_map_inhg": 37.0, "takeoff_ff_low_gph": 32.5,
               "takeoff_ff_high_gph": 35.5},
}  # fmt: skip


def charted_type(name: str) -> EngineTypeRevision:
    chart = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return factories.type_revision(f"{name} with chart", chart=chart, **TYPES[name])


def charted_aircraft(shop: Cast, name: str = "TAV-4E", registration: str = "QX-903", **seat: Any) -> Aircraft:
    """An aircraft of Ada's with an engine of a type that has its power chart."""
    into = factories.aircraft(registration, shop.ada_customer)
    add_engine(shop, into, name, **seat)
    return into


def add_engine(shop: Cast, into: Aircraft, name: str = "TAV-4E", *, in_break_in: bool = True, **seat: Any) -> None:
    of = factories.engine(charted_type(name))
    if in_break_in:
        template = {"TAV-4C": "Fixed pitch", "VRN-6T": "Turbocharged"}.get(name, "Through-hardened steel")
        build = factories.build(of, by=shop.cora, number=f"B-{of.serial}", template=template)
    factories.seat(of, into, by=shop.tom, **seat)
    if in_break_in:
        assess.assess_build(build.pk, NOW)


def address(aircraft: Aircraft) -> str:
    return f"/portal/aircraft/{aircraft.pk}/card/"


def card_of(client: Client, aircraft: Aircraft, **typed: str) -> CardContent:
    """What the page was made from."""
    answer = client.get(address(aircraft), typed)
    assert answer.status_code == 200
    content = answer.context["card"].content
    assert isinstance(content, CardContent)
    return content


def use(client: Client, aircraft: Aircraft, **typed: str) -> int:
    """ "Use this card" for what was typed; the status of the answer."""
    return client.post(address(aircraft), typed).status_code
