"""The calendar of what is due: by whom it is read, and what RFC 5545 asks of it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from breakin.models import DueItem
from shop.services import create_token, revoke_token
from tests.api.doors import user_of
from tests.factories import Cast

pytestmark = pytest.mark.django_db
PATH = "/account/tokens/"


def due(shop: Cast, title: str, build=None, **fields) -> DueItem:
    fields.setdefault("due_at", datetime(2026, 3, 10, 4, 0, tzinfo=UTC))
    return DueItem.objects.create(
        build=build or shop.build_1, rule="X1", occurrence=title, rule_version=1, kind="oil_filter", title=title,
        text="Change it; keep, the filter\nfor the bench.", state=fields.pop("state", "due"),
        opened_at=timezone.now(), **fields,
    )  # fmt: skip


def address(person, scope: str = "calendar") -> str:
    _, secret = create_token(user=user_of(person), name="phone", scope=scope, now=timezone.now())
    return f"/calendar/{secret}.ics"


def entries(path: str) -> list:
    answer = Client().get(path)
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/calendar")
    return list(Calendar.from_ical(answer.content).walk("VEVENT"))


def test_it_is_read_without_signing_in_and_has_one_whole_day_for_each_item(shop: Cast) -> None:
    item = due(shop, "First oil and filter")
    (entry,) = entries(address(shop.ada))
    # 04:00 UTC is still the day before at the airfield, UTC-6.
    assert entry.decoded("dtstart") == date(2026, 3, 9)
    assert entry.decoded("dtend") == date(2026, 3, 10)
    assert str(entry["summary"]) == "QX-901: First oil and filter"
    assert str(entry["uid"]).startswith(f"due-{item.pk}@")
    assert f"/engines/{shop.build_1.engine_id}/" in str(entry["url"])
    assert "not a release" in str(entry["description"])


def test_what_is_due_by_hours_stands_on_the_day_that_use_foretells(shop: Cast) -> None:
    due(shop, "Follow-up", due_at=None, due_h=25.0, forecast_on=date(2026, 4, 2))
    (entry,) = entries(address(shop.ada))
    assert entry.decoded("dtstart") == date(2026, 4, 2)
    assert "Due at 25.0 h; the day is foretold" in str(entry["description"])


def test_what_is_done_waived_or_without_a_day_is_not_there(shop: Cast) -> None:
    due(shop, "done", state="done")
    due(shop, "waived", state="waived")
    due(shop, "no day", due_at=None)
    assert entries(address(shop.ada)) == []


def test_an_owner_reads_his_own_only_and_the_shop_reads_all(shop: Cast) -> None:
    due(shop, "of Ada")
    due(shop, "of Ben", build=shop.build_2)
    assert [str(entry["summary"]) for entry in entries(address(shop.ada))] == ["QX-901: of Ada"]
    assert len(entries(address(shop.tom))) == 2


def test_a_revoked_ended_or_other_secret_opens_nothing(shop: Cast) -> None:
    now = timezone.now()
    revoked, secret = create_token(user=user_of(shop.ada), name="a", scope="calendar", now=now)
    revoke_token(by=shop.ada, token=revoked, now=now)
    ended, old = create_token(
        user=user_of(shop.ada), name="b", scope="calendar", now=now, expires=now + timedelta(seconds=1)
    )
    type(ended).objects.filter(pk=ended.pk).update(expires_at=now - timedelta(days=1))
    for path in (f"/calendar/{secret}.ics", f"/calendar/{old}.ics", address(shop.ben, "read"), "/calendar/rib_x.ics"):
        assert Client().get(path).status_code == 404


def test_the_secret_of_a_calendar_does_not_open_the_interface(shop: Cast) -> None:
    secret = address(shop.ada).removeprefix("/calendar/").removesuffix(".ics")
    answer = Client().get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})
    assert answer.status_code == 401
    assert "opens nothing else" in answer.content.decode()


def test_the_address_is_made_on_the_page_of_tokens_and_has_no_end(shop: Cast, as_person) -> None:
    answer = as_person(shop.ada).post(PATH, {"name": "phone", "scope": "calendar", "days": "30"})
    (path,) = re.findall(r"/calendar/rib_[\w-]+\.ics", answer.content.decode())
    assert Client().get(path).status_code == 200
    assert user_of(shop.ada).api_tokens.get().expires_at is None


def test_every_line_ends_and_is_folded_as_the_standard_asks(shop: Cast) -> None:
    """RFC 5545, 3.1: lines end with CRLF and are at most 75 octets long; 3.3.11: commas and line ends are escaped."""
    due(shop, "Ölwechsel und Filter, lang " * 4)
    raw = Client().get(address(shop.ada)).content
    assert raw.startswith(b"BEGIN:VCALENDAR\r\n")
    assert raw.endswith(b"END:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert b"keep\\, the" in raw.replace(b"\r\n ", b"")
    assert b"\n" not in raw.replace(b"\r\n", b"")
