"""Installing, removing, swapping left and right, and changing an hour meter, on their pages."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.assess import assess_build
from breakin.models import Assessment, OilEvent
from engines.models import Aircraft, Build, Installation, Meter
from shop.facts import Source
from shop.models import AuditEvent, Role
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import an_install, chosen, error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def technician(shop: Cast, as_person: Any) -> Any:
    return as_person(shop.tom)


@pytest.fixture
def spare(shop: Cast) -> Build:
    """A build whose engine sits nowhere; QX-903 has an empty seat for it."""
    factories.aircraft("QX-903", shop.ada_customer)
    return factories.build(factories.engine(), by=shop.cora, number="B-SPARE")


class TestInstalling:
    def at(self, build: Build) -> str:
        return f"/shop/engines/{build.engine_id}/install/"

    def test_what_was_typed_is_what_the_seat_has(self, technician: Any, spare: Build) -> None:
        typed = an_install(
            registration="qx-903", basis_clock="hobbs", tach_h="812,4", hobbs_h="1040.6", min_oil_qt="4.7",
            min_oil_qt_unit="L", dipstick_offset_qt="-0.25", dipstick_offset_qt_unit="qt", separator="on",
            winter_kit="on",
            tach_per_hobbs="0,82", rpm_error="-40", map_error_inhg="0.3", map_error_inhg_unit="inHg",
        )  # fmt: skip
        answer = technician.post(self.at(spare), typed)

        assert answer.headers["location"] == f"/engines/{spare.engine_id}/", answer.content.decode()
        seat = Installation.objects.get(engine=spare.engine)
        assert (seat.aircraft.registration, seat.position, seat.basis_clock) == ("QX-903", "single", "hobbs")
        assert seat.min_oil_qt == pytest.approx(4.7 / 0.946353, rel=1e-5)
        assert (seat.min_oil_source, seat.dipstick_offset_qt) == ("POH/AFM section 2", -0.25)
        assert (seat.tach_per_hobbs, seat.rpm_error, seat.map_error_inhg) == (0.82, -40, 0.3)
        assert (seat.separator, seat.has_map, seat.has_fuel_flow) == (True, True, True)
        assert seat.winter_kit
        assert (seat.has_cht_per_cylinder, seat.has_tit) == (False, False)
        readings = {meter.kind: meter.reading_at_start_h for meter in Meter.objects.filter(aircraft=seat.aircraft)}
        assert readings == {"tach": 812.4, "hobbs": 1040.6}

    def test_the_time_is_read_on_the_readers_own_clock(self, technician: Any, spare: Build) -> None:
        technician.post(self.at(spare), an_install())

        assert f"{Installation.objects.get(engine=spare.engine).since:%Y-%m-%d %H:%M}" == "2026-06-15 11:00"

    def test_the_first_fill_comes_with_it_or_neither_does(self, technician: Any, spare: Build) -> None:
        too_much = technician.post(self.at(spare), an_install(filled="14", filled_unit="qt", oil_kind="mineral"))
        assert "more than 10 qt" in error_at(too_much, "filled")
        assert not Installation.objects.filter(engine=spare.engine).exists()
        fill = an_install(filled="7.5", filled_unit="L", oil_kind="mineral", brand="plain 100")
        assert technician.post(self.at(spare), fill).status_code == 302

        event = OilEvent.objects.get(engine=spare.engine)
        assert (event.kind, event.oil_kind, event.brand, event.source) == (
            "drain_fill", "mineral", "plain 100", Source.SHOP,
        )  # fmt: skip
        assert event.filled_qt == pytest.approx(7.5 / 0.946353, rel=1e-5)
        assert event.happened_at == Installation.objects.get(engine=spare.engine).since

    def test_a_manager_alone_is_not_asked_for_a_fill(self, shop: Cast, as_person: Any, spare: Build) -> None:
        client = as_person(shop.cora)
        page = client.get(self.at(spare)).content.decode()
        assert "A technician enters the first fill." in page
        assert 'name="filled"' not in page
        assert client.post(self.at(spare), an_install(filled="8", oil_kind="mineral")).status_code == 302
        assert not OilEvent.objects.filter(engine=spare.engine).exists()

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"registration": "QX-999"}, "registration", "No aircraft “QX-999” is in the book"),
            ({"registration": ""}, "registration", "Which aircraft?"),
            ({"registration": "QX-901", "tach_h": ""}, "position", "sits in QX-901"),
            ({"position": None}, "position", "The position is missing"),
            ({"since_date": "2026-06-16"}, "since_date", "lies in the future"),
            ({"since_time": "noon"}, "since_time", "“noon” is not a time"),
            ({"basis_clock": None}, "basis_clock", "The basis clock is missing"),
            ({"tach_h": ""}, "tach_h", "what does the tach read now?"),
            ({"tach_h": "minus"}, "tach_h", "“minus” is not a number"),
            ({"basis_clock": "hobbs"}, "hobbs_h", "what does the Hobbs read now?"),
            ({"tach_per_hobbs": "8.5"}, "tach_per_hobbs", "is not a number from 0.5 to 1.2"),
            ({"min_oil_qt": ""}, "min_oil_qt", "It stands in the POH/AFM"),
            ({"min_oil_qt": "9"}, "min_oil_qt", "above the full mark of this type, 8 qt"),
            ({"min_oil_source": ""}, "min_oil_source", "Name the document"),
            ({"dipstick_offset_qt": "4"}, "dipstick_offset_qt", "outside -3 to 3 qt"),
            ({"prop_control": None}, "prop_control", "Choose fixed pitch or constant speed"),
            ({"oil_kind": "mineral"}, "filled", "How much was filled?"),
            ({"filled": "8"}, "oil_kind", "The kind of oil is missing"),
        ],
    )
    def test_what_cannot_be_is_said_at_its_field_and_the_rest_stays(
        self, technician: Any, spare: Build, changed: dict[str, Any], field: str, said: str
    ) -> None:
        typed = {"registration": "QX-903", **changed}
        answer = technician.post(self.at(spare), an_install(brand="" if "filled" not in changed else "b", **typed))

        assert answer.status_code == 422
        assert said in error_at(answer, field)
        if "min_oil_source" not in changed:
            assert value_of(answer, "min_oil_source") == "POH/AFM section 2"
        assert not Installation.objects.filter(engine=spare.engine).exists()

    def test_a_meter_that_runs_there_already_is_neither_asked_for_nor_overwritten(
        self, shop: Cast, technician: Any, spare: Build
    ) -> None:
        technician.post(f"/shop/engines/{shop.build_1.engine_id}/remove/", a_removal())
        answer = technician.post(self.at(spare), an_install(registration="QX-901"))
        assert "runs there already and goes on counting" in error_at(answer, "tach_h")
        assert technician.post(self.at(spare), an_install(registration="QX-901", tach_h="")).status_code == 302
        assert Meter.objects.get(aircraft=shop.aircraft_1).reading_at_start_h == factories.FIRST_METER_H

    def test_an_engine_that_sits_elsewhere_is_told_where(self, shop: Cast, technician: Any, spare: Build) -> None:
        page = technician.get(self.at(shop.build_1)).content.decode()
        assert "It sits in QX-901" in page
        answer = technician.post(self.at(shop.build_1), an_install())
        assert "Remove it there first" in error_at(answer, "registration")

    def test_an_old_date_and_a_large_offset_are_asked_about(self, technician: Any, spare: Build) -> None:
        typed = an_install(since_date="2026-03-01", dipstick_offset_qt="1")
        asked = technician.post(self.at(spare), typed)
        assert asked.status_code == 422
        text = asked.content.decode()
        assert 'name="confirmed" value="since_date"' in text
        assert 'name="confirmed" value="dipstick_offset_qt"' in text
        assert not Installation.objects.filter(engine=spare.engine).exists()
        confirmed = {**typed, "confirmed": ["since_date", "dipstick_offset_qt"]}
        assert technician.post(self.at(spare), confirmed).status_code == 302

    def test_the_form_begins_with_what_the_type_usually_has(self, shop: Cast, technician: Any) -> None:
        fixed = factories.type_revision("TAV-4C", prop_control="fixed", fuel_system="carburettor")
        turbo = factories.type_revision("VRN-6T", cylinders=6, induction="turbocharged", tit_limit_degf=1650)
        of_fixed = technician.get(f"/shop/engines/{factories.engine(fixed).pk}/install/")
        of_turbo = technician.get(f"/shop/engines/{factories.engine(turbo).pk}/install/")

        assert (chosen(of_fixed, "prop_control"), chosen(of_fixed, "instruments")) == (["fixed"], [])
        assert "has_tit" in chosen(of_turbo, "instruments")


def a_removal(**changed: str) -> dict[str, str]:
    return {"at_date": "2026-06-15", "at_time": "04:00", "reason": "annual", **changed}


class TestRemoving:
    def test_it_leaves_the_seat_and_keeps_its_build(self, shop: Cast, technician: Any) -> None:
        address = f"/shop/engines/{shop.build_1.engine_id}/remove/"
        assert "Out of QX-901" in technician.get(address).content.decode()
        assert "The reason is missing" in error_at(technician.post(address, a_removal(reason=" ")), "reason")
        assert technician.post(address, a_removal()).status_code == 302

        assert not Installation.objects.filter(engine=shop.build_1.engine, until__isnull=True).exists()
        assert Build.objects.get(pk=shop.build_1.pk).state == "open"
        assert "This engine sits in no aircraft." in technician.get(address).content.decode()
        assert technician.post(address, a_removal()).status_code == 422

    def test_not_before_a_flight_that_is_in_the_book(self, shop: Cast, technician: Any) -> None:
        factories.flown(shop.build_1, 1.0, at=NOW - timedelta(hours=1))
        answer = technician.post(f"/shop/engines/{shop.build_1.engine_id}/remove/", a_removal())

        assert "1 flight(s) after" in error_at(answer, "at_date")


@pytest.fixture
def twin(shop: Cast) -> Aircraft:
    made = factories.aircraft("QX-919", shop.ada_customer)
    for side, first in (("left", 700.0), ("right", 300.0)):
        engine = factories.engine(serial=f"V-{side}")
        factories.build(engine, by=shop.cora)
        factories.seat(engine, made, by=shop.tom, position=side, first_meter_h=first)
    return made


def a_swap(page: Any, **changed: str) -> dict[str, str]:
    usual = {"seats": value_of(page, "seats"), "at_date": "2026-06-15", "at_time": "04:00"}
    return {**usual, "reason": "even wear", "sure": "on", **changed}


class TestSwapping:
    def at(self, aircraft: Aircraft) -> str:
        return f"/shop/aircraft/{aircraft.pk}/swap/"

    def sides(self, aircraft: Aircraft) -> dict[str, str]:
        seats = Installation.objects.filter(aircraft=aircraft, until__isnull=True).select_related("engine")
        return {seat.position: seat.engine.serial for seat in seats}

    def test_the_page_shows_both_before_and_after(self, technician: Any, twin: Aircraft) -> None:
        page = technician.get(self.at(twin)).content.decode()
        left, right = page.index("LEFT</th>"), page.index("RIGHT</th>")

        assert "V-left" in page[left : page.index("<b>", left)]
        assert "V-right" in page[page.index("<b>", left) : right]
        assert "V-left" in page[page.index("<b>", right) :]

    def test_both_change_seats_in_one_act_and_the_meters_stay(self, technician: Any, twin: Aircraft) -> None:
        page = technician.get(self.at(twin))
        assert technician.post(self.at(twin), a_swap(page)).status_code == 302

        assert self.sides(twin) == {"left": "V-right", "right": "V-left"}
        assert Meter.objects.get(aircraft=twin, position="left").reading_at_start_h == 700

    def test_a_second_press_does_not_swap_them_back(self, technician: Any, twin: Aircraft) -> None:
        typed = a_swap(technician.get(self.at(twin)))
        technician.post(self.at(twin), typed)
        again = technician.post(self.at(twin), {**typed, "at_time": "05:00"})

        assert again.status_code == 422
        assert "Who sits where has changed since you opened this page." in again.content.decode()
        assert value_of(again, "seats") != typed["seats"]
        assert self.sides(twin) == {"left": "V-right", "right": "V-left"}

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"sure": ""}, "sure", "Compare the serial numbers on the data plates"),
            ({"reason": ""}, "reason", "why they were swapped"),
            ({"at_date": "2026-04-20", "confirmed": "at_date"}, "at_date", "only came into this seat on 2026-04-26"),
        ],
    )
    def test_what_is_missing_is_said_and_nothing_moves(
        self, technician: Any, twin: Aircraft, changed: dict[str, str], field: str, said: str
    ) -> None:
        answer = technician.post(self.at(twin), a_swap(technician.get(self.at(twin)), **changed))

        assert said in error_at(answer, field)
        assert self.sides(twin) == {"left": "V-left", "right": "V-right"}

    def test_a_single_has_nothing_to_swap(self, shop: Cast, technician: Any) -> None:
        assert "There is nothing to swap." in technician.get(self.at(shop.aircraft_1)).content.decode()

    def test_the_engine_page_of_a_twin_links_it(self, technician: Any, twin: Aircraft) -> None:
        engine = Installation.objects.filter(aircraft=twin).first()
        assert engine is not None
        assert f'href="{self.at(twin)}"' in technician.get(f"/engines/{engine.engine_id}/").content.decode()


def a_meter(of: Meter, **changed: str) -> dict[str, str]:
    usual = {"meter": str(of.pk), "at_date": "2026-06-15", "at_time": "04:00", "old_reading_h": "101.5"}
    return {**usual, "new_reading_h": "0", "serial": "T-2", **changed}


class TestMeters:
    def at(self, aircraft: Aircraft) -> str:
        return f"/shop/aircraft/{aircraft.pk}/meter/"

    def test_the_old_one_ends_where_the_new_one_begins(self, shop: Cast, technician: Any) -> None:
        old = Meter.objects.get(aircraft=shop.aircraft_1)
        page = technician.get(self.at(shop.aircraft_1))
        assert chosen(page, "meter") == [str(old.pk)]
        assert technician.post(self.at(shop.aircraft_1), a_meter(old)).status_code == 302

        old.refresh_from_db()
        new = Meter.objects.get(aircraft=shop.aircraft_1, until__isnull=True)
        assert (old.reading_at_end_h, new.reading_at_start_h, new.serial) == (101.5, 0, "T-2")
        assert old.until == new.since

    def test_a_second_press_changes_nothing(self, shop: Cast, technician: Any) -> None:
        typed = a_meter(Meter.objects.get(aircraft=shop.aircraft_1))
        technician.post(self.at(shop.aircraft_1), typed)

        assert technician.post(self.at(shop.aircraft_1), typed).status_code == 422
        assert Meter.objects.filter(aircraft=shop.aircraft_1).count() == 2

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"meter": ""}, "meter", "The meter is missing"),
            ({"old_reading_h": ""}, "old_reading_h", "The old reading is missing"),
            ({"new_reading_h": ""}, "new_reading_h", "0 is a reading too"),
            ({"old_reading_h": "99"}, "old_reading_h", "started at 100 h"),
            ({"old_reading_h": "100.8"}, "old_reading_h", "ended at 101.2 h"),
            ({"at_date": "2026-06-20"}, "at_date", "lies in the future"),
        ],
    )
    def test_readings_that_cannot_be_are_refused(
        self, shop: Cast, technician: Any, changed: dict[str, str], field: str, said: str
    ) -> None:
        factories.flown(shop.build_1, 1.2, at=NOW - timedelta(days=3))
        answer = technician.post(
            self.at(shop.aircraft_1), a_meter(Meter.objects.get(aircraft=shop.aircraft_1), **changed)
        )

        assert answer.status_code == 422
        assert said in error_at(answer, field)
        assert Meter.objects.filter(aircraft=shop.aircraft_1).count() == 1

    def test_another_aircrafts_meter_is_no_choice(self, shop: Cast, technician: Any) -> None:
        other = Meter.objects.get(aircraft=shop.aircraft_2)
        answer = technician.post(self.at(shop.aircraft_1), a_meter(other))

        assert answer.status_code == 422
        other.refresh_from_db()
        assert other.until is None

    def test_an_aircraft_without_one_says_so(self, shop: Cast, technician: Any) -> None:
        bare = factories.aircraft("QX-904", shop.ada_customer)

        assert "No hour meter of this aircraft is in the book." in technician.get(self.at(bare)).content.decode()


def test_a_signatory_installs_too_and_an_owner_does_not(shop: Cast, as_person: Any, spare: Build) -> None:
    address = f"/shop/engines/{spare.engine_id}/install/"
    assert as_person(factories.person("Sig", role=Role.SIGNATORY)).get(address).status_code == 200
    assert as_person(shop.ada).get(address).status_code == 404
    assert as_person(shop.ada).get(f"/shop/engines/{shop.build_1.engine_id}/install/").status_code == 403


class TestRevising:
    """A seat is different from a moment on."""

    def test_only_what_is_different_changes_and_the_engine_stays(self, shop: Cast, technician: Any) -> None:
        address = f"/shop/engines/{shop.build_1.engine_id}/installation/"
        page = technician.get(address)
        typed = {
            "at_date": "2026-06-14", "at_time": "09:00", "reason": "Separator fitted.", "basis_clock": "tach",
            "min_oil_qt": value_of(page, "min_oil_qt"), "min_oil_qt_unit": "qt", "min_oil_source": "POH/AFM",
            "dipstick_offset_qt": "0", "dipstick_offset_qt_unit": "qt", "separator": "on",
            "prop_control": "constant_speed", "instruments": ["has_map", "has_fuel_flow", "has_cht_per_cylinder"],
        }  # fmt: skip
        answer = technician.post(address, typed)
        assert answer.headers["location"] == f"/engines/{shop.build_1.engine_id}/", answer.content.decode()
        old, new = Installation.objects.filter(engine=shop.build_1.engine).order_by("since")
        assert (old.separator, new.separator, new.continues, new.min_oil_qt) == (False, True, old, old.min_oil_qt)
        assert old.until == new.since

        again = technician.post(address, {**typed, "at_time": "10:00"})
        assert "Nothing is different" in again.content.decode()

    def test_a_basis_clock_that_is_not_fitted_is_refused(self, shop: Cast, technician: Any) -> None:
        address = f"/shop/engines/{shop.build_1.engine_id}/installation/"
        answer = technician.post(
            address, {"at_date": "2026-06-14", "reason": "x", "basis_clock": "hobbs", "min_oil_qt": "4",
                      "min_oil_source": "POH/AFM", "prop_control": "constant_speed"},
        )  # fmt: skip
        assert answer.status_code == 422
        assert "No Hobbs of this seat" in answer.content.decode()


class TestHandover:
    """An aircraft changes hands, on its page."""

    def typed(self, shop: Cast, **changed: Any) -> dict[str, Any]:
        usual = {
            "customer": shop.ben_customer.pk, "at_date": "2026-06-14", "at_time": "09:00", "reason": "Sold.",
            "end_assignments": "on",
        }  # fmt: skip
        return {name: value for name, value in {**usual, **changed}.items() if value is not None}

    def test_a_manager_hands_it_over_and_the_page_said_what_it_means(self, shop: Cast, as_person: Any) -> None:
        address = f"/shop/aircraft/{shop.aircraft_1.pk}/transfer/"
        manager = as_person(shop.cora)
        page = manager.get(address).content.decode()
        assert "goes on seeing what happened until the handover" in page
        answer = manager.post(address, self.typed(shop))
        assert answer.headers["location"] == f"/engines/{shop.build_1.engine_id}/", answer.content.decode()
        held = shop.aircraft_1.holdings.get(until__isnull=True)
        assert (held.customer, f"{held.since:%Y-%m-%d %H:%M}") == (shop.ben_customer, "2026-06-14 15:00")

    def test_its_new_home_is_asked_for_and_what_that_means_is_said_before(self, shop: Cast, as_person: Any) -> None:
        far = factories.place("Ossel Heights", elevation_ft=2310.0, zone="Etc/GMT-2")
        manager, address = as_person(shop.cora), f"/shop/aircraft/{shop.aircraft_1.pk}/transfer/"
        page = manager.get(address).content.decode()
        assert "it stays at Tellamoor Field" in page
        assert "Flights in the book keep the fields they were logged with" in page
        looked = manager.post(address, self.typed(shop, home=far.pk, reason=None))
        assert "moves from Tellamoor Field to Ossel Heights" in looked.content.decode()
        assert "2310 ft" in looked.content.decode()
        shop.aircraft_1.refresh_from_db()
        assert shop.aircraft_1.home == shop.place
        Assessment.objects.update(dirty_at=None)
        assert manager.post(address, self.typed(shop, home=far.pk)).status_code == 302
        shop.aircraft_1.refresh_from_db()
        assert shop.aircraft_1.home == far
        assert AuditEvent.objects.get(act="transfer").detail["home to"] == far.pk
        assert assess_build(shop.build_1.pk, NOW)
        assert Assessment.objects.get(build=shop.build_1).place_name == "Ossel Heights"

    @pytest.mark.parametrize("missing", ["customer", "reason", "at_date"])
    def test_what_is_missing_is_said_and_nobody_loses_it(self, shop: Cast, as_person: Any, missing: str) -> None:
        answer = as_person(shop.cora).post(
            f"/shop/aircraft/{shop.aircraft_1.pk}/transfer/",
            self.typed(shop, **{missing: None} | ({"at_time": None} if missing == "at_date" else {})),
        )
        assert answer.status_code == 422
        assert shop.aircraft_1.holdings.get().until is None
