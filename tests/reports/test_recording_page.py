"""What a recording shows: the sentence, the minutes, which flight it is, what was typed beside it, and how."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from breakin.calc.recording.result import Span
from breakin.models import DatedBy, Finding, Flight, FlightMatch, ReadState, RecordedFlight, Severity
from engines.models import Holding, PilotAssignment, Position
from shop.facts import Grade, Source
from shop.models import Units
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import error_at
from tests.reports.recorded import SECONDS, engine_flight, recorded_flight, recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today"), pytest.mark.slow]

BEGAN = NOW - timedelta(days=2, seconds=SECONDS)


@pytest.fixture(autouse=True)
def _own_media(settings: Settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


def address(row: RecordedFlight, more: str = "") -> str:
    return f"/recordings/{row.recording_id}/{more}"


def said(answer: HttpResponse) -> str:
    """The words of a page, without its markup."""
    assert answer.status_code in (200, 422)
    body = re.sub(r"<script.*?</script>", "", answer.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u202f", " "))


def test_the_verdict_is_a_sentence_and_the_minutes_carry_least_and_most(shop: Cast, as_person) -> None:
    text = said(as_person(shop.ada).get(address(recorded_flight(shop))))
    assert "Of 1 h 15 min in the air, 40 min (38 to 42 min) were at 75 %, 15 min (0 to 15 min) at 65 %" in text
    assert "6 min (4 to 8 min) light. Power was changed once." in text
    assert "In the 75 % band 40 min 38 min to 42 min" in text
    assert "Some minutes lie too close to the edge of a band to decide." in text


def test_never_a_word_that_an_aircraft_may_fly(shop: Cast, as_person) -> None:
    text = said(as_person(shop.ada).get(address(recorded_flight(shop)))).lower()
    assert not re.search(r"airworth|\bsafe\b|cleared (to|for)|released", text)
    assert "the maker's limits and the poh/afm go before any figure here" in text
    assert "order of authority" in text


def test_power_that_could_not_be_told_is_said_to_be_unknown(shop: Cast, as_person) -> None:
    unknown = engine_flight(minutes={"ground": Span(15, 15, 15)}, pieces=(), notes=("Neither rpm nor fuel flow.",))
    text = said(as_person(shop.ada).get(address(recorded_flight(shop, engines={"1": unknown}))))
    assert "Power could not be told: Neither rpm nor fuel flow." in text
    assert "were at 75" not in text


def test_a_ground_run_counts_for_no_band(shop: Cast, as_person) -> None:
    run = engine_flight(airborne_min=0.0, minutes={"ground": Span(12, 12, 12)}, pieces=(), run_min=12.0)
    text = said(as_person(shop.ada).get(address(recorded_flight(shop, kind="ground_run", engines={"1": run}))))
    assert "A ground run of 12 min. Nothing in it counts for a power band." in text


def test_pieces_tell_power_band_and_what_was_read_in_the_readers_units(shop: Cast, as_person) -> None:
    row = recorded_flight(shop)
    text = said(as_person(shop.ada).get(address(row)))
    assert "75 ± 1 % 75 % 24.6 inHg, 2450 rpm, 10.4 gal/h" in text
    assert "65 %, undecided" in text
    assert "Left out: 1 shorter than a minute" in text
    shop.ada.units = Units.SI
    shop.ada.save()
    assert "hottest head: cylinder 3, 21" in said(as_person(shop.ada).get(address(row))).lower()


def test_how_it_was_computed_names_method_faults_source_and_version(shop: Cast, as_person) -> None:
    text = said(as_person(shop.ada).get(address(recorded_flight(shop, clock_shift_s=-3600.0))))
    for part in (
        "Power power by chart from manifold pressure and engine speed, standard temperature taken.",
        "Chart and limits: TAV-4E rev. 1; teaching numbers, not for flight.",
        "Left out: egt2, gave no value for 8 % of the running time: an open probe.",
        "Outside air temperature was not recorded: a standard day was taken for power.",
        "12 rows without a time were left out.",
        "The recorder's clock was moved by 1 h earlier.",
        "Reading and analysis version 3.",
        "A line that was cut short was left out.",
    ):
        assert part in text


def test_a_twin_shows_both_engines_and_how_evenly_they_ran(shop: Cast, as_person) -> None:
    twin = factories.aircraft("QX-950", shop.ada_customer)
    for position in (Position.LEFT, Position.RIGHT):
        one = factories.engine()
        factories.build(one, by=shop.cora)
        factories.seat(one, twin, by=shop.tom, position=position)
    held = recording(shop, aircraft=twin, state=ReadState.READ)
    row = recorded_flight(shop, held, engines={"1": engine_flight(), "2": engine_flight(changes=4)})
    row.summary |= {"split_pct": -3.2, "split_over_min": 12.0}
    row.save()
    text = said(as_person(shop.ada).get(address(row)))
    assert "Left engine" in text
    assert "Right engine" in text
    assert "the right engine ran 3.2 % of rated power above the other on average" in text
    assert "more than 6 % apart for 12 min" in text
    assert "CHT, right engine, °F" in as_person(shop.ada).get(address(row)).content.decode()


def test_moments_stand_in_a_numbered_list_in_order_of_time(shop: Cast, as_person) -> None:
    text = as_person(shop.ada).get(address(recorded_flight(shop, began_at=BEGAN))).content.decode()
    numbers = [int(each) for each in re.findall(r'data-pin="(\d+)"', text)]
    assert numbers == list(range(1, len(numbers) + 1))
    words = said(as_person(shop.ada).get(address(RecordedFlight.objects.get())))
    assert words.index("Full throttle on the take-off roll") < words.index("Hottest head: cylinder 3")
    assert "15.9 gal/h, 28.4 inHg, 2690 rpm. The type asks for 15.2 gal/h to 16.8 gal/h" in words
    assert "watch line 420 °F, maker's limit 500 °F" in words
    assert "Leaned until cylinder 4 peaked first." in words
    assert "Too close to the edge of a band to decide: 15 min at 65 ± 1 %." in words


def test_findings_of_the_flight_stand_at_their_moment_with_their_severity(shop: Cast, as_person) -> None:
    flight = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight
    Finding.objects.all().delete()
    for rule, title, audience in (("E2", "Hot at top of climb", True), ("X9", "For the shop", False)):
        Finding.objects.create(
            build=shop.build_1, rule=rule, occurrence=rule, rule_version=1, severity=Severity.CALL, title=title,
            text="It was 431 °F.", why="w", source="s", happened_at=flight.happened_at, opened_at=NOW,
            evidence=[{"kind": "flight", "root": str(flight.root)}], for_customer=audience,
        )  # fmt: skip
    row = recorded_flight(shop, began_at=BEGAN, flight_root=flight.root)
    text = as_person(shop.ada).get(address(row)).content.decode()
    item = re.search(r'<li id="f1-pin-\d+"[^>]*>(?:(?!</li>).)*Hot at top of climb.*?</li>', text, re.DOTALL)
    assert item, "it has a number of its own, at the hottest head"
    assert "call" in item[0].lower()
    assert f"/engines/{shop.build_1.engine_id}/#findings" in item[0]
    assert "For the shop" not in text


class TestCompared:
    def test_typed_and_recorded_stand_side_by_side_with_grade_and_difference(self, shop: Cast, as_person) -> None:
        flight = flown(
            shop.build_1, 1.2, at=NOW - timedelta(days=2), takeoff_ff=15.2, cht_max=402, cht_falling="no"
        ).flight
        text = said(as_person(shop.ada).get(address(recorded_flight(shop, began_at=BEGAN, flight_root=flight.root))))
        assert f"Typed, grade {flight.grade} Recorded, grade A Apart" in text
        assert "Full-throttle fuel flow 15.2 gal/h 15.9 gal/h 0.7 gal/h" in text
        assert "Hottest head 402 °F 416 °F 14 °F" in text
        assert "In the air 1 h 12 min 1 h 15 min 3 min" in text
        assert "Heads falling by 3,000 ft no yes they disagree" in text
        assert "Highest oil temperature not typed 185 °F" in text

    def test_what_nobody_knows_has_no_line(self, shop: Cast, as_person) -> None:
        flight = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight
        text = said(as_person(shop.ada).get(address(recorded_flight(shop, flight_root=flight.root))))
        assert "Highest turbine inlet temperature" not in text


class TestMatch:
    def flights(self, shop: Cast) -> tuple[Flight, Flight]:
        first = flown(shop.build_1, 1.3, at=NOW - timedelta(days=2)).flight
        return first, flown(shop.build_1, 1.25, at=NOW - timedelta(days=1)).flight

    def test_a_match_by_time_says_so_and_can_be_confirmed(self, shop: Cast, as_person) -> None:
        first, _ = self.flights(shop)
        row = recorded_flight(shop, began_at=BEGAN, flight_root=first.root)
        ada = as_person(shop.ada)
        page = ada.get(address(row))
        assert (
            "By its time it is taken for the flight that ended 13 Jun 06:00 UTC−6 (1 h 18 min in the air, Ada)"
            in said(page)
        )
        confirm = re.search(r'<input type="hidden" name="match-1-flight" value="([^"]+)"', page.content.decode())
        assert confirm
        ada.post(address(row, "flights/1/match/"), {"match-1-flight": confirm[1]})
        row.refresh_from_db()
        assert (row.flight_root, row.confirmed) == (first.root, True)
        assert "Ada said so" in said(ada.get(address(row)))

    def test_it_can_be_said_to_be_another_flight_with_the_clock_put_right(self, shop: Cast, as_person) -> None:
        first, second = self.flights(shop)
        row = recorded_flight(shop, began_at=BEGAN, flight_root=first.root)
        ada = as_person(shop.ada)
        page = ada.get(address(row)).content.decode()
        other = re.search(rf'value="({second.root}_[^"]+)"', page)
        assert other
        assert "The recorder's clock would then be moved by 1 day later." in said(ada.get(address(row)))
        ada.post(address(row, "flights/1/match/"), {"match-1-flight": other[1], "match-1-reason": "its date is wrong"})
        row.refresh_from_db()
        assert (row.flight_root, row.clock_shift_s, row.began_at) == (second.root, 86400, BEGAN + timedelta(days=1))
        assert FlightMatch.objects.get().reason == "its date is wrong"

    def test_it_can_be_said_to_be_none_of_them(self, shop: Cast, as_person) -> None:
        first, _ = self.flights(shop)
        row = recorded_flight(shop, began_at=BEGAN, flight_root=first.root)
        ada = as_person(shop.ada)
        ada.post(address(row, "flights/1/match/"), {"match-1-flight": "none"})
        row.refresh_from_db()
        assert row.flight_root is None
        assert "It is none of the logged flights. Ada said so" in said(ada.get(address(row)))

    @pytest.mark.parametrize(
        ("sent", "message"),
        [("", "Choose the flight, or that it is none"), ("7e1c_0", "is not among the choices any more")],
    )
    def test_what_is_no_choice_is_refused_at_the_form_and_the_word_is_kept(
        self, shop: Cast, as_person, sent: str, message: str
    ) -> None:
        row = recorded_flight(shop, began_at=BEGAN)
        self.flights(shop)
        page = as_person(shop.ada).post(
            address(row, "flights/1/match/"), {"match-1-flight": sent, "match-1-reason": "because of the date"}
        )
        assert page.status_code == 422
        assert message in error_at(page, "match-1-flight")
        assert "because of the date" in page.content.decode()
        assert not FlightMatch.objects.exists()

    def test_only_who_may_act_today_may_say_it(self, shop: Cast, as_person) -> None:
        first, _ = self.flights(shop)
        row = recorded_flight(shop, began_at=BEGAN, flight_root=first.root)
        sent = {"match-1-flight": "none"}
        assert as_person(shop.ben).post(address(row, "flights/1/match/"), sent).status_code == 404
        assert as_person(shop.tom).post(address(row, "flights/1/match/"), sent).status_code == 302


class TestLogged:
    def test_a_flight_that_nobody_logged_is_logged_from_the_recording(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop, began_at=BEGAN)
        ada = as_person(shop.ada)
        assert "Nobody has logged this yet." in said(ada.get(address(row)))
        page = ada.get(address(row, "flights/1/log/"))
        assert "Last reading on record: 100.0 h." in said(page)
        answer = ada.post(address(row, "flights/1/log/"), {"e0-meter_end": "101.4", "chips": "none", "note": "smooth"})
        flight = Flight.objects.current().get()
        assert answer["Location"] == f"/portal/flights/{flight.pk}/received/"
        assert (flight.source, flight.grade, flight.note) == (Source.FILE, Grade.FILE, "smooth")
        assert flight.airborne_min == pytest.approx(74.6)
        assert flight.engines.get().meter_end_h == pytest.approx(101.4)
        row.refresh_from_db()
        assert (row.flight_root, row.confirmed) == (flight.root, True)
        assert ada.get(address(row, "flights/1/log/"))["Location"] == address(row)

    def test_a_meter_that_runs_backward_is_refused_at_its_field_and_kept(self, shop: Cast, as_person) -> None:
        flown(shop.build_1, 1.0, at=NOW - timedelta(days=4), meter_end=105.0)
        row = recorded_flight(shop, began_at=BEGAN)
        page = as_person(shop.ada).post(address(row, "flights/1/log/"), {"e0-meter_end": "99", "note": "the usual"})
        assert page.status_code == 422
        assert "99" in error_at(page, "e0-meter_end")
        assert 'value="99"' in page.content.decode()
        assert "the usual" in page.content.decode()
        assert Flight.objects.current().count() == 1

    def test_what_is_not_dated_is_logged_by_hand_first(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop, began_at=BEGAN)
        RecordedFlight.objects.update(dated_by=DatedBy.UNKNOWN)
        ada = as_person(shop.ada)
        text = said(ada.get(address(row)))
        assert "When this was is not known. Log the flight by hand, then say here which one it is." in text
        assert "Log this flight" not in text
        assert "not dated; the recorder's clock said" in text
        assert ada.post(address(row, "flights/1/log/"), {"note": ""})["Location"] == address(row)
        assert not Flight.objects.exists()

    def test_the_shop_says_for_whom_it_logs(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop, began_at=BEGAN)
        page = as_person(shop.tom).post(address(row, "flights/1/log/"), {"note": ""})
        assert "Choose who flew" in error_at(page, "pilot")
        as_person(shop.tom).post(address(row, "flights/1/log/"), {"pilot": str(shop.ada.pk)})
        flight = Flight.objects.current().get()
        assert (flight.entered_by, flight.on_behalf_of) == (shop.tom, shop.ada)

    @pytest.mark.parametrize("for_ada", [True, False])
    def test_an_assigned_pilot_says_whether_he_logs_for_another(self, shop: Cast, as_person, for_ada: bool) -> None:
        corin = factories.person("Corin", role="break_in_pilot")
        PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=corin, since=NOW - timedelta(days=30))
        row = recorded_flight(shop, began_at=BEGAN)
        assert "Who flew?" in as_person(corin).get(address(row, "flights/1/log/")).content.decode()
        as_person(corin).post(address(row, "flights/1/log/"), {"pilot": str(shop.ada.pk)} if for_ada else {"note": ""})
        flight = Flight.objects.current().get()
        assert flight.entered_by == corin
        assert flight.on_behalf_of == (shop.ada if for_ada else None)
        assert flight.pilot == (shop.ada if for_ada else corin)

    def test_an_owner_is_not_asked_who_flew(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop, began_at=BEGAN)
        assert "Who flew?" not in as_person(shop.ada).get(address(row, "flights/1/log/")).content.decode()
        as_person(shop.ada).post(address(row, "flights/1/log/"), {"pilot": str(shop.tom.pk)})
        assert Flight.objects.current().get().on_behalf_of is None


class TestSeen:
    def test_a_later_holder_sees_what_was_recorded_and_nobodys_words(self, shop: Cast, as_person, today) -> None:
        flight = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight
        held = recording(shop, state=ReadState.READ, name="adas words.csv")
        row = recorded_flight(shop, held, began_at=BEGAN, flight_root=flight.root, confirmed=True)
        today.shift(timedelta(days=2))
        Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW + timedelta(days=1))
        Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=NOW + timedelta(days=1))
        text = said(as_person(shop.ben).get(address(row)))
        assert "Recording of an earlier holder" in text
        assert "40 min (38 to 42 min) were at 75 %" in text
        assert "Ada" not in text
        assert "adas words" not in text
        assert as_person(shop.ben).post(address(row, "flights/1/match/"), {}).status_code == 404
        assert as_person(shop.ben).get(address(row, "flights/1/log/")).status_code == 404
        assert as_person(shop.ben).post(address(row, "again/")).status_code == 404

    def test_staff_read_it_on_the_shops_pages(self, shop: Cast, as_person) -> None:
        text = as_person(shop.tom).get(address(recorded_flight(shop))).content.decode()
        assert "Fleet board" in text

    def test_it_is_read_again_on_request(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        assert as_person(shop.ada).post(address(row, "again/")).status_code == 302
        assert row.recording.reading.state == ReadState.READ
        row.recording.reading.refresh_from_db()
        assert row.recording.reading.state == ReadState.WAITING

    def test_a_page_of_more_flights_asks_for_each_flight_only(self, shop: Cast, as_person) -> None:
        held = recording(shop, state=ReadState.READ)
        ada = as_person(shop.ada)
        counts = []
        for number in (1, 2, 3):
            recorded_flight(shop, held, number=number, began_at=BEGAN - timedelta(days=number))
            with CaptureQueriesContext(connection) as caught:
                assert ada.get(f"/recordings/{held.pk}/").status_code == 200
            counts.append(len(caught))
        assert counts[2] - counts[1] == counts[1] - counts[0] <= 12

    def test_markup_in_names_and_notes_is_shown_as_text(self, shop: Cast, as_person) -> None:
        held = recording(shop, state=ReadState.READ, name="<b>x.csv", notes=["<script>alert(1)</script>"])
        row = recorded_flight(shop, held, engines={"1": replace(engine_flight(), notes=("<img src=x>",))})
        text = as_person(shop.ada).get(address(row)).content.decode()
        assert "<img src=x>" not in text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert(1)" in text


class TestLinks:
    """From the flight to its recording, wherever flights are listed."""

    def test_the_portal_and_the_engines_page_lead_from_the_flight_to_what_was_recorded(
        self, shop: Cast, as_person
    ) -> None:
        flight = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight
        row = recorded_flight(shop, began_at=BEGAN, number=2, flight_root=flight.root)
        for page in (f"/portal/aircraft/{shop.aircraft_1.pk}/", f"/engines/{shop.build_1.engine_id}/"):
            assert f'href="{address(row)}#f2"' in as_person(shop.ada).get(page).content.decode(), page

    def test_of_two_recorders_the_better_one_is_meant(self, shop: Cast, as_person) -> None:
        flight = flown(shop.build_1, 1.2, at=NOW - timedelta(days=2)).flight
        for name, quality in (("good.csv", 20_000), ("poor.csv", 9_000)):
            held = recording(shop, name=name, state=ReadState.READ)
            recorded_flight(shop, held, began_at=BEGAN, flight_root=flight.root, quality=quality)
        text = as_person(shop.ada).get(f"/portal/aircraft/{shop.aircraft_1.pk}/").content.decode()
        assert f'href="/recordings/{RecordedFlight.objects.get(quality=20_000).recording_id}/#f1"' in text
