"""Which column is which: proposals from names and values, and doubts about units."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from breakin.calc.recording import clock, layout, scales, vocabulary, written_time
from breakin.calc.recording.doubts import Question, numbers_of, some_lines, units_of
from breakin.calc.recording.layout import Layout
from breakin.calc.recording.stretch import head_of
from breakin.calc.recording.table import Floats
from breakin.calc.recording.unreadable import Unreadable

SAMPLES = 5


@dataclass(frozen=True)
class Guess:
    """What a column may be. `sure` only when name and values agree; `why` in words."""

    channel: str
    engine: str | None
    cylinder: int | None
    unit: str
    sure: bool
    why: str


@dataclass(frozen=True)
class Column:
    """A column of the file with a few of its values; `low` and `high` are None where it has no numbers."""

    name: str
    unit_text: str
    samples: tuple[str, ...]
    low: float | None
    high: float | None
    blank_share: float
    guess: Guess | None


@dataclass(frozen=True)
class Look:
    """A file at first sight."""

    columns: tuple[Column, ...]
    delimiter: str
    decimal: str
    encoding: str
    header_line: int
    time_format: str
    has_date: bool
    position: tuple[str, ...]
    mapping: dict[str, Any]
    questions: tuple[Question, ...]
    signature: str


def signature_of(names: tuple[str, ...]) -> str:
    """SHA-256 of the lower-cased names of columns, joined by line feeds."""
    return hashlib.sha256("\n".join(name.lower() for name in names).encode()).hexdigest()


def look(path: str | Path) -> Look:
    """Read the start and some of the middle of a file, and propose what its columns are.

    Raises
    ------
    Unreadable : see there.
    """
    path = Path(path)
    plan = layout.layout_of(head_of(path))
    lines = some_lines(path, plan)
    rows = [layout.split(line, plan.delimiter, plan.quoted) for line in lines[:200]]
    texts = [[row[index] for row in rows if index < len(row)] for index in range(len(plan.names))]
    numbers = numbers_of(lines, plan, range(len(plan.names)))
    values = dict(zip(plan.names, numbers, strict=True))
    timing, time_format, time_question = _timing(plan, texts, values)
    guesses = _guesses(plan, values, set(timing))
    mapping, questions = _mapping(plan, guesses, values)
    mapping["time"] = timing[0] if len(timing) == 1 else list(timing)
    columns = []
    for index, name in enumerate(plan.names):
        good = values[name][np.isfinite(values[name])]
        filled = [one for one in texts[index] if one.casefold() not in layout.BLANKS]
        guess = guesses.get(name)
        if name in timing:
            channel = "date" if len(timing) == 2 and name == timing[0] else "time"
            guess = Guess(channel, None, None, "", True, "its values are dates or times")
        numeric = len(good) > 0 and name not in timing
        columns.append(
            Column(
                name=name,
                unit_text=plan.units[index],
                samples=tuple(filled[:: max(1, len(filled) // SAMPLES)][:SAMPLES]),
                low=float(good.min()) if numeric else None,
                high=float(good.max()) if numeric else None,
                blank_share=1.0 - len(filled) / len(texts[index]) if texts[index] else 1.0,
                guess=guess,
            )
        )
    position = tuple(name for name in plan.names if (g := guesses.get(name)) and g.channel in ("latitude", "longitude"))
    return Look(
        columns=tuple(columns),
        delimiter=plan.delimiter,
        decimal=plan.decimal,
        encoding=plan.encoding,
        header_line=plan.header_line + 1,
        time_format=time_format.text,
        has_date=time_format.has_date,
        position=position,
        mapping=mapping,
        questions=(*time_question, *questions),
        signature=signature_of(plan.names),
    )


def _timing(
    plan: Layout, texts: list[list[str]], values: Mapping[str, Floats]
) -> tuple[tuple[str, ...], written_time.TimeFormat, tuple[Question, ...]]:
    """The column of time, or those of date and time, how it is written, and what to ask."""
    dates: list[str] = []
    times: list[str] = []
    both: list[str] = []
    for name, fields in zip(plan.names, texts, strict=True):
        filled = [
            one
            for one in fields
            if one.casefold() not in layout.BLANKS and not (layout.is_number(one) and len(one) < 14)
        ]
        found = [match for one in filled[:60] if (match := written_time.match(one))]
        if len(found) < 0.6 * len(filled[:60]) or len(found) < 0.3 * min(len(fields), 60) or not found:
            continue
        has_date, has_time = "a" in found[-1].re.groupindex, "h" in found[-1].re.groupindex
        (both if has_date and has_time else dates if has_date else times).append(name)

    def best(names: list[str]) -> str:
        named = [one for one in names if (hint := vocabulary.named(one)) and hint.channel in ("time", "date")]
        return (named or names)[0]

    chosen = (
        (best(both),) if both else (best(dates), best(times)) if dates and times else (best(times),) if times else ()
    )
    if chosen:
        parts = [written_time.parts_of(list(texts[plan.names.index(name)])) for name in chosen]
        time_format = written_time.written_format(next((one for one in parts if one.date is not None), None), parts[-1])
    else:
        counted = [name for name in plan.names if _counts_up(values[name])]
        hinted = [name for name in counted if (hint := vocabulary.named(name)) and hint.channel == "time"]
        if not counted:
            mend = "Export the recording with a column of time: a clock, or seconds since the start."
            raise Unreadable("no column holds the time", row=plan.header_line + 1, mend=mend)
        chosen = ((hinted or counted)[0],)
        time_format = clock.number_format(values[chosen[0]], chosen[0])
    questions = []
    if not time_format.has_date:
        questions.append(Question("date", "The file has no date. On which day was it recorded?", ()))
    if not time_format.order_sure:
        text = "The dates of the file can be read in two ways. Which comes first?"
        questions.append(Question("date_order", text, ("dmy", "mdy")))
    return chosen, time_format, tuple(questions)


def _counts_up(values: Floats) -> bool:
    good = values[np.isfinite(values)]
    if len(good) < 2 or len(good) < 0.8 * len(values):
        return False
    steps = np.diff(good)
    return bool((steps >= 0).mean() > 0.98 and (steps > 0).mean() > 0.5)


def _guesses(plan: Layout, values: Mapping[str, Floats], taken: set[str]) -> dict[str, Guess]:
    out: dict[str, Guess] = {}
    for name, unit_text in zip(plan.names, plan.units, strict=True):
        said = vocabulary.named(name)
        if name in taken or said is None or said.channel in ("time", "date"):
            continue
        good = values[name][np.isfinite(values[name])]
        low, high = vocabulary.RANGES[said.channel]
        top = float(np.percentile(good, 99)) if len(good) else float("nan")
        fits = low <= top <= high
        if said.channel in ("cht", "egt") and said.cylinder is None:
            fits = False
        unit = scales.unit_of(unit_text, said.channel) if unit_text and said.channel in scales.GROUPS else ""
        why = f"named as {said.channel.replace('_', ' ')}"
        if not len(good):
            why += "; it has no numbers here"
        elif not fits:
            why += f"; its highest value {top:g} does not fit"
        else:
            why += ", and its values fit"
        out[name] = Guess(
            said.channel, said.engine, said.cylinder, unit if unit != "auto" else "", fits and not said.second, why
        )
    return out


def _mapping(
    plan: Layout, guesses: dict[str, Guess], values: Mapping[str, Floats]
) -> tuple[dict[str, Any], tuple[Question, ...]]:
    engines: dict[str, dict[str, Any]] = {}
    common: dict[str, str] = {}
    heads: dict[tuple[str, str], dict[int, str]] = {}
    twin = any(one.engine == "2" for one in guesses.values())
    for name in sorted(guesses, key=lambda one: (not guesses[one].sure, plan.names.index(one))):
        one = guesses[name]
        if one.channel in ("latitude", "longitude"):
            continue
        if one.channel in ("oat", "alt", "airspeed"):
            common.setdefault(one.channel, name)
            continue
        side = one.engine if twin and one.engine else "1"
        if one.channel in ("cht", "egt"):
            if one.cylinder is not None:
                heads.setdefault((side, one.channel), {}).setdefault(one.cylinder, name)
        else:
            engines.setdefault(side, {}).setdefault(one.channel, name)
    for (side, channel), found in heads.items():
        names = [found[cylinder] for cylinder in sorted(found)]
        engines.setdefault(side, {})[channel] = names
    mapping: dict[str, Any] = {"engines": engines, "common": common}
    questions: list[Question] = []
    if not any("rpm" in channels for channels in engines.values()):
        questions.append(Question("rpm", "Which column is the engine's speed?", tuple(plan.names)))
    for side in sorted(engines):
        for channel in ("cht", "egt"):
            numbers = sorted(heads.get((side, channel), ()))
            if numbers and numbers != list(range(1, len(numbers) + 1)):
                told = ", ".join(map(str, numbers))
                text = f"The {channel.upper()} of engine {side} are numbered {told}; which cylinders are they?"
                questions.append(Question(f"engines.{side}.{channel}", text, ()))
    mapping["units"], in_doubt = units_of(mapping, {name: one.unit for name, one in guesses.items()}, values)
    return mapping, (*questions, *in_doubt)
