"""Fix an entry: it comes back as it was typed, a new version is written, and the time for it is limited."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from breakin.models import Flight, OilEvent
from engines.models import Build
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import a_flight, chosen, error_at, log_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def logged(shop: Cast, as_person) -> Flight:
    """A flight that Ada typed a moment ago, in her own way of writing."""
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    sent = a_flight(
        page,
        airborne="1:06",
        e0_meter_end="101,1",
        e0_as_on_card="no",
        **{
            "e0-b0-duration": "45", "e0-b0-map": "24,1", "e0-b0-rpm": "2450", "e0-b0-mixture": "rich",
            "e0-cht_max": "207", "e0-cht_max_unit": "degC", "note": "smooth", "oat_ground": "12 degC",
        },
    )  # fmt: skip
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302
    return Flight.objects.get()


def address(fact: Flight | OilEvent) -> str:
    return f"/flights/{fact.pk}/correct/" if isinstance(fact, Flight) else f"/oil/{fact.pk}/correct/"


def as_it_stands(page: Any, **changed: Any) -> dict[str, Any]:
    """What the browser would send back from the correction form without a change."""
    names = (
        "client_id", "airborne", "local_date", "local_time", "e0-meter_end", "e0-takeoff_ff", "e0-cht_max", "e0-blocks",
        "e0-b0-duration", "e0-b0-map", "e0-b0-rpm", "oat_ground",
    )  # fmt: skip
    sent: dict[str, Any] = {name: value_of(page, name) for name in names}
    for name in ("e0-as_on_card", "e0-cht_over_watch", "e0-cht_falling"):
        sent[name] = (chosen(page, name) or [""])[0]
    return {
        **sent,
        "e0-cht_max_unit": "degC",
        "e0-b0-mixture": "rich",
        "oat_ground_unit": "degC",
        "chips": chosen(page, "chips"),
        "note": "smooth",
        "kind": "run_in",
        **changed,
    }


def test_the_form_comes_back_with_what_was_typed(shop: Cast, as_person, logged: Flight) -> None:
    page = as_person(shop.ada).get(address(logged))
    typed = {
        "airborne": "1:06", "e0-meter_end": "101,1", "e0-b0-map": "24,1", "e0-b0-duration": "45", "e0-cht_max": "207",
        "oat_ground": "12 degC", "local_time": "06:00",
    }  # fmt: skip
    assert {name: value_of(page, name) for name in typed} == typed
    assert chosen(page, "e0-as_on_card") == ["no"]
    assert chosen(page, "chips") == ["none"]
    assert '<option value="degC" selected>' in page.content.decode()
    assert value_of(page, "e0-meter_start") == ""  # it was never typed


def test_a_correction_is_a_new_version_and_the_oil_entries_stay(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    oil_before = list(OilEvent.objects.values_list("pk", flat=True))
    page = ada.get(address(logged))
    answer = ada.post(address(logged), as_it_stands(page, airborne="60", reason="mistyped"))
    assert answer.status_code == 302, answer.content.decode()
    newer = Flight.objects.current().get()
    assert (newer.corrects, newer.airborne_min, newer.correction_reason) == (logged, 60, "mistyped")
    assert newer.engines.get().blocks.get().map_inhg == 24.1
    assert newer.engines.get().cht_max_degf == pytest.approx(404.6)
    assert list(OilEvent.objects.values_list("pk", flat=True)) == oil_before


def test_an_unchanged_form_changes_no_value(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    ada.post(address(logged), as_it_stands(ada.get(address(logged)), reason="better_source"))
    newer = Flight.objects.current().get()
    assert newer.pk != logged.pk
    for name in ("airborne_min", "happened_at", "oat_ground_degf", "chips", "note", "kind", "pilot_id", "field_id"):
        assert getattr(newer, name) == getattr(logged, name), name
    before, after = logged.engines.get(), newer.engines.get()
    for name in ("hours", "meter_start_h", "meter_end_h", "takeoff_ff_gph", "cht_max_degf", "cht_over_watch"):
        assert getattr(after, name) == getattr(before, name), name


def test_a_correction_says_why(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    answer = ada.post(address(logged), as_it_stands(ada.get(address(logged)), airborne="60"))
    assert answer.status_code == 422
    assert "Choose what was wrong" in error_at(answer, "reason")
    assert value_of(answer, "airborne") == "60"
    assert Flight.objects.count() == 1


def test_bad_input_in_a_correction_is_said_at_its_field(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    sent = as_it_stands(ada.get(address(logged)), reason="mistyped", **{"e0-meter_end": "98"})
    assert "backwards" in error_at(ada.post(address(logged), sent), "e0-meter_end")
    assert Flight.objects.count() == 1


def test_a_flight_that_never_happened_is_withdrawn_with_its_oil(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    unsure = ada.post(address(logged), {"withdraw": "1", "withdraw-reason": "duplicate"})
    assert unsure.status_code == 422
    assert Flight.objects.current().exists()
    answer = ada.post(
        address(logged), {"withdraw": "1", "withdraw-reason": "duplicate", "withdraw-sure": "on"}, follow=True
    )
    assert "counts no longer" in answer.content.decode()
    assert not Flight.objects.current().exists()
    assert not OilEvent.objects.current().exists()
    assert Flight.objects.count() == 2


def test_an_oil_reading_is_fixed_by_itself(shop: Cast, as_person, logged: Flight) -> None:
    event = OilEvent.objects.get(kind="reading")
    ada = as_person(shop.ada)
    page = ada.get(address(event))
    assert value_of(page, "oil_level") == "6.5"
    assert chosen(page, "minutes_since") == ["10-30"]
    assert 'name="added"' not in page.content.decode()
    sent = {
        "client_id": value_of(page, "client_id"), "oil_level": "6,25", "oil_level_unit": "qt", "minutes_since": "10-30",
        "protocol": "good", "belly": "none", "when": "after", "local_date": value_of(page, "local_date"),
        "local_time": value_of(page, "local_time"), "reason": "mistyped",
    }  # fmt: skip
    answer = ada.post(address(event), sent)
    assert answer.status_code == 302, answer.content.decode()
    newer = OilEvent.objects.current().get(kind="reading")
    assert (newer.corrects, newer.level_qt, newer.flight_root) == (event, 6.25, logged.root)


def test_an_addition_comes_back_as_it_was_poured(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    poured = {
        "e0-added": "2",
        "e0-container": "litre",
        "e0-oil_kind": "mineral",
        "e0-poured": "before",
        "e0-brand": "X",
    }
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **poured, **{"e0-added_sure": "2"})
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302
    event = OilEvent.objects.get(kind="addition")
    page = ada.get(address(event))
    assert chosen(page, "added") == ["2"]
    assert chosen(page, "container") == ["litre"]
    assert chosen(page, "oil_kind") == ["mineral"]
    assert value_of(page, "brand") == "X"
    kept = {name: value_of(page, name) for name in ("client_id", "local_date", "local_time")}
    sent = {**kept, "added": "1", "container": "litre", "oil_kind": "mineral", "when": "before", "reason": "mistyped"}
    assert ada.post(address(event), sent).status_code == 302
    assert OilEvent.objects.current().get(kind="addition").amount_qt == pytest.approx(1.0567, abs=1e-4)


def test_an_oil_entry_is_withdrawn(shop: Cast, as_person, logged: Flight) -> None:
    event = OilEvent.objects.get(kind="reading")
    withdrawn = {"withdraw": "1", "withdraw-reason": "wrong_engine", "withdraw-sure": "on"}
    assert as_person(shop.ada).post(address(event), withdrawn).status_code == 302
    assert not OilEvent.objects.current().filter(kind="reading").exists()


def test_an_old_address_leads_to_the_version_that_holds(shop: Cast, as_person, logged: Flight) -> None:
    ada = as_person(shop.ada)
    ada.post(address(logged), as_it_stands(ada.get(address(logged)), airborne="60", reason="mistyped"))
    newer = Flight.objects.current().get()
    answer = ada.get(address(logged))
    assert (answer.status_code, answer["Location"]) == (302, address(newer))


def test_who_may_fix_an_entry(shop: Cast, as_person, logged: Flight, today) -> None:
    assert as_person(shop.ben).get(address(logged)).status_code == 404
    assert as_person(shop.tom).get(address(logged)).status_code == 200
    assert Client().get(address(logged)).status_code == 302
    today.shift(timedelta(days=8))
    assert as_person(shop.ada).get(address(logged)).status_code == 403
    assert as_person(shop.tom).get(address(logged)).status_code == 200


def test_another_members_entry_is_not_ones_own(shop: Cast, as_person, logged: Flight) -> None:
    mate = factories.person("Mika")
    shop.ada_customer.members.create(person=mate, role="club_member", since=NOW - timedelta(days=9))
    answer = as_person(mate).get(address(logged))
    assert answer.status_code == 403
    assert as_person(mate).post(address(logged), {"airborne": "1"}).status_code == 403


def test_after_close_out_only_the_shop_fixes_an_entry(shop: Cast, as_person, logged: Flight) -> None:
    Build.objects.filter(pk=shop.build_1.pk).update(state="closed", closed_at=NOW + timedelta(hours=1))
    assert as_person(shop.ada).get(address(logged)).status_code == 403
    assert as_person(shop.cora).get(address(logged)).status_code == 200


def test_the_portal_offers_the_fix_only_where_it_may_be_made(shop: Cast, as_person, today) -> None:
    flight = flown(shop.build_1, 1.0, at=NOW - timedelta(hours=2), level_qt=7).flight
    assert address(flight) in as_person(shop.ada).get("/portal/").content.decode()
    today.shift(timedelta(days=8))
    assert address(flight) not in as_person(shop.ada).get("/portal/").content.decode()
