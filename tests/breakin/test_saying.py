"""What the rules find, read by others than the book: in German and SI units, and what is from before as it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import translation
from django.utils.translation import gettext

from breakin import saying
from breakin.calc.said import Measure, Said, said
from breakin.models import DueItem, Finding
from breakin.picture.picture import Picture
from breakin.record import PreservationFacts
from breakin.review import review_of
from breakin.rules import RULES, Answer
from tests.breakin.inspection_cases import at_h, look
from tests.breakin.records import after, level, record, run
from tests.breakin.test_rules_recorded import UNLOGGED
from tests.breakin.test_rules_table import CASES

# Only the shop reads these; they rest on facts and criteria in the words of the close-out file.
FOR_THE_SHOP = ("C1",)
# The same in every language: nothing but gaps, signs and units.
NO_WORDS = re.compile(r"^(\{\w+\}|[\s.,:;±%]|\bmin\b|\bppm\b|\bh\b)*$")
US_UNITS = re.compile(r"\d (qt|°F|inHg|gal/h)\b")


MORE = (
    record(installations=(), preservations=(PreservationFacts(after(0).date(), after(80).date()),)),
    record(run(1), unlogged_recorded=(UNLOGGED,)),
    at_h(1, look(5, "oil_filter", opened=False)),
    record(run(1), run(2), run(3)),
)


def answers() -> Iterator[tuple[str, Answer]]:
    """What every rule says of the cases of the table and of some more, early and late, so that reminders speak too."""
    cases = [(facts, 90 if place % 2 else 5) for place, (_, _, facts, _) in enumerate(CASES)]
    for facts, day in [*cases, *((facts, day) for facts in MORE for day in (2, 5, 20, 90))]:
        picture = Picture(facts, after(day))
        yield from ((name, one.ask(picture)) for name, one in RULES.items())


def all_said() -> dict[str, set[Said]]:
    """Rule -> everything that it says to people: titles and texts of findings and due items."""
    told: dict[str, set[Said]] = {}
    for name, one in answers():
        texts = [each for hit in one.hits for each in (hit.title or RULES[name].title, hit.text)]
        texts += [each for item in one.asked for each in (item.title, item.text)]
        for text in texts:
            assert isinstance(text, Said) or name in FOR_THE_SHOP, (name, text)
            if isinstance(text, Said):
                told.setdefault(name, set()).add(text)
    return told


@pytest.fixture(scope="module")
def told() -> dict[str, set[Said]]:
    return all_said()


def messages_in(text: Said) -> Iterator[str]:
    if text.msgid:
        yield text.msgid
    for value in text.values.values():
        if isinstance(value, Said):
            yield from messages_in(value)


def test_every_finding_and_due_item_is_a_message_with_its_values(told: dict[str, set[Said]]) -> None:
    assert {name for name, one in RULES.items() if one.severity != "none"} - set(told) <= set(FOR_THE_SHOP)
    assert {"N1", "N2", "N3", "N4", "N5", "N6", "N7", "N8", "I6", "I8"} <= set(told)


def test_every_message_of_a_rule_is_in_the_german_catalogue(told: dict[str, set[Said]]) -> None:
    with translation.override("de"):
        lacking = {
            (name, message)
            for name, texts in told.items()
            for text in texts
            for message in messages_in(text)
            if gettext(message) == message and not NO_WORDS.match(message)
        }
    assert lacking == set()


def test_a_german_reader_with_si_units_meets_no_us_unit(told: dict[str, set[Said]]) -> None:
    with translation.override("de"):
        tongue = saying.tongue()
        for name, texts in told.items():
            for text in texts:
                shown = text.read("si", tongue)
                assert not US_UNITS.search(shown), (name, shown)
                assert "{" not in shown, (name, shown)


def test_the_same_text_comes_back_from_what_was_kept(told: dict[str, set[Said]]) -> None:
    for texts in told.values():
        for text in texts:
            assert Said.from_dict(text.to_dict()) == text


def rose() -> Any:
    """A level that rose by 0.75 qt without an addition."""
    facts = record(run(1), run(2), oil=(level(1, 7.25), level(2, 8.0)))
    (hit,) = RULES["O8"].ask(Picture(facts, after(5))).hits
    return hit


def kept_finding(hit: Any) -> Finding:
    return Finding(
        title=RULES["O8"].title, text=str(hit.text), said=saying.kept(title=RULES["O8"].title, text=hit.text)
    )


def test_one_finding_is_read_in_english_and_us_units_and_in_german_and_si_units() -> None:
    row = kept_finding(rose())
    assert saying.title_for(row, "us") == "Oil level rose"
    assert saying.text_for(row, "us") == row.text
    assert "from 7.25 to 8.00 qt" in row.text
    assert "from 6.86 to 7.57 L at" in saying.text_for(row, "si")
    with translation.override("de"):
        assert saying.title_for(row, "si") == "Ölstand gestiegen"
        assert "von 6,86 auf 7,57 L bei" in saying.text_for(row, "si")
        assert "von 7,25 auf 8,00 qt bei" in saying.text_for(row, "us")


@pytest.mark.parametrize(
    "said_of_it",
    [
        {},
        {"title": {"msgid": "Oil level rose"}},
        {"text": "no message"},
        {"text": {"msgid": "{level}", "values": {}}},
        {"text": {"msgid": "It rose by {rise}.", "values": {"rise": {"measure": 1.0, "kind": "lost", "digits": 1}}}},
        None,
    ],
)
def test_a_row_without_a_message_or_with_a_broken_one_is_read_as_its_text_stands(said_of_it: Any) -> None:
    row = DueItem(title="Oil reading missing", text="The flight of 9 June has no oil level.", said=said_of_it)
    with translation.override("de"):
        assert saying.text_for(row, "si") == "The flight of 9 June has no oil level."


def test_a_message_without_a_translation_is_read_in_english_in_the_readers_units() -> None:
    message = said(
        "Nobody translates {level}.", level=Measure(8.0, rose().text.values["shown"].values["level"].kind, 2)
    )
    row = Finding(title="", text=str(message), said=saying.kept(text=message))
    with translation.override("de"):
        assert saying.text_for(row, "si") == "Nobody translates 7,57 L."


def test_what_a_review_asks_for_is_said_in_german() -> None:
    asked = [
        criterion
        for facts in (record(), record(run(1), run(2)), *(facts for _, _, facts, _ in CASES))
        for criterion in review_of(Picture(facts, after(20)), ("A call.",), stopped=True).criteria
    ]
    assert {one.key for one in asked} >= {"hours", "settled", "filter", "open"}
    with translation.override("de"):
        # The two that name a number are worded by the page.
        english = {one.what for one in asked if one.key not in ("hours", "evidence") and gettext(one.what) == one.what}
        assert english | {one.mend for one in asked if gettext(one.mend) == one.mend} == set()
