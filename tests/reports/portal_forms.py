"""What a pilot sends, as the browser would: the fields of the portal's forms with ordinary answers in them."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

from django.http import HttpResponse

from tests.factories import NOW

AN_HOUR_LATER = NOW + timedelta(hours=1)


def log_address(aircraft: Any) -> str:
    return f"/portal/aircraft/{aircraft.pk}/log/"


def oil_address(build: Any) -> str:
    return f"/portal/engines/{build.engine_id}/oil/"


def value_of(page: HttpResponse, name: str) -> str:
    """What stands in a text field of the page."""
    field = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', page.content.decode())
    assert field, f"no field {name}"
    value = re.search(r'value="([^"]*)"', field[0])
    return value[1] if value else ""


def chosen(page: HttpResponse, name: str) -> list[str]:
    """The chips that are set under this name."""
    chips = re.findall(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', page.content.decode())
    return [re.search(r'value="([^"]*)"', chip)[1] for chip in chips if " checked" in chip]  # type: ignore[index]


def error_at(page: HttpResponse, name: str) -> str:
    """The text of the errors at a field; "" when there are none."""
    text = page.content.decode()
    found = re.search(rf'<ul class="errors" id="id_{re.escape(name)}_error">(.*?)</ul>', text, re.DOTALL)
    return unescape(re.sub(r"<[^>]+>|\s+", " ", found[1])).strip() if found else ""


def a_flight(page: HttpResponse, **changed: Any) -> dict[str, Any]:
    """An ordinary flight for the form on this page; None takes a field out."""
    usual: dict[str, Any] = {
        "client_id": value_of(page, "client_id"),
        "new_client_id": value_of(page, "new_client_id"),
        "airborne": "66",
        "persons_aboard": "1",
        "local_date": value_of(page, "local_date"),
        "local_time": value_of(page, "local_time"),
        "e0-blocks": "2",
        "e0-meter_end": "101.1",
        "e0-as_on_card": "unknown",
        "e0-takeoff_ff": "16.0",
        "e0-takeoff_ff_unit": "gal/h",
        "e0-cht_max": "405",
        "e0-cht_max_unit": "degF",
        "e0-cht_falling": "yes",
        "e0-oil_level": "6.5",
        "e0-oil_level_unit": "qt",
        "e0-minutes_since": "10-30",
        "e0-protocol": "good",
        "e0-added": "none",
        "e0-belly": "none",
        "chips": ["none"],
    }
    sent = {**usual, **{name.replace("e0_", "e0-", 1): value for name, value in changed.items()}}
    return {name: value for name, value in sent.items() if value is not None}
