"""The notices page: what was sent, to whom, why, and what answered it."""

from __future__ import annotations

from datetime import timedelta
from smtplib import SMTPRecipientsRefused
from typing import Any

import pytest
from django.core.mail.backends.locmem import EmailBackend
from django.test import Client
from django.urls import reverse

from breakin import notices
from breakin.models import Notice, NoticeState
from reports.fleet import notices_page
from shop.models import Person, Role, ShopRole, User
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import LONG_AGO, NOON, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast() -> Cast:
    return rows.cast()


def sign_in(client: Client, person: Person) -> None:
    person.user = User.objects.create_user(f"{person.pk}@login.example.test")
    person.save(update_fields=["user"])
    client.force_login(person.user)


def page(client: Client, **query: str) -> Any:
    return client.get(reverse("notices"), query)


def text(answer: Any) -> str:
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_the_page_says_what_was_sent_to_whom_and_why_and_shows_the_mail(client: Client, cast: Cast) -> None:
    rows.due(cast.left)
    notices.plan(NOON)
    notices.send_due(NOON)
    sign_in(client, cast.manager)
    shown = text(page(client))
    for words in (
        "QX-501",
        "Oil reading missing",
        "Ines",
        "The owner and the pilot are reminded first.",
        "Not answered",
    ):
        assert words in shown
    assert "10 Jun 12:00 UTC−6" in shown
    assert "Read the dipstick on level ground" in shown


def test_the_page_says_that_a_fact_has_answered_a_notice(client: Client, cast: Cast) -> None:
    item = rows.due(cast.left)
    notices.plan(NOON)
    notices.send_due(NOON)
    rows.answer(item, NOON + timedelta(hours=1))
    notices.plan(NOON + timedelta(hours=1), [cast.left.pk])
    sign_in(client, cast.manager)
    assert "Answered 10 Jun 13:00" in text(page(client, state="answered"))


def test_a_message_given_up_is_visible_with_its_reason_and_the_number_to_phone(
    client: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_args: Any) -> int:
        raise SMTPRecipientsRefused({"ines@example.test": (550, b"no such mailbox")})

    Person.objects.filter(pk=cast.owner.pk).update(phone="555 0177")
    rows.due(cast.left)
    notices.plan(NOON)
    with monkeypatch.context() as patch:
        patch.setattr(EmailBackend, "send_messages", refuse)
        notices.send_due(NOON)
    sign_in(client, cast.manager)
    shown = text(page(client, state="failed"))
    assert "Could not be sent" in shown
    assert "no such mailbox" in shown
    assert "555 0177" in shown


def test_who_has_no_email_stands_under_use_the_phone_with_his_number(client: Client, cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(email="", phone="555 0177")
    rows.due(cast.left)
    notices.plan(NOON)
    sign_in(client, cast.technician)
    answer = page(client, state="phone")
    (row,) = answer.context["page"].rows
    assert (row.name, row.state, row.phone) == ("Ines", "Use the phone", "555 0177")


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ({}, 4),
        ({"state": "waiting"}, 4),
        ({"state": "sent"}, 0),
        ({"person": "ine"}, 1),
        ({"aircraft": "qx-501"}, 4),
        ({"aircraft": "QX-9"}, 0),
        ({"state": "no such state"}, 4),
        ({"before": "not a number"}, 4),
    ],
)
def test_the_page_is_narrowed_by_state_aircraft_and_person(
    client: Client, cast: Cast, query: dict[str, str], expected: int
) -> None:
    rows.due(cast.left, "call")
    notices.plan(NOON)
    sign_in(client, cast.manager)
    assert len(page(client, **query).context["page"].rows) == expected


def test_the_tabs_count_what_has_work_in_it(client: Client, cast: Cast) -> None:
    rows.due(cast.left, "call")
    notices.plan(NOON)
    counts = {tab["label"]: tab["count"] for tab in notices_page.notices_page(notices_page.Asked()).tabs}
    assert counts["Waiting"] == 4
    assert counts["Use the phone"] == counts["Could not be sent"] == 0
    assert counts["Sent"] is None


def test_many_notices_are_paged_by_key_and_each_is_shown_once(client: Client, cast: Cast) -> None:
    first = rows.due(cast.left)
    Notice.objects.bulk_create(
        Notice(
            key=f"k{number}",
            build=cast.left,
            due_item=first,
            level="nudge",
            recipient=cast.owner,
            headline=f"Matter {number}",
            text="x",
            state=NoticeState.SENT,
            created_at=NOON,
            not_before=NOON,
            sent_at=NOON,
        )
        for number in range(notices_page.PAGE + 5)
    )
    sign_in(client, cast.manager)
    one = page(client).context["page"]
    two = client.get(one.next_url).context["page"]
    assert (len(one.rows), len(two.rows)) == (notices_page.PAGE, 5)
    assert not {row.id for row in one.rows} & {row.id for row in two.rows}
    assert two.next_url == ""
    assert two.first_url == reverse("notices")


def test_the_page_costs_the_same_queries_for_one_notice_and_for_many(
    client: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    for _ in range(20):
        rows.due(rows.build(), "call")
    notices.plan(NOON)
    notices.send_due(NOON)
    with django_assert_max_num_queries(2):
        assert len(notices_page.notices_page(notices_page.Asked()).rows) == notices_page.PAGE


def test_an_empty_page_says_so(client: Client, cast: Cast) -> None:
    sign_in(client, cast.manager)
    assert "Nobody has been told anything yet." in text(page(client))
    assert "None in this state." in text(page(client, state="sent"))
    assert "No notice answers to this." in text(page(client, person="Zed"))


def test_the_page_is_for_the_shop(client: Client, cast: Cast) -> None:
    assert page(client).status_code == 302
    sign_in(client, cast.owner)
    assert page(client).status_code == 403


def test_a_person_whose_role_ended_no_longer_sees_it(client: Client, cast: Cast) -> None:
    ShopRole.objects.filter(role=Role.LINE_TECHNICIAN).update(until=LONG_AGO + timedelta(days=1))
    sign_in(client, cast.technician)
    assert page(client).status_code == 403
