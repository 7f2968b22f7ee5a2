"""Cards that are handed out are kept as they were, and one that says the same is the same card."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client

from breakin import assess
from breakin.models import IssuedCard, RunInPlan
from breakin.plan_templates import ensure_templates
from breakin.services.plans import issue_plan
from engines.models import Aircraft, Installation
from shop.models import CustomerMember, Person
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.card_pages import add_engine, card_of, charted_aircraft, use

pytestmark = [pytest.mark.django_db]
HOT = {"elevation": "2100", "oat": "88 F"}


@pytest.fixture
def charted(shop: Cast) -> Aircraft:
    return charted_aircraft(shop)


def cards_of(aircraft: Aircraft) -> list[IssuedCard]:
    return list(IssuedCard.objects.filter(build__engine__installations__aircraft=aircraft).order_by("pk"))


def number_of(client: Client, aircraft: Aircraft, **typed: str) -> int | None:
    return card_of(client, aircraft, **typed).engines[0].number


@pytest.mark.usefixtures("today")
def test_looking_hands_out_the_default_card_and_looking_again_the_same(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    ada = as_person(shop.ada)
    ada.get(f"/portal/aircraft/{charted.pk}/")
    assert [number_of(ada, charted), number_of(ada, charted)] == [1, 1]
    (card,) = cards_of(charted)
    assert card.detail["content"]["engines"][0]["settings"], "what it said is kept"


@pytest.mark.usefixtures("today")
def test_typing_tries_a_card_and_using_it_hands_it_out_once(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    ada = as_person(shop.ada)
    number_of(ada, charted)
    assert number_of(ada, charted, **HOT) is None
    assert len(cards_of(charted)) == 1
    assert use(ada, charted, **HOT) == 302
    assert use(ada, charted, **HOT) == 302
    assert [card.number for card in cards_of(charted)] == [1, 2]
    assert number_of(ada, charted, **HOT) == 2


@pytest.mark.usefixtures("today")
def test_looking_without_typing_shows_the_card_in_hand_in_its_own_air(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    ada = as_person(shop.ada)
    use(ada, charted, **HOT)
    for _again in range(2):
        content = card_of(ada, charted)
        assert (content.engines[0].number, content.air.lines[0].value) == (1, "2100\u202fft")
    assert len(cards_of(charted)) == 1


@pytest.mark.usefixtures("today")
def test_somebody_who_reads_other_units_holds_the_same_card(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    use(as_person(shop.ada), charted, **HOT)
    mia = factories.person("Mia", units="si")
    CustomerMember.objects.create(customer=shop.ada_customer, person=mia, role="club_member", since=factories.LONG_AGO)
    content = card_of(as_person(mia), charted)
    assert content.engines[0].number == 1
    assert content.air.lines[2].value == "31\u202f°C"
    assert content.engines[0].settings[0].unit == "hPa"
    assert len(cards_of(charted)) == 1


@pytest.mark.usefixtures("today")
def test_the_shop_hands_out_a_card_by_saying_so_and_never_by_looking(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    tom = as_person(shop.tom)
    assert number_of(tom, charted) is None
    assert cards_of(charted) == []
    assert use(tom, charted, **HOT) == 302
    assert number_of(tom, charted) == 1
    assert number_of(as_person(shop.ada), charted) == 1


def test_a_card_holds_until_the_next_log(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    with time_machine.travel(NOW, tick=False):
        ada = as_person(shop.ada)
        use(ada, charted, **HOT)
        build = cards_of(charted)[0].build
    later = NOW + timedelta(hours=3)
    flown(build, 1.2, at=later, by=shop.ada)
    with time_machine.travel(later + timedelta(hours=1), tick=False):
        content = card_of(as_person(shop.ada), charted)
    assert content.engines[0].number == 2
    assert content.air.place, "the typed air went with the flight"


def test_air_that_was_told_long_ago_is_told_anew(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    told = "told more than 3 hours ago"
    for hours, says in ((2, False), (4, True)):
        with time_machine.travel(NOW, tick=False):
            use(as_person(shop.ada), charted, **HOT)
        with time_machine.travel(NOW + timedelta(hours=hours), tick=False):
            answer = as_person(shop.ada).get(f"/portal/aircraft/{charted.pk}/card/")
        assert (told in answer.content.decode()) is says
        assert answer.context["card"].content.engines[0].number == 1


@pytest.mark.usefixtures("today")
def test_a_kept_card_says_what_it_said_whatever_came_after(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    ada = as_person(shop.ada)
    use(ada, charted, **HOT)
    (card,) = cards_of(charted)
    before = ada.get(f"/portal/cards/{card.pk}/").content.decode()
    assert "2100\u202fft" in before
    assert "holds no longer" not in before
    issue_plan(
        by=shop.cora, build=card.build, template=ensure_templates()["Channel chrome"], reason="Other rings.",
        overrides={"rpm": 2600}, now=NOW,
    )  # fmt: skip
    assess.assess_build(card.build_id, NOW)
    assert number_of(ada, charted) == 2
    after = ada.get(f"/portal/cards/{card.pk}/").content.decode()
    assert "holds no longer" in after
    sheet = slice(before.index("<article"), before.index("</article"))
    assert after[after.index("<article") : after.index("</article")] == before[sheet]
    assert RunInPlan.objects.filter(build=card.build).count() == 2


def mate(shop: Cast, name: str, **reads: Any) -> Any:
    person = factories.person(name, **reads)
    CustomerMember.objects.create(
        customer=shop.ada_customer, person=person, role="club_member", since=factories.LONG_AGO
    )
    return person


def sheet_of(page: str) -> str:
    return page[page.index("<article") : page.index("</article")]


@pytest.mark.usefixtures("today")
def test_who_flies_the_aircraft_reads_a_kept_card_in_his_own_language_and_units_and_as_it_was_handed_out(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    mate(shop, "Mia", language="de", units="si")
    ada = as_person(shop.ada)
    use(ada, charted, **HOT)
    (card,) = cards_of(charted)
    address = f"/portal/cards/{card.pk}/"
    first = ada.get(address).content.decode()
    assert "It was handed out in" not in first
    mia = as_person(Person.objects.get(name="Mia"))
    hers = mia.get(address).content.decode()
    assert "Sie wurde auf Englisch und in US-Einheiten ausgegeben." in hers
    assert "31\u202f°C" in sheet_of(hers)
    assert "gehen dieser Karte vor" in sheet_of(hers)
    issued = mia.get(f"{address}?as=issued").content.decode()
    assert '<div lang="en">' in issued
    assert sheet_of(issued).split("</header>")[1] == sheet_of(first).split("</header>")[1]
    assert "88\u202f°F" in sheet_of(issued)


@pytest.mark.usefixtures("today")
def test_a_kept_card_that_nobody_kept_in_the_readers_way_says_how_it_was_handed_out(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    use(as_person(shop.ada), charted, **HOT)
    later = as_person(mate(shop, "Mia", language="de", units="mixed"))
    page = later.get(f"/portal/cards/{cards_of(charted)[0].pk}/").content.decode()
    assert "Sie wurde auf Englisch und in US-Einheiten ausgegeben." in page
    assert "in keiner anderen Sprache und keinen anderen Einheiten" in page
    assert "88\u202f°F" in sheet_of(page)


@pytest.mark.usefixtures("today")
def test_kept_cards_are_listed_and_lead_nobody_else_to_them(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    ada = as_person(shop.ada)
    number_of(ada, charted)
    use(ada, charted, **HOT)
    listed = ada.get(f"/portal/aircraft/{charted.pk}/cards/").content.decode()
    first, second = cards_of(charted)
    assert listed.index(f"/portal/cards/{second.pk}/") < listed.index(f"/portal/cards/{first.pk}/")
    ben = as_person(shop.ben)
    assert ben.get(f"/portal/aircraft/{charted.pk}/cards/").status_code == 404
    assert ben.get(f"/portal/cards/{first.pk}/").status_code == 404
    assert ben.post(f"/portal/aircraft/{charted.pk}/card/", HOT).status_code == 404


@pytest.mark.usefixtures("today")
def test_a_card_of_which_only_the_minutes_were_kept_shows_them(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    ada = as_person(shop.ada)
    number_of(ada, charted)
    card = cards_of(charted)[0]
    bare = IssuedCard.objects.create(
        build=card.build, number=9, plan=card.plan, stage=card.stage, minutes=[[60.0, "75"]], issued_at=NOW,
        valid_until=NOW,
    )  # fmt: skip
    said = ada.get(f"/portal/cards/{bare.pk}/").content.decode()
    assert "minutes were kept, and nothing else" in said
    assert "0:00 to 1:00" in said


@pytest.mark.usefixtures("today")
def test_a_twin_is_one_sheet_and_both_engines_get_their_number_together(shop: Cast, as_person: Any) -> None:
    twin = charted_aircraft(shop, registration="QX-904", position="left")
    add_engine(shop, twin, position="right")
    ada = as_person(shop.ada)
    content = card_of(ada, twin)
    assert [(engine.side, engine.number) for engine in content.engines] == [("LEFT", 1), ("RIGHT", 1)]
    use(ada, twin, **HOT)
    assert [engine.number for engine in card_of(ada, twin).engines] == [2, 2]
    assert len(cards_of(twin)) == 4


@pytest.mark.usefixtures("today")
def test_the_log_and_the_page_after_it_name_the_card_and_lead_to_it(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    ada = as_person(shop.ada)
    use(ada, charted, **HOT)
    (card,) = cards_of(charted)
    form = ada.get(f"/portal/aircraft/{charted.pk}/log/").content.decode()
    assert "Card no. 1" in form
    assert f'href="/portal/cards/{card.pk}/"' in form
    seat = Installation.objects.get(aircraft=charted)
    logged = flown(card.build, 1.2, at=NOW, by=shop.ada, as_on_card=True, card_id=card.pk)
    assert seat.engine_id == card.build.engine_id
    received = ada.get(f"/portal/flights/{logged.flight.pk}/received/").content.decode()
    assert "Flown as on card no. 1" in received
    assert f'href="/portal/cards/{card.pk}/"' in received


@pytest.mark.usefixtures("today")
def test_what_a_card_said_cannot_be_changed_afterwards(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    number_of(as_person(shop.ada), charted)
    with pytest.raises(Exception, match="append-only"), connection.cursor() as cursor:
        cursor.execute("UPDATE breakin_issuedcard SET detail = '{}'")
