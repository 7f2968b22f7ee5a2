"""What the mails say: to whom, in whose units and zone, with cautions, and never more than the software may say."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from django.conf import LazySettings
from django.core import mail

from breakin import notices
from breakin.models import Assessment, DueItem, Phase, Severity
from breakin.notices.words import criteria
from shop.authority import ORDER_OF_AUTHORITY
from shop.models import Person
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON, Cast

pytestmark = pytest.mark.django_db

STOP_WORDS = "Do not fly until a technician has cleared this item"


@pytest.fixture
def cast(settings: LazySettings) -> Cast:
    settings.SITE_URL = "https://runin.example.test"
    return rows.cast()


def sent_to(name: str, now: Any = NOON) -> Any:
    notices.plan(now)
    notices.send_due(now)
    (found,) = [message for message in mail.outbox if name.lower() in message.to[0]]
    return found


def html_of(message: Any) -> str:
    ((content, kind),) = message.alternatives
    assert kind == "text/html"
    return unescape(str(content))


def every_mail(cast: Cast) -> list[Any]:
    rows.due(cast.left, "manager")
    rows.due(cast.right, "call", kind="oil_filter", title="First oil and filter", due_h=10.0)
    rows.finding(cast.left)
    rows.finding(cast.right, Severity.CALL, title="Light running")
    notices.plan(NOON)
    notices.send_due(NOON)
    return list(mail.outbox)


def test_a_stop_says_not_to_fly_in_subject_text_and_html(cast: Cast) -> None:
    rows.finding(cast.left)
    message = sent_to("Ines")
    assert message.subject == "STOP QX-501: Full-throttle fuel flow below the band"
    assert STOP_WORDS in message.body
    assert STOP_WORDS in html_of(message)
    assert "Phone the shop: 555 0100." in message.body


def test_a_stop_tells_the_technician_to_clear_it_and_whom_to_phone(cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(phone="555 0177")
    rows.finding(cast.left)
    assert "clears the Stop on the engine page with cause and action. Phone Ines (555 0177)." in sent_to("Pell").body


def test_a_stop_nobody_answered_says_so_to_the_manager_in_a_message_of_its_own(cast: Cast) -> None:
    rows.finding(cast.left, opened_at=NOON)
    notices.plan(NOON)
    notices.send_due(NOON)
    later = datetime(2026, 6, 11, 16, 0, tzinfo=UTC)
    notices.plan(later)
    notices.send_due(later)
    first, second = [message for message in mail.outbox if "tilde" in message.to[0]]
    assert "Nobody has answered" not in first.body
    assert "Nobody has answered this Stop for an hour of working time." in second.body


def test_every_mail_carries_the_order_of_authority_and_the_words_of_the_criteria(cast: Cast) -> None:
    messages = every_mail(cast)
    assert len(messages) >= 5
    for message in messages:
        for text in (message.body, html_of(message)):
            assert ORDER_OF_AUTHORITY in text
            assert re.search(r"break-in criteria (not )?(met|known)", text)
            assert "not a maintenance release" in text


def test_no_mail_says_more_than_the_software_may_say(cast: Cast) -> None:
    for message in every_mail(cast):
        for text in (message.subject, message.body, html_of(message)):
            said = text.replace(STOP_WORDS, "").replace("not a maintenance release", "")
            assert not re.search(r"\b(airworthy|safe to fly|is safe|cleared|released?)\b", said, re.IGNORECASE)


def test_the_pilots_nudge_leads_to_the_oil_page_and_the_technicians_chase_to_the_engine(cast: Cast) -> None:
    rows.due(cast.left, "chase")
    assert "Read the dipstick on level ground" in sent_to("Ines").body
    (chase,) = [message for message in mail.outbox if "pell" in message.to[0]]
    assert "Get the reading from the pilot" in chase.body
    assert "https://runin.example.test/" in chase.body
    assert 'href="https://runin.example.test/' in html_of(chase)


def test_a_reader_of_si_units_reads_litres(cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(units="si")
    rows.due(cast.left, due_h=10.0)
    message = sent_to("Ines")
    assert "Last oil level: 9.46\u202fL" in message.body
    assert "Due at: 10.0\u202fh" in message.body


def test_times_are_said_in_the_readers_zone(cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(zone="Europe/Oslo")
    rows.finding(cast.left, happened_at=NOON - timedelta(hours=3))
    assert "17:00 UTC+2" in sent_to("Ines").body


def test_who_is_nudged_and_called_about_one_thing_reads_it_once(cast: Cast) -> None:
    rows.due(cast.left, "manager", title="Oil reading missing")
    body = sent_to("Tilde").body
    assert body.count("Oil reading missing") == 1
    assert "Manager: Oil reading missing" in body


def test_a_twin_names_the_side_and_a_single_does_not(cast: Cast) -> None:
    single = rows.build(type(cast.aircraft).objects.create(registration="QX-502", home=cast.aircraft.home))
    rows.due(cast.left, "chase")
    rows.due(single, "chase")
    notices.plan(NOON)
    notices.send_due(NOON)
    bodies = {message.subject[:6]: message.body for message in mail.outbox if "pell" in message.to[0]}
    assert "LEFT engine, TST-6" in bodies["QX-501"]
    assert "engine, TST-6" not in bodies["QX-502"]


def test_a_matter_that_moved_while_its_mail_waited_is_said_as_it_stands_now(cast: Cast) -> None:
    item = rows.due(cast.left)
    notices.plan(NOON)
    DueItem.objects.filter(pk=item.pk).update(text="No oil level after 2 flights in a row.")
    notices.send_due(NOON)
    assert "No oil level after 2 flights in a row." in mail.outbox[0].body


def test_an_uninstalled_engine_is_named_by_its_serial(cast: Cast) -> None:
    stored = rows.build()
    rows.due(stored, "chase", kind="preservation", title="Preservation ends")
    assert sent_to("Pell").subject == f"engine {stored.engine.serial}: Preservation ends"


def test_words_with_markup_are_escaped_in_html_and_left_alone_in_text(cast: Cast) -> None:
    rows.finding(cast.left, Severity.CALL, title="CHT > 420 & rising", text="<b>440</b>")
    message = sent_to("Tilde")
    assert "CHT > 420 & rising" in message.subject
    assert "<b>440</b>" in message.body
    assert "&lt;b&gt;440&lt;/b&gt;" in str(message.alternatives[0][0])


@pytest.mark.parametrize(
    ("phase", "review", "expected"),
    [
        (Phase.SETTLING, {"met": ["H3"], "lacking": [{"what": "filter"}]}, "break-in criteria not met, 1 open"),
        (Phase.REVIEW, {"met": ["H3"], "lacking": []}, "break-in criteria met"),
        (Phase.AWAITING, {"met": [], "lacking": [{"what": "all"}]}, "break-in criteria not known"),
        (Phase.LOG_ONLY, {"met": ["H3"], "lacking": []}, "break-in criteria not known"),
        (Phase.SETTLING, None, "break-in criteria not known"),
    ],
)
def test_the_criteria_are_met_not_met_or_not_known(phase: Phase, review: Any, expected: str) -> None:
    assert criteria(Assessment(phase=phase, detail={"review": review} if review else {})) == expected


def test_a_build_without_an_assessment_has_criteria_not_known() -> None:
    assert criteria(None) == "break-in criteria not known"
