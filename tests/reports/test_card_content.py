"""What a card says, as it is kept: nothing is lost on the way to JSON and back, and the digest knows what differs."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from reports.pilot.card_content import (
    CardContent,
    Cell,
    Climb,
    EngineColumn,
    FieldAir,
    Line,
    MinuteRow,
    SettingRow,
    SettingTable,
    TakeOff,
)

NOW = datetime(2026, 7, 1, 12, tzinfo=UTC)
TABLE = SettingTable(
    "75 %",
    "2,450 rpm",
    "inHg",
    (("cold", "36 °F colder than standard"), ("standard", "")),
    (
        SettingRow("2,000 ft", (Cell("23.9"), Cell("24.5"))),
        SettingRow("highest", (Cell("23.1", "6,900 ft"), Cell("–"))),
    ),
    "75 % to 5,100 ft",
)
FULL = CardContent(
    "QX-901",
    "the shop",
    "555-0100",
    "us",
    FieldAir("Tellamoor", (Line("Elevation", "620 ft"),), "Standard air is assumed."),
    (
        EngineColumn(
            7,
            None,
            "LEFT",
            "TAV-4E s/n 1",
            oil=(Line("Hold line", "6 qt", "never pour above it"),),
            take_off=TakeOff((Line("rpm", "2,700"),), "reject"),
            climb=Climb("to 4,000 ft", ("1,000 ft", "2,000 ft"), "falling by 3,000 ft", (Line("Mixture", "rich"),)),
            minutes=(MinuteRow("0:00 to 1:00", "75 %"),),
            settings=(TABLE,),
            cautions=("one",),
        ),
        EngineColumn(None, None, "RIGHT", "TAV-4E s/n 2", why="Not in break-in.", follows=True),
    ),
    even_power="Even power on both engines.",
    land_now=("Oil pressure low.",),
)


def test_what_is_kept_comes_back_the_same() -> None:
    kept = json.loads(json.dumps(FULL.to_dict()))
    assert CardContent.from_dict(kept) == FULL


def test_numbers_and_times_make_no_other_card() -> None:
    out = FULL.handed_out({7: 3}, NOW, NOW + timedelta(days=7))
    assert [engine.number for engine in out.engines] == [3, None]
    assert (out.made, out.until) == (NOW, NOW + timedelta(days=7))
    assert out.digest == FULL.digest


def test_one_other_setting_makes_another_card() -> None:
    row = replace(TABLE.rows[0], cells=(Cell("23.9"), Cell("24.6")))
    table = replace(TABLE, rows=(row, TABLE.rows[1]))
    other = replace(FULL, engines=(replace(FULL.engines[0], settings=(table,)), FULL.engines[1]))
    assert other.digest != FULL.digest


def test_a_card_of_another_shape_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="shape 0"):
        CardContent.from_dict({**FULL.to_dict(), "shape": 0})
