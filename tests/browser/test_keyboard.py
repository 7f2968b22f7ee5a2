"""A pilot logs a flight by keyboard alone: each stop shows that it has the focus, in the order of the screen."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from breakin.models import Flight
from tests import factories

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

# The element with the focus: whether it is the wanted one, its ring, and where its row begins and ends on the page.
STOP = """(wanted) => {
  const on = document.activeElement;
  if (on === document.body) return null;
  const seen = [on, on.closest("label")].filter(Boolean);
  const box = seen[seen.length - 1].getBoundingClientRect();
  return {
    what: on.outerHTML.slice(0, 120),
    wanted: on.matches(wanted),
    fixed: Boolean(on.closest(".actions--stick")),
    ring: seen.map((one) => getComputedStyle(one)).some((style) =>
      style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2),
    inside: box.bottom > 0 && box.top < innerHeight && box.width > 0,
    top: box.top + scrollY, bottom: box.bottom + scrollY,
  };
}"""


def tab_to(page: Page, wanted: str) -> None:
    """Tab after Tab until the wanted one has the focus."""
    last = 0.0
    seen: list[str] = []
    for _ in range(80):
        page.keyboard.press("Tab")
        stop = page.evaluate(STOP, wanted)
        assert stop is not None, f"the page ended before {wanted}: {seen}"
        assert stop["ring"], f"no ring: {stop['what']}"
        assert stop["inside"], f"out of sight: {stop['what']}"
        if not stop["fixed"]:  # what sticks to the screen has no place on the page
            assert stop["bottom"] > last, f"goes back up the screen: {stop['what']}"
            last = stop["top"]
        seen.append(stop["what"])
        if stop["wanted"]:
            return
    raise AssertionError(f"never at {wanted}: {seen}")


def choose(page: Page, name: str, value: str) -> None:
    """Into the group with Tab, to the choice with the arrow, as radio buttons are worked."""
    tab_to(page, f"input[name='{name}']")
    wanted = page.locator(f"input[name='{name}'][value='{value}']")
    page.keyboard.press("Space")
    for _ in range(page.locator(f"input[name='{name}']").count()):
        if wanted.is_checked():
            break
        page.keyboard.press("ArrowRight")
        assert page.evaluate(STOP, "input")["ring"]
    assert wanted.is_checked()


@pytest.mark.parametrize("width", [390, 1280])
def test_a_pilot_logs_a_flight_without_a_mouse(browser: Browser, live_server: Any, width: int) -> None:
    shop = factories.cast()
    factories.flown(shop.build_1, 1.0, at=timezone.now() - timedelta(days=2), level_qt=7.0)
    client = Client()
    client.force_login(shop.ada.user)  # type: ignore[arg-type]
    context = browser.new_context(viewport={"width": width, "height": 844}, reduced_motion="reduce")
    context.set_default_timeout(15_000)
    key = client.cookies[settings.SESSION_COOKIE_NAME].value
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": live_server.url}])
    page = context.new_page()
    page.goto(f"{live_server.url}/portal/")

    tab_to(page, ".skip")
    page.keyboard.press("Enter")
    tab_to(page, f"main a[href='/portal/aircraft/{shop.aircraft_1.pk}/log/']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/log/")
    page.wait_for_load_state()
    for name, typed in (("airborne", "66"), ("e0-meter_end", "102.3")):
        tab_to(page, f"input[name='{name}']")
        page.keyboard.type(typed)
    choose(page, "e0-as_on_card", "unknown")
    tab_to(page, "input[name='e0-oil_level']")
    page.keyboard.type("6.75")
    choose(page, "e0-added", "none")
    tab_to(page, "form.log .actions--stick button")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_contain_text("Received by the shop")
    newest = Flight.objects.order_by("pk").last()
    assert newest is not None
    assert newest.airborne_min == 66
    context.close()
