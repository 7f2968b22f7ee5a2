"""The exposure page: who stands there and why, with numbers, and who reads it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from breakin.models import Assessment
from reports.fleet import exposure_page
from shop.models import Role
from tests import factories
from tests.factories import Cast

pytestmark = pytest.mark.django_db
PAGE = "/exposure/"


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().replace("\u202f", " ").split())


def stands(build: Any, **columns: Any) -> None:
    Assessment.objects.filter(build=build).update(**columns)


def test_an_engine_without_a_reason_does_not_stand_there(shop: Cast, as_person: Any) -> None:
    stands(shop.build_1, first_two_word="partly", oil_word="flat", evidence_share=0.7)
    page = text(as_person(shop.cora).get(PAGE))

    assert "No build stands here." in page
    assert "0 of 2 builds stand here" in page


def test_each_reason_stands_with_its_numbers(shop: Cast, as_person: Any) -> None:
    detail = {
        "credit": {"first_two": {"reasons": ["Hour 1: 12 of 50 min at 75 %."]}},
        "oil": {"accept_qt_h": 0.2},
    }
    stands(
        shop.build_1, first_two_word="missed", oil_word="flat but high", oil_rate_qt_h=0.31, oil_rate_u_qt_h=0.04,
        evidence_share=0.69, detail=detail,
    )  # fmt: skip
    page = text(as_person(shop.cora).get(PAGE))

    assert "Hour 1: 12 of 50 min at 75 %." in page
    assert "Loss 0.31 ± 0.04 qt/h, accepted up to 0.20 qt/h." in page
    assert "69 % of its flights have grade A or B." in page
    assert "First two hours missed: 1 of 1 for which they are known." in page


def test_counts_say_of_how_many(shop: Cast, as_person: Any) -> None:
    stands(shop.build_1, first_two_word="missed", oil_word="not enough readings", evidence_share=0.5)
    stands(shop.build_2, first_two_word="not known", oil_word="flat but high", evidence_share=0.9)
    page = text(as_person(shop.cora).get(PAGE))

    assert "2 of 2 builds stand here" in page
    assert "First two hours missed: 1 of 1 for which they are known." in page
    assert "Oil loss flat but high: 1 of 1 with enough readings for a trend." in page
    assert "Evidence share under 70 %: 1 of 2 that have flown." in page


def test_only_the_manager_reads_it(shop: Cast, as_person: Any) -> None:
    bea = factories.person("Bea", role=Role.BUILD_TECHNICIAN)

    assert as_person(bea).get(PAGE).status_code == 403
    assert as_person(shop.ada).get(PAGE).status_code == 403
    assert f'href="{PAGE}"' in text(as_person(shop.cora).get(reverse("acts")))


def test_it_is_paged_and_costs_the_same_number_of_queries_with_more_engines(
    shop: Cast, as_person: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = as_person(shop.cora)
    stands(shop.build_1, evidence_share=0.1)
    with CaptureQueriesContext(connection) as few:
        client.get(PAGE)
    third = factories.build(factories.engine(), by=shop.cora)
    for build in (shop.build_2, third):
        stands(build, evidence_share=0.1)
    with CaptureQueriesContext(connection) as many:
        client.get(PAGE)
    assert len(many) == len(few)

    monkeypatch.setattr(exposure_page, "PAGE", 2)
    first = client.get(PAGE).context["page"]
    second = client.get(first.next_url).context["page"]
    assert [len(first.rows), len(second.rows)] == [2, 1]
    assert (second.first_url, second.next_url) == (PAGE, "")
    assert client.get(f"{PAGE}?after=²").status_code == 200
