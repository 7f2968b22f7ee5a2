"""The engine types on one page: their newest numbers, and points of a power chart that look mistyped."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from engines.models import EngineType
from tests import factories

pytestmark = pytest.mark.django_db
CHART = Path(__file__).parents[2] / "reports" / "demo" / "charts" / "TAV-4E.json"


@pytest.fixture
def manager(shop: factories.Cast) -> Client:
    client = Client()
    assert shop.cora.user is not None
    client.force_login(shop.cora.user)
    return client


def chart() -> dict[str, Any]:
    read: dict[str, Any] = json.loads(CHART.read_text())
    return read


def page(client: Client) -> str:
    return client.get("/shop/types/").content.decode()


def test_a_type_shows_its_newest_revision(manager: Client) -> None:
    factories.type_revision("TAV-9", sump_full_qt=8)
    factories.type_revision("TAV-9", sump_full_qt=11, source="bench book, second issue")
    text = page(manager)
    assert "bench book, second issue" in text
    assert '<td class="num">11</td>' in text


def test_a_type_without_numbers_says_so(manager: Client) -> None:
    EngineType.objects.create(maker="Tavish (invented)", designation="TAV-9")
    assert "No numbers yet" in page(manager)


def test_a_smooth_chart_raises_no_doubt(manager: Client) -> None:
    factories.type_revision("TAV-9", chart=chart())
    text = page(manager)
    assert "6 engine speeds by" in text
    assert "to compare with the document" not in text


def test_a_mistyped_point_is_named_with_its_place(manager: Client) -> None:
    wrong = chart()
    wrong["hp"][2][3] += 7
    factories.type_revision("TAV-9", chart=wrong)
    text = page(manager)
    assert "to compare with the document" in text
    assert (
        f"row 3: {wrong['hp'][2][3]:g} hp at {wrong['rpm'][2]:,.0f} rpm / {wrong['map_inhg'][3]:g} inHg is 7 hp" in text
    )


def test_a_chart_that_cannot_be_read_says_where(manager: Client) -> None:
    wrong = chart()
    wrong["hp"][1][2] = 1.0
    factories.type_revision("TAV-9", chart=wrong)
    assert f"chart hp at {wrong['rpm'][1]:g} rpm" in page(manager)
