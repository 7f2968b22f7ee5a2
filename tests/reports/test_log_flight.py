"""Log a flight: one flight from one form, what it means, units, twins, other people's flights."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from breakin.models import Finding, Flight, FlightEngine, OilEvent, PowerBlock
from engines.models import Holding, PilotAssignment
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import a_flight, chosen, error_at, log_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def twin(shop: Cast):
    """QX-903 of Ada: LEFT in break-in, RIGHT not."""
    aircraft = factories.aircraft("QX-903", shop.ada_customer)
    left, right = factories.engine(), factories.engine()
    build = factories.build(left, by=shop.cora)
    factories.seat(left, aircraft, by=shop.tom, position="left")
    factories.seat(right, aircraft, by=shop.tom, position="right")
    return aircraft, build, right


def test_a_flight_typed_with_a_decimal_comma_is_kept_with_its_oil(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    answer = ada.post(log_address(shop.aircraft_1), a_flight(page, e0_meter_end="101,1", e0_oil_level="6,5"))
    flight = Flight.objects.get()
    assert answer.status_code == 302
    assert answer["Location"] == f"/portal/flights/{flight.pk}/received/"
    assert flight.airborne_min == 66
    assert flight.engines.get().meter_end_h == pytest.approx(101.1)
    reading = OilEvent.objects.get(kind="reading")
    assert (reading.level_qt, reading.minutes_since_shutdown, reading.level_ground, reading.wiped_twice) == (
        6.5,
        20,
        True,
        True,
    )
    assert reading.typed["level"] == ["6,5", "qt"]
    assert OilEvent.objects.get(kind="none_added").flight_root == flight.root


def test_a_usual_flight_takes_at_most_twelve_touches_beside_the_digits(shop: Cast, as_person) -> None:
    """Fields and chips that an ordinary flight needs; the first number is typed into the field that opens the form."""
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=2), level_qt=6.5)
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    # Who was aboard is asked on the first flight alone.
    sent = a_flight(page, e0_as_on_card="yes", e0_protocol=None, persons_aboard=None, e0_meter_end="102.1")
    filled_already = {"client_id", "new_client_id", "local_date", "local_time", "e0-blocks"}
    touched = [name for name in sent if name not in filled_already and not name.endswith("_unit")]
    assert len(touched) + 1 <= 12  # and the button
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302


def test_the_form_asks_in_the_order_of_the_cockpit(shop: Cast, as_person) -> None:
    text = as_person(shop.ada).get(log_address(shop.aircraft_1)).content.decode()
    order = [
        "airborne", "e0-meter_end", "e0-as_on_card", "e0-takeoff_ff", "e0-cht_max", "e0-cht_over_watch",
        "e0-cht_falling", "e0-oil_level", "e0-minutes_since", "e0-added", "e0-belly", "chips", "note",
    ]  # fmt: skip
    places = [text.index(f'name="{name}"') for name in order]
    assert places == sorted(places)


def test_numbers_bring_up_a_decimal_keypad(shop: Cast, as_person) -> None:
    text = as_person(shop.ada).get(log_address(shop.aircraft_1)).content.decode()
    for name in ("airborne", "e0-meter_end", "e0-takeoff_ff", "e0-cht_max", "e0-oil_level"):
        field = re.search(rf'<input[^>]*name="{name}"[^>]*>', text)
        assert field, name
        assert 'inputmode="decimal"' in field[0], name


def test_the_last_meter_and_level_stand_as_hints(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.2, level_qt=7.25)
    text = as_person(shop.ada).get(log_address(shop.aircraft_1)).content.decode()
    assert "Last reading on record: 101.2 h." in text
    assert "Last time 7.25" in text


def test_as_on_the_card_writes_the_blocks_of_the_card_that_was_shown(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    ada.get("/portal/")
    page = ada.get(log_address(shop.aircraft_1))
    assert "Card no. 1" in page.content.decode()
    ada.post(log_address(shop.aircraft_1), a_flight(page, e0_as_on_card="yes"))
    run = FlightEngine.objects.get()
    assert run.as_on_card is not None
    assert sum(block.duration_min for block in run.blocks.all()) == 60


def test_something_else_than_the_card_is_typed_in_blocks(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    sent = a_flight(page, e0_as_on_card="no", **{
        "e0-b0-duration": "30", "e0-b0-map": "24,1", "e0-b0-map_unit": "inHg", "e0-b0-rpm": "2450",
        "e0-b0-pressure_altitude": "4000", "e0-b0-pressure_altitude_unit": "ft",
        "e0-b0-oat": "10 degC", "e0-b0-oat_unit": "degF",
        "e0-b1-duration": "",
    })  # fmt: skip
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302
    block = PowerBlock.objects.get()
    assert (block.duration_min, block.map_inhg, block.rpm, block.oat_degf) == (30, 24.1, 2450, 50)


def test_a_block_more_is_had_without_script_and_nothing_typed_is_lost(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    sent = a_flight(page, e0_as_on_card="no", airborne="1:06", **{"e0-b1-rpm": "2400"})
    again = ada.post(log_address(shop.aircraft_1), {**sent, "add_block": "e0"})
    assert again.status_code == 200
    assert value_of(again, "e0-blocks") == "3"
    assert value_of(again, "e0-b1-rpm") == "2400"
    assert value_of(again, "airborne") == "1:06"
    assert value_of(again, "e0-b2-rpm") == ""
    assert not Flight.objects.exists()


def test_oil_added_before_the_flight_comes_before_the_reading(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    sent = a_flight(
        page,
        e0_added="1",
        **{"e0-container": "litre", "e0-oil_kind": "mineral", "e0-poured": "before", "e0-brand": "X 100"},
    )
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302
    first, second = OilEvent.objects.order_by("happened_at", "order")
    assert (first.kind, first.when, second.kind) == ("addition", "before", "reading")
    assert first.amount_qt == pytest.approx(1.0567, abs=1e-4)  # one litre in US quarts


def test_an_owner_in_si_units_types_litres_and_degrees_celsius(shop: Cast, as_person) -> None:
    shop.ada.units = "si"
    shop.ada.save()
    ada = as_person(shop.ada)
    page = ada.get(log_address(shop.aircraft_1))
    assert "216\u202f°C" in page.content.decode()
    sent = a_flight(page, **{
        "e0-cht_max": "207", "e0-cht_max_unit": "degC", "e0-oil_level": "6,1", "e0-oil_level_unit": "L",
        "e0-takeoff_ff": "60,5", "e0-takeoff_ff_unit": "L/h",
    })  # fmt: skip
    assert ada.post(log_address(shop.aircraft_1), sent).status_code == 302
    run = FlightEngine.objects.get()
    assert run.cht_max_degf == pytest.approx(404.6)
    assert run.takeoff_ff_gph == pytest.approx(15.98, abs=0.01)
    assert OilEvent.objects.get(kind="reading").level_qt == pytest.approx(6.446, abs=1e-3)


def test_a_twin_has_a_part_for_each_engine_and_keeps_them_apart(shop: Cast, as_person, twin) -> None:
    aircraft, build, right = twin
    ada = as_person(shop.ada)
    page = ada.get(log_address(aircraft))
    assert chosen(page, "engines") == ["e0", "e1"]
    sent = a_flight(
        page,
        engines=["e0", "e1"],
        **{"e1-blocks": "2", "e1-meter_end": "101.2", "e1-oil_level": "7", "e1-as_on_card": "unknown"},
    )
    assert ada.post(log_address(aircraft), sent).status_code == 302
    assert {run.engine_id: run.meter_end_h for run in FlightEngine.objects.all()} == {
        build.engine_id: 101.1,
        right.pk: 101.2,
    }
    assert {event.engine_id: event.level_qt for event in OilEvent.objects.filter(kind="reading")} == {
        build.engine_id: 6.5,
        right.pk: 7.0,
    }


def test_an_engine_of_a_twin_that_did_not_run_is_left_out(shop: Cast, as_person, twin) -> None:
    aircraft, build, _right = twin
    ada = as_person(shop.ada)
    page = ada.get(log_address(aircraft))
    sent = a_flight(
        page,
        engines=["e0"],
        airborne="0",
        kind="ground_run",
        **{"ground_before": "8", "e0-meter_end": "100.1", "e1-blocks": "2"},
    )
    answer = ada.post(log_address(aircraft), sent)
    assert answer.status_code == 302, error_at(answer, "airborne")
    assert [run.engine_id for run in FlightEngine.objects.all()] == [build.engine_id]


def test_a_twin_without_a_chosen_engine_is_asked_which_one_ran(shop: Cast, as_person, twin) -> None:
    aircraft, _build, _right = twin
    ada = as_person(shop.ada)
    answer = ada.post(log_address(aircraft), a_flight(ada.get(log_address(aircraft)), **{"e1-blocks": "2"}))
    assert answer.status_code == 422
    assert "Choose the engine or engines that ran." in error_at(answer, "engines")


def test_an_open_stop_is_the_first_thing_said_after_sending(shop: Cast, as_person) -> None:
    """Oil pressure below the minimum in flight is a Stop at once, in the same act."""
    ada = as_person(shop.ada)
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **{"e0-oil_press_min": "20", "e0-oil_press_min_unit": "psi"})
    answer = ada.post(log_address(shop.aircraft_1), sent, follow=True)
    text = answer.content.decode()
    assert Finding.objects.filter(severity=4).exists()
    assert "Do not fly until a technician has cleared this item" in text
    assert text.index("Do not fly until") < text.index("What it means")
    assert "555-0199" in text
    assert "Received by the shop 06:00" in text


def test_a_good_flight_says_when_it_was_received_and_what_comes_next(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    ada.get("/portal/")
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), e0_as_on_card="yes")
    text = ada.post(log_address(shop.aircraft_1), sent, follow=True).content.decode()
    assert "Received by the shop 06:00" in text
    assert "Credit so far" in text
    assert "Hold line" in text
    assert f'<meta name="draft-done" content="log-flight-{shop.aircraft_1.pk}">' in text


def test_a_flight_without_a_reading_is_asked_for_one(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    none = {name: None for name in ("e0-oil_level", "e0-minutes_since", "e0-protocol", "e0-belly")}
    sent = a_flight(ada.get(log_address(shop.aircraft_1)), **none)
    text = ada.post(log_address(shop.aircraft_1), sent, follow=True).content.decode()
    assert "No dipstick reading came with this flight" in text


def test_the_shop_logs_for_a_pilot_and_names_him(shop: Cast, as_person) -> None:
    tom = as_person(shop.tom)
    page = tom.get(log_address(shop.aircraft_1))
    refused = tom.post(log_address(shop.aircraft_1), a_flight(page))
    assert "Choose who flew" in error_at(refused, "pilot")
    sent = a_flight(page, pilot=str(shop.ada.pk), source="phone")
    assert tom.post(log_address(shop.aircraft_1), sent).status_code == 302
    flight = Flight.objects.get()
    assert (flight.entered_by, flight.on_behalf_of, flight.source) == (shop.tom, shop.ada, "phone")


def test_an_assigned_pilot_logs_on_behalf_of_the_owner(shop: Cast, as_person) -> None:
    corin = factories.person("Corin")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=corin, since=NOW - timedelta(days=3))
    client = as_person(corin)
    sent = a_flight(client.get(log_address(shop.aircraft_1)), pilot=str(shop.ada.pk))
    assert client.post(log_address(shop.aircraft_1), sent).status_code == 302
    assert Flight.objects.get().on_behalf_of == shop.ada


def test_a_stranger_finds_nothing_and_a_former_owner_may_look_but_not_log(shop: Cast, as_person) -> None:
    assert as_person(shop.ben).get(log_address(shop.aircraft_1)).status_code == 404
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    ada = as_person(shop.ada)
    assert ada.get(f"/portal/aircraft/{shop.aircraft_1.pk}/").status_code == 200
    assert ada.get(log_address(shop.aircraft_1)).status_code == 403
    assert ada.post(log_address(shop.aircraft_1), {}).status_code == 403


def test_somebody_else_does_not_read_what_was_received(shop: Cast, as_person) -> None:
    flight = flown(shop.build_1, 1.0, level_qt=7).flight
    assert as_person(shop.ben).get(f"/portal/flights/{flight.pk}/received/").status_code == 404
    assert as_person(shop.ada).get(f"/portal/flights/{flight.pk}/received/").status_code == 200


def test_an_aircraft_without_an_engine_says_so(shop: Cast, as_person) -> None:
    empty = factories.aircraft("QX-999", shop.ada_customer)
    assert "No engine is on record in this aircraft." in as_person(shop.ada).get(log_address(empty)).content.decode()


def test_no_page_of_the_portal_carries_style_or_script_of_its_own(shop: Cast, as_person) -> None:
    text = as_person(shop.ada).get(log_address(shop.aircraft_1)).content.decode()
    assert " style=" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    assert not re.search(r"\son\w+=", text)
