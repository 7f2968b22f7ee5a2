"""The flight timer in a browser: what to set, announced in time, and found again after a reload or a sleep.

The page comes from the test client, its files from the static folders; the browser's clock is held by the test.
"""

from __future__ import annotations

import mimetypes
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from breakin.models import IssuedCard, StageKind
from breakin.services.cards import current_card
from tests import factories
from tests.factories import NOW, Cast

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

HOST = "http://book.test"
MINUTE = 60_000
HOUR_2 = [[15.0, "75"], [15.0, "65"], [15.0, "75"], [15.0, "65"]]
MODULE = "/static/reports/timer_schedule.js"


@pytest.fixture
def shop() -> Cast:
    return factories.cast()


@pytest.fixture
def open_timer(browser: Browser, shop: Cast, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Page]]:
    """The timer of Ada's aircraft with this stage on her card."""
    contexts: list[BrowserContext] = []

    def opened(stage: str, minutes: list[list[Any]], **more: Any) -> Page:
        card = current_card(by=shop.ada, build=shop.build_1, now=NOW)
        table = IssuedCard(
            build=card.build, plan=card.plan, number=2, stage=stage, minutes=minutes, issued_at=NOW, valid_until=NOW
        )
        monkeypatch.setattr("reports.pilot.timer.hand_out", lambda *_: table)
        client = Client()
        client.force_login(shop.ada.user)  # type: ignore[arg-type]
        page_of = client.get(f"/portal/aircraft/{shop.aircraft_1.pk}/timer/")
        assert page_of.status_code == 200
        policy = page_of.headers["Content-Security-Policy"]

        def answer(route: Route) -> None:
            path = urlsplit(route.request.url).path
            found = finders.find(path.removeprefix("/static/")) if path.startswith("/static/") else None
            if path.endswith("/timer/"):
                kind = "text/html; charset=utf-8"
                route.fulfill(body=page_of.content, content_type=kind, headers={"Content-Security-Policy": policy})
            elif isinstance(found, str):
                kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
                route.fulfill(body=Path(found).read_bytes(), content_type=kind)
            else:
                route.fulfill(status=404, body="")

        context = browser.new_context(viewport={"width": 390, "height": 844}, **more)
        contexts.append(context)
        context.route("**/*", answer)
        page = context.new_page()
        page.clock.install(time=NOW - timedelta(minutes=1))
        page.clock.pause_at(NOW)
        page.goto(f"{HOST}/portal/aircraft/{shop.aircraft_1.pk}/timer/")
        return page

    yield opened
    for context in contexts:
        context.close()


def tap(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def said(page: Page) -> Any:
    return expect(page.locator("[data-said]"))


def left(page: Page) -> Any:
    return expect(page.get_by_role("timer"))


def test_a_change_is_announced_a_minute_and_ten_seconds_ahead_and_when_it_comes(
    open_timer: Callable[..., Page],
) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    tap(page, "Start")
    said(page).to_have_text("Now: 75 % power, for 15 minutes.")
    page.clock.run_for(13 * MINUTE + 58_000)
    said(page).to_have_text("Now: 75 % power, for 15 minutes.")
    page.clock.run_for(2_500)
    said(page).to_have_text("In 1 minute: 65 % power. Change the power slowly.")
    left(page).to_have_text("1:00")
    page.clock.run_for(50_000)
    said(page).to_have_text("In 10 seconds: 65 % power. Change the power slowly.")
    page.clock.run_for(10_000)
    said(page).to_have_text("Now: 65 % power, for 15 minutes.")
    expect(page.locator("[data-set]")).to_have_text("65 % power")
    expect(page.locator("[data-next]")).to_have_text("Then 75 % power")


def test_a_reload_in_the_middle_of_a_block_goes_on_where_the_time_is(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    tap(page, "Start")
    page.clock.run_for(20 * MINUTE)
    page.reload()
    page.clock.run_for(MINUTE)
    expect(page.locator("[data-set]")).to_have_text("65 % power")
    left(page).to_have_text("9:00")
    expect(page.locator("[data-clock]")).to_be_hidden()
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_hidden()


def test_a_pause_does_not_count_and_only_a_paused_timer_goes_back_to_the_start(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    tap(page, "Start")
    page.clock.run_for(5 * MINUTE)
    expect(page.get_by_role("button", name="Back to start")).to_be_hidden()
    tap(page, "Pause")
    page.clock.run_for(7 * MINUTE)
    page.reload()
    left(page).to_have_text("10:00")
    tap(page, "Go on")
    page.clock.run_for(MINUTE)
    left(page).to_have_text("9:00")
    tap(page, "Pause")
    tap(page, "Back to start")
    left(page).to_have_text("15:00")
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_focused()


def test_a_table_of_one_stage_ends_and_alternating_begins_again(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_1, [[60.0, "75"]])
    left(page).to_have_text("1:00:00")
    expect(page.get_by_text("go by a watch")).to_have_count(0)
    tap(page, "Start")
    page.clock.fast_forward(60 * MINUTE)
    said(page).to_have_text("The minutes of the table are over.")

    page = open_timer(StageKind.ALTERNATING, [[30.0, "75"], [30.0, "65"]])
    tap(page, "Start")
    page.clock.fast_forward(61 * MINUTE)
    expect(page.locator("[data-set]")).to_have_text("75 % power")
    left(page).to_have_text("29:00")


def test_a_clock_that_is_set_moves_nothing_and_is_said(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    tap(page, "Start")
    page.clock.run_for(2 * MINUTE)
    page.evaluate("const now = Date.now; Date.now = () => now() - 3_600_000")
    page.clock.run_for(MINUTE)
    expect(page.locator("[data-clock]")).to_have_text(
        "The phone's clock was set back by 1 hour. The timer was not moved by it."
    )
    left(page).to_have_text("12:00")


def test_the_steady_clock_that_stops_in_sleep_is_no_change_of_the_clock(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    moved = page.evaluate(
        f"""async () => {{
          const {{ clockMoved }} = await import("{MODULE}");
          const was = {{ wall: 0, steady: 0 }};
          return [
            clockMoved(was, {{ wall: 900000, steady: 250 }}, true).kind,
            clockMoved(was, {{ wall: 900000, steady: 250 }}, false).kind,
            clockMoved(was, {{ wall: 900000, steady: 899000 }}, true).kind,
            clockMoved(was, {{ wall: -900000, steady: 250 }}, true).kind,
          ];
        }}"""
    )
    assert moved == ["slept", "set", "steady", "set"]


def test_what_a_sleep_overtook_is_not_announced_late(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    events = page.evaluate(
        f"""async () => {{
          const {{ due }} = await import("{MODULE}");
          const table = {{ steps: [[15, "a"], [1, "b"], [5, "c"]], repeats: false }};
          const at = (before, now) => due(table, before * 60000, now * 60000);
          return [at(1, 13.9), at(13.9, 14), at(14, 14.9), at(1, 15), at(1, 20), at(15, 15.5), at(1, 21), at(21, 22)];
        }}"""
    )
    assert events == [None, 60_000, 10_000, "change", "change", None, "end", None]


def test_the_page_goes_on_without_network_and_says_what_the_browser_cannot_do(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2)
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.on("requestfailed", lambda asked: problems.append(asked.url))
    page.context.set_offline(True)
    tap(page, "Sound check")
    tap(page, "Start")
    page.clock.run_for(16 * MINUTE)
    said(page).to_have_text("Now: 65 % power, for 15 minutes.")
    # This address is not a secure one, so that the browser offers no lock.
    expect(page.locator("[data-awake]")).to_contain_text("This browser cannot keep the screen on.")
    assert problems == []


def test_without_script_the_minute_table_stands_there(open_timer: Callable[..., Page]) -> None:
    page = open_timer(StageKind.HOUR_2, HOUR_2, java_script_enabled=False)
    expect(page.locator("[data-timer]")).to_be_hidden()
    expect(page.locator(".minutes tbody tr")).to_have_count(4)
    expect(page.get_by_text("go by a watch")).to_be_visible()


@pytest.mark.parametrize("width", [320, 390])
def test_it_fits_a_small_phone_in_the_longest_block(open_timer: Callable[..., Page], width: int) -> None:
    page = open_timer(StageKind.HOUR_1, [[60.0, "75"]])
    page.set_viewport_size({"width": width, "height": 700})
    tap(page, "Start")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
