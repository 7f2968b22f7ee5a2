"""What the reading of a file wrote down in words, read again in the language and units of the page.

Notes, questions and refusals are kept with a recording as English text in US units, some of them for years. Each is
one of the phrases in reports.recordings.phrases with something in its gaps; what is none of them is read as it stands.
A gap is named for what stands in it: one that ends in _degf, _ddegf or _inhg holds a number with its unit, any other
one a number, or words that are themselves read again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from django.utils.translation import gettext

from breakin.calc.said import ENGLISH, US, Measure, Tongue, ddegf, degf, inhg
from breakin.saying import tongue
from reports.recordings.phrases import PHRASES

_MEASURES: dict[str, tuple[str, Callable[[float], Measure]]] = {
    "_ddegf": (r"-?[\d.,]+ degF", ddegf),
    "_degf": (r"-?[\d.,]+ degF", degf),
    "_inhg": (r"[\d.,]+ inHg", inhg),
}
_GAP = re.compile(r"\{(\w+)\}")
_NUMBER = re.compile(r"-?[\d.,]*\d")
_DEPTH = 4  # of phrases inside phrases


def said_again(text: Any, units: str = US) -> str:
    """A text that a reading kept, for a reader. Anything but a text is nothing to say."""
    if not isinstance(text, str) or not text:
        return ""
    language = tongue()
    return text if language is ENGLISH and units == US else _again(text, units, language, _DEPTH)


def said_each(text: Any, units: str = US) -> str:
    """The same for several phrases with semicolons between them."""
    return "; ".join(said_again(part, units) for part in str(text or "").split("; ") if part)


def phrase_of(text: str) -> str:
    """The phrase that a text is; "" for none."""
    return next((phrase for phrase, _found in _fitting(text)), "")


def _again(text: str, units: str, language: Tongue, depth: int) -> str:
    if _NUMBER.fullmatch(text):
        return language.number(text)
    if not depth:
        return text
    for phrase, found in _fitting(text):
        gaps = {name: _gap(name, value, units, language, depth) for name, value in found.groupdict().items()}
        return language.translate(phrase).format(**gaps)
    return gettext(text)


def _gap(name: str, value: str, units: str, language: Tongue, depth: int) -> str:
    for ending, (_pattern, measure) in _MEASURES.items():
        if name.endswith(ending):
            number = float(value.split(" ")[0].replace(",", ""))
            return measure(number).text(units, language)
    return _again(value, units, language, depth - 1)


def _fitting(text: str) -> Iterator[tuple[str, re.Match[str]]]:
    for phrase, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found:
            yield phrase, found


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """The most special phrase first: that with the most words of its own."""
    longest = sorted(PHRASES, key=lambda phrase: -len(_GAP.sub("", phrase)))
    return tuple((phrase, re.compile(_pattern(phrase))) for phrase in longest)


def _pattern(phrase: str) -> str:
    parts = _GAP.split(phrase)
    made = [re.escape(parts[0])]
    for name, after in zip(parts[1::2], parts[2::2], strict=True):
        inside = next((pattern for ending, (pattern, _m) in _MEASURES.items() if name.endswith(ending)), ".+?")
        made += [f"(?P<{name}>{inside})", re.escape(after)]
    return "".join(made)
