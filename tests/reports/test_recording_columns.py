"""The page of the columns: questions first, faults at their field with what was typed, and the answer remembered."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from pytest_django import Settings

from breakin.models import ChannelMap, ReadState, Recording, RecordingRead
from engines.models import Holding
from tests.factories import NOW, Cast
from tests.reports.portal_forms import error_at
from tests.reports.recorded import LOOK, recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

# What the page offers at first, with both questions answered.
ANSWERS: dict[str, str] = {
    "flight_date": "2026-06-13", "units.fuel_flow": "L/h", "clock_zone": "Etc/GMT+6",
    "c0-channel": "time", "c1-channel": "rpm", "c1-unit": "rpm", "c2-channel": "manifold_pressure", "c2-unit": "hPa",
    "c3-channel": "fuel_flow", "c4-channel": "cht", "c4-cylinder": "1", "c4-unit": "F", "c5-channel": "cht",
    "c5-cylinder": "2", "c5-unit": "F", "c6-channel": "",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _own_media(settings: Settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def asks(shop: Cast) -> Recording:
    return recording(shop, state=ReadState.ASKS, look=LOOK)


def address(held: Recording) -> str:
    return f"/recordings/{held.pk}/columns/"


def answer(client: Client, held: Recording, **changed: str) -> Any:
    return client.post(
        address(held), {**ANSWERS, **{name.replace("__", "-"): value for name, value in changed.items()}}
    )


def chosen(page: HttpResponse, name: str) -> str:
    """What stands in a field of the page."""
    text, name = page.content.decode(), re.escape(name)
    select = re.search(rf'<select[^>]*name="{name}"[^>]*>(.*?)</select>', text, re.DOTALL)
    typed = re.search(rf'<input[^>]*name="{name}"[^>]*>', text)
    assert select or typed, name
    where, pattern = (
        (select[1], r'<option value="([^"]*)" selected') if select else (typed and typed[0], r'value="([^"]*)"')
    )
    value = re.search(pattern, where or "")
    return unescape(value[1]) if value else ""


class TestShown:
    def test_columns_stand_with_values_reach_proposal_and_reason(self, shop: Cast, as_person, asks: Recording) -> None:
        page = as_person(shop.ada).get(address(asks))
        text = page.content.decode()
        for said in (
            "unit line: 1/min",
            "0, 1000, 2450",
            "400 to 952",
            "13.6 to 14.3; 25\u202f% blank",
            "Named as rpm",
        ):
            assert said in text
        assert chosen(page, "c2-channel") == "manifold_pressure"
        assert chosen(page, "c2-unit") == "hPa"
        assert (chosen(page, "c5-channel"), chosen(page, "c5-cylinder")) == ("cht", "2")
        assert chosen(page, "c6-channel") == ""
        assert "Nobody has said it yet" in text

    def test_questions_come_first_with_none_of_the_answers_chosen(self, shop: Cast, as_person, asks: Recording) -> None:
        text = as_person(shop.ada).get(address(asks)).content.decode()
        assert "First, 2 questions" in text
        assert text.index("Which is it?") < text.index("The columns</h2>")
        assert not re.search(r'type="radio"[^>]*checked', text)

    def test_positions_are_named_and_left_out_and_their_values_never_shown(
        self, shop: Cast, as_person, asks: Recording
    ) -> None:
        page = as_person(shop.ada).get(address(asks))
        text = page.content.decode()
        assert "a position; its values are not shown" in text
        assert 'name="c7-channel"' not in text
        assert not re.search(r'name="keep_position"[^>]*checked', text)

    def test_a_file_that_was_not_looked_at_yet_says_so(self, shop: Cast, as_person) -> None:
        text = as_person(shop.ada).get(address(recording(shop, state=ReadState.WAITING))).content.decode()
        assert "has not been looked at yet" in text
        assert "Look again" in text

    def test_who_said_it_last_is_named_and_what_was_said_stands_in_the_fields(
        self, shop: Cast, as_person, asks: Recording
    ) -> None:
        ada = as_person(shop.ada)
        answer(ada, asks, c4__channel="", c4__cylinder="", keep_position="on")
        page = ada.get(address(asks))
        assert "It was last said by Ada" in page.content.decode()
        assert chosen(page, "c4-channel") == ""
        assert chosen(page, "c5-cylinder") == "2"
        assert chosen(page, "clock_zone") == "Etc/GMT+6"
        assert re.search(r'name="keep_position"[^>]*checked', page.content.decode())


class TestAnswered:
    def test_the_answer_is_kept_in_the_shape_that_the_reader_takes(
        self, shop: Cast, as_person, asks: Recording
    ) -> None:
        assert answer(as_person(shop.ada), asks).status_code == 302
        kept = ChannelMap.objects.get()
        assert kept.mapping == {
            "time": "Clock",
            "engines": {"1": {"rpm": "Revs", "manifold_pressure": "Press", "fuel_flow": "Fuel", "cht": ["H1", "H2"]}},
            "common": {},
            "units": {"Revs": "rpm", "Press": "hPa", "Fuel": "L/h", "H1": "F", "H2": "F"},
        }
        assert (kept.clock_zone, kept.keep_position, kept.confirmed_by) == ("Etc/GMT+6", False, shop.ada)
        reading = RecordingRead.objects.get(recording=asks)
        assert (reading.state, reading.flight_date) == (ReadState.WAITING, date(2026, 6, 13))

    def test_a_missing_cylinder_between_two_leaves_its_place_empty(
        self, shop: Cast, as_person, asks: Recording
    ) -> None:
        answer(as_person(shop.ada), asks, c5__cylinder="3")
        assert ChannelMap.objects.get().mapping["engines"]["1"]["cht"] == ["H1", None, "H2"]

    def test_date_and_time_in_two_columns(self, shop: Cast, as_person, asks: Recording) -> None:
        answer(as_person(shop.ada), asks, c6__channel="date")
        assert ChannelMap.objects.get().mapping["time"] == ["Spare", "Clock"]

    def test_of_a_twin_each_column_has_its_engine(self, shop: Cast, as_person) -> None:
        look: dict[str, Any] = {
            **LOOK,
            "mapping": {**LOOK["mapping"], "engines": {"1": {"rpm": "Revs"}, "2": {"rpm": "Spare"}}},
        }
        held = recording(shop, state=ReadState.ASKS, look=look)
        ada = as_person(shop.ada)
        page = ada.get(address(held))
        assert chosen(page, "c6-side") == "2"
        answer(ada, held, c6__channel="rpm", c6__side="2", c6__unit="rpm", c5__side="2", c5__cylinder="1")
        engines = ChannelMap.objects.get().mapping["engines"]
        assert engines["2"] == {"cht": ["H2"], "rpm": "Spare"}


class TestRefused:
    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"flight_date": ""}, "flight_date", "Say the day"),
            ({"flight_date": "13 June"}, "flight_date", "Write the day like 2026-05-03."),
            ({"flight_date": "2026-08-01"}, "flight_date", "lies after the day on which the file came"),
            ({"units.fuel_flow": ""}, "units.fuel_flow", "Choose one of these."),
            ({"clock_zone": "Sometime"}, "clock_zone", "“Sometime” is not a time zone name."),
            ({"c4-cylinder": ""}, "c4-cylinder", "Say which cylinder this is"),
            ({"c4-cylinder": "two"}, "c4-cylinder", "Write the cylinder as a whole number."),
            ({"c4-cylinder": "40"}, "c4-cylinder", "No engine here has more than 18 cylinders."),
            (
                {"c5-cylinder": "1"},
                "c5-channel",
                "“H1” is taken as this already (cylinder head temperature, cylinder 1)",
            ),
            ({"c6-channel": "rpm"}, "c6-channel", "“Revs” is taken as this already (engine speed)"),
            ({"c2-unit": "F"}, "c2-unit", "°F does not fit this column (manifold pressure). Choose one of inHg"),
            ({"c2-unit": ""}, "c2-unit", "Say the unit of this column (manifold pressure): inHg, hPa, kPa, psi."),
        ],
    )
    def test_each_fault_is_said_at_its_field(
        self, shop: Cast, as_person, asks: Recording, changed: dict[str, str], field: str, said: str
    ) -> None:
        page = as_person(shop.ada).post(address(asks), {**ANSWERS, **changed})
        assert page.status_code == 422
        assert said in error_at(page, field)
        assert not ChannelMap.objects.exists()

    @pytest.mark.parametrize(
        ("changed", "said"),
        [
            ({"c0-channel": ""}, "No column is taken as the time."),
            ({"c1-channel": ""}, "No column is taken as engine speed."),
        ],
    )
    def test_what_a_reading_cannot_do_without(
        self, shop: Cast, as_person, asks: Recording, changed: dict[str, str], said: str
    ) -> None:
        page = as_person(shop.ada).post(address(asks), {**ANSWERS, **changed})
        assert page.status_code == 422
        assert said in page.content.decode()

    def test_everything_typed_is_still_there(self, shop: Cast, as_person, asks: Recording) -> None:
        page = answer(
            as_person(shop.ada), asks, clock_zone="Sometime", c6__channel="oat", c6__unit="C", c4__cylinder="4"
        )
        assert "Mend: " in page.content.decode()
        for name, value in (("clock_zone", "Sometime"), ("c6-channel", "oat"), ("c6-unit", "C"), ("c4-cylinder", "4")):
            assert chosen(page, name) == value
        assert re.search(r'value="L/h"[^>]*checked', page.content.decode())


def test_who_may_say_it(shop: Cast, as_person, asks: Recording, today) -> None:
    assert answer(as_person(shop.ben), asks).status_code == 404
    assert answer(as_person(shop.tom), asks).status_code == 302
    today.shift(timedelta(days=2))
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW + timedelta(days=1))
    Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=NOW + timedelta(days=1))
    assert as_person(shop.ada).get(address(asks)).status_code == 403  # it was hers, and is not hers to say any more
    assert as_person(shop.ben).get(address(asks)).status_code == 404  # the names of its columns are another's words
