"""The catalogues of what people read: collect the marked sentences, keep what is translated, compile.

    .venv/bin/python deploy/messages.py            every app's catalogues brought in step with the source, and compiled
    .venv/bin/python deploy/messages.py --check    say what is missing or out of step, change nothing

A catalogue is `<app>/locale/<language>/LC_MESSAGES/django.po`. The compiled `.mo` beside it is kept in the
repository, so that a server needs no tool. Needs Babel, one of the development packages.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from gettext import GNUTranslations
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

TOP = Path(__file__).resolve().parent.parent
APPS = ("shop", "engines", "breakin", "reports")
LANGUAGES = ("de",)
TEMPLATES = (".html", ".txt")
NOT_READ = ("migrations", "locale", "static")
# Function -> which of its arguments are msgids; "c" marks the context.
KEYWORDS: dict[str, Any] = {
    "_": None,
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
    "said": None,  # breakin.calc.said: gaps in braces
    "msgid": None,
}
GAP = re.compile(r"\{\w+\}|%\(\w+\)[a-z]")
STEADY = datetime(2000, 1, 1, tzinfo=UTC)  # the dates of a catalogue, so that compiling twice gives the same file


def main(arguments: list[str]) -> int:
    if "--check" in arguments:
        found = list(faults())
        print("\n".join(found) or "Every marked sentence is in its catalogue, translated and compiled.")
        return 1 if found else 0
    for app in APPS:
        for language in LANGUAGES:
            bring_in_step(app, language)
    return 0


def path_of(app: str, language: str, ending: str = "po") -> Path:
    return TOP / app / "locale" / language / "LC_MESSAGES" / f"django.{ending}"


def collected(app: str) -> Catalog:
    """The marked sentences of an app, each with the files it stands in."""
    found = Catalog(domain="django", project="Run-in Book")
    for file in sorted((TOP / app).rglob("*")):
        if set(NOT_READ) & set(file.relative_to(TOP).parts) or not file.is_file():
            continue
        if file.suffix == ".py":
            text = file.read_text(encoding="utf-8")
        elif file.suffix in TEMPLATES:
            # Django writes a template as calls of gettext, which read like Python once nothing is indented.
            source = templatize(file.read_text(encoding="utf-8"), origin=str(file))
            text = "\n".join(line.lstrip() for line in source.splitlines())
        else:
            continue
        for _, message, comments, context in extract(
            "python", io.BytesIO(text.encode()), keywords=KEYWORDS, comment_tags=("Translators:",)
        ):
            found.add(
                message,
                context=context,
                locations=[(file.relative_to(TOP).as_posix(), None)],
                auto_comments=comments,
                flags=["python-format"] if "%(" in _text(message) else [],
            )
    return found


def catalogue(app: str, language: str) -> Catalog:
    """The catalogue as it is kept; an empty one where there is none yet."""
    path = path_of(app, language)
    if not path.exists():
        return Catalog(locale=language, domain="django", project="Run-in Book")
    with path.open("rb") as file:
        return read_po(file, locale=language, domain="django")


def bring_in_step(app: str, language: str) -> None:
    """New sentences come in untranslated, those that are gone go out, nothing is guessed."""
    source, kept = collected(app), catalogue(app, language)
    if not len(source):
        return
    kept.update(source, no_fuzzy_matching=True)
    kept.obsolete.clear()
    path_of(app, language).parent.mkdir(parents=True, exist_ok=True)
    path_of(app, language).write_bytes(as_po(kept))
    path_of(app, language, "mo").write_bytes(compiled(kept))


def as_po(kept: Catalog) -> bytes:
    _steady(kept)
    written = io.BytesIO()
    write_po(written, kept, width=116, sort_output=True, include_lineno=False, omit_header=False)
    return written.getvalue()


def compiled(kept: Catalog) -> bytes:
    _steady(kept)
    written = io.BytesIO()
    write_mo(written, kept)
    return written.getvalue()


def _steady(kept: Catalog) -> None:
    kept.header_comment = "# What people read in Run-in Book. Brought in step by deploy/messages.py."
    kept.creation_date = kept.revision_date = STEADY
    kept.last_translator, kept.language_team = "Run-in Book", "Run-in Book"
    kept.fuzzy = False


def faults(apps: Iterable[str] = APPS) -> Iterator[str]:
    """What keeps a reader from reading everything in his language, one sentence each."""
    for app in apps:
        source = {_key(message): message for message in collected(app) if message.id}
        for language in LANGUAGES:
            name = path_of(app, language).relative_to(TOP).as_posix()
            kept = catalogue(app, language)
            there = {_key(message): message for message in kept if message.id}
            for key in sorted(source.keys() - there.keys(), key=str):
                yield f"{name} lacks {key[1]!r}. Run deploy/messages.py, then translate it."
            for key in sorted(there.keys() - source.keys(), key=str):
                yield f"{name} still has {key[1]!r}, which nothing says any more. Run deploy/messages.py."
            for message in there.values():
                yield from (f"{name}, {_text(message.id)!r}: {fault}" for fault in faults_of(message))
            if there and _compiled_apart(app, language, kept):
                yield f"{name} and its .mo differ. Run deploy/messages.py."


def faults_of(message: Message) -> Iterator[str]:
    """What is wrong with one translated message."""
    said = message.string if isinstance(message.string, tuple | list) else (message.string,)
    if not all(said):
        yield "not translated."
        return
    if message.fuzzy:
        yield "marked as uncertain. Read it, then take the mark off."
    asked = message.id if isinstance(message.id, tuple | list) else (message.id,)
    for english, german in zip(asked, said, strict=True):
        gaps, filled = set(GAP.findall(english)), set(GAP.findall(german))
        if gaps != filled:
            yield f"its gaps are {sorted(gaps)}, those of the translation {sorted(filled)}."
        elif "%(" in english and not _fills(german):
            yield "a percent sign in the translation has to be doubled."


class _Anything(dict[str, int]):
    def __missing__(self, name: str) -> int:
        return 1


def _fills(text: str) -> bool:
    try:
        text % _Anything()
    except (TypeError, ValueError):
        return False
    return True


def _compiled_apart(app: str, language: str, kept: Catalog) -> bool:
    path = path_of(app, language, "mo")
    return not path.exists() or _spoken(path.read_bytes()) != _spoken(compiled(kept))


def _spoken(mo: bytes) -> dict[Any, str]:
    spoken: dict[Any, str] = GNUTranslations(io.BytesIO(mo))._catalog  # type: ignore[attr-defined]
    return {key: text for key, text in spoken.items() if key}


def _key(message: Message) -> tuple[str, str]:
    return (message.context or "", _text(message.id))


def _text(message: Any) -> str:
    return str(message[0] if isinstance(message, tuple | list) else message)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
