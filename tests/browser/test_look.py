"""The look and its small scripts in a real browser: pages are rendered here, files come from the static folder.

No server and no database: whatever the page asks for is answered from disk, under the policy of the settings.
"""

import mimetypes
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from django.conf import settings
from django.template import engines
from django.test import RequestFactory
from playwright.sync_api import Browser, Page, Route

from shop.forms import BookForm, CheckChips, Chips, Stepper

STATIC = Path(__file__).resolve().parents[2] / "shop" / "static"
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
POLICY = "; ".join(
    f"{name} {' '.join(sources)}" for name, sources in settings.CONTENT_SECURITY_POLICY["DIRECTIVES"].items()
)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium (CHROMIUM)")


class FlightForm(BookForm):
    client_id = forms.CharField(widget=forms.HiddenInput, initial="c0ffee")
    minutes = forms.CharField(label="Airborne", widget=Stepper(unit="min", step="5", low="0", start="60"))
    level = forms.CharField(label="Oil level", widget=Stepper(unit="qt", step="0.25", low="0", high="14"))
    belly = forms.ChoiceField(label="Oil on the belly", choices=[("0", "none"), ("1", "film")], widget=Chips)
    odd = forms.MultipleChoiceField(choices=[("rough", "rough"), ("smoke", "smoke")], widget=CheckChips, required=False)
    words = forms.CharField(label="In your words", widget=forms.Textarea, required=False)


FORM = """{% extends "base_portal.html" %}{% block title %}Log a flight{% endblock %}
{% block heading %}Log a flight{% endblock %}{% block content %}
<form method="post" action="/sent" data-draft="log-7" novalidate>
{% include "parts/draft.html" %}{{ form }}
<div class="actions actions--stick"><button class="button--main" name="as" value="final">Send to the shop</button></div>
</form>{% endblock %}"""
THANKS = """{% extends "base_portal.html" %}{% block head %}<meta name="draft-done" content="log-7">{% endblock %}"""
BOARD = """{% extends "base_shop.html" %}{% load words %}{% block title %}Fleet board{% endblock %}
{% block heading %}Fleet board{% endblock %}{% block search %}{% endblock %}{% block content %}
{% include "parts/facts.html" %}{% include "parts/steps.html" %}
<h2>Findings</h2><ul class="findings">
{% include "parts/finding.html" with severity="stop" title="Low fuel flow" text="Low." why=why %}</ul>
{% include "parts/caution.html" with lines=why %}{% include "parts/empty.html" with say="None, checked 06:10." %}
<div class="scroller" role="region" tabindex="0" aria-labelledby="cap"><table class="ledger ledger--cards ledger--wide">
<caption id="cap">Engines</caption><thead><tr><th scope="col">Aircraft</th><th scope="col">State</th></tr></thead>
<tbody><tr><th scope="row">QX-101</th><td data-label="State">{% word "Call today" %}</td></tr></tbody></table></div>
{% include "parts/plot.html" with id="oil" label="Oil level" caption="Loss 0.11 ± 0.04 qt/h." %}
{% endblock %}"""
FIGURE = {
    "data": [{"x": [0, 1, 2], "y": [10, 9.5, 9.25], "line": {"color": "var(--accent)"}}],
    "layout": {"title": {"text": "Level"}, "shapes": [{"type": "line", "x0": 1, "x1": 1, "y0": 9, "y1": 10}]},
}


def rendered(source: str, **more: Any) -> str:
    request = RequestFactory().get("/")
    request.user = SimpleNamespace(  # type: ignore[assignment]
        is_authenticated=True,
        is_active=True,
        is_superuser=False,
        is_staff=False,
        pk=7,
        person="Ines",
        _staff_roles=set(),
    )
    return engines["django"].from_string(source).render(more, request)


PAGES: dict[str, str] = {}


@pytest.fixture(scope="module", autouse=True)
def _rendered_pages() -> None:
    """Rendered before the browser starts, since Django refuses to work beside a running event loop."""
    steps = [{"name": "First hour", "state": "done"}, {"name": "Alternating", "state": "now", "note": "1.4 h"}]
    PAGES["/form"] = rendered(FORM, form=FlightForm())
    PAGES["/refused"] = rendered(FORM, form=FlightForm({"minutes": "", "level": "8,5x"}))
    PAGES["/thanks"] = rendered(THANKS)
    PAGES["/board"] = rendered(
        BOARD,
        facts=[("Engine", "VRN-6D"), ("Hours", "9.0", "of 15 to 30")],
        steps=steps,
        why=["Rule E1, version 1.", "24.6 gal/h under 25.5."],
        figure=FIGURE,
        still=engines["django"].from_string('<svg id="still" viewBox="0 0 9 9"></svg>').render(),
    )


@pytest.fixture
def page(_rendered_pages: None, browser: Browser) -> Iterator[Page]:
    yield from opened(browser, width=390, height=844)


def opened(browser: Browser, *, width: int, height: int, **options: Any) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": width, "height": height}, base_url="http://book.test", **options)
    context.route("**/*", answer)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complaints == []


def answer(route: Route) -> None:
    path = urlsplit(route.request.url).path
    if path in PAGES:
        headers = {"content-security-policy": POLICY}
        route.fulfill(body=PAGES[path], content_type="text/html; charset=utf-8", headers=headers)
    elif path.startswith("/static/"):
        file = STATIC / path.removeprefix("/static/")
        route.fulfill(path=file, content_type=mimetypes.guess_type(file.name)[0] or "application/octet-stream")
    else:
        route.fulfill(status=204)


def until(page: Page, expression: str) -> None:
    """Wait for something on the page. The browser's own waiting would need `eval`, which the policy refuses."""
    for _ in range(100):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"did not come true in 5 s: {expression}")


def test_a_tap_steps_to_the_next_mark_and_stays_inside_the_bounds(page: Page) -> None:
    page.goto("/form")
    level = page.get_by_label("Oil level", exact=True)
    level.fill("8.1")
    page.get_by_role("button", name="More: Oil level").click()
    assert level.input_value() == "8.25"
    level.fill("8,5")
    page.get_by_role("button", name="Less: Oil level").click()
    assert level.input_value() == "8,25"
    level.fill("14")
    page.get_by_role("button", name="More: Oil level").click()
    assert level.input_value() == "14.00"


def test_the_first_tap_on_an_empty_field_lands_on_its_start(page: Page) -> None:
    page.goto("/form")
    page.get_by_role("button", name="Less: Airborne").click()
    assert page.get_by_label("Airborne", exact=True).input_value() == "60"


def test_chips_answer_to_the_keyboard(page: Page) -> None:
    page.goto("/form")
    page.get_by_label("none").focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    assert page.get_by_label("film").is_checked()


def fill_a_draft(page: Page) -> None:
    page.goto("/form")
    page.get_by_label("Airborne", exact=True).fill("62")
    page.get_by_label("film").check()
    page.get_by_label("smoke").check()
    page.evaluate("document.querySelector('[name=client_id]').value = 'made-on-the-phone'")
    page.get_by_label("In your words").fill("rough at 2400")
    until(page, "Object.values(localStorage).some(kept => kept.includes('2400'))")


def test_a_draft_survives_and_keeps_its_client_id(page: Page) -> None:
    fill_a_draft(page)
    page.goto("/form")
    assert page.get_by_label("Airborne", exact=True).input_value() == "62"
    assert page.get_by_label("film").is_checked()
    assert page.get_by_label("smoke").is_checked()
    assert not page.get_by_label("rough").is_checked()
    assert page.get_by_label("In your words").input_value() == "rough at 2400"
    assert page.locator("[name=client_id]").input_value() == "made-on-the-phone"
    assert "kept on this phone" in page.locator("[data-draft-line]").inner_text()


def test_a_draft_goes_when_the_shop_has_the_entry(page: Page) -> None:
    fill_a_draft(page)
    page.goto("/thanks")
    page.goto("/form")
    assert page.get_by_label("Airborne", exact=True).input_value() == ""


def test_a_draft_can_be_thrown_away(page: Page) -> None:
    fill_a_draft(page)
    page.goto("/form")
    page.get_by_role("button", name="Start empty").click()
    until(page, "document.querySelector('[name=minutes]').value === ''")
    assert page.evaluate("localStorage.length") == 0


def test_a_refused_form_keeps_its_own_words_over_an_older_draft_and_takes_the_focus(page: Page) -> None:
    fill_a_draft(page)
    page.goto("/refused")
    assert page.get_by_label("Oil level", exact=True).input_value() == "8,5x"
    assert page.evaluate("document.activeElement.className") == "summary"
    page.get_by_role("link", name="Airborne").click()
    assert page.evaluate("document.activeElement.name") == "minutes"


def test_two_taps_send_once_and_the_pressed_button_is_sent_along(page: Page) -> None:
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.post_data or "") if request.method == "POST" else None)
    page.goto("/form")
    button = page.get_by_role("button", name="Send to the shop")
    button.click()
    page.wait_for_timeout(100)
    button.click(force=True)
    page.wait_for_timeout(200)
    assert len(sent) == 1
    assert "as=final" in sent[0]


def test_everything_to_hit_on_a_phone_is_at_least_48_px_high(page: Page) -> None:
    page.goto("/form")
    heights = page.eval_on_selector_all(
        "main button, main .chip, main input[type=text], main textarea, nav a, header form button",
        "found => found.map(each => [each.textContent.trim() || each.name, each.getBoundingClientRect().height])",
    )
    assert len(heights) > 10
    assert [hit for hit in heights if hit[1] < 48] == []


@pytest.mark.parametrize("width", [320, 390, 640, 1280])
@pytest.mark.parametrize("address", ["/refused", "/board"])
def test_no_page_scrolls_sideways(browser: Browser, width: int, address: str) -> None:
    for page in opened(browser, width=width, height=700):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("address", ["/form", "/refused", "/board"])
def test_an_accessibility_checker_finds_nothing(browser: Browser, scheme: Any, address: str) -> None:
    for page in opened(browser, width=390, height=844, color_scheme=scheme, bypass_csp=True):
        page.goto(address)
        assert Axe().run(page).response["violations"] == []


def test_the_skip_link_is_the_first_stop_of_the_keyboard_and_leads_to_the_page(page: Page) -> None:
    page.goto("/board")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_a_picture_comes_to_life_in_the_readers_colours_and_changes_with_them(page: Page) -> None:
    page.goto("/board")
    page.locator("[data-plot]").scroll_into_view_if_needed()
    line = page.locator(".plot__live .js-line").first
    line.wait_for(state="attached")
    assert not page.locator("#still").is_visible()
    assert "rgb(11, 84, 96)" in (line.get_attribute("style") or "")
    page.emulate_media(color_scheme="dark")
    until(page, "document.querySelector('.plot__live .js-line').style.stroke === 'rgb(138, 204, 212)'")


def test_without_script_the_still_picture_and_a_plain_number_field_remain(browser: Browser) -> None:
    for page in opened(browser, width=390, height=844, java_script_enabled=False):
        page.goto("/board")
        assert page.locator("#still").is_visible()
        page.goto("/form")
        assert page.locator(".stepper__by").count() == 0
        assert page.get_by_label("Oil level", exact=True).is_visible()
