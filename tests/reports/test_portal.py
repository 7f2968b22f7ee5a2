"""The pilot's first page: Stops first, state in a sentence, how much longer, what to do next, oil, last flights."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from breakin import assess
from breakin.models import Assessment, Finding, IssuedCard, Severity
from engines.models import Build, Holding, PilotAssignment
from shop.models import ShopRole
from tests import factories
from tests.factories import NOW, Cast, flown

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

FORBIDDEN = ("airworthy", "cleared to fly", "safe to fly", "released")


def finding(build: Build, severity: Severity, **more: object) -> Finding:
    values = {
        "rule": "T1", "occurrence": str(uuid4()), "rule_version": 1, "severity": severity, "title": "Low fuel flow",
        "text": "14.2 gal/h at full throttle.", "why": "w", "source": "engine type", "happened_at": NOW,
        "opened_at": NOW, **more,
    }  # fmt: skip
    return Finding.objects.create(build=build, **values)


def text_of(client: Client, address: str = "/portal/") -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_stop_is_the_first_thing_on_the_page_with_reason_and_phone(shop: Cast, as_person) -> None:
    finding(shop.build_1, Severity.STOP)
    Assessment.objects.filter(build=shop.build_1).update(stopped=True)
    text = text_of(as_person(shop.ada))
    stop = text.index("Do not fly until a technician has cleared this item")
    assert stop < text.index("Log a flight</a>\n")
    assert stop < text.index("Next flight:")
    assert "14.2 gal/h at full throttle." in text
    assert 'href="tel:555-0199"' in text
    assert "Not before the Stop above is cleared by a technician." in text


@pytest.mark.parametrize(
    ("severity", "state", "shown"),
    [
        (Severity.CALL, "open", True),
        (Severity.CALL, "acknowledged", False),
        (Severity.STOP, "acknowledged", True),
        (Severity.STOP, "cleared", False),
    ],
)
def test_a_call_that_the_shop_took_up_leaves_the_page_and_a_stop_stays_until_it_is_cleared(
    shop: Cast, as_person, severity: Severity, state: str, shown: bool
) -> None:
    finding(shop.build_1, severity, state=state)

    assert ("Low fuel flow" in text_of(as_person(shop.ada))) is shown


def test_a_fresh_engine_says_what_the_first_flight_is(shop: Cast, as_person) -> None:
    assess.assess_build(shop.build_1.pk, NOW)
    text = text_of(as_person(shop.ada))
    assert "Awaiting first flight" in text
    assert "0:00 to 1:00" in text
    assert "75 % of rated power" in text
    assert "counts from 72 to 85 %" in text
    assert "15.2\u202fgal/h to 16.8\u202fgal/h" in text
    assert "Aboard:" in text
    assert "Land now if oil pressure is low" in text
    assert "Engines of this kind usually take 8 to 12 h." in text
    assert "if all goes as usual" in text


def test_a_running_engine_says_hours_credit_and_oil(shop: Cast, as_person) -> None:
    for day, level in ((5, 7.0), (4, 6.75), (3, 6.5)):
        flown(shop.build_1, 1.1, at=NOW - timedelta(days=day), level_qt=level, added_qt=0)
    assess.assess_build(shop.build_1.pk, NOW)
    text = text_of(as_person(shop.ada))
    assert "3.3 h run so far" in text
    assert "Hold line" in text
    assert "6.50\u202fqt is above the hold line" in text
    assert text.count("in the air, Ada") == 3


def test_nothing_on_the_page_gives_permission(shop: Cast, as_person) -> None:
    finding(shop.build_1, Severity.STOP)
    text = text_of(as_person(shop.ada)).lower()
    assert not [word for word in FORBIDDEN if word in text]
    assert "order of authority" in text


def test_looking_at_the_page_hands_out_the_card_once(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    assert "Card no. 1, plan revision 1" in text_of(ada)
    text_of(ada)
    assert IssuedCard.objects.filter(build=shop.build_1).count() == 1
    text_of(as_person(shop.tom), f"/portal/aircraft/{shop.aircraft_2.pk}/")
    assert not IssuedCard.objects.filter(build=shop.build_2).exists()


def test_somebody_without_an_aircraft_is_told_whom_to_ask(shop: Cast, as_person) -> None:
    text = text_of(as_person(factories.person("Nobody")))
    assert "No aircraft is in your name here yet." in text
    assert "555-0199" in text


def test_several_aircraft_are_a_list_with_the_stopped_one_first(shop: Cast, as_person) -> None:
    for number in (5, 3, 4):
        into = factories.aircraft(f"QX-91{number}", shop.ada_customer)
        engine = factories.engine()
        build = factories.build(engine, by=shop.cora)
        factories.seat(engine, into, by=shop.tom)
        assess.assess_build(build.pk, NOW)
    finding(build, Severity.STOP)
    Assessment.objects.filter(build=build).update(stopped=True)
    text = text_of(as_person(shop.ada))
    assert text.index("QX-914: Low fuel flow") < text.index(">QX-914</span>") < text.index(">QX-901</span>")
    assert text.index(">QX-901</span>") < text.index(">QX-913</span>")
    assert text.count("Log a flight</a>") == 4 + 1  # and the one of the letterhead
    assert 'id="log"' in text


def test_a_list_of_many_aircraft_costs_no_more_queries_than_one_of_few(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)

    def grow(numbers: range) -> int:
        for number in numbers:
            into = factories.aircraft(f"QX-9{number}", shop.ada_customer)
            engine = factories.engine()
            factories.build(engine, by=shop.cora)
            factories.seat(engine, into, by=shop.tom)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            text_of(ada)
        return len(queries)

    assert grow(range(20, 22)) == grow(range(22, 30))


def test_a_twin_shows_both_engines_and_only_one_in_break_in(shop: Cast, as_person) -> None:
    Holding.objects.filter(aircraft=shop.aircraft_1).update(customer=shop.ben_customer, until=NOW - timedelta(days=1))
    twin = factories.aircraft("QX-903", shop.ada_customer)
    left, right = factories.engine(), factories.engine()
    factories.build(left, by=shop.cora)
    for engine, position in ((left, "left"), (right, "right")):
        factories.seat(engine, twin, by=shop.tom, position=position)
    text = text_of(as_person(shop.ada))
    assert text.index("LEFT engine") < text.index("RIGHT engine")
    assert "No break-in is open for" in text
    assert f"/portal/engines/{right.pk}/oil/" in text


def test_another_owners_aircraft_is_not_found(shop: Cast, as_person) -> None:
    assert as_person(shop.ben).get(f"/portal/aircraft/{shop.aircraft_1.pk}/").status_code == 404
    assert "QX-901" not in text_of(as_person(shop.ben))


def test_a_former_owner_reads_his_flights_and_nothing_of_today(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=5), level_qt=7)
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    finding(shop.build_1, Severity.STOP)
    ada = as_person(shop.ada)
    assert "Aircraft you held or flew before" in text_of(ada)
    text = text_of(ada, f"/portal/aircraft/{shop.aircraft_1.pk}/")
    assert "in the air, Ada" in text
    assert "Do not fly" not in text
    assert f"/portal/aircraft/{shop.aircraft_1.pk}/log/" not in text


def test_after_a_sale_the_received_page_says_nothing_of_today(shop: Cast, as_person) -> None:
    flight = flown(shop.build_1, 1.0, at=NOW - timedelta(days=5), level_qt=7).flight
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    text = text_of(as_person(shop.ada), f"/portal/flights/{flight.pk}/received/")
    assert "Received by the shop" in text
    assert "Hold line" not in text
    assert "Fix this entry" not in text


def test_a_new_owner_reads_earlier_flights_without_the_persons(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=5), level_qt=7)
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=NOW - timedelta(days=1))
    text = text_of(as_person(shop.ben), f"/portal/aircraft/{shop.aircraft_1.pk}/")
    assert "1\u202fh 00\u202fmin in the air" in text
    assert "Ada" not in text


def test_an_instructor_sees_what_was_missed_last_flight_and_how_his_engines_ended(shop: Cast, as_person) -> None:
    corin = factories.person("Corin")
    ShopRole.objects.create(person=corin, role="break_in_pilot", since=NOW - timedelta(days=90))
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=corin, since=NOW - timedelta(days=9))
    PilotAssignment.objects.create(
        aircraft=shop.aircraft_2, person=corin, since=NOW - timedelta(days=40), until=NOW - timedelta(days=20)
    )
    flight = flown(shop.build_1, 1.0, at=NOW - timedelta(days=1), level_qt=7).flight
    finding(
        shop.build_1, Severity.WATCH, text="12 min below 60 %.", evidence=[{"kind": "flight", "root": str(flight.root)}]
    )
    Assessment.objects.filter(build=shop.build_2).update(
        phase="settling", hours=9.4, first_two_word="met", registration="QX-902", serial="E-7"
    )
    text = text_of(as_person(corin))
    assert "From the last flight" in text
    assert "12 min below 60 %." in text
    ended = text_of(as_person(corin), "/portal/instructor/")
    assert "settling, 9.4 h" in ended
    assert 'data-label="First two hours">met' in ended
    assert "in the air, Ada" in text


def test_an_assessment_with_nothing_in_it_still_makes_a_page(shop: Cast, as_person) -> None:
    empty: list[dict[str, object]] = [
        {},
        {"oil": None, "credit": [], "next": None},
        {"next": {"minutes": []}, "credit": {"owed": {"75": None}}},
    ]
    for detail in empty:
        Assessment.objects.filter(build=shop.build_1).update(detail=detail, phase="alternating", hours=3)
        assert "Alternating" in text_of(as_person(shop.ada))


def test_a_firm_with_a_hundred_aircraft_pages_through_them_and_sees_every_stop(shop: Cast, as_person) -> None:
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    fleet = [factories.aircraft(f"QX-{number}", shop.ada_customer) for number in range(100, 200)]
    engine = factories.engine()
    build = factories.build(engine, by=shop.cora)
    factories.seat(engine, fleet[-1], by=shop.tom)
    assess.assess_build(build.pk, NOW)
    finding(build, Severity.STOP)
    ada = as_person(shop.ada)
    first = text_of(ada)
    assert "QX-199: Low fuel flow" in first
    assert ">QX-149</span>" in first
    assert ">QX-150</span>" not in first
    second = text_of(ada, "/portal/?after=QX-149")
    assert ">QX-150</span>" in second
    assert ">QX-199</span>" in second
    assert ">QX-149</span>" not in second


def test_a_visitor_signs_in_first(shop: Cast) -> None:
    assert Client().get("/portal/").status_code == 302
    assert Client().get(f"/portal/aircraft/{shop.aircraft_1.pk}/log/").status_code == 302
