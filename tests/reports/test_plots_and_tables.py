"""The pictures and tables of an engine: they say what the assessment says, in the reader's units."""

from __future__ import annotations

import json
from typing import Any

import pytest

from reports import plots
from reports.engine import power_tables
from reports.engine import tables as engine_tables
from reports.quantities import level, oil_rate, quantity
from shop.palette import resolve

OIL: dict[str, Any] = {
    "rate_qt_h": 0.11,
    "u_qt_h": 0.04,
    "rate_lo_qt_h": 0.05,
    "rate_hi_qt_h": 0.17,
    "settle_level_qt": 6.0,
    "lines": {"full": 8.0, "hold": 7.0, "add": 6.0, "no_go": 5.0},
    "accept_qt_h": 0.15,
    "entries": [
        {"root": "a", "kind": "reading", "hours": 1.0, "level_qt": 7.5, "u_qt": 0.15, "anchor": True},
        {
            "root": "b",
            "kind": "reading",
            "hours": 3.0,
            "level_qt": 6.0,
            "u_qt": 0.5,
            "anchor": False,
            "why_not": "sloping",
        },
        {"root": "c", "kind": "addition", "hours": 3.0, "amount_qt": 1.0, "oil_kind": "mineral"},
        {"root": "d", "kind": "drain_fill", "hours": 9.0, "filled_qt": 7.0},
        {"root": "e", "kind": "reading", "hours": None, "level_qt": 6.5},
    ],
    "windows": [
        {
            "from_h": 1.0,
            "to_h": 3.0,
            "level_from": 7.5,
            "level_to": 6.0,
            "added_qt": 0.0,
            "rate_qt_h": 0.75,
            "u_qt_h": 0.26,
            "assessable": False,
            "why_not": "2.0 h is too short",
            "over_fill_qt": 0.0,
        },
    ],
    "over_fill": [[0.0, 1.0]],
    "leak": [[1.0, 2.0]],
}
CREDIT: dict[str, Any] = {
    "blocks": [
        {
            "from_h": 0.2,
            "duration_min": 50,
            "pct": 75.2,
            "sigma": 2.0,
            "band": "75",
            "source": "typed",
            "method": "chart",
        },
        {"from_h": 1.2, "duration_min": 30, "pct": None, "band": "65", "source": "stated", "method": "as on the card"},
        {"from_h": 2.0, "duration_min": 20, "pct": None, "band": None, "source": "typed", "why_unknown": "no rpm"},
    ]
}
BANDS = {"75": [72, 85], "65": [62, 68]}


def traces(figure: dict[str, Any] | None) -> Any:
    assert figure is not None
    return figure["data"]


def test_a_picture_is_plain_json_whose_colours_the_card_knows() -> None:
    for figure in (plots.oil_picture(OIL, 10, "us"), plots.power_picture(CREDIT, BANDS, 60)):
        json.dumps(resolve(figure))
        assert "template" not in traces(figure)[0]


def test_the_oil_picture_draws_levels_in_the_readers_units() -> None:
    shown = [trace for trace in traces(plots.oil_picture(OIL, 10, "si")) if trace.get("name") == "reading to judge by"]
    assert shown[0]["y"] == pytest.approx([7.5 * 0.946352946])


def test_oil_poured_in_lifts_the_level_at_its_hour_and_a_change_of_oil_breaks_the_line() -> None:
    line = next(trace for trace in traces(plots.oil_picture(OIL, 10, "us")) if trace.get("name") == "level")
    assert list(line["x"]) == [1.0, 3.0, 3.0, 3.0, None]
    assert list(line["y"]) == [7.5, 6.0, 6.0, 7.0, None]


def test_over_fill_and_leak_are_hatched_over_their_hours() -> None:
    hatched = [trace for trace in traces(plots.oil_picture(OIL, 10, "us")) if trace.get("fillpattern")]
    assert [(trace["x"][0], trace["x"][1]) for trace in hatched] == [(0.0, 1.0), (1.0, 2.0)]


def test_no_reading_gives_no_picture() -> None:
    assert plots.oil_picture({}, 0, "us") is None
    assert plots.power_picture({}, BANDS, 60) is None


def test_stated_power_is_drawn_in_its_band_and_unknown_power_at_the_foot() -> None:
    boxes = {trace["name"]: trace["y"] for trace in traces(plots.power_picture(CREDIT, BANDS, 60)) if trace.get("name")}
    assert (min(y for y in boxes["as on the card"] if y), max(y for y in boxes["as on the card"] if y)) == (62, 68)
    assert max(y for y in boxes["power not known"] if y) < 60


def test_the_keys_name_only_what_is_in_the_picture() -> None:
    assert [mark for mark, _ in plots.power_key(CREDIT, BANDS)] == ["– –", "/// in a band", "/// at the foot"]
    assert plots.power_key({"blocks": [{**CREDIT["blocks"][0], "source": "recording"}]}, BANDS)[0][0] == "——"
    assert len(plots.power_key({"blocks": CREDIT["blocks"][:1]}, BANDS)) == 1
    assert not any("leak" in words for _, words in plots.oil_key({**OIL, "leak": []}))


def test_the_strip_is_newest_first_and_says_why_a_reading_is_not_judged_by() -> None:
    rows = engine_tables.oil_strip(OIL, "us")
    assert [row.href for row in rows] == ["#fact-e", "#fact-d", "#fact-c", "#fact-b", "#fact-a"]
    assert rows[3].mark == "sloping"
    assert rows[4].mark == "judged by"
    assert rows[2].what == "addition, 1.00\u202fqt of straight mineral"


def test_the_mass_balance_gives_start_added_end_loss_and_why_it_is_not_judged() -> None:
    table = engine_tables.windows(OIL, "us")
    assert table is not None
    assert table.rows[0][2:5] == ("0.00\u202fqt", "0.8\u202f±\u202f0.3\u202fqt/h", "not judged: 2.0 h is too short")


def test_the_table_of_blocks_says_what_is_not_known() -> None:
    table = power_tables.blocks(CREDIT)
    assert table is not None
    assert [row[2] for row in table.rows] == ["75\u202f±\u202f2\u202f%", "as on the card", "not known: no rpm"]


@pytest.mark.parametrize(
    ("value", "u", "units", "text"),
    [
        (0.11, 0.04, "us", "0.11\u202f±\u202f0.04\u202fqt/h"),
        (0.113, 0.012, "us", "0.113\u202f±\u202f0.012\u202fqt/h"),
        (-0.05, 0.2, "us", "\u22120.1\u202f±\u202f0.2\u202fqt/h"),
        (0.11, 0.04, "si", "0.10\u202f±\u202f0.04\u202fL/h"),
        (0.11, None, "us", "0.11\u202fqt/h, uncertainty not known"),
        (None, 0.04, "us", "not known"),
    ],
)
def test_a_loss_carries_its_uncertainty_to_the_same_place(
    value: float | None, u: float | None, units: str, text: str
) -> None:
    assert oil_rate(value, u, units) == text


def test_nothing_known_reads_as_not_known() -> None:
    assert level(None, None, "us") == quantity(None, "temperature", "si") == "not known"
    assert quantity(420.0, "temperature", "si") == "216\u202f°C"
