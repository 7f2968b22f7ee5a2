"""Closing a build and taking it up again, on their pages; and what the index and the engine page link."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.models import Assessment, Finding, FindingState, Severity
from engines.models import Build, BuildEvent, BuildState
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import error_at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def manager(shop: Cast, as_person: Any) -> Any:
    return as_person(shop.cora)


REVIEW = {
    "met": ["first two hours known"],
    "lacking": [{"what": "first filter opened", "why": "It was not opened.", "mend": "Record it."}],
}


class TestClosing:
    def at(self, build: Build, act: str = "close") -> str:
        return f"/shop/builds/{build.pk}/{act}/"

    def reviewed(self, build: Build, review: dict[str, Any]) -> None:
        Assessment.objects.filter(build=build).update(detail={"review": review})

    def test_the_review_stands_before_the_form(self, shop: Cast, manager: Any) -> None:
        self.reviewed(shop.build_1, REVIEW)
        page = manager.get(self.at(shop.build_1)).content.decode()

        assert page.index("First filter opened.") < page.index('<form method="post" class="sheet')
        assert "First two hours known" in page
        assert "The sealed close-out file is not made yet." in page
        assert "This is not a return to service" in page

    def test_closing_with_something_lacking_needs_a_word_that_it_was_read(self, shop: Cast, manager: Any) -> None:
        self.reviewed(shop.build_1, REVIEW)
        typed = {"how": "closed", "reason": "flat for ten hours"}
        answer = manager.post(self.at(shop.build_1), typed)
        assert "still lacks something" in error_at(answer, "seen")
        assert BuildEvent.objects.filter(build=shop.build_1).count() == 1

        assert manager.post(self.at(shop.build_1), {**typed, "seen": "on"}).status_code == 302
        shop.build_1.refresh_from_db()
        assert shop.build_1.state == BuildState.CLOSED
        assert BuildEvent.objects.get(build=shop.build_1, kind="closed_out").by == shop.cora

    def test_with_nothing_lacking_no_such_word_is_asked(self, shop: Cast, manager: Any) -> None:
        self.reviewed(shop.build_1, {"met": ["everything"], "lacking": []})
        assert "Nothing is lacking." in manager.get(self.at(shop.build_1)).content.decode()

        assert manager.post(self.at(shop.build_1), {"how": "closed", "reason": "met"}).status_code == 302

    def test_a_build_that_was_not_judged_says_so(self, shop: Cast, manager: Any) -> None:
        self.reviewed(shop.build_1, {})
        Assessment.objects.filter(build=shop.build_1).update(detail={})

        assert "what is met and what is lacking is not known" in manager.get(self.at(shop.build_1)).content.decode()

    def test_a_stop_stands_in_the_way_of_a_close_out(self, shop: Cast, manager: Any) -> None:
        self.reviewed(shop.build_1, {"met": [], "lacking": []})
        Finding.objects.create(
            build=shop.build_1, rule="X1", occurrence="a", rule_version=1, severity=Severity.STOP, title="Low flow",
            text="19.7 gal/h.", why="Because.", source="plan", happened_at=NOW, opened_at=NOW, state=FindingState.OPEN,
        )  # fmt: skip
        assert "A Stop stands" in manager.get(self.at(shop.build_1)).content.decode()
        answer = manager.post(self.at(shop.build_1), {"how": "closed", "reason": "met"})

        assert answer.status_code == 422
        assert "A technician clears it before the close-out." in answer.content.decode()
        shop.build_1.refresh_from_db()
        assert shop.build_1.state == BuildState.OPEN

    def test_closed_incomplete_and_taken_up_again_with_both_reasons_kept(self, shop: Cast, manager: Any) -> None:
        manager.post(self.at(shop.build_1), {"how": "incomplete", "reason": "no answer since May"})
        page = manager.get(self.at(shop.build_1, "reopen")).content.decode()
        assert "no answer since May" in page
        again = manager.post(self.at(shop.build_1), {"how": "closed", "reason": "met"})
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

    def test_only_the_manager_closes(self, shop: Cast, as_person: Any) -> None:
        for role in (Role.SIGNATORY, Role.BUILD_TECHNICIAN):
            somebody = as_person(factories.person(role.value, role=role))
            assert somebody.get(self.at(shop.build_1)).status_code == 403
            assert somebody.post(self.at(shop.build_1), {"how": "closed", "reason": "x"}).status_code == 403
            assert (
                f'href="{self.at(shop.build_1)}"'
                not in somebody.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
            )


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
        page = manager.get("/shop/").content.decode()

        assert "W-00" in page
        assert "W-19" in page
        assert "W-20" not in page
        assert page.count("and 2 more") == 2

    def test_who_may_not_open_a_build_is_told_who_does(self, shop: Cast, as_person: Any) -> None:
        page = as_person(shop.tom).get("/shop/").content.decode()

        assert "Builds are opened by the manager or a build technician." in page
        assert 'href="/shop/builds/new/"' not in page
        assert "/admin/" not in page
