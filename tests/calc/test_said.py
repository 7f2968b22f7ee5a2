"""Sentences that are kept with what they are made of: the book's English, and the same for another reader."""

from __future__ import annotations

import copy
import json
import pickle
from datetime import date

import numpy as np
import pytest

from breakin.calc.said import (
    ENGLISH,
    Day,
    Said,
    Tongue,
    ddegf,
    degf,
    fixed,
    gph,
    inhg,
    joined,
    number,
    percent,
    psi,
    qt,
    qt_h,
    said,
    sentences,
)

GERMAN_WORDS = {
    "The head fell by {fall} to {cht}.": "Der Zylinderkopf fiel um {fall} auf {cht}.",
    "Call.": "Rufen Sie an.",
    "{loss} in {hours} h on {day}": "{loss} in {hours} h am {day}",
    "left": "links",
    "The {side} engine.": "Motor {side}.",
    "{share} of it": "{missing} davon",
}
GERMAN = Tongue(lambda words: GERMAN_WORDS.get(words, words), ",", ".", " %", lambda on: f"{on:%d.%m.%Y}")


def fell() -> Said:
    return said("The head fell by {fall} to {cht}.", fall=ddegf(28), cht=degf(392))


def test_a_sentence_is_its_english_text_in_us_units() -> None:
    text: str = fell()
    assert text == "The head fell by 28 °F to 392 °F."
    assert fell().read("us", ENGLISH) == text
    assert json.dumps([text]) == '["The head fell by 28 \\u00b0F to 392 \\u00b0F."]'


def test_the_same_sentence_is_read_in_another_language_and_other_units() -> None:
    assert fell().read("si", GERMAN) == "Der Zylinderkopf fiel um 16 °C auf 200 °C."
    assert fell().read("us", GERMAN) == "Der Zylinderkopf fiel um 28 °F auf 392 °F."


def test_a_difference_of_temperatures_is_not_shifted_by_32() -> None:
    assert said("{x}", x=ddegf(100)).read("si", ENGLISH) == "56 °C"
    assert said("{x}", x=degf(100)).read("si", ENGLISH) == "38 °C"
    assert said("{x}", x=ddegf(-9, signed=True)).read("si", ENGLISH) == "-5 °C"


def test_numbers_and_days_are_written_as_the_language_writes_them() -> None:
    loss = said("{loss} in {hours} h on {day}", loss=qt(1.25), hours=fixed(13.5), day=Day(date(2026, 6, 3)))
    assert loss == "1.25 qt in 13.5 h on 3 Jun 2026"
    assert loss.read("si", GERMAN) == "1,18 L in 13,5 h am 03.06.2026"
    assert said("{share}", share=percent(0.125, 1)).read("us", GERMAN) == "12,5 %"
    assert said("{height}", height=number(12_500.0, ",.0f")).read("si", GERMAN) == "12.500"


@pytest.mark.parametrize(
    ("value", "us", "si", "mixed"),
    [
        (qt(8.0), "8.00 qt", "7.57 L", "8.00 qt"),
        (qt(8.0, bare=True), "8.00", "7.57", "8.00"),
        (qt(10.0, None), "10 qt", "9.46 L", "10 qt"),
        (qt_h(0.11), "0.11 qt/h", "0.10 L/h", "0.11 qt/h"),
        (gph(24.0), "24.0 gal/h", "90.8 L/h", "90.8 L/h"),
        (inhg(24.6), "24.6 inHg", "833 hPa", "24.6 inHg"),
        (inhg(-0.5, bare=True, signed=True), "-0.5", "-17", "-0.5"),
        (psi(24), "24 psi", "1.65 bar", "24 psi"),
        (psi(25), "25 psi", "1.72 bar", "25 psi"),
        (percent(0.125, 1), "12.5%", "12.5%", "12.5%"),
    ],
)
def test_each_reader_gets_his_own_unit_as_fine_as_the_us_one(value: object, us: str, si: str, mixed: str) -> None:
    message = Said("{value}", {"value": value})  # type: ignore[dict-item]
    assert [message.read(units, ENGLISH) for units in ("us", "si", "mixed")] == [us, si, mixed]


def test_a_sentence_inside_another_is_read_in_the_same_language() -> None:
    side = said("The {side} engine.", side=said("left"))
    both = sentences(side, said("Call."))
    assert both == "The left engine. Call."
    assert both.read("si", GERMAN) == "Motor links. Rufen Sie an."


def test_parts_that_are_empty_are_left_out() -> None:
    assert sentences("", said("Call."), "") == "Call."
    assert joined((), ", ") == ""
    assert joined((said("left"), "QX-501"), ", ").read("us", GERMAN) == "links, QX-501"


def test_words_that_no_catalogue_knows_stay_english_in_the_readers_units() -> None:
    assert said("Level {level}.", level=qt(8.0)).read("si", GERMAN) == "Level 7,57 L."


def test_a_translation_that_asks_for_a_gap_that_is_not_there_falls_back_to_english() -> None:
    assert said("{share} of it", share=percent(0.5)).read("si", GERMAN) == "50% of it"


def test_it_is_kept_as_json_and_comes_back_the_same() -> None:
    whole = sentences(fell(), said("{loss} in {hours} h on {day}", loss=qt_h(np.float64(0.1), bare=True),
                                   hours=number(3), day=Day(date(2026, 6, 3))))  # fmt: skip
    kept = json.loads(json.dumps(whole.to_dict()))
    again = Said.from_dict(kept)
    assert again == whole
    assert again.to_dict() == whole.to_dict()
    assert again.read("si", GERMAN) == whole.read("si", GERMAN)


@pytest.mark.parametrize(
    "kept",
    [
        {},
        {"msgid": 3},
        {"msgid": "{a}", "values": {"b": "x"}},
        {"msgid": "{a}", "values": {"a": {"measure": 1.0, "kind": "no such kind", "digits": 1}}},
        {"msgid": "{a}", "values": {"a": 3}},
    ],
)
def test_what_is_no_sentence_is_refused(kept: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="is not a sentence that was kept"):
        Said.from_dict(kept)


def test_a_copy_is_the_same_sentence() -> None:
    for again in (copy.deepcopy(fell()), pickle.loads(pickle.dumps(fell()))):  # noqa: S301 - our own bytes
        assert again.read("si", GERMAN) == fell().read("si", GERMAN)
