"""The page of the rules: every rule with its words, what it found, and what people said of it."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from breakin.counts import recount
from breakin.models import Finding, Severity
from breakin.rules import RULES
from breakin.services.findings import clear
from tests.factories import Cast

pytestmark = pytest.mark.django_db


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def found(shop: Cast, occurrence: str) -> Finding:
    now = timezone.now()
    return Finding.objects.create(
        build=shop.build_1, rule="E2", occurrence=occurrence, rule_version=1, severity=Severity.STOP, title="Hot",
        text="Hot.", why="Heads.", source="type", happened_at=now, opened_at=now,
    )  # fmt: skip


def test_every_rule_stands_there_with_its_words(shop: Cast, as_person) -> None:
    page = text(as_person(shop.tom).get("/rules/"))
    for rule in RULES.values():
        assert f'id="{rule.id}"' in page
        assert rule.title in page.replace("&#x27;", "'")
    assert f"{len(RULES)} rules judge every build" in page


def test_it_counts_findings_and_what_people_called_them(shop: Cast, as_person) -> None:
    wrong, right = found(shop, "a"), found(shop, "b")
    found(shop, "c")
    recount()
    for finding, verdict in ((wrong, "false_alarm"), (right, "agree")):
        clear(by=shop.tom, finding=finding, verdict=verdict, cause="Probe.", action="Changed.", now=timezone.now())
    page = text(as_person(shop.tom).get("/rules/"))
    assert "3 times in 1 build; 1 standing" in page
    assert "50 % false alarms" in page


def test_an_owner_does_not_read_it_and_the_board_leads_to_it(shop: Cast, as_person) -> None:
    assert as_person(shop.ada).get("/rules/").status_code == 403
    assert 'href="/rules/"' in text(as_person(shop.tom).get(reverse("board")))


def test_its_queries_do_not_grow_with_findings(shop: Cast, as_person, django_assert_max_num_queries) -> None:
    for number in range(12):
        found(shop, str(number))
    recount()
    client = as_person(shop.tom)
    client.get("/rules/")
    with django_assert_max_num_queries(5):
        assert "12 times in 1 build" in text(client.get("/rules/"))
