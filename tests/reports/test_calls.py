"""Phone calls: whom, what to say, what was said, and the next one; on the board and on the list of today."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse

from breakin.models import Assessment, Finding, FindingState, Lane, PhoneCall, Severity
from breakin.services.calls import log_call
from reports.fleet.call_page import promised
from shop.errors import Refusal
from tests.factories import NOW, Cast

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def address(shop: Cast) -> str:
    return f"/aircraft/{shop.aircraft_1.pk}/call/"


@pytest.fixture
def hot(shop: Cast) -> Finding:
    """Build 1 waits for a call about its heads."""
    Assessment.objects.filter(build=shop.build_1).update(
        lane=Lane.CALL, calls=1, call_reason="Heads were hot.", aircraft=shop.aircraft_1, sort_key=f"{int(Lane.CALL)}a",
        registration="QX-901", dirty_at=None,
    )  # fmt: skip
    return Finding.objects.create(
        build=shop.build_1, rule="E2", occurrence="x", rule_version=1, severity=Severity.CALL, title="Hot heads",
        text="415 degF for ten minutes.", why="", source="type", happened_at=NOW, opened_at=NOW,
    )  # fmt: skip


def test_the_page_says_whom_to_phone_and_why(shop: Cast, as_person: Any, hot: Finding) -> None:
    page = text(as_person(shop.tom).get(address(shop)))
    assert "<b>Ada</b>, owner, first contact" in page
    assert "555-0100" in page
    assert "Heads were hot." in page
    assert "415 degF for ten minutes." in page
    assert "Call: none in the book" in page


def test_a_reason_that_a_finding_says_in_full_is_said_once(shop: Cast, as_person: Any, hot: Finding) -> None:
    """The row of the board holds the beginning of a long text only."""
    Assessment.objects.filter(build=shop.build_1).update(call_reason="415 degF for ten mi")

    page = text(as_person(shop.tom).get(address(shop)))

    assert page.count("415 degF for ten mi") == page.count("415 degF for ten minutes.") == 1


def test_a_call_is_kept_and_takes_up_what_was_talked_about(shop: Cast, as_person: Any, hot: Finding) -> None:
    answer = as_person(shop.tom).post(
        address(shop),
        {"person": shop.ada.pk, "reached": "spoken", "said": "Will open the cowl flaps.", "answered": [str(hot.pk)],
         "next_on": "2026-06-18"},
    )  # fmt: skip
    assert answer.status_code == 302
    call = PhoneCall.objects.get()
    assert (call.person, call.by, call.next_on, call.at) == (shop.ada, shop.tom, date(2026, 6, 18), NOW)
    hot.refresh_from_db()
    assert hot.state in (FindingState.ACKNOWLEDGED, FindingState.GONE)
    assert "Will open the cowl flaps." in text(as_person(shop.tom).get(address(shop)))


def test_the_board_tells_of_the_last_call(shop: Cast, as_person: Any, hot: Finding) -> None:
    log_call(by=shop.tom, aircraft=shop.aircraft_1, person=None, reached="nobody", said="No answer.", now=NOW)
    page = text(as_person(shop.cora).get(reverse("board")))
    assert "Tom phoned" in page
    assert "no answer: No answer." in page
    assert address(shop) in page


def test_the_next_call_stands_on_the_list_of_its_day_until_somebody_phones(shop: Cast, as_person: Any) -> None:
    day = NOW.date() + timedelta(days=3)
    log_call(
        by=shop.tom,
        aircraft=shop.aircraft_1,
        person=shop.ada,
        reached="spoken",
        said="Ask for oil.",
        next_on=day,
        now=NOW,
    )
    assert promised(NOW + timedelta(days=2)) == []
    assert [call.said for call in promised(NOW + timedelta(days=3))] == ["Ask for oil."]
    log_call(
        by=shop.tom, aircraft=shop.aircraft_1, person=shop.ada, reached="spoken", said="Told.",
        now=NOW + timedelta(days=3),
    )  # fmt: skip
    assert promised(NOW + timedelta(days=4)) == []


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"said": " "}, "said"),
        ({"reached": "shouted"}, "reached"),
        ({"next_on": NOW.date() - timedelta(days=2)}, "next_on"),
        ({"next_on": NOW.date() + timedelta(days=400)}, "next_on"),
    ],
)
def test_what_makes_no_call_is_refused(shop: Cast, wrong: dict[str, Any], field: str) -> None:
    wanted = {"reached": "spoken", "said": "x", "next_on": None, **wrong}
    with pytest.raises(Refusal) as refused:
        log_call(by=shop.tom, aircraft=shop.aircraft_1, person=None, now=NOW, **wanted)
    assert [problem.field for problem in refused.value.problems] == [field]
    assert not PhoneCall.objects.exists()


def test_a_message_left_takes_up_nothing(shop: Cast, hot: Finding) -> None:
    with pytest.raises(Refusal, match="Nobody was spoken with"):
        log_call(
            by=shop.tom, aircraft=shop.aircraft_1, person=None, reached="message", said="x", answered=[hot], now=NOW
        )
    hot.refresh_from_db()
    assert hot.state == FindingState.OPEN


def test_a_customer_does_not_read_what_the_shop_wrote(shop: Cast, as_person: Any) -> None:
    log_call(by=shop.tom, aircraft=shop.aircraft_1, person=None, reached="spoken", said="He was rude.", now=NOW)
    assert as_person(shop.ada).get(address(shop)).status_code == 403
    assert as_person(shop.ben).get(address(shop)).status_code == 404
