"""What cannot be right is refused: which field, what is wrong with it, how to mend it. Nothing is half-saved."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from breakin.models import Flight, OilEvent
from shop.models import AuditEvent
from tests import factories
from tests.api.doors import a_flight, a_reading, said

pytestmark = pytest.mark.django_db

SOON = (timezone.now() + timedelta(days=400)).isoformat()

# What is wrong with the flight, or with its engine; the field it is said of; words that must be in the message.
BAD_FLIGHTS: list[tuple[str, dict[str, Any], dict[str, Any], str, str]] = [
    ("a wrong unit", {}, {"oil_temp_max": "190 inHg"}, "engines.0.oil_temp_max", "inHg"),
    ("a unit that does not exist", {}, {"cht_max": {"value": 380, "unit": "furlong"}}, "engines.0.cht_max", "furlong"),
    ("a number that is none", {}, {"cht_max": "hot"}, "engines.0.cht_max", "hot"),
    ("a meter that runs backwards", {}, {"meter_start": 101.4, "meter_end": 100.2}, "engines.0.meter_end", "backwards"),
    ("a meter below the last one", {}, {"meter_end": 90}, "engines.0.meter_end", "100"),
    ("a future flight", {"ended_at": SOON}, {}, "ended_at", "future"),
    ("a date that cannot be", {"ended_at": "yesterday"}, {}, "ended_at", "yesterday"),
    ("a wrong engine", {}, {"engine_id": 999_999}, "engines.0.engine_id", "not"),
    ("no engine", {"engines": []}, {}, "engines", "at least one"),
    ("no aircraft", {"aircraft": None}, {}, "aircraft", "registration"),
    ("no identifier", {"client_id": ""}, {}, "client_id", "identifier"),
    ("an identifier that is none", {"client_id": "7"}, {}, "client_id", "UUID"),
    ("no airborne time", {"airborne": None}, {}, "airborne", "missing"),
    ("more airborne time than the meter ran", {"airborne": "3:30"}, {}, "engines.0.meter_end", "Airborne"),
    ("a name that is no field", {"airborn": 72}, {}, "airborn", "spelling"),
    ("a name that is no field of an engine", {}, {"rpms": 2400}, "engines.0.rpms", "spelling"),
    ("a list where a number belongs", {}, {"cht_max": [380]}, "engines.0.cht_max", "number"),
    ("fields where a list belongs", {"engines": {"0": {}}}, {}, "engines", "list"),
    ("a level over the sump", {}, {"oil": [{"kind": "reading", "level": 14}]}, "engines.0.oil.0.level", "full mark"),
    ("a level in the wrong unit", {}, {"oil": [{"kind": "reading", "level": "6.5 hp"}]}, "engines.0.oil.0.level", "hp"),
    ("an event that is none", {}, {"oil": [{"kind": "sniff"}]}, "engines.0.oil.0.kind", "sniff"),
    ("a pilot who does not fly it", {"pilot_id": 999_999}, {}, "pilot_id", "pilot"),
    ("words that are no text", {"note": {"a": 1}}, {}, "note", "string"),
    ("an engine number past all bounds", {}, {"engine_id": 10**30}, "engines.0.engine_id", "whole number"),
]  # fmt: skip


@pytest.mark.parametrize(("flight", "engine", "field", "words"), [row[1:] for row in BAD_FLIGHTS],
                         ids=[row[0] for row in BAD_FLIGHTS])  # fmt: skip
def test_a_flight_is_refused_with_field_and_reason(
    shop: factories.Cast, api, flight: dict[str, Any], engine: dict[str, Any], field: str, words: str
) -> None:
    raw = a_flight(shop.build_1.engine, "QX-901", engine=engine) | flight
    audited = AuditEvent.objects.count()

    answer = api(shop.ada).post("flights/", raw)

    assert answer.status_code == 400, answer.content
    assert answer.json()["code"] == "invalid"
    assert field in said(answer), answer.content
    assert words in said(answer)[field]
    assert not Flight.objects.exists()
    assert not OilEvent.objects.exists()
    assert AuditEvent.objects.filter(act="log_flight").count() == 0
    assert audited + 1 == AuditEvent.objects.count(), "only the token was made"


def test_every_problem_is_told_at_once(shop: factories.Cast, api) -> None:
    raw = a_flight(shop.build_1.engine, "QX-901", engine={"cht_max": "hot", "rpms": 1}) | {"landings": "many"}

    answer = api(shop.ada).post("flights/", raw)

    assert {"engines.0.cht_max", "engines.0.rpms", "landings"} <= set(said(answer))


def test_a_decimal_comma_is_a_decimal_point(shop: factories.Cast, api) -> None:
    raw = a_flight(shop.build_1.engine, "QX-901", engine={"meter_end": "101,2", "cht_max": "193,5 degC"})

    answer = api(shop.ada).post("flights/", raw)

    assert answer.status_code == 201, answer.content
    row = Flight.objects.get().engines.get()
    assert row.meter_end_h == pytest.approx(101.2)
    assert row.cht_max_degf == pytest.approx(380.3)


BAD_OIL: list[tuple[str, dict[str, Any], str, str]] = [
    ("a wrong unit", {"level": "6.5 degF"}, "level", "degF"),
    ("another engine", {"engine_id": 999_999}, "engine_id", "another engine"),
    ("a future reading", {"happened_at": SOON}, "happened_at", "future"),
    ("nothing read", {"level": None}, "level", ""),
    ("a flight that is not its own", {"flight_root": "11111111-1111-4111-8111-111111111111"}, "flight_root", "no such"),
    ("a level below the stick", {"level": -3}, "level", "outside"),
    ("no kind", {"kind": ""}, "kind", "missing"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "field", "words"), [row[1:] for row in BAD_OIL], ids=[row[0] for row in BAD_OIL])
def test_an_oil_event_is_refused_with_field_and_reason(
    shop: factories.Cast, api, more: dict[str, Any], field: str, words: str
) -> None:
    answer = api(shop.ada).post(f"engines/{shop.build_1.engine_id}/oil/", a_reading(**more))

    assert answer.status_code == 400, answer.content
    assert field in said(answer), answer.content
    assert words in said(answer)[field]
    assert not OilEvent.objects.exists()


def test_an_identifier_of_another_aircraft_s_flight_is_a_conflict(shop: factories.Cast, api) -> None:
    first = a_flight(shop.build_1.engine, "QX-901")
    api(shop.ada).post("flights/", first)
    second = a_flight(shop.build_2.engine, "QX-902") | {"client_id": first["client_id"]}

    answer = api(shop.ben).post("flights/", second)

    assert answer.status_code == 409
    assert Flight.objects.count() == 1
