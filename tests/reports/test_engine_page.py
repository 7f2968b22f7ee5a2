"""The page of one engine: who may read it, what it says, corrections, findings and their buttons."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from breakin.entries import parse_flight
from breakin.models import DueItem, DueState, Finding, FindingState, OilEvent, Severity
from breakin.services.corrections import correct_flight
from engines.models import Build, Engine, Holding
from tests import factories
from tests.factories import NOW, Cast, flown

pytestmark = pytest.mark.django_db


def address(build: Build) -> str:
    return f"/engines/{build.engine_id}/"


def finding(build: Build, **more: object) -> Finding:
    values = {
        "rule": "T1",
        "occurrence": str(uuid4()),
        "rule_version": 1,
        "severity": Severity.CALL,
        "title": "Hot at the top",
        "text": "CHT 441 degF.",
        "why": "Heads above the watch line.",
        "source": "run-in plan",
        "happened_at": NOW,
        "opened_at": NOW,
        **more,
    }
    return Finding.objects.create(build=build, **values)


def test_an_owner_reads_his_own_engine_and_no_other(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    assert ada.get(address(shop.build_1)).status_code == 200
    assert ada.get(address(shop.build_2)).status_code == 404


def test_staff_read_every_engine_and_a_visitor_signs_in(shop: Cast, as_person) -> None:
    assert Client().get(address(shop.build_1)).status_code == 302
    assert as_person(shop.tom).get(address(shop.build_2)).status_code == 200
    assert as_person(shop.tom).get("/engines/99999/").status_code == 404


def test_the_page_of_a_fresh_build_says_what_is_not_there_yet(shop: Cast, as_person) -> None:
    page = as_person(shop.cora).get(address(shop.build_1)).content.decode()
    assert "No oil reading yet." in page
    assert "No block of power yet." in page
    assert "No open finding." in page
    assert "Order of authority." in page


def test_the_page_shows_flights_oil_and_who_entered_them(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.2, level_qt=7.5, added_qt=0.5)
    page = as_person(shop.ada).get(address(shop.build_1)).content.decode()
    assert "Run-in flight, 1.2\u202fh" in page
    assert "Oil level 7.50" in page
    assert "Oil added: 0.50\u202fqt of straight mineral" in page
    assert "Entered by Ada, portal" in page


def test_an_si_reader_sees_litres(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.2, level_qt=7.5)
    shop.ada.units = "si"
    shop.ada.save()
    assert "Oil level 7.10" in as_person(shop.ada).get(address(shop.build_1)).content.decode()


def test_a_corrected_flight_shows_both_versions_the_old_one_struck_and_linked(shop: Cast, as_person) -> None:
    logged = flown(shop.build_1, 1.2)
    raw = factories.raw_flight(shop.build_1.engine, logged.flight.happened_at, 1.5, meter_end=101.5)
    later = logged.flight.received_at + timedelta(hours=1)
    entry = parse_flight(raw, units="us", zone="UTC", now=later)
    correct_flight(by=shop.ada, flight=logged.flight, entry=entry, reason="mistyped", now=later)
    page = as_person(shop.ada).get(address(shop.build_1)).content.decode()
    old = re.search(r'<li class="is-corrected">(.*?)</li>', page, re.S)
    assert "Run-in flight, 1.5\u202fh" in page
    assert old
    assert "Run-in flight, 1.2\u202fh" in old[1]
    assert f'<a href="#fact-{logged.flight.root}">corrected: mistyped</a>' in old[1]


def test_a_new_owner_reads_earlier_facts_without_persons_and_words(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.2, note="Grandmother was aboard.", level_qt=7.5)
    sell(shop)
    page = as_person(shop.ben).get(address(shop.build_1)).content.decode()
    assert "Run-in flight, 1.2\u202fh" in page
    assert "Oil level 7.50" in page
    assert "Grandmother" not in page
    assert "Entered by Ada" not in page


def test_the_old_owner_keeps_his_facts_and_sees_no_judgement_of_today(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.2, level_qt=7.5)
    sell(shop)
    page = as_person(shop.ada).get(address(shop.build_1)).content.decode()
    assert "Run-in flight, 1.2\u202fh" in page
    assert "No judgement to show." in page
    assert "What comes next" not in page


def sell(shop: Cast) -> None:
    sold = NOW - timedelta(days=20)
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=sold)
    Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=sold)


def test_a_customer_reads_only_findings_meant_for_him(shop: Cast, as_person) -> None:
    finding(shop.build_1, title="For all", happened_at=NOW - timedelta(days=1))
    finding(shop.build_1, title="Hone lot in doubt", for_customer=False)
    assert "Hone lot in doubt" in as_person(shop.tom).get(address(shop.build_1)).content.decode()
    page = as_person(shop.ada).get(address(shop.build_1)).content.decode()
    assert "For all" in page
    assert "Hone lot in doubt" not in page
    assert "I have seen it" not in page


def test_a_finding_tells_why_with_rule_numbers_and_source(shop: Cast, as_person) -> None:
    finding(shop.build_1, numbers={"cht_degf": 441.0}, source="run-in plan, revision 1")
    page = as_person(shop.cora).get(address(shop.build_1)).content.decode()
    assert "Rule T1, version 1: Heads above the watch line." in page
    assert "Numbers: cht degf 441." in page
    assert "Source of the line: run-in plan, revision 1" in page


def test_only_a_technician_is_offered_to_clear_a_stop(shop: Cast, as_person) -> None:
    stop = finding(shop.build_1, severity=Severity.STOP)
    link = f'href="/findings/{stop.pk}/clear/"'
    manager = as_person(shop.cora).get(address(shop.build_1)).content.decode()
    assert link not in manager
    assert "Cleared by: build technician, line technician, signatory." in manager
    assert link in as_person(shop.tom).get(address(shop.build_1)).content.decode()


def test_due_items_offer_the_technician_to_complete_them(shop: Cast, as_person) -> None:
    item = DueItem.objects.create(
        build=shop.build_1,
        rule="T",
        occurrence="1",
        rule_version=1,
        kind="leak",
        title="Leak look",
        text="Look.",
        state=DueState.DUE,
        opened_at=NOW,
    )
    link = f"/due/{item.pk}/complete/"
    assert link in as_person(shop.tom).get(address(shop.build_1)).content.decode()
    owner = as_person(shop.ada).get(address(shop.build_1)).content.decode()
    assert "Leak look" in owner
    assert link not in owner


def test_an_older_build_is_chosen_by_its_address(shop: Cast, as_person) -> None:
    old = Build.objects.create(
        engine=shop.build_1.engine,
        number="B-OLD",
        kind="new",
        type_revision=shop.build_1.type_revision,
        state="closed",
        opened_at=NOW - timedelta(days=190),
        closed_at=NOW - timedelta(days=100),
    )
    client = as_person(shop.cora)
    assert "build B-OLD" in client.get(address(shop.build_1)).content.decode()
    assert f"build {old.number}, new" in client.get(f"{address(shop.build_1)}?build={old.pk}").content.decode()
    assert client.get(f"{address(shop.build_1)}?build={shop.build_2.pk}").status_code == 404
    assert client.get(f"{address(shop.build_1)}?build=x").status_code == 404


def test_the_engines_of_a_twin_link_to_each_other_also_where_one_has_no_build(shop: Cast, as_person) -> None:
    twin = factories.aircraft("QX-950", shop.ada_customer)
    left = factories.build(factories.engine(), by=shop.cora)
    right: Engine = factories.engine()
    factories.seat(left.engine, twin, by=shop.tom, position="left")
    factories.seat(right, twin, by=shop.tom, position="right")
    client = as_person(shop.ada)
    assert f'<a href="/engines/{right.pk}/">QX-950 RIGHT</a>' in client.get(address(left)).content.decode()
    other = client.get(f"/engines/{right.pk}/").content.decode()
    assert "This engine is not in break-in." in other
    assert f'<a href="/engines/{left.engine_id}/">QX-950 LEFT</a>' in other


def test_a_long_history_is_cut_and_can_be_had_whole(shop: Cast, as_person) -> None:
    for _ in range(24):
        flown(shop.build_1, 1.0, level_qt=7.0, at=None)
    client = as_person(shop.cora)
    short = client.get(address(shop.build_1)).content.decode()
    whole = client.get(f"{address(shop.build_1)}?timeline=all").content.decode()
    assert "older entr" in short
    assert short.count('id="fact-') == 40
    assert whole.count('id="fact-') == 48


def test_the_page_costs_the_same_queries_after_more_flights(shop: Cast, as_person) -> None:
    client = as_person(shop.cora)
    flown(shop.build_1, 1.0, level_qt=7.0)
    finding(shop.build_1)
    few = queries(client, shop.build_1)
    for _ in range(5):
        flown(shop.build_1, 1.0, level_qt=7.0)
        finding(shop.build_1)
    assert queries(client, shop.build_1) == few


def queries(client: Client, build: Build) -> int:
    with CaptureQueriesContext(connection) as asked:
        client.get(address(build))
    return len(asked)


# --- Answering findings ---------------------------------------------------------------------------------------------


def test_staff_acknowledge_a_finding_and_it_stays_open(shop: Cast, as_person) -> None:
    found = finding(shop.build_1)
    answer = as_person(shop.cora).post(f"/findings/{found.pk}/acknowledge/")
    found.refresh_from_db()
    assert answer.status_code == 302
    assert (found.state, found.acknowledged_by) == (FindingState.ACKNOWLEDGED, shop.cora)


def test_an_owner_may_not_answer_a_finding_and_a_stranger_does_not_find_it(shop: Cast, as_person) -> None:
    found = finding(shop.build_1, happened_at=NOW - timedelta(days=1))
    assert as_person(shop.ada).post(f"/findings/{found.pk}/acknowledge/").status_code == 403
    assert as_person(shop.ada).get(f"/findings/{found.pk}/clear/").status_code == 403
    assert as_person(shop.ben).post(f"/findings/{found.pk}/acknowledge/").status_code == 404
    assert as_person(shop.ben).get(f"/findings/{found.pk}/clear/").status_code == 404
    found.refresh_from_db()
    assert found.state == FindingState.OPEN


def test_a_manager_may_not_clear_a_stop(shop: Cast, as_person) -> None:
    stop = finding(shop.build_1, severity=Severity.STOP)
    words = {"verdict": "fixed", "cause": "Pump set low.", "action": "Set by the maker's text."}
    assert as_person(shop.cora).post(f"/findings/{stop.pk}/clear/", words).status_code == 403
    stop.refresh_from_db()
    assert stop.state == FindingState.OPEN


def test_a_technician_clears_a_stop_with_cause_and_action(shop: Cast, as_person) -> None:
    stop = finding(shop.build_1, severity=Severity.STOP)
    words = {"verdict": "fixed", "cause": "Pump set low.", "action": "Set by the maker's text."}
    assert as_person(shop.tom).post(f"/findings/{stop.pk}/clear/", words).status_code == 302
    stop.refresh_from_db()
    said = stop.verdicts.get()
    assert (stop.state, said.cause, said.by) == (FindingState.CLEARED, "Pump set low.", shop.tom)


def test_clearing_without_a_cause_is_refused_and_keeps_what_was_typed(shop: Cast, as_person) -> None:
    stop = finding(shop.build_1, severity=Severity.STOP)
    answer = as_person(shop.tom).post(f"/findings/{stop.pk}/clear/", {"verdict": "fixed", "action": "Set it."})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Type the cause in one line." in page
    assert 'value="Set it."' in page
    assert not stop.verdicts.exists()


def test_opening_a_page_acknowledges_nothing(shop: Cast, as_person) -> None:
    found = finding(shop.build_1)
    assert as_person(shop.cora).get(f"/findings/{found.pk}/acknowledge/").status_code == 405


def test_withdrawn_facts_stay_readable_on_the_timeline(shop: Cast, as_person) -> None:
    from breakin.services.corrections import withdraw_oil

    flown(shop.build_1, 1.2, level_qt=7.5)
    event = OilEvent.objects.get(kind="reading")
    withdraw_oil(by=shop.ada, event=event, reason="wrong_engine", now=event.received_at + timedelta(hours=1))
    assert "withdrawn: wrong engine" in as_person(shop.ada).get(address(shop.build_1)).content.decode()
