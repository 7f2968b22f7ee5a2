"""Mails in German: to a pilot whole, cautions included; to the shop's people in English, whatever they speak."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.conf import LazySettings
from django.core import mail

from breakin import notices
from breakin.calc.said import Day, gph, percent, said, sentences
from breakin.models import Severity
from breakin.rules.base import STAND
from breakin.saying import kept
from shop.models import Person
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import NOON, Cast

pytestmark = pytest.mark.django_db

LOW_FLOW = sentences(
    said(
        "Full-throttle fuel flow {flow} ({how}) against {band}: {short} low.",
        flow=gph(22.0),
        how=said("compared as read: this fuel system does not follow density"),
        band=said("at least {low}", low=gph(24.0)),
        short=percent(0.083, 1),
    ),
    STAND,
)
ENGLISH = re.compile(r"\b(the|and|of|with|engine|flight|shop|oil|you|until)\b", re.IGNORECASE)


@pytest.fixture
def cast(settings: LazySettings) -> Cast:
    settings.SITE_URL = "https://runin.example.test"
    made = rows.cast()
    Person.objects.update(language="de", units="si")
    return made


def sent(cast: Cast) -> dict[str, Any]:
    """Name -> the newest mail to that person."""
    notices.plan(NOON)
    notices.send_due(NOON)
    return {message.to[0].partition(" ")[0]: message for message in mail.outbox}


def html_of(message: Any) -> str:
    return unescape(str(message.alternatives[0][0]))


def stop(cast: Cast) -> None:
    title = said("Full-throttle fuel flow low")
    rows.finding(cast.left, title=str(title), text=str(LOW_FLOW), said=kept(title=title, text=LOW_FLOW))


def reminder(cast: Cast) -> None:
    title = said("Oil reading missing")
    text = said(
        "No oil level since the flight of {day}. Read the dipstick and say what was added, or that nothing was.",
        day=Day(NOON.date()),
    )
    rows.due(
        cast.left,
        title=str(title),
        text=str(text),
        said=kept(title=title, text=text),
        due_at=NOON - timedelta(hours=6),
        due_h=10.0,
        forecast_on=NOON.date(),
    )


def test_a_stop_reaches_a_german_pilot_in_german_and_in_his_units(cast: Cast) -> None:
    stop(cast)
    message = sent(cast)["Ines"]
    assert message.subject == "STOPP QX-501: Kraftstofffluss bei Vollgas zu niedrig"
    for text in (message.body, html_of(message)):
        told = " ".join(text.split())
        assert "Fliegen Sie nicht, bis ein Techniker diesen Punkt erledigt hat." in told
        assert "Kraftstofffluss bei Vollgas 83,3 L/h" in told
        assert "gegenüber mindestens 90,8 L/h: 8,3 % zu niedrig." in told
        assert "Rufen Sie die Werkstatt an: 555 0100. Sagen Sie es allen, die dieses Flugzeug fliegen könnten." in told
        assert "Letzter Ölstand" in told
        assert "9,46 L" in told
        assert "Kriterien des Einlaufens" in told
        assert "was die aktuellen Anweisungen des Motorherstellers oder das Flughandbuch (POH/AFM) verbieten." in told
    assert 'lang="de"' in html_of(message)


def test_a_reminder_reaches_a_german_pilot_in_german(cast: Cast) -> None:
    reminder(cast)
    message = sent(cast)["Ines"]
    assert message.subject == "QX-501: Ölstand fehlt"
    told = " ".join(message.body.split())
    assert "Kein Ölstand seit dem Flug vom 10. Juni 2026." in told
    assert "Was zu tun ist: Lesen Sie den Ölmessstab auf ebenem Boden ab" in told
    assert "Fällig bei: 10,0 h" in told
    assert "gehen allem in dieser Nachricht vor" in told
    assert "Ölstand senden: https://runin.example.test/" in told


def test_no_english_is_left_in_a_german_mail(cast: Cast) -> None:
    stop(cast)
    reminder(cast)
    for message in sent(cast).values():
        if "Ines" in message.to[0]:
            told = re.sub(r"https?://\S+|Wexhollow Engine Works|engine type TST-6 rev. 1", "", message.body)
            assert not ENGLISH.search(told), ENGLISH.search(told)


def test_the_shops_people_get_english_mails(cast: Cast) -> None:
    stop(cast)
    message = sent(cast)["Pell"]
    assert message.subject == "STOP QX-501: Full-throttle fuel flow low"
    assert "Do not fly until a technician has cleared this item" in message.body
    assert "Full-throttle fuel flow 83.3 L/h" in message.body


def test_a_finding_from_before_there_were_messages_is_told_as_it_stands(cast: Cast) -> None:
    rows.finding(cast.left, Severity.STOP)
    message = sent(cast)["Ines"]
    assert message.subject == "STOPP QX-501: Full-throttle fuel flow below the band"
    assert "Fuel flow 22.0 gal/h, the band starts at 24.0 gal/h." in message.body
