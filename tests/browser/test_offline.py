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
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from breakin.models import Flight, OilEvent
from shop.models import Person
from tests import factories
from tests.browser.network import Line
from tests.factories import Cast

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

expect.set_options(timeout=15_000)
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


# The answer to an entry that was changed while it was on its way says nothing of what it was changed to.
LATE_ANSWER = """async () => {
  const first = { user: "0", id: "late", writtenAt: "2026", stamp: "old", fields: [["airborne", "66"]] };
  await outbox.put(first);
  await outbox.put({ ...first, stamp: "new" });
  await outbox.mark(first, { state: "received" });
  const now = await outbox.get("0", "late");
  await outbox.remove("0", "late");
  return [now.stamp, now.state, now.fields.length];
}"""


def kept_by_now(page: Page, path: str) -> None:
    page.evaluate(
        """async (path) => {
          for (let tries = 0; !(await (await caches.open("pages")).match(path)); tries += 1) {
            if (tries > 500) throw new Error(`${path} was not kept`);
            await new Promise((next) => setTimeout(next, 30));
          }
        }""",
        path,
    )


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
    page.locator("main").get_by_role("link", name="Log a flight").first.tap()
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
    expect(page.locator("[data-kept-line]")).to_be_hidden()  # with a network the page is the shop's newest
    assert len(logged()) == 1


def test_an_answer_that_got_lost_makes_no_second_flight(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    page.goto(ramp.form)
    fill_in(page)
    ramp.line.lose_answers = True
    send(page)
    panel(page).to_contain_text("Waiting on this phone since")
    page.close()
    ramp.line.lose_answers = False
    # Since then the meter, the card and the oil that the form is compared with are those after this flight.
    page = ramp.phones[0].new_page()
    page.goto(f"{ramp.site}/portal/")
    panel(page).to_contain_text("Received by the shop")
    assert len(logged()) == 1


def test_two_taps_and_two_tabs_make_one_flight_and_two_phones_one_that_counts(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    page.goto(ramp.form)
    tab = ramp.phones[0].new_page()
    tab.goto(ramp.form)
    for each in (page, tab):
        fill_in(each)
    # The same form, though a minute may have passed between the two.
    clock = page.locator("input[name='local_time']")
    tab.locator("input[name='local_time']").evaluate("(field, at) => { field.value = at; }", clock.input_value())
    page.locator("form.log .actions--stick button").dblclick()
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    send(tab)
    expect(tab.locator("h1")).to_contain_text("Received by the shop")
    assert len(logged()) == 1

    second = ramp.ready(ramp.shop.ada)
    second.goto(ramp.form)
    fill_in(second)
    send(second)
    expect(second.locator("h1")).to_contain_text("Received by the shop")
    second.goto(f"{ramp.site}/portal/")
    panel(second).to_contain_text("possible duplicate")
    assert second.evaluate(LATE_ANSWER) == ["new", "waiting", 1]


def test_a_tab_killed_in_the_middle_loses_nothing_even_without_network(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    ramp.off()
    page.goto(ramp.form)
    page.fill("input[name='airborne']", "48")
    page.fill("textarea[name='note']", "smoke on the first climb")
    page.evaluate(
        """async () => {
          const pause = () => new Promise((next) => setTimeout(next, 30));
          while (!Object.values(localStorage).join().includes("first climb")) await pause();
        }"""
    )
    page.close(run_before_unload=False)

    page = ramp.phones[0].new_page()
    page.goto(ramp.form)
    expect(page.locator("[data-draft-line]")).to_contain_text("kept on this phone")
    expect(page.locator("input[name='airborne']")).to_have_value("48")
    expect(page.locator("textarea[name='note']")).to_have_value("smoke on the first climb")


def test_two_flights_from_one_kept_page_are_two(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    ramp.off()
    for typed in ({}, {"airborne": "30", "e0-meter_end": "102.9"}):
        page.goto(ramp.form)
        fill_in(page, **typed)
        if typed:
            page.locator("summary", has_text="More").tap()
            page.fill("input[name='local_time']", "00:31")
        else:
            page.locator("summary", has_text="More").tap()
            day = (timezone.now() - timedelta(days=1)).date().isoformat()
            page.fill("input[name='local_date']", day)
        send(page)
        panel(page).to_contain_text("Waiting on this phone since")
    ramp.on()
    expect(page.locator("[data-outbox-list] > li", has_text="Received by the shop")).to_have_count(2)
    assert len({flight.client_id for flight in logged()}) == 2


def test_signed_out_by_the_shop_it_waits_for_the_sign_in(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    page.goto(ramp.form)
    fill_in(page)
    Session.objects.all().delete()
    send(page)
    panel(page).to_contain_text("Sign in to send it")
    assert logged() == []
    page.locator("[data-outbox-panel]").get_by_role("link", name="Sign in").tap()
    expect(page.locator("[data-outbox-left]")).to_have_text(re.compile("^1 entry waits on this device"))
    ramp.sign_in(ramp.phones[0], ramp.shop.ada)
    page.goto(f"{ramp.site}/portal/")
    panel(page).to_contain_text("Received by the shop")
    assert len(logged()) == 1


def test_another_user_of_the_phone_neither_sees_nor_sends_what_waits(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    ramp.off()
    page.goto(ramp.form)
    fill_in(page)
    send(page)
    panel(page).to_contain_text("Waiting on this phone since")
    ramp.line.mend()  # but the phone believes that there is no network, and sends nothing
    ramp.phones[0].route("**/api/v1/me/", lambda route: route.abort())
    ramp.phones[0].set_offline(False)
    page.goto(f"{ramp.site}/portal/")
    page.get_by_role("button", name="Sign out").tap()
    expect(page.locator("[data-outbox-left]")).to_have_text(re.compile("^1 entry waits on this device"))
    assert page.evaluate("caches.has('pages')") is False

    ramp.phones[0].unroute_all()
    before = ramp.line.posts
    ramp.sign_in(ramp.phones[0], ramp.shop.ben)
    page.goto(f"{ramp.site}/portal/")
    kept_by_now(page, f"/portal/aircraft/{ramp.shop.aircraft_2.pk}/log/")
    expect(page.locator("[data-outbox-panel]")).to_be_hidden()
    page.evaluate("outbox.flush()")
    assert ramp.line.posts == before, "it is not even offered to the shop under another's name"
    assert logged() == []
    ramp.off()
    page.goto(ramp.form)
    expect(page.locator("h1")).to_have_text("No network")

    ramp.on()
    ramp.sign_in(ramp.phones[0], ramp.shop.ada)
    page.goto(f"{ramp.site}/portal/")
    panel(page).to_contain_text("Received by the shop")
    [flight] = logged()
    assert flight.entered_by == ramp.shop.ada
    # The pages of who was signed in before are gone without his signing out.
    kept_by_now(page, f"/portal/aircraft/{ramp.shop.aircraft_1.pk}/log/")
    others = f"/portal/aircraft/{ramp.shop.aircraft_2.pk}/log/"
    assert page.evaluate("async (path) => Boolean(await (await caches.open('pages')).match(path))", others) is False


def test_a_phone_whose_clock_is_wrong_is_told_so_and_not_believed(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    page.clock.install(time=timezone.now() + timedelta(hours=3))
    page.goto(ramp.form)
    fill_in(page)
    send(page)
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    expect(page.locator("main")).to_contain_text("The clock of the phone is wrong")
    [flight] = logged()
    assert flight.written_at is not None
    assert flight.written_at > flight.received_at


def test_what_the_shop_asks_is_answered_from_the_outbox(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    ramp.off()
    page.goto(ramp.form)
    fill_in(page, **{"e0-oil_level": "4.5"})
    send(page)
    panel(page).to_contain_text("Waiting on this phone since")
    ramp.on()
    panel(page).to_contain_text("The shop asks")
    panel(page).to_contain_text("down since the last reading")
    page.locator("[data-outbox-panel]").get_by_role("button", name="Answer").tap()
    expect(page.locator("input[name='e0-oil_level']")).to_have_value("4.5")
    expect(page.locator("[data-outbox-panel]")).to_be_hidden()
    page.locator("label.sure").tap()
    send(page)
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    page.goto(f"{ramp.site}/portal/")
    panel(page).not_to_contain_text("The shop asks")
    [flight] = logged()
    assert flight.written_at is not None
    assert flight.written_at < flight.received_at - timedelta(milliseconds=200)


def test_an_oil_reading_waits_is_changed_and_outlives_a_gateway_whose_server_is_down(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    oil = f"/portal/engines/{ramp.shop.build_1.engine_id}/oil/"
    kept_by_now(page, oil)
    ramp.off()
    page.goto(ramp.site + oil)
    page.fill("input[name='oil_level']", "6.5")
    page.get_by_role("button", name="Send to the shop").last.tap()
    panel(page).to_contain_text("Waiting on this phone since")
    page.goto(f"{ramp.site}/portal/")  # another page, which the browser cannot fill in again by itself
    page.locator("[data-outbox-panel]").get_by_role("button", name="Change").tap()
    expect(page.locator("input[name='oil_level']")).to_have_value("6.5")
    page.fill("input[name='oil_level']", "6.25")
    page.get_by_role("button", name="Send to the shop").last.tap()
    expect(page.locator("[data-outbox-list] > li", has_text="Waiting on this phone since")).to_have_count(1)
    ramp.line.break_posts = True
    ramp.on()
    while not ramp.line.broken:
        page.wait_for_timeout(50)
    page.wait_for_timeout(200)
    panel(page).to_contain_text("Waiting on this phone since")
    ramp.line.break_posts = False
    page.reload()
    panel(page).to_contain_text("Received by the shop")
    assert [event.level_qt for event in OilEvent.objects.order_by("pk")][1:] == [6.25]


def test_a_normal_flight_takes_twelve_touches_at_most_each_on_a_large_target(ramp: Ramp) -> None:
    page = ramp.ready(ramp.shop.ada)
    page.goto(ramp.form)
    touches = 0

    def touch(target: Locator) -> None:
        nonlocal touches
        touches += 1
        box = target.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44, target
        target.tap()

    for name, digits in (("airborne", "66"), ("e0-meter_end", "102.3"), ("e0-takeoff_ff", "16"), ("e0-cht_max", "398")):
        touch(page.locator(f"input[name='{name}']"))
        page.keyboard.type(digits)
    for name, value in (("e0-as_on_card", "yes"), ("e0-cht_falling", "yes")):
        touch(page.locator(f"label:has(input[name='{name}'][value='{value}'])"))
    touch(page.locator("input[name='e0-oil_level']"))
    page.keyboard.type("6.75")
    for name, value in (("e0-added", "none"), ("e0-belly", "none"), ("chips", "none")):
        touch(page.locator(f"label:has(input[name='{name}'][value='{value}'])"))
    touch(page.locator("form.log .actions--stick button"))
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    assert touches <= 12
    reading = OilEvent.objects.get(level_qt=6.75)
    assert (reading.minutes_since_shutdown, reading.wiped_twice) == (20, True)  # as last time, and said so


def test_without_script_it_is_a_plain_form(ramp: Ramp) -> None:
    phone = ramp.phone(java_script_enabled=False)
    ramp.sign_in(phone, ramp.shop.ada)
    page = phone.new_page()
    page.goto(ramp.form)
    expect(page.locator("[data-outbox-panel]")).to_be_hidden()
    fill_in(page)
    send(page)
    expect(page.locator("h1")).to_contain_text("Received by the shop")
    assert len(logged()) == 1
