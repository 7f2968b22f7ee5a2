"""Numbers as people abroad write them, containers of their shops, and days that end at their own midnight.

Every value is typed into the form of a flight and looked for in the book, in the canonical unit, and on the page.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.utils import translation

from breakin.models import Flight, OilEvent, OilEventKind
from reports.quantities import oil_rate, quantity
from shop.models import Person
from tests.factories import Cast
from tests.reports.portal_forms import a_flight, error_at, log_address

pytestmark = pytest.mark.django_db

LITRE_QT = 4 / 3.785411784
IMPERIAL_QT = 4.54609 / 3.785411784
SUMMER = datetime(2026, 7, 15, 20, 0, tzinfo=UTC)


@pytest.fixture
def sunniva(shop: Cast) -> Person:
    shop.ada.language, shop.ada.units, shop.ada.zone = "de", "si", "Europe/Berlin"
    shop.ada.save()
    return shop.ada


def sent(shop: Cast, as_person: Any, person: Person, **changed: Any) -> Any:
    client, address = as_person(person), log_address(shop.aircraft_1)
    return client.post(address, a_flight(client.get(address), **changed), follow=True)


@pytest.mark.parametrize(
    ("typed", "unit", "stored"),
    [
        ("0,5", "L", 0.5 * LITRE_QT),
        ("0.5", "L", 0.5 * LITRE_QT),
        ("1", "L", 1.0567),
        ("1", "imp qt", 1.2009),
        ("1", "qt", 1.0),
        ("1 imp qt", "L", 1.2009),  # what is typed behind the number overrules the choice beside it
    ],
)
@time_machine.travel(SUMMER, tick=False)
def test_an_amount_of_oil_is_what_was_typed_in_the_unit_beside_it(
    shop: Cast, sunniva: Person, as_person: Any, typed: str, unit: str, stored: float
) -> None:
    oil = {"e0-added": "other", "e0-amount": typed, "e0-amount_unit": unit, "e0-oil_kind": "mineral"}
    sent(shop, as_person, sunniva, **oil, **{"e0-poured": "after"})
    event = OilEvent.objects.get(kind=OilEventKind.ADDITION)
    assert event.amount_qt == pytest.approx(stored, abs=5e-4)
    assert event.typed["amount"][0] == typed


@pytest.mark.parametrize(
    ("container", "count", "stored"),
    [("litre", "1", LITRE_QT), ("litre", "2", 2 * LITRE_QT), ("imp_qt", "1", IMPERIAL_QT), ("us_qt", "1", 1.0)],
)
@time_machine.travel(SUMMER, tick=False)
def test_one_is_the_container_that_stands_in_the_shed(
    shop: Cast, sunniva: Person, as_person: Any, container: str, count: str, stored: float
) -> None:
    oil = {"e0-added": count, "e0-container": container, "e0-oil_kind": "mineral", "e0-poured": "after"}
    sent(shop, as_person, sunniva, **oil)
    assert OilEvent.objects.get(kind=OilEventKind.ADDITION).amount_qt == pytest.approx(stored, abs=1e-6)


@pytest.mark.parametrize(
    ("field", "typed", "unit", "attribute", "stored"),
    [
        ("airborne", "1:06", "", "airborne_min", 66.0),
        ("altimeter", "1013", "hPa", "altimeter_inhg", 29.914),
        ("altimeter", "1013,2", "hPa", "altimeter_inhg", 29.920),
        ("oat_ground", "15,5", "degC", "oat_ground_degf", 59.9),
        ("oat_ground", "-5", "degC", "oat_ground_degf", 23.0),
    ],
)
@time_machine.travel(SUMMER, tick=False)
def test_a_value_of_the_flight_is_kept_in_the_unit_of_the_book(
    shop: Cast, sunniva: Person, as_person: Any, field: str, typed: str, unit: str, attribute: str, stored: float
) -> None:
    sent(shop, as_person, sunniva, **{field: typed}, **({f"{field}_unit": unit} if unit else {}))
    flight = Flight.objects.get()
    assert getattr(flight, attribute) == pytest.approx(stored, abs=2e-3)
    assert flight.typed[field][0] == typed


@pytest.mark.parametrize("typed", ["1.234,5", "1,234.5", "1,234", "1 234"])
@time_machine.travel(SUMMER, tick=False)
def test_a_number_that_may_mean_two_things_is_refused_in_words_and_stays_typed(
    shop: Cast, sunniva: Person, as_person: Any, typed: str
) -> None:
    answer = sent(shop, as_person, sunniva, **{"e0-meter_end": typed})
    assert answer.status_code == 422
    assert f"„{typed}“" in error_at(answer, "e0-meter_end")
    assert f'value="{typed}"' in answer.content.decode()
    assert not Flight.objects.exists()


@pytest.mark.parametrize(
    ("language", "units", "value", "kind", "decimals", "shown"),
    [
        ("de", "si", 100.0, "difference", 1, "55,6\u202f°C"),  # not 37.8: a difference has no zero point
        ("de", "si", 100.0, "temperature", 1, "37,8\u202f°C"),
        ("en", "si", 100.0, "difference", 1, "55.6\u202f°C"),
        ("en", "us", 100.0, "difference", None, "100\u202f°F"),
        ("de", "si", LITRE_QT, "volume", None, "1,00\u202fL"),
        ("de", "mixed", 8.25, "volume", None, "8,25\u202fqt"),
        ("de", "si", 24.1, "manifold", None, "816\u202fhPa"),
        ("de", "mixed", 24.1, "manifold", None, "24,1\u202finHg"),
        ("de", "mixed", 29.92, "altimeter", None, "1013\u202fhPa"),
        ("de", "us", 29.92, "altimeter", None, "29,92\u202finHg"),
        ("de", "si", 4000.0, "altitude", None, "4000\u202fft"),  # feet stay feet
        ("de", "si", 15.0, "fuel_flow", None, "57\u202fL/h"),
        ("de", "si", None, "volume", None, "nicht bekannt"),
    ],
)
def test_a_quantity_is_shown_in_the_readers_unit_and_with_the_mark_of_his_language(
    language: str, units: str, value: float | None, kind: str, decimals: int | None, shown: str
) -> None:
    with translation.override(language):
        assert quantity(value, kind, units, decimals) == shown


def test_a_loss_has_one_comma_and_its_doubt_another() -> None:
    with translation.override("de"):
        assert oil_rate(0.116, 0.042, "us") == "0,12\u202f±\u202f0,04\u202fqt/h"
        assert oil_rate(0.116, None, "us") == "0,12\u202fqt/h, Unsicherheit nicht bekannt"


@pytest.mark.parametrize(
    ("zone", "now", "day", "clock", "instant", "began_on", "shown"),
    [
        # Ten to midnight on the pilot's clock is the next day in London.
        (
            "Etc/GMT+6",
            "2026-07-16T06:00",
            "2026-07-15",
            "23:50",
            "2026-07-16T05:50",
            "2026-07-15",
            "15. Juli 23:50 UTC−6",
        ),
        # Just after midnight in Berlin it is still the day before in London; begun before midnight, it is that day's.
        (
            "Europe/Berlin",
            "2026-07-15T23:00",
            "2026-07-16",
            "00:25",
            "2026-07-15T22:25",
            "2026-07-15",
            "16. Juli 00:25 UTC+2",
        ),
        # The same clock time in winter is another instant.
        (
            "Europe/Berlin",
            "2027-01-15T23:50",
            "2027-01-16",
            "00:25",
            "2027-01-15T23:25",
            "2027-01-15",
            "16. Januar 00:25 UTC+1",
        ),
        # After the hour that spring leaves out.
        (
            "Europe/Berlin",
            "2027-03-28T08:00",
            "2027-03-28",
            "03:10",
            "2027-03-28T01:10",
            "2027-03-28",
            "28. März 03:10 UTC+2",
        ),
        # After the hour that autumn has twice.
        (
            "Europe/Berlin",
            "2026-10-25T08:00",
            "2026-10-25",
            "03:10",
            "2026-10-25T02:10",
            "2026-10-25",
            "25. Oktober 03:10 UTC+1",
        ),
    ],
)
def test_a_flight_belongs_to_the_day_on_the_pilots_own_clock(
    shop: Cast,
    sunniva: Person,
    as_person: Any,
    zone: str,
    now: str,
    day: str,
    clock: str,
    instant: str,
    began_on: str,
    shown: str,
) -> None:
    sunniva.zone = zone
    sunniva.save()
    with time_machine.travel(datetime.fromisoformat(f"{now}+00:00"), tick=False):
        answer = sent(shop, as_person, sunniva, local_date=day, local_time=clock)
        flight = Flight.objects.get()
        assert flight.happened_at == datetime.fromisoformat(f"{instant}+00:00")
        assert flight.local_date == date.fromisoformat(began_on)
        assert flight.zone == zone
        assert shown in answer.content.decode()


@time_machine.travel(datetime(2027, 3, 28, 8, tzinfo=UTC), tick=False)
def test_a_time_in_the_hour_that_spring_leaves_out_is_refused(shop: Cast, sunniva: Person, as_person: Any) -> None:
    answer = sent(shop, as_person, sunniva, local_date="2027-03-28", local_time="02:30")
    assert answer.status_code == 422
    assert "2027-03-28 02:30" in error_at(answer, "local_time")
    assert not Flight.objects.exists()
