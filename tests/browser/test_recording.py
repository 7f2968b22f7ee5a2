"""A recording from a phone to its verdict, in a browser against the whole running program with its workers.

Sent, asked about its columns, read while the page looks on, looked at closely, logged. The tests come in this order and
work on one program.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect

from tests.shop.commands import place
from tests.shop.test_serve import Program, descendants, free_port, wait_for

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1200, "height": 900}
FILE = Path(__file__).parents[1] / "data" / "recordings" / "two_engines.csv"
READ_WITHIN_MS = 90_000  # two busy processors; it takes about a second
YESTERDAY = (datetime.now(UTC) - timedelta(days=1)).date()

CAST = """
from datetime import timedelta
from django.utils import timezone
from breakin.services.installing import MeterEntry, install
from shop.models import Shop
from tests import factories
now = timezone.now()
home = factories.place()
Shop.objects.create(name="Test shop", place=home, phone="555-0199")
cora = factories.person("Cora", role="manager", since=now - timedelta(days=200))
ada = factories.person("Ada")
plane = factories.aircraft("QX-901", factories.customer("Ada's flying", ada), home=home)
then = now - timedelta(days=30)
for position in ("left", "right"):
    one = factories.engine()
    factories.build(one, by=cora, opened_at=then, now=then)
    install(by=cora, engine=one, aircraft=plane, position=position, since=then, basis_clock="tach", min_oil_qt=4.0,
            meters=[MeterEntry("tach", 100.0)], now=now)
print(plane.pk)
"""


class Site:
    """The running program, the aircraft, and pages of its owner."""

    def __init__(self, program: Program, aircraft: str, browser: Browser) -> None:
        self.address = f"http://127.0.0.1:{program.port}"
        self.list_address = f"{self.address}/portal/aircraft/{aircraft}/recordings/"
        self.browser = browser
        self.complaints: list[str] = []

    def context(self, viewport: dict[str, int], **more: object) -> BrowserContext:
        return self.browser.new_context(viewport=viewport, has_touch=viewport is not DESK, **more)  # type: ignore[arg-type]

    def page(self, viewport: dict[str, int] = PHONE, **more: object) -> Page:
        page = self.context(viewport, **more).new_page()
        page.on("console", lambda said: self.complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(f"{self.address}/accounts/login/")
        page.fill("input[name=login]", "ada@example.org")
        page.fill("input[name=password]", "a good long password")
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_url(lambda url: "/accounts/login" not in url)
        return page

    def shown(self, viewport: dict[str, int] = PHONE, **more: object) -> Page:
        """The page of what the recording shows."""
        page = self.page(viewport, **more)
        page.goto(self.list_address)
        page.get_by_role("link", name="What it shows").click()
        return page


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None, browser: Browser) -> Iterator[Site]:
    with place(tmp_path_factory.mktemp("recording") / "data") as here:
        port = free_port()
        here.environment |= {"PORT": str(port), "DEMO_MODE": "1"}
        here.migrate()
        aircraft = here.python(CAST).splitlines()[-1]
        program = Program(here, port)
        try:
            wait_for(program.health, 240)
            wait_for(lambda: len(descendants(program.process.pid)) >= 9, 120)
            yield Site(program, aircraft, browser)
        finally:
            for pid in [program.process.pid, *descendants(program.process.pid)]:
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            program.process.wait()


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


def filled(page: Page) -> None:
    """Wait until the picture has its lines."""
    page.locator("[data-plot]").first.scroll_into_view_if_needed()
    expect(page.locator("[data-plot-said]")).to_have_text("The whole flight is shown.", timeout=30_000)


def drawn(page: Page) -> int:
    """How many lines have points in them."""
    return int(page.locator("[data-plot] .scatterlayer path.js-line").count())


def test_a_file_is_sent_from_a_phone_and_the_list_looks_on_by_itself_until_it_asks(site: Site) -> None:
    page = site.page()
    page.goto(site.list_address)
    page.set_input_files("input[type=file]", FILE)
    page.get_by_role("button", name="Send to the shop").click()
    expect(page.locator("#messages")).to_contain_text("two_engines.csv was received")
    expect(page.locator(".files li")).to_contain_text("It has questions about its columns", timeout=READ_WITHIN_MS)
    assert fits(page)


def test_the_columns_are_answered_once_and_the_file_is_read_while_the_page_looks_on(site: Site) -> None:
    page = site.page()
    page.goto(site.list_address)
    page.get_by_role("link", name="Answer").click()
    page.get_by_role("button", name="Remember this").click()
    expect(page.locator("[data-summary]")).to_be_focused()  # what is to be mended is said, and read out
    page.locator("input[type=date]").fill(YESTERDAY.isoformat())
    for question in page.locator("section[aria-labelledby=questions] fieldset").all():
        question.locator("label.chip").first.click()  # US gallons an hour, degrees Fahrenheit
    assert fits(page)
    page.get_by_role("button", name="Remember this").click()
    line = page.locator(".files li")
    expect(line).to_contain_text("1 flight; 1 flight is not in the log.", timeout=READ_WITHIN_MS)
    expect(line.locator("progress")).to_have_count(0)


def test_the_page_says_the_verdict_first_and_draws_every_panel(site: Site) -> None:
    page = site.shown()
    expect(page.locator(".verdict").first).to_contain_text("in the air")
    filled(page)
    titles = page.locator("[data-plot] .annotation-text").all_text_contents()
    for panel in ("Power, % of rated", "CHT, left engine", "CHT, right engine", "EGT, left engine", "Fuel flow"):
        assert any(title.startswith(panel) for title in titles), panel
    assert drawn(page) >= 18
    assert fits(page)


def test_a_closer_look_fetches_the_window_and_goes_on_without_the_network(site: Site) -> None:
    page = site.shown(DESK)
    filled(page)
    asked: list[str] = []
    page.on("request", lambda request: _note(asked, request))
    with page.expect_response(lambda answer: "from=" in answer.url):
        page.get_by_role("button", name="Closer").click()
    expect(page.locator("[data-plot-said]")).to_contain_text("Shown from")
    asked.clear()
    with page.expect_response(lambda answer: "from=" in answer.url):
        page.evaluate("for (let time = 0; time < 3; time += 1) document.querySelector('[data-zoom=earlier]').click()")
    assert len(asked) == 1, "three moves in a row are one question"

    page.context.set_offline(True)
    page.get_by_role("button", name="Closer").click()
    expect(page.locator("[data-plot-said]")).to_contain_text("these are the coarser ones")
    assert drawn(page) >= 18
    page.context.set_offline(False)
    site.complaints[:] = [said for said in site.complaints if "ERR_INTERNET_DISCONNECTED" not in said]


def _note(asked: list[str], request: Request) -> None:
    if "/series/" in request.url:
        asked.append(request.url)


def test_the_list_leads_to_the_moment_by_keyboard_and_a_cylinder_is_brought_forward(site: Site) -> None:
    page = site.shown(DESK)
    filled(page)
    page.locator("[data-pin] a").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-plot-said]")).to_contain_text("Shown from")
    page.get_by_role("button", name="2", exact=True).press("Enter")
    expect(page.get_by_role("button", name="2", exact=True)).to_have_attribute("aria-pressed", "true")
    expect(page.locator("[data-plot-said]")).to_contain_text("Cylinder 2 is drawn strong.")
    page.get_by_role("button", name="Whole flight").click()
    expect(page.locator("[data-plot-said]")).to_contain_text("The whole flight is shown.")


def test_on_the_smallest_phone_in_the_dark_nothing_sticks_out_and_a_finger_scrolls_the_page(site: Site) -> None:
    page = site.shown({"width": 320, "height": 640}, color_scheme="dark")
    filled(page)
    assert fits(page)
    box = page.locator("[data-plot] .plot__live")
    assert box.evaluate("element => element._fullLayout.dragmode") is False


def test_without_script_and_on_paper_the_still_picture_and_the_table_are_there(site: Site) -> None:
    page = site.shown(java_script_enabled=False)
    image = page.locator(".plot__still img")
    expect(image).to_be_visible()
    assert page.locator("table", has_text="The time in the air in pieces").count() == 2

    page = site.shown(DESK)
    filled(page)
    page.emulate_media(media="print")
    expect(page.locator(".plot__still img")).to_be_visible()
    expect(page.locator(".plot__live")).to_be_hidden()


def test_a_screen_reader_finds_its_way_on_every_page_of_a_recording(site: Site) -> None:
    page = site.shown(DESK)
    filled(page)
    for where in (page.url, page.url + "columns/", page.url + "flights/1/log/", site.list_address):
        page.goto(where)
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{where}\n{found.generate_report()}"


def test_the_flight_that_nobody_logged_is_logged_from_it(site: Site) -> None:
    page = site.shown()
    page.get_by_role("link", name="Log this flight").click()
    for side in ("LEFT", "RIGHT"):
        page.get_by_role("textbox", name=f"Tach at the end, {side}").fill("101.5")
    page.get_by_role("button", name="Log it").click()
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    page = site.shown()
    expect(page.locator(".match")).to_contain_text("It is the flight that ended")


def test_nothing_was_refused_by_the_policy_and_no_script_broke(site: Site) -> None:
    assert [said for said in site.complaints if "422" not in said] == []
