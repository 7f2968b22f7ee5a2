"""Every page and every mail of the demo says whose word comes first, and none says more than a criterion can.

The software says "met", "not met" or "not known"; that an engine is fit to fly is for licensed people to say.
"""

from __future__ import annotations

import html
import re
from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.utils import translation

from breakin.models import Finding, Recording
from breakin.notices import planning, sending
from engines.models import Aircraft, Engine
from shop.authority import ORDER_OF_AUTHORITY
from shop.models import Person, User
from tests.demo.fleet.conftest import NOW

pytestmark = [pytest.mark.usefixtures("fleet", "db"), pytest.mark.slow]

# "cleared" stands only where a technician clears, or has cleared, a finding.
NEVER = re.compile(
    r"\bairworth\w*|\bsafe(ly)?\b|(?<!not a maintenance )\breleased?\b|"
    r"\bcleared (to|for) (fly|flight)\w*|\bfit to fly\b|"
    r"\bluftt(ü|ue)chtig\w*|\bflugtauglich\w*|\bfreigegeben\w*|(?<!keine )\bFreigabe\w*|\bsicher zu fliegen\b",
    re.I,
)
MET = re.compile(r"\b(met|not met|not known|erfüllt|nicht erfüllt|nicht bekannt)\b")
with translation.override("de"):
    AUTHORITY = (ORDER_OF_AUTHORITY, translation.gettext(ORDER_OF_AUTHORITY))


def _signed_in(name: str) -> Client:
    client = Client()
    user = Person.objects.get(name=name).user or User.objects.create_user(f"{name.lower()}@demo.example")
    Person.objects.filter(name=name).update(user=user)
    client.force_login(user)
    return client


def _words(content: bytes) -> str:
    without = re.sub(rb"<(script|style)\b.*?</\1>", b" ", content, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", without.decode())).split())


def _staff_pages() -> list[str]:
    engines = [f"/engines/{pk}/" for pk in Engine.objects.values_list("pk", flat=True)]
    return [
        "/board/",
        "/today/",
        "/notices/",
        "/people/",
        "/shop/",
        "/shop/builds/new/",
        "/priors/",
        *engines,
        *_recordings(),
    ]


def _recordings() -> list[str]:
    """The first recording of each aircraft that has one."""
    rows = Recording.objects.order_by("-uploaded_at")
    return [f"/recordings/{pk}/" for pk in {row.aircraft_id: row.pk for row in rows}.values()]


def _own_pages(aircraft: Aircraft) -> list[str]:
    engines = aircraft.installations.filter(until__isnull=True).values_list("engine_id", flat=True)
    pages = ["/portal/", f"/portal/aircraft/{aircraft.pk}/", f"/portal/aircraft/{aircraft.pk}/log/"]
    pages.append(f"/portal/aircraft/{aircraft.pk}/recordings/")
    return [*pages, *(f"/portal/engines/{pk}/oil/" for pk in engines), *(f"/engines/{pk}/" for pk in engines)]


def _read(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, path
    return _words(answer.content)


def test_every_page_of_the_shop_names_the_order_of_authority_and_claims_no_more_than_criteria() -> None:
    client = _signed_in("Tilde")
    for path in _staff_pages():
        words = _read(client, path)
        assert ORDER_OF_AUTHORITY in words, path
        assert not NEVER.search(words), (path, NEVER.search(words))
        assert MET.search(words), path


@pytest.mark.parametrize(
    ("name", "registration"),
    [("Ines", "QX-101"), ("Tomas", "QX-110"), ("Mara", "QX-106"), ("Wim", "QX-105"), ("Sunniva", "QX-115")],
)
def test_every_page_of_a_pilot_does_too(name: str, registration: str) -> None:
    client = _signed_in(name)
    for path in _own_pages(Aircraft.objects.get(registration=registration)):
        words = _read(client, path)
        assert any(said in words for said in AUTHORITY), path
        assert not NEVER.search(words), (path, NEVER.search(words))


def test_every_mail_does_too() -> None:
    planning.plan(NOW)
    for day in range(3):
        sending.send_due(NOW + timedelta(days=day))

    assert len(mail.outbox) > 10
    for message in mail.outbox:
        assert any(said.split(",")[0] in str(message.body) for said in AUTHORITY), message.subject
        assert not NEVER.search(str(message.body)), message.subject
        assert MET.search(str(message.body)), message.subject


def test_no_finding_claims_more_than_its_criterion() -> None:
    for finding in Finding.objects.all():
        assert not NEVER.search(f"{finding.title} {finding.text} {finding.why}"), finding.rule
