"""A walk over every page of owners and the shop: accessible by the rules of axe, nothing wider than a small phone.

The pages come from the test client; what they ask for comes from the static folders, under the policy of the settings.
The rules are those of WCAG 2.2 A and AA that a program can check (axe-core, bundled with axe-playwright-python); the
width of 320 CSS pixels is criterion 1.4.10, Reflow. Wide tables scroll in a region of their own.
"""

from __future__ import annotations

import mimetypes
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Browser, Page, Route

from breakin import assess
from engines.models import Build
from tests.addresses import Town, every_address, town

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
HOST = "http://book.test"
WIDE = {"width": 1280, "height": 900}
NARROW = {"width": 320, "height": 640}
# What the framework or a library draws.
NOT_OURS = ("admin/", "api/", "accounts/")


@pytest.fixture
def lived() -> Town:
    made = town()
    for build in Build.objects.all():
        assess.assess_build(build.pk, timezone.now())
    return made


@pytest.fixture
def shelf() -> dict[str, bytes]:
    """Pages by their path, as the browser is to find them."""
    return {}


@pytest.fixture
def walker(browser: Browser, shelf: dict[str, bytes]) -> Iterator[Page]:
    context = browser.new_context(viewport=WIDE, reduced_motion="reduce")  # type: ignore[arg-type]

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


def _pages(lived: Town, role: str, already: set[str]) -> dict[str, bytes]:
    client = Client()
    user = lived.users[role]
    if user is not None:
        client.force_login(user)
    pages: dict[str, bytes] = {}
    for address in every_address():
        if not address.name or address.route.startswith(NOT_OURS):
            continue
        if not all(name in lived.things for name in address.arguments):
            continue
        path = reverse(address.name, kwargs={name: lived.things[name] for name in address.arguments})
        if path in already:
            continue
        answer = client.get(path)
        if (
            answer.status_code == 200
            and not answer.streaming
            and answer.headers["Content-Type"].startswith("text/html")
        ):
            pages[path] = answer.content
        elif answer.streaming:
            b"".join(answer)
    return pages


@pytest.mark.parametrize("role", ["owner", "manager"])
def test_every_page_is_accessible_and_fits_a_small_phone(
    lived: Town, shelf: dict[str, bytes], walker: Page, role: str
) -> None:
    owners = set(_pages(lived, "owner", set())) if role == "manager" else set()
    shelf.update(_pages(lived, role, owners))
    assert len(shelf) > 8
    wrong: list[str] = []
    for path in shelf:
        if b"<html" not in shelf[path]:
            continue  # a part that is put into a page
        walker.set_viewport_size(WIDE)  # type: ignore[arg-type]
        walker.goto(HOST + path)
        found = Axe().run(walker, options={"runOnly": RULES, "resultTypes": ["violations"]})
        wrong += [
            f"{path}: {one['id']}: {one['help']}: {one['nodes'][0]['html'][:160]}"
            for one in found.response["violations"]
        ]
        walker.set_viewport_size(NARROW)  # type: ignore[arg-type]
        width = walker.evaluate("document.documentElement.scrollWidth")
        if width > NARROW["width"]:
            wrong.append(f"{path}: {width} px wide on a screen of {NARROW['width']} px")
    assert wrong == [], "\n".join(wrong)
