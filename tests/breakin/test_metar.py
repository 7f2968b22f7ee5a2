"""A pasted weather report: what is read of it, and what is refused in words. The stations are invented."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from breakin.entries.metar import read_metar
from shop.errors import Refusal

NOW = datetime(2026, 3, 1, 18, 40, tzinfo=UTC)


def test_the_american_form_gives_tenths_of_a_degree_and_inches() -> None:
    read = read_metar("METAR QXTF 011753Z 18005KT 10SM FEW040 17/08 A2985 RMK AO2 T01720083", NOW)
    assert (read.station, read.at) == ("QXTF", datetime(2026, 3, 1, 17, 53, tzinfo=UTC))
    assert read.oat_degf == pytest.approx(62.96)
    assert read.altimeter_inhg == pytest.approx(29.85)


def test_the_international_form_gives_hectopascals_and_frost() -> None:
    read = read_metar("QXVI 011820Z AUTO 27004MPS CAVOK M05/M12 Q1031 NOSIG=", NOW)
    assert read.oat_degf == pytest.approx(23.0)
    assert read.altimeter_inhg == pytest.approx(30.445, abs=0.001)


def test_small_letters_and_broken_lines_are_read_all_the_same() -> None:
    read = read_metar("  qxtf 011753z 18005kt\n 17/08   a2985 ", NOW)
    assert read.station == "QXTF"
    assert read.oat_degf == pytest.approx(62.6)


def test_a_group_that_nobody_knows_does_not_hide_the_others() -> None:
    read = read_metar("QXTF 011753Z 18005KT CAVOK 17/08 Q1013 FOO1", NOW)
    assert read.oat_degf == pytest.approx(62.6)
    assert read.altimeter_inhg == pytest.approx(29.914, abs=0.001)


@pytest.mark.parametrize(
    ("day_and_time", "at", "old"),
    [
        ("011541Z", datetime(2026, 3, 1, 15, 41, tzinfo=UTC), False),
        ("011539Z", datetime(2026, 3, 1, 15, 39, tzinfo=UTC), True),
        ("011900Z", datetime(2026, 3, 1, 19, 0, tzinfo=UTC), False),
        ("281753Z", datetime(2026, 2, 28, 17, 53, tzinfo=UTC), True),
        ("311753Z", datetime(2026, 1, 31, 17, 53, tzinfo=UTC), True),
    ],
)
def test_the_day_is_the_last_such_day_and_three_hours_are_old(day_and_time: str, at: datetime, old: bool) -> None:
    read = read_metar(f"QXTF {day_and_time} 18005KT CAVOK 17/08 Q1013", NOW)
    assert (read.at, read.is_old(NOW)) == (at, old)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("warm, little wind", "can't be read as a METAR"),
        ("QXTF 18005KT 17/08 Q1013", "can't be read as a METAR"),
        ("QXTF 321753Z 18005KT CAVOK 17/08 Q1013", "can't be read as a METAR"),
        ("TAF QXTF 011730Z 0118/0218 18005KT CAVOK", "forecast"),
        ("QXTF 011753Z 17/08 Q1013 QXTF 011653Z 16/08 Q1013", "more than one report"),
        ("QXTF 011753Z 18005KT CAVOK ///// Q////", "neither a temperature nor"),
        ("QXTF 011753Z " + "BKN001 " * 100, "longer than"),
    ],
)
def test_what_is_no_report_is_refused_in_words(text: str, says: str) -> None:
    with pytest.raises(Refusal, match=says) as refused:
        read_metar(text, NOW)
    assert list(refused.value.by_field()) == ["metar"]


def test_what_a_report_lacks_is_not_made_up() -> None:
    assert read_metar("QXTF 011753Z 18005KT CAVOK 17/08 Q////", NOW).altimeter_inhg is None
    assert read_metar("QXTF 011753Z 18005KT CAVOK ///// Q1013", NOW).oat_degf is None
