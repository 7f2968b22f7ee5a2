"""A pilot's phone without network: what is typed and sent is kept on it, and reaches the shop once.

The browser talks to a live server through a line that the tests cut and mend.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect

from breakin.models import Flight
from shop.models import Person
from tests import factories
from tests.browser.network import Line
from tests.factories import Cast

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@dataclass
class Ramp:
    """Phones, and the line between them and the shop."""

    shop: Cast
    line: Line
    browser: Browser
    phones: list[BrowserContext] = field(default_factory=list)

    @property
    def site(self) -> str:
        return f"http://127.0.0.1:{self.line.port}"

    @property
    def form(self) -> str:
        return f"{self.site}/portal/aircraft/{self.shop.aircraft_1.pk}/log/"

    def phone(self, **more: Any) -> BrowserContext:
        phone = self.browser.new_context(**PHONE, **more)
        phone.set_default_timeout(15_000)
        self.phones.append(phone)
        return phone

    def sign_in(self, phone: BrowserContext, person: Person) -> str:
        client = Client()
        client.force_login(person.user)  # type: ignore[arg-type]
        key = client.cookies[settings.SESSION_COOKIE_NAME].value
        phone.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": self.site}])
        return key

    def ready(self, person: Person) -> Page:
        """A phone of this person that has opened the first page once, with everything kept that it keeps."""
        phone = self.phone()
        self.sign_in(phone, person)
        page = phone.new_page()
        page.goto(f"{self.site}/portal/")
        kept_by_now(page, f"/portal/aircraft/{self.shop.aircraft_1.pk}/log/")
        return page

    def off(self) -> None:
        self.line.cut()
        for phone in self.phones:
            phone.set_offline(True)

    def on(self) -> None:
        self.line.mend()
        for phone in self.phones:
            phone.set_offline(False)


@pytest.fixture
def ramp(browser: Browser, live_server: Any) -> Iterator[Ramp]:
    now = timezone.now()
    shop = factories.cast()
    factories.flown(shop.build_1, 1.0, at=now - timedelta(days=2), level_qt=7.0)
    line = Line("127.0.0.1", live_server.thread.port)
    made = Ramp(shop, line, browser)
    yield made
    for phone in made.phones:
        phone.close()
    line.cut()


def kept_by_now(page: Page, path: str) -> None:
    there = "async (path) => Boolean(await (await caches.open('pages')).match(path))"
    page.wait_for_function(there, arg=path)


def chip(page: Page, name: str, value: str) -> None:
    page.locator(f"label:has(input[name='{name}'][value='{value}'])").first.tap()


def fill_in(page: Page, **changed: str) -> None:
    typed = {"airborne": "66", "e0-meter_end": "102.3", "e0-oil_level": "6.75", **changed}
    for name, text in typed.items():
        page.fill(f"input[name='{name}']", text)
    chip(page, "e0-as_on_card", "unknown")
    chip(page, "e0-added", "none")


def send(page: Page) -> None:
    page.locator("form.log .actions--stick button").tap()


def panel(page: Page) -> Any:
    return expect(page.locator("[data-outbox-panel]"))


def logged() -> list[Flight]:
    return list(Flight.objects.order_by("pk"))[1:]  # the first one was there before


def test_a_flight_sent_without_network_waits_survives_a_dead_battery_and_is_received_once(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    ramp.off()
    page.get_by_role("link", name="Log a flight").first.tap()
    expect(page.locator("[data-kept-line]")).to_contain_text("No network: this page is as it was on")
    fill_in(page)
    send(page)
    panel(page).to_contain_text("Waiting on this phone since")
    page.close()

    page = ramp.phones[0].new_page()
    page.goto(f"{ramp.site}/")
    panel(page).to_contain_text("Waiting on this phone since")
    assert logged() == []
    ramp.on()
    panel(page).to_contain_text(re.compile(r"Received by the shop \d\d:\d\d"))
    [flight] = logged()
    assert flight.airborne_min == 66
    assert flight.written_at is not None
    assert flight.written_at < flight.received_at
    page.reload()
    panel(page).to_contain_text("Received by the shop")
    assert len(logged()) == 1
