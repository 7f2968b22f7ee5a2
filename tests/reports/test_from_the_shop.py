"""What the shop told a holder, on the page of the aircraft; and the page where the shop writes it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from breakin import assess
from breakin.models import DueItem, Notice, PhoneCall, ShopNote
from breakin.services.shop_notes import write_to_holder
from engines.models import Holding, PilotAssignment
from tests import factories
from tests.factories import NOW, Cast, flown

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
WORDS = "The baffle seal <b>has</b> come."
SHOWN = "The baffle seal &lt;b&gt;has&lt;/b&gt; come."


def page_of(client: Client, cast: Cast) -> str:
    answer = client.get(f"/portal/aircraft/{cast.aircraft_1.pk}/")
    assert answer.status_code == 200
    return answer.content.decode()


def written(shop: Cast) -> ShopNote:
    return write_to_holder(by=shop.tom, aircraft=shop.aircraft_1, text=WORDS, now=NOW - timedelta(days=1))


def test_the_technician_writes_and_the_holder_reads_it(shop: Cast, as_person) -> None:
    address = f"/aircraft/{shop.aircraft_1.pk}/message/"
    tom = as_person(shop.tom)
    assert tom.post(address, {"text": WORDS}, follow=True).content.decode().count(SHOWN) == 1
    page = page_of(as_person(shop.ada), shop)
    assert SHOWN in page[page.index("From the shop") :]
    assert "Tom" in page[page.index("From the shop") :]


@pytest.mark.parametrize(("days", "before"), [(6, True), (8, False)])
def test_what_is_fresh_stands_before_the_engines_and_an_old_one_below_them_only(
    shop: Cast, as_person, days: int, before: bool
) -> None:
    write_to_holder(by=shop.tom, aircraft=shop.aircraft_1, text=WORDS, now=NOW - timedelta(days=days))
    page = page_of(as_person(shop.ada), shop)
    assert (page.index(SHOWN) < page.index("The engine</h2>")) is before
    assert SHOWN in page[page.index("From the shop</h2>") :]


def test_what_was_typed_stays_when_it_is_refused(shop: Cast, as_person) -> None:
    answer = as_person(shop.cora).post(f"/aircraft/{shop.aircraft_1.pk}/message/", {"text": "y" * 601})
    assert answer.status_code == 422
    assert "y" * 601 in answer.content.decode()
    assert not ShopNote.objects.exists()


def test_nothing_is_headed_from_the_shop_while_nothing_was_told(shop: Cast, as_person) -> None:
    assert "From the shop" not in page_of(as_person(shop.ada), shop)


def test_the_assigned_pilot_reads_it_and_another_owner_cannot(shop: Cast, as_person) -> None:
    written(shop)
    corin = factories.person("Corin", role="break_in_pilot")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=corin, since=NOW - timedelta(days=5))
    assert SHOWN in page_of(as_person(corin), shop)
    assert as_person(shop.ben).get(f"/portal/aircraft/{shop.aircraft_1.pk}/").status_code == 404


def test_a_later_holder_does_not_read_what_was_told_to_the_one_before(shop: Cast, as_person) -> None:
    written(shop)
    PhoneCall.objects.create(
        aircraft=shop.aircraft_1, reached="spoken", said="He is broke.", by=shop.tom, for_customer=True,
        at=NOW - timedelta(days=1),
    )  # fmt: skip
    sold = NOW - timedelta(hours=1)
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=sold)
    Holding.objects.create(aircraft=shop.aircraft_1, customer=factories.customer("Ben's", shop.ben), since=sold)
    page = page_of(as_person(shop.ben), shop)
    assert SHOWN not in page
    assert "He is broke." not in page


def test_a_call_is_read_by_the_customer_only_where_the_shop_says_so(shop: Cast, as_person) -> None:
    tom = as_person(shop.tom)
    address = f"/aircraft/{shop.aircraft_1.pk}/call/"
    tom.post(address, {"reached": "spoken", "said": "Between us."})
    tom.post(address, {"reached": "spoken", "said": "Come in on Monday.", "for_customer": "on"})
    assert PhoneCall.objects.count() == 2
    page = page_of(as_person(shop.ada), shop)
    assert "Come in on Monday." in page
    assert "Between us." not in page


def test_a_mail_stands_there_with_what_answers_it_and_when_it_was_answered(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=1))
    assess.assess_build(shop.build_1.pk, NOW)
    due = DueItem.objects.get(kind="oil_reading")
    told = {"build": shop.build_1, "aircraft": shop.aircraft_1, "due_item": due, "recipient": shop.ada}
    more = {"headline": due.title, "text": due.text, "created_at": NOW, "not_before": NOW, "sent_at": NOW}
    row = Notice.objects.create(key="1", level="nudge", state="sent", **told, **more)
    Notice.objects.create(key="2", level="call", state="sent", **{**told, "recipient": shop.tom}, **more)
    ada = as_person(shop.ada)
    page = page_of(ada, shop)
    section = page[page.index("From the shop") : page.index("Last flights</h2>")]
    assert section.count("Oil reading missing.") == 1
    assert "Read the dipstick on level ground, 10 to 30 minutes after shutdown" in section
    Notice.objects.filter(pk=row.pk).update(answered_at=NOW)
    assert "Answered" in page_of(ada, shop)
