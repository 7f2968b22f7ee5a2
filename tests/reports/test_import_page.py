"""The page that takes a table of engines: a preview first, then all of it."""

from __future__ import annotations

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from engines.models import Build
from tests.breakin.test_importing import LINE, TWIN, table
from tests.factories import Cast

pytestmark = pytest.mark.django_db
PAGE = "/shop/import/"


def send(client, *lines):
    return client.post(PAGE, {"table": SimpleUploadedFile("engines.csv", table(*lines))})


def text(answer) -> str:
    return html.unescape(" ".join(answer.content.decode().split()))


def test_a_manager_previews_and_then_enters_the_table(shop: Cast, as_person, today) -> None:
    client = as_person(shop.cora)
    preview = send(client, LINE)
    assert preview.status_code == 200
    assert "New customer Dunmarrow School" in text(preview)
    assert not Build.objects.filter(number="B-9001").exists()

    (lines,) = re.findall(r'name="previewed" value="(.*?)"', preview.content.decode(), re.S)
    entered = client.post(PAGE, {"previewed": html.unescape(lines)})
    assert (entered.status_code, entered.headers["location"]) == (302, "/board/")
    assert Build.objects.get(number="B-9001").engine.serial == "E-9001"


def test_what_is_wrong_stands_beside_its_line_and_nothing_can_be_entered(shop: Cast, as_person, today) -> None:
    answer = send(as_person(shop.cora), LINE, {**TWIN, "Home field": "Nowhere"})
    assert answer.status_code == 422
    assert "1 of 2 lines to mend; nothing was entered" in text(answer)
    assert "Home field:</b> “Nowhere” is not among the places" in text(answer)
    assert 'name="previewed"' not in text(answer)


def test_a_table_that_went_bad_between_preview_and_entry_is_not_entered(shop: Cast, as_person, today) -> None:
    client = as_person(shop.cora)
    (lines,) = re.findall(r'name="previewed" value="(.*?)"', send(client, LINE).content.decode(), re.S)
    client.post(PAGE, {"previewed": html.unescape(lines)})
    again = client.post(PAGE, {"previewed": html.unescape(lines)})
    assert again.status_code == 422
    assert Build.objects.filter(number="B-9001").count() == 1


def test_the_empty_table_comes_as_a_file_and_the_shop_page_leads_here(shop: Cast, as_person) -> None:
    client = as_person(shop.cora)
    assert client.get(f"{PAGE}table.csv").headers["Content-Disposition"] == 'attachment; filename="engines.csv"'
    assert PAGE in text(client.get("/shop/"))


def test_no_file_is_said_in_words(shop: Cast, as_person) -> None:
    answer = as_person(shop.cora).post(PAGE, {})
    assert (answer.status_code, "Choose the table first" in text(answer)) == (422, True)
