"""The catalogues hold every sentence that the source marks, translated throughout, and what was compiled is theirs."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest
from babel.messages.catalog import Message

from tests.catalogues import tool

made = tool()


@pytest.mark.parametrize("app", made.APPS)
def test_every_marked_sentence_is_in_its_catalogue_translated_and_compiled(app: str) -> None:
    assert list(made.faults([app])) == []


def test_what_two_apps_say_is_translated_alike_in_both() -> None:
    said: dict[tuple[str, str], set[str]] = {}
    for app in made.APPS:
        for message in made.catalogue(app, "de"):
            if message.id:
                said.setdefault((message.context or "", str(message.id)), set()).add(str(message.string))
    assert {key: words for key, words in said.items() if len(words) > 1} == {}


@pytest.mark.parametrize(
    ("english", "german", "wrong"),
    [
        ("Log a flight", "", "not translated"),
        ("%(count)d rows", "Zeilen", "its gaps are"),
        ("{count} rows", "{zahl} Zeilen", "its gaps are"),
        (("%(count)d day", "%(count)d days"), ("%(count)d Tag", ""), "not translated"),
        ("%(share)d %% of rows", "%(share)d % der Zeilen", "has to be doubled"),
        ("%(share)d %% of rows", "%(share)d %% der Zeilen", ""),
        ("{share} % of rows", "{share} % der Zeilen", ""),
        ("{count} rows", "{count} Zeilen", ""),
    ],
)
def test_a_translation_without_words_or_with_other_gaps_is_found(
    english: str | tuple[str, str], german: str | tuple[str, str], wrong: str
) -> None:
    found = list(made.faults_of(Message(english, german)))
    assert bool(found) == bool(wrong), found
    assert wrong in " ".join(found)


def test_what_is_out_of_step_is_said_and_mended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_sentence(tmp_path, "Log a flight")
    monkeypatch.setattr(made, "TOP", tmp_path)
    said = " ".join(made.faults(["shop"]))
    assert "lacks 'Log a flight'" in said

    made.bring_in_step("shop", "de")
    said = " ".join(made.faults(["shop"]))
    assert "not translated" in said

    translate(made, "Flug eintragen")
    assert "and its .mo differ" in " ".join(made.faults(["shop"]))
    made.bring_in_step("shop", "de")
    assert list(made.faults(["shop"])) == []

    with_sentence(tmp_path, "Log an oil reading")
    assert "still has 'Log a flight'" in " ".join(made.faults(["shop"]))


def with_sentence(top: Path, sentence: str) -> None:
    (top / "shop" / "templates").mkdir(parents=True, exist_ok=True)
    page = f'{{% load i18n %}}<p>{{% translate "{sentence}" %}}</p>'
    (top / "shop" / "templates" / "page.html").write_text(page, encoding="utf-8")


def translate(tool: ModuleType, german: str) -> None:
    path = tool.path_of("shop", "de")
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace('msgid "Log a flight"\nmsgstr ""', f'msgid "Log a flight"\nmsgstr "{german}"'), "utf-8"
    )
