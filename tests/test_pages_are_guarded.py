"""Every page as a browser gets it: what its policy lets run, who may frame it, and that typed words stay words."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from breakin import assess
from breakin.models import Finding
from engines.models import Holding
from shop.models import CustomerMember, User
from tests import factories
from tests.addresses import WORDS, Town, every_address, town
from tests.again import made_again

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

NEEDED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


@pytest.fixture
def lived() -> Town:
    made = made_again(town)
    Finding.objects.update(title=f"title {WORDS}", text=f"text {WORDS}", why=f"why {WORDS}", source="plan <b>")
    return made


def _client(user: User | None) -> Client:
    client = Client()
    if user is not None:
        client.force_login(user)
    return client


def _html(client: Client, path: str) -> str:
    """The page, or nothing where the answer is none."""
    answer = client.get(path)
    if answer.streaming:
        b"".join(answer)  # what is not read to its end stays open
        return ""
    return answer.content.decode() if answer.headers.get("Content-Type", "").startswith("text/html") else ""


def _pages(lived: Town) -> list[str]:
    """The addresses of every page, the sign-in's and those of one engine's records among them."""
    paths = [
        "/no/such/page/",
        "/admin/",
        "/admin/breakin/flight/",
        f"/admin/breakin/flight/{lived.things['flight_id']}/change/",
    ]
    for address in every_address():
        known = all(name in lived.things for name in address.arguments)
        if address.name and known and not address.route.startswith("admin/"):
            kwargs = {name: lived.things[name] for name in address.arguments}
            paths.append(reverse(address.name, kwargs=kwargs))
    return paths


@pytest.mark.parametrize("role", ["anonymous", "owner", "manager"])
def test_every_page_carries_the_policy_and_nothing_that_breaks_it(lived: Town, role: str) -> None:
    user = lived.users[role]
    if role == "manager" and user:
        user.is_staff = user.is_superuser = True
        user.save()
    client = _client(user)
    seen = 0
    for path in _pages(lived):
        answer = client.get(path)
        policy = answer.headers.get("Content-Security-Policy", "")
        assert "default-src 'self'" in policy or "default-src 'none'" in policy, path
        assert "unsafe" not in policy, path
        for name, value in NEEDED.items():
            assert answer.headers.get(name) == value, (path, name)
        if answer.streaming or not answer.headers.get("Content-Type", "").startswith("text/html"):
            if answer.streaming:
                b"".join(answer)
            continue
        text = answer.content.decode()
        seen += 1
        if path.startswith("/admin/"):
            continue  # the framework's own pages keep the policy without help
        assert not re.search(r"<[^>]+\sstyle\s*=|<style|<[^>]+\son[a-z]+\s*=|javascript:", text), path
        for attributes, body in re.findall(r"<script\b([^>]*)>(.*?)</script>", text, flags=re.DOTALL):
            assert "src=" in attributes or "application/json" in attributes, (path, attributes, body[:80])
        for form in re.findall(r"<form\b[^>]*method=\"post\"[^>]*>.*?</form>", text, flags=re.DOTALL):
            assert "csrfmiddlewaretoken" in form, (path, form[:200])
    assert seen > 8


@pytest.mark.parametrize("role", ["owner", "manager"])
def test_typed_words_are_shown_as_words(lived: Town, role: str) -> None:
    assess.assess_build(lived.engine.builds.get().pk, timezone.now())
    user = lived.users[role]
    assert user is not None
    user.person.name = f"{role} <script>alert('name')</script>"
    user.person.save()
    shown = 0
    client = _client(user)
    for path in _pages(lived):
        text = _html(client, path)
        assert "<script>alert" not in text, path
        shown += "&lt;script&gt;alert(&#x27;crocus" in text
    assert shown >= 2, "the words are on the engine page at least"


def test_a_search_term_is_shown_as_words(lived: Town) -> None:
    client = _client(lived.users["manager"])
    for path in ("/board/", "/people/", "/notices/"):
        answer = client.get(path, {"q": '"><script>alert(1)</script>'})
        assert answer.status_code == 200
        assert "<script>alert" not in answer.content.decode(), path


def test_a_form_from_another_site_changes_nothing(lived: Town) -> None:
    browser = Client(enforce_csrf_checks=True)
    for role in ("owner", "manager"):
        user = lived.users[role]
        assert user is not None
        browser.force_login(user)
        for address in every_address():
            if address.route.startswith(("admin/", "accounts/", "api/")) or not address.name:
                continue
            if all(name in lived.things for name in address.arguments):
                path = reverse(address.name, kwargs={name: lived.things[name] for name in address.arguments})
                assert browser.post(path, {"sent": "1"}).status_code in (403, 405), path


def test_a_recording_comes_as_a_download_that_runs_nothing(lived: Town) -> None:
    answer = _client(lived.users["owner"]).get(reverse("recording_file", args=[lived.things["recording_id"]]))

    assert b"".join(answer) == b"a,b"
    assert answer.headers["Content-Type"] == "application/octet-stream"
    assert answer.headers["Content-Disposition"].startswith("attachment")
    assert "\r" not in answer.headers["Content-Disposition"]
    assert "X-Bad" not in answer.headers
    assert "sandbox" in answer.headers["Content-Security-Policy"]
    assert "no-store" in answer.headers["Cache-Control"]


def test_media_has_no_address(lived: Town) -> None:
    client = _client(lived.users["manager"])

    assert client.get("/media/recordings/").status_code == 404
    assert client.get("/static/../media/").status_code == 404


def _said(answer: Any) -> str:
    """The words of a page or of a print."""
    if answer.headers["Content-Type"] == "application/pdf":
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    return str(answer.content.decode())


def test_after_a_sale_no_page_shows_the_buyer_who_flew_or_wrote_before(lived: Town) -> None:
    """Ben buys QX-901 today: pages about it hold neither Ada's nor Fay's name, word or file, but their readings."""
    now = timezone.now()
    Holding.objects.filter(aircraft=lived.aircraft, until__isnull=True).update(until=now)
    ben = lived.users["other"]
    assert ben is not None
    Holding.objects.create(
        aircraft=lived.aircraft,
        customer=CustomerMember.objects.get(person=ben.person).customer,
        since=now,
    )
    Finding.objects.update(title="A finding", text="It was found.", why="Because.")
    assess.assess_build(lived.engine.builds.get().pk, now)
    client = _client(ben)
    opened = []
    for path in [*_pages(lived), f"/engines/{lived.engine.pk}/?timeline=all", "/portal/"]:
        answer = client.get(path)
        if answer.status_code == 200 and not answer.streaming and not path.startswith("/api/v1/schema"):
            opened.append(path)
            text = _said(answer)
            for told in ("crocus", "Ada", "Fay", "X-Bad"):
                # Whole words: the list of time zones has an Adak.
                found = re.search(rf"\b{told}\b", text)
                assert found is None, (path, told, text[max(0, found.start() - 200) : found.end() + 60])
    assert f"/engines/{lived.engine.pk}/?timeline=all" in opened
    assert client.get(reverse("recording_file", args=[lived.things["recording_id"]])).status_code == 404
    assert client.get(reverse("correct_flight", args=[lived.things["flight_id"]])).status_code == 403


def test_nothing_changes_for_who_sold_it_whatever_the_buyer_logs(lived: Town) -> None:
    """Fay's pages read the same before and after Ada's flights that end with low oil and low oil pressure."""
    build = lived.engine.builds.get()
    client = _client(lived.users["former"])
    engine = f"engines/{lived.engine.pk}/"
    received = f"/portal/flights/{lived.things['fays_flight_id']}/received/"
    paths = [f"/{engine}?timeline=all", "/portal/", received, "/api/v1/due/", f"/portal/aircraft/{lived.aircraft.pk}/"]
    paths.append(f"/api/v1/{engine}")
    Finding.objects.all().delete()
    assess.assess_build(build.pk, timezone.now())
    before = {path: _without_tokens(client, path) for path in paths}

    factories.flown(
        build, 1.0, at=timezone.now() - timedelta(hours=1), level_qt=4.2, oil_press_min=5, note="zinnia", cht_max=495
    )
    assess.assess_build(build.pk, timezone.now())

    owner = _client(lived.users["owner"]).get(f"/{engine}?timeline=all").content.decode()
    assert "zinnia" in owner
    for path in paths:
        assert _without_tokens(client, path) == before[path], path


def _without_tokens(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, path
    text = re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", answer.content.decode())
    return re.sub(r"<time\b[^>]*>.*?</time>", "", text)
