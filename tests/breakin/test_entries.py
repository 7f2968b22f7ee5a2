"""Reading what people type: units, absent values, chips, times at a place, and questions before odd values."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from breakin.calc.units import LITRES_PER_US_QUART
from breakin.entries import FlightEntry, OilEntry, content_hash, parse_flight, parse_inspection, parse_oil
from shop.errors import Refusal

NOW = datetime(2026, 6, 15, 18, 0, tzinfo=UTC)
ID = "7b0e7a2e-54a1-4b7a-9e5f-0b4a2b1d0001"


def flight(units: str = "us", zone: str = "UTC", now: datetime = NOW, **changed: Any) -> FlightEntry:
    engine = {"engine_id": 1, "meter_end": "101.2", **changed.pop("engine", {})}
    raw = {"client_id": ID, "ended_at": "2026-06-15T15:00", "airborne": "72", "engines": [engine], **changed}
    return parse_flight({name: value for name, value in raw.items() if value != "-"}, units=units, zone=zone, now=now)


def oil(units: str = "us", **changed: Any) -> OilEntry:
    raw = {"client_id": ID, "engine_id": 1, "kind": "reading", "level": "7.5", **changed}
    return parse_oil({name: value for name, value in raw.items() if value != "-"}, units=units, zone="UTC", now=NOW)


@pytest.mark.parametrize("typed", ["1:12", "72", 72, "72 min", "1.2 h", "1,2 h", {"value": "1,2", "unit": "h"}])
def test_airborne_time_is_read_however_it_is_written(typed: Any) -> None:
    assert flight(airborne=typed).airborne_min == pytest.approx(72)


@pytest.mark.parametrize(
    ("typed", "quarts"),
    [
        ("7,5", 7.5),
        ("7.5 qt", 7.5),
        ("7 L", 7 / LITRES_PER_US_QUART),
        ({"value": 7, "unit": "imp qt"}, 7 * 4.54609 / 3.785411784),
        (0, 0.0),
    ],
)
def test_oil_level_is_kept_in_us_quarts(typed: Any, quarts: float) -> None:
    assert oil(level=typed).level_qt == pytest.approx(quarts)


def test_a_number_without_unit_means_the_unit_of_the_reader() -> None:
    assert oil("si", level="7").level_qt == pytest.approx(7.397, abs=0.001)
    assert oil("us", level="7").level_qt == 7


def test_what_was_typed_is_kept_with_its_unit() -> None:
    entry = flight("si", engine={"cht_max": "205"})
    assert entry.typed["engines.0.cht_max"] == ["205", "degC"]
    assert entry.engines[0].cht_max_degf == pytest.approx(401)
    assert oil("si", level="7,1").typed["level"] == ["7,1", "L"]


def test_a_difference_in_units_is_no_difference_in_content() -> None:
    in_litres = oil(level={"value": 7, "unit": "L"})
    in_quarts = oil(level=7 / LITRES_PER_US_QUART)
    assert content_hash(in_litres, about="engine 1") == content_hash(in_quarts, about="engine 1")
    assert content_hash(in_litres, about="engine 1") != content_hash(in_litres, about="engine 2")


def test_not_observed_is_an_answer_and_empty_is_none() -> None:
    entry = flight(oat_ground={"absent": "not_observed"}, altimeter="")
    assert entry.absent == {"oat_ground": "not_observed"}
    assert (entry.oat_ground_degf, entry.altimeter_inhg) == (None, None)


def test_zero_is_a_value() -> None:
    assert flight(ground_before="0", landings="0").ground_before_min == 0
    assert flight(landings="0").landings == 0


def test_an_odd_value_is_asked_about_until_it_is_confirmed() -> None:
    asked = flight(ground_before="35")
    assert [problem.field for problem in asked.warnings] == ["ground_before"]
    assert "35" in asked.warnings[0].message
    assert "0 to 10 min" in asked.warnings[0].message
    confirmed = flight(ground_before="35", confirmed=["ground_before"])
    assert confirmed.warnings == ()
    assert confirmed.typed["confirmed"] == ["ground_before", ""]


def test_a_question_about_oil_names_its_place_in_the_flight() -> None:
    addition = {"kind": "addition", "amount": "3", "oil_kind": "mineral"}
    entry = flight(engine={"oil": [addition]})
    assert [problem.field for problem in entry.warnings] == ["engines.0.oil.0.amount"]
    assert flight(engine={"oil": [addition]}, confirmed=["engines.0.oil.0.amount"]).warnings == ()


def test_local_time_is_read_in_the_zone_of_the_place() -> None:
    entry = flight(zone="Etc/GMT+6", ended_at="2026-06-15T08:40")
    assert entry.ended_at == datetime(2026, 6, 15, 14, 40, tzinfo=UTC)


def test_a_flight_past_midnight_belongs_to_the_day_it_began() -> None:
    entry = flight(zone="Etc/GMT+6", ended_at="-", local_date="2026-06-15", local_time="00:20")
    assert entry.ended_at == datetime(2026, 6, 15, 6, 20, tzinfo=UTC)
    assert entry.local_date == date(2026, 6, 14)


AUTUMN = datetime(2026, 10, 25, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("said", "utc"),
    [
        ({"local_time": "02:30", "clock_change": "before"}, "00:30"),
        ({"local_time": "02:30", "clock_change": "after"}, "01:30"),
        ({"local_time": "02:30+01:00"}, "01:30"),
        ({"local_time": "01:59"}, "23:59"),
        ({"local_time": "03:00", "clock_change": "before"}, "02:00"),
    ],
)
def test_a_time_that_came_twice_that_night_is_taken_as_it_is_meant(said: dict[str, str], utc: str) -> None:
    entry = flight(zone="Europe/Zurich", now=AUTUMN, ended_at="-", local_date="2026-10-25", **said)
    assert f"{entry.ended_at:%H:%M}" == utc
    assert ("clock_change" in entry.typed) == (said["local_time"] == "02:30")


def test_a_time_that_came_twice_that_night_is_asked_about() -> None:
    with pytest.raises(Refusal) as asked:
        flight(zone="Europe/Zurich", now=AUTUMN, ended_at="-", local_date="2026-10-25", local_time="02:30")
    assert [problem.field for problem in asked.value.problems] == ["clock_change"]
    with pytest.raises(Refusal, match=r"2026-10-25T02:30\+02:00 before .* 2026-10-25T02:30\+01:00 after"):
        flight(zone="Europe/Zurich", now=AUTUMN, ended_at="2026-10-25T02:30")
    entry = flight(zone="Europe/Zurich", now=AUTUMN, ended_at="2026-10-25T02:30+01:00")
    assert entry.ended_at == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_time_that_the_clocks_left_out_is_refused() -> None:
    with pytest.raises(Refusal, match="did not exist"):
        flight(zone="Europe/Zurich", ended_at="2026-03-29T02:30")


def test_airborne_time_follows_from_take_off_and_landing() -> None:
    entry = flight(ended_at="2026-06-15T15:00", airborne="-", takeoff="13:40", landing="14:52")
    assert entry.airborne_min == 72


def test_containers_are_turned_into_quarts_and_kept_as_counted() -> None:
    two = oil(kind="addition", level="-", count=2, container="litre", poured_fraction="0,5", oil_kind="mineral")
    assert two.amount_qt == pytest.approx(1.5 / LITRES_PER_US_QUART)
    assert two.typed["count"] == ["2", ""]


def test_a_chip_stands_for_minutes_and_stays_as_typed() -> None:
    entry = oil(minutes_since_shutdown="10-30", belly_oil="drips")
    assert (entry.minutes_since_shutdown, entry.belly_oil) == (20, 2)
    assert entry.typed["minutes_since_shutdown"] == ["10-30", ""]


def test_oil_events_of_a_flight_get_ids_that_follow_from_the_flight() -> None:
    reading = {"kind": "reading", "level": "7"}
    first, again = (flight(engine={"oil": [reading, {"kind": "none_added"}]}) for _ in range(2))
    ids = [event.client_id for event in first.engines[0].oil]
    assert ids == [event.client_id for event in again.engines[0].oil]
    assert ids[0] == uuid.uuid5(uuid.UUID(ID), "1:0")
    assert len(set(ids)) == 2


def test_percent_power_is_taken_with_and_without_its_sign() -> None:
    for typed in ("75", "75 %", 75):
        assert (
            flight(engine={"blocks": [{"duration": 30, "claimed_pct": typed}]}).engines[0].blocks[0].claimed_pct == 75
        )


def test_an_oil_change_gives_a_drain_and_fill_with_the_filter() -> None:
    raw = {
        "client_id": ID,
        "kind": "oil_filter",
        "happened_at": "2026-06-15T12:00",
        "result": "normal",
        "results": {"opened": "yes", "material": "fuzz", "magnet": "fuzz", "longest_mm": "0,4"},
        "drain_fill": {"drained": "6.5", "filled": "7", "oil_kind": "mineral", "filter_changed": True},
    }
    entry = parse_inspection(raw, units="us", zone="UTC", now=NOW)
    assert entry.results == {"opened": True, "material": "fuzz", "magnet": "fuzz", "longest_mm": 0.4}
    assert (entry.oil[0].kind, entry.oil[0].filled_qt, entry.oil[0].filter_changed) == ("drain_fill", 7, True)


@pytest.mark.parametrize(
    ("results", "verdict", "taken"),
    [
        ({"material": "chunk"}, "watch", False),
        ({"material": "chunk"}, "stop", True),
        ({"material": "sliver", "longest_mm": 2.1}, "watch", False),
        ({"material": "sliver", "longest_mm": 2.0}, "watch", True),
        ({"material": "flake", "longest_mm": 1.0}, "normal", False),
        ({"material": "flake", "longest_mm": 0.9}, "normal", True),
    ],
)
def test_metal_in_the_filter_sets_the_mildest_verdict(results: dict[str, Any], verdict: str, taken: bool) -> None:
    raw = {
        "client_id": ID,
        "kind": "oil_filter",
        "result": verdict,
        "results": {"opened": True, **results},
        "drain_fill": {"filled": 7, "oil_kind": "mineral"},
    }
    if taken:
        assert parse_inspection(raw, units="us", zone="UTC", now=NOW).result == verdict
    else:
        with pytest.raises(Refusal) as refused:
            parse_inspection(raw, units="us", zone="UTC", now=NOW)
        assert [problem.field for problem in refused.value.problems] == ["result"]


def test_a_flight_long_ago_is_asked_about() -> None:
    entry = flight(ended_at=(NOW - timedelta(days=61)).isoformat())
    assert "61 days ago" in entry.warnings[0].message
