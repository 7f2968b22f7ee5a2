"""A walk over every page that somebody can open: accessible by the rules of axe, and nothing wider than a small phone.

The pages come from the test client (tests/browser/pages.py); what they ask for comes from the static folders. The
rules are those of WCAG 2.2 A and AA that a program can check (axe-core, bundled with axe-playwright-python).
640 CSS pixels are what 1280 zoomed to 200% leave (criterion 1.4.4); 320 is criterion 1.4.10, Reflow. Wide tables
scroll in a region of their own.
"""

from __future__ import annotations

import mimetypes
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.db import transaction
from django.test import Client
from playwright.sync_api import Browser, Page, Route

from shop.models import Person
from tests.addresses import Town, every_address
from tests.browser.pages import LEFT_OUT, LIBRARIES, charted_town, paths_of, signed_in, walked, whole_page

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db]

# Name of the address ("" for a page of an error), who reads it, where it is, and the page.
Walked = tuple[str, str, str, bytes]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
HOST = "http://book.test"
WIDE, ZOOMED, NARROW = (1280, 900), (640, 450), (320, 640)
GERMAN = ("account/", "portal/", "flights/", "oil/", "recordings/", "engines/")
NAMES = ["html-has-lang", "html-lang-valid", "document-title", "label", "link-name", "button-name", "image-alt",
         "aria-input-field-name", "aria-toggle-field-name", "summary-name", "select-name", "valid-lang"]  # fmt: skip
MOVING = "document.getAnimations().filter((one) => one.playState === 'running').length"
# Each control that the keyboard reaches: what it is, its ring, which it has only while it has the focus, and the line
# that bounds it (a button--text looks like a link, which has none).
FOCUSED = """() => {
  const on = document.activeElement;
  if (!on || on === document.body) return null;
  const ground = getComputedStyle(document.body).backgroundColor;
  const parts = [on, on.closest("label")].filter(Boolean);
  const styles = () => parts.map((part) => getComputedStyle(part));
  const lined = (style, part) => style[part + "Style"] !== "none" && parseFloat(style[part + "Width"]) > 0;
  const rings = () => styles().map((style) => lined(style, "outline") && style.outlineColor !== ground
    ? `${style.outlineWidth} ${style.outlineColor} ${style.outlineOffset}` : "");
  const held = rings();
  on.blur();
  const left = rings();
  on.focus();
  return {
    what: on.outerHTML.slice(0, 140),
    ring: held.some((ring, at) => ring && ring !== left[at]),
    edge: !on.matches("input, select, textarea, button:not(.button--text), .button")
      || styles().some((style) => lined(style, "borderTop") || lined(style, "borderBottom")),
  };
}"""


MOST_CONTROLS = 150  # that are walked on one page


# One entry of each kind that can stand in the outbox: waiting, received, asked about, waiting for a sign-in, not taken.
IN_THE_OUTBOX = """async (user) => {
  for (const [at, state] of ["waiting", "received", "asks", "signin", "refused"].entries()) {
    const item = { user, id: state, stamp: state, writtenAt: `2026-05-0${at + 1}T10:00:00Z`, fields: [], url: "/log/",
      about: "Flight of QX-101", when: "2026-05-01 10:00" };
    await outbox.put(item);
    if (state !== "waiting") await outbox.mark(item, { state, said: "Received by the shop 14:02.", page: "/x/",
      asks: ["Was it 12 h?"], more: ["The phone's clock is 12 min off."] });
  }
}"""


@pytest.fixture
def lived() -> Town:
    return charted_town()


@pytest.fixture(scope="module")
def everything(django_db_setup: None, django_db_blocker: Any) -> list[Walked]:
    """Every page, taken once for the tests of this file."""
    with django_db_blocker.unblock(), transaction.atomic():
        found = list(walked(charted_town()))
        transaction.set_rollback(True)
    return found


@pytest.fixture
def shelf() -> dict[str, bytes]:
    """Pages by their path, as the browser is to find them."""
    return {}


@pytest.fixture
def walker(browser: Browser, shelf: dict[str, bytes]) -> Iterator[Page]:
    context = browser.new_context(viewport=_size(WIDE), reduced_motion="reduce")

    def answer(route: Route) -> None:
        path = urlsplit(route.request.url).path
        if path in shelf:
            route.fulfill(body=shelf[path], content_type="text/html; charset=utf-8")
            return
        found = finders.find(path.removeprefix("/static/")) if path.startswith("/static/") else None
        if isinstance(found, str):
            kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
            route.fulfill(body=Path(found).read_bytes(), content_type=kind)
        else:
            route.fulfill(status=404, body="")

    context.route("**/*", answer)
    yield context.new_page()
    context.close()


def _size(of: tuple[int, int]) -> Any:
    return {"width": of[0], "height": of[1]}


def _violations(walker: Page, path: str, **options: Any) -> list[str]:
    """What axe finds on the page that is open, in one line for each rule."""
    found = Axe().run(walker, options={"runOnly": RULES, "resultTypes": ["violations"], **options})
    return [
        f"{path}: {one['id']}: {one['help']}: {one['nodes'][0]['html'][:160]}" for one in found.response["violations"]
    ]


def _faults(
    walker: Page, paths: Iterable[str], sizes: tuple[tuple[int, int], ...] = (WIDE, ZOOMED, NARROW), **options: Any
) -> list[str]:
    """What is wrong with each page, in one line for each fault: by the rules at the first size, by its width at all."""
    wrong = []
    for path in paths:
        walker.set_viewport_size(_size(sizes[0]))
        walker.goto(HOST + path)
        wrong += _violations(walker, path, **options)
        if walker.evaluate(MOVING):
            wrong.append(f"{path}: moves, though the reader wants no motion")
        for size in sizes:
            walker.set_viewport_size(_size(size))
            width = walker.evaluate("document.documentElement.scrollWidth")
            if width > size[0]:
                wrong.append(f"{path}: {width} px wide on a screen of {size[0]} px")
    return wrong


def test_every_address_is_walked_or_left_out_with_a_reason(everything: list[Walked]) -> None:
    seen = {name for name, *_ in everything if name}
    ours = {each.name for each in every_address() if each.name and not each.route.startswith(LIBRARIES)}

    assert ours - seen - set(LEFT_OUT) == set(), "no reader of the walk gets a page there"
    assert seen & set(LEFT_OUT) == set(), "left out, though there is a page"
    assert set(LEFT_OUT) - ours == set(), "left out, though there is no such address"


@pytest.mark.parametrize("readers", [("anonymous", "owner", "pilot"), ("manager", "line")], ids=["pilots", "shop"])
def test_every_page_is_accessible_and_fits_a_small_phone(
    everything: list[Walked], shelf: dict[str, bytes], walker: Page, readers: tuple[str, ...]
) -> None:
    shelf.update({path: page for _, reader, path, page in everything if reader in readers})
    assert len(shelf) > 30
    wrong = _faults(walker, shelf)
    assert wrong == [], "\n".join(wrong)


def test_pages_in_german_are_accessible_and_fit_a_small_phone(
    lived: Town, shelf: dict[str, bytes], walker: Page
) -> None:
    Person.objects.filter(user=lived.users["owner"]).update(language="de")
    client = signed_in(lived.users["owner"])
    for address in every_address():
        if address.name and address.route.startswith(GERMAN):
            for path in paths_of(address, lived)[:1]:
                page = whole_page(client, path)
                if page is not None and b'<html lang="de"' in page:
                    shelf[path] = page
    assert len(shelf) > 15
    # Colours and build are those of the English pages; names and the length of words are not.
    wrong = _faults(walker, shelf, sizes=(NARROW,), runOnly=NAMES)
    assert wrong == [], "\n".join(wrong)


@pytest.mark.parametrize("colours", ["none", "active"])
def test_what_has_the_focus_shows_it_and_controls_keep_their_edge(
    lived: Town, shelf: dict[str, bytes], walker: Page, colours: Any
) -> None:
    """With the reader's own colours or the book's: on the form of a flight, on the same form refused, on the card with
    its typed air, and on a page with each kind of entry that may stand in the outbox.
    """
    client, user = signed_in(lived.users["owner"]), lived.users["owner"]
    assert user is not None
    shelf.update({path: page for path, page in _pages_to_tab_through(client, lived).items() if page is not None})
    assert list(shelf) == ["/log/", "/refused/", "/card/", "/filled/"]
    walker.emulate_media(forced_colors=colours)
    wrong = []
    for path in shelf:
        walker.goto(HOST + path)
        if path == "/refused/":
            assert walker.evaluate("document.activeElement.className") == "summary"
        if path == "/filled/":
            walker.evaluate(IN_THE_OUTBOX, str(user.pk))
            walker.goto(HOST + path)
            walker.locator(".outbox__item--refused").wait_for()
            wrong += _violations(walker, path) if colours == "none" else []
        seen: list[str] = []
        while len(seen) < MOST_CONTROLS:
            walker.keyboard.press("Tab")
            focused = walker.evaluate(FOCUSED)
            if focused is None or focused["what"] in seen[:1]:
                break
            seen.append(focused["what"])
            wrong += [f"{path}: no {part}: {focused['what']}" for part in ("ring", "edge") if not focused[part]]
        assert len(seen) > 10, path
    assert wrong == [], "\n".join(wrong)


def _pages_to_tab_through(client: Client, lived: Town) -> dict[str, bytes | None]:
    plane = f"/portal/aircraft/{lived.things['aircraft_id']}"
    return {
        "/log/": whole_page(client, f"{plane}/log/"),
        "/refused/": client.post(f"{plane}/log/", {}).content,
        "/card/": whole_page(client, f"{plane}/card/"),
        "/filled/": whole_page(client, "/portal/"),
    }
