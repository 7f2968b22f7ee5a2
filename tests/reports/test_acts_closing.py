"""Closing a build and taking it up again, on their pages; and what the index and the engine page link."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from engines.models import Build, BuildState
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import error_at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def manager(shop: Cast, as_person: Any) -> Any:
    return as_person(shop.cora)


class TestClosing:
    def at(self, build: Build, act: str = "close") -> str:
        return f"/shop/builds/{build.pk}/{act}/"

    def test_closed_incomplete_and_taken_up_again_with_both_reasons_kept(self, shop: Cast, manager: Any) -> None:
        assert "The reason is missing" in error_at(
            manager.post(self.at(shop.build_1, "close/incomplete"), {}), "reason"
        )
        manager.post(self.at(shop.build_1, "close/incomplete"), {"reason": "no answer since May"})
        page = manager.get(self.at(shop.build_1, "reopen")).content.decode()
        assert "no answer since May" in page
        again = manager.post(self.at(shop.build_1), {"notes": "met"})
        assert again.status_code == 422
        assert "is closed incomplete already" in again.content.decode()
        assert "The reason is missing" in error_at(manager.post(self.at(shop.build_1, "reopen"), {}), "reason")
        manager.post(self.at(shop.build_1, "reopen"), {"reason": "he called"})

        shop.build_1.refresh_from_db()
        assert shop.build_1.state == BuildState.OPEN
        assert [event.reason for event in shop.build_1.events.all()][1:] == ["no answer since May", "he called"]

    def test_an_open_build_is_not_reopened(self, shop: Cast, manager: Any) -> None:
        assert "This build is not closed." in manager.get(self.at(shop.build_1, "reopen")).content.decode()
        answer = manager.post(self.at(shop.build_1, "reopen"), {"reason": "why not"})

        assert "only a closed one is reopened" in answer.content.decode()

    def test_only_the_manager_gives_up_and_reopens(self, shop: Cast, as_person: Any) -> None:
        for role in (Role.SIGNATORY, Role.BUILD_TECHNICIAN):
            somebody = as_person(factories.person(role.value, role=role))
            for act in ("close/incomplete", "reopen"):
                assert somebody.get(self.at(shop.build_1, act)).status_code == 403
                assert somebody.post(self.at(shop.build_1, act), {"reason": "x"}).status_code == 403


class TestLinks:
    def test_the_engine_page_links_what_its_reader_may_do(self, shop: Cast, as_person: Any) -> None:
        engine, build = shop.build_1.engine_id, shop.build_1.pk
        page = as_person(shop.cora).get(f"/engines/{engine}/").content.decode()
        for act in ("plan", "cell", "preserve", "close"):
            assert f'href="/shop/builds/{build}/{act}/"' in page
        assert f'href="/shop/engines/{engine}/remove/"' in page
        assert "/swap/" not in page
        line = as_person(shop.tom).get(f"/engines/{engine}/").content.decode()
        assert f'href="/shop/builds/{build}/preserve/"' in line
        assert f'href="/shop/builds/{build}/plan/"' not in line
        assert 'href="/shop/' not in as_person(shop.ada).get(f"/engines/{engine}/").content.decode()

    def test_the_index_lists_what_waits_oldest_first_and_counts_the_rest(self, shop: Cast, manager: Any) -> None:
        for number in range(22):
            when = NOW - timedelta(days=30 - number)
            factories.build(
                factories.engine(), by=shop.cora, number=f"W-{number:02d}", template=None, opened_at=when, now=when
            )
        whole = manager.get("/shop/").content.decode()
        page = whole.split("Without a plan", 1)[1].split("<h3>", 1)[0]

        assert "W-00" in page
        assert "W-19" in page
        assert "W-20" not in page
        assert whole.count("and 2 more") == 2

    def test_who_may_not_open_a_build_is_told_who_does(self, shop: Cast, as_person: Any) -> None:
        page = as_person(shop.tom).get("/shop/").content.decode()

        assert "Builds are opened by the manager or a build technician." in page
        assert 'href="/shop/builds/new/"' not in page
        assert "/admin/" not in page
