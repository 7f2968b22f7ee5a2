"""The main job in a browser, against the whole running program with its worker and its schedule, on a small demo.

A pilot logs a flight on a phone, the manager sees the board change, the technician is asked for the oil check that is
missing and completes it. The tests come in this order and work on one program.
"""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, expect

from reports.demo.people import SHOP_ZONE
from tests.shop.commands import place
from tests.shop.test_serve import descendants, free_port, wait_for

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
AIRCRAFT = ("QX-101", "QX-110", "QX-121")  # the owner's two, and one that stands


class Site:
    """A running demo: its address, and a signed-in page for each of its logins."""

    def __init__(self, address: str, logins: Path, browser: Browser) -> None:
        self.address, self.browser = address, browser
        self.logins = {row["role"]: row for row in json.loads(logins.read_text())}

    def page(self, role: str, viewport: dict[str, int]) -> Page:
        page = self.browser.new_context(viewport=viewport, has_touch=viewport is PHONE).new_page()  # type: ignore[arg-type]
        page.goto(f"{self.address}/accounts/login/")
        page.fill("input[name=login]", self.logins[role]["email"])
        page.fill("input[name=password]", self.logins[role]["password"])
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_url(lambda url: "/accounts/login" not in url)
        return page


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None, browser: Browser) -> Iterator[Site]:
    with place(tmp_path_factory.mktemp("browser") / "data") as here:
        port = free_port()
        here.environment |= {"PORT": str(port), "DEMO_MODE": "1"}
        here.migrate()
        here.run("createcachetable")
        here.run("demo", "--quiet", "--aircraft", *AIRCRAFT)
        with (here.data_dir.parent / "serve.log").open("wb") as log:
            process = here.start("serve", stdout=log, stderr=log, start_new_session=True)
        try:
            address = f"http://127.0.0.1:{port}"
            wait_for(lambda: len(descendants(process.pid)) >= 9)
            yield Site(address, here.data_dir / "demo-logins.json", browser)
        finally:
            for pid in [process.pid, *descendants(process.pid)]:
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            process.wait()


def _chip(page: Page, name: str, value: str) -> None:
    page.locator(f"label:has(input[name='{name}'][value='{value}'])").first.click()


def _until(page: Page, seen: Callable[[], bool], seconds: float = 150) -> None:
    """Look again until the worker or the schedule has done its part."""
    end = time.monotonic() + seconds
    while not seen():
        assert time.monotonic() < end, f"not seen on {page.url}:\n{page.locator('main').inner_text()[:2000]}"
        time.sleep(1)
        page.reload()


def _set_time(page: Page, days_ago: int, clock: str) -> None:
    page.locator("summary", has_text="More").click()
    day = datetime.now(UTC).astimezone(ZoneInfo(SHOP_ZONE)).date() - timedelta(days=days_ago)
    page.fill("input[name=local_date]", day.isoformat())
    page.fill("input[name=local_time]", clock)


def _row(page: Page, words: str) -> str:
    return page.locator("tr", has_text=words).first.inner_text()


def test_a_pilot_logs_a_flight_on_a_phone_in_few_touches(site: Site) -> None:
    page = site.page("owner", PHONE)
    page.locator("main").get_by_role("link", name="Log a flight").first.click()
    touches = 0
    for name, typed in (
        ("airborne", "72"),
        ("e0-meter_end", "426.7"),
        ("e0-takeoff_ff", "15.9"),
        ("e0-cht_max", "382"),
        ("e0-oil_level", "5.75"),
    ):
        page.fill(f"input[name={name}]", typed)
    for name, value in (
        ("e0-as_on_card", "yes"),
        ("e0-cht_falling", "yes"),
        ("e0-minutes_since", "10-30"),
        ("e0-protocol", "good"),
        ("e0-added", "none"),
        ("e0-belly", "none"),
        ("chips", "none"),
    ):
        _chip(page, name, value)
        touches += 1
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    _set_time(page, 1, "16:00")
    page.get_by_role("button", name="Send to the shop").click()
    touches += 1

    expect(page.locator("main")).to_contain_text("eceived by the shop")
    assert touches <= 12


def test_the_manager_sees_the_board_change(site: Site) -> None:
    page = site.page("shop manager", DESK)

    assert "/board/" in page.url
    _until(page, lambda: "14.7" in _row(page, "E-2101"))
    expect(page.locator("main")).to_contain_text("Stopped")


def test_a_stop_is_shown_to_the_pilot_at_once_and_heads_the_board(site: Site) -> None:
    page = site.page("owner", PHONE)
    page.locator("main").get_by_role("link", name="Log a flight").first.click()
    page.fill("input[name=airborne]", "30")
    page.fill("input[name=e0-meter_end]", "427.2")
    page.fill("input[name=e0-takeoff_ff]", "13.0")
    _chip(page, "e0-as_on_card", "unknown")
    _set_time(page, 1, "18:30")
    page.get_by_role("button", name="Send to the shop").click()
    expect(page.locator("main")).to_contain_text("Full-throttle fuel flow")
    expect(page.locator("main")).to_contain_text("until a technician has cleared")

    board = site.page("shop manager", DESK)
    assert "Full-throttle fuel flow" in _row(board, "E-2101")


def test_the_technician_is_asked_for_the_missing_reading_and_completes_it(site: Site) -> None:
    # The flight before had no reading, and neither has this one: now the technician is asked.
    pilot = site.page("owner", PHONE)
    pilot.locator("main").get_by_role("link", name="Log a flight").first.click()
    pilot.fill("input[name=airborne]", "30")
    pilot.fill("input[name=e0-meter_end]", "427.7")
    _chip(pilot, "e0-as_on_card", "unknown")
    _set_time(pilot, 1, "20:00")
    pilot.get_by_role("button", name="Send to the shop").click()
    expect(pilot.locator("main")).to_contain_text("eceived by the shop")

    page = site.page("line technician", DESK)
    assert "/today/" in page.url
    asked = page.locator(".todo", has_text="E-2101").locator("li[id^='due-']", has_text="Oil reading")
    _until(page, lambda: asked.count() > 0)

    notices = site.page("line technician", DESK)
    notices.goto(f"{site.address}/notices/")
    _until(notices, lambda: "Pell" in notices.locator("main").inner_text() and "QX-101" in notices.content())

    asked.first.get_by_role("link", name="Complete it").click()
    form = asked.first.locator("form")
    form.get_by_role("textbox", name="Oil level on the stick").fill("5.75")
    form.locator("label", has_text="10 to 30 min").click()
    for question in ("Standing on level ground", "Stick wiped and read twice"):
        form.get_by_role("group", name=question).locator("label", has_text="yes").click()
    form.get_by_role("button", name="Enter the check").click()
    expect(asked.first).not_to_contain_text("Enter the check")
    page.reload()
    _until(page, lambda: asked.count() == 0)
