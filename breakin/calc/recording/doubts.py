"""Units in doubt: what to ask about a file, and what its numbers contradict in a confirmed mapping."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from breakin.calc.recording import encoding, layout, magnitudes, scales
from breakin.calc.recording.layout import Layout
from breakin.calc.recording.stretch import Reader, head_of
from breakin.calc.recording.table import Floats, Table, parse_block


@dataclass(frozen=True)
class Question:
    """Something only a person can say."""

    field: str
    text: str
    choices: tuple[str, ...]


def some_lines(path: Path, plan: Layout) -> list[str]:
    """Lines of data from the start and, of a longer file, from its middle."""
    head = head_of(path)
    lines = encoding.lines_of(head, plan.encoding)[plan.first_line :]
    size = path.stat().st_size
    if size > len(head):
        with path.open("rb") as file:
            file.seek(max(len(head), size // 2) // 2 * 2)
            middle = encoding.decoded(file.read(encoding.HEAD_BYTES), plan.encoding)
        lines += middle.decode("utf-8", "replace").split("\n")[1:-1]
    return [line for line in lines if line.strip()]


def numbers_of(lines: list[str], plan: Layout, columns: Sequence[int]) -> tuple[Floats, ...]:
    """The numbers of some columns of such lines."""
    data = layout.unquoted("\n".join(lines).encode() + b"\n", plan)
    return parse_block(data, plan, (), columns).numbers


def units_of(
    mapping: Mapping[str, Any], told: Mapping[str, str], values: Mapping[str, Floats]
) -> tuple[dict[str, str], tuple[Question, ...]]:
    """The unit of each column of a proposed mapping, and what to ask.

    Parameters
    ----------
    mapping : a proposal without "units".
    told : unit that the header names, by column; "" where it names none.
    values : numbers of the file by column.
    """
    if not mapping.get("engines"):
        return {}, ()
    questions: list[Question] = []
    wanted = scales.wanted_of(mapping)
    judged = magnitudes.judged({one.column: values[one.column] for one in wanted}, wanted)
    units: dict[str, str] = {}
    for group in dict.fromkeys(one.group for one in wanted):
        names = [one.column for one in wanted if one.group == group]
        said = {told[name] for name in names if told.get(name)}
        size = judged.units.get(group, "auto")
        unit = next(iter(said)) if len(said) == 1 else size
        asked = _question(
            group, unit, size, bool(said), len(said) > 1, group in judged.weak, judged.unfit.get(group, ())
        )
        if asked:
            questions.append(asked)
        for name in names:
            units[name] = unit
    return units, tuple(questions)


WORDS = {
    "rpm": "engine speed", "manifold_pressure": "manifold pressure", "fuel_flow": "fuel flow",
    "oil_temp": "oil temperature",
    "oil_press": "oil pressure", "tit": "turbine inlet temperature", "cht": "cylinder head temperature",
    "egt": "exhaust gas temperature", "oat": "outside air temperature", "alt": "altitude", "airspeed": "airspeed",
}  # fmt: skip


def _question(
    group: str, unit: str, size: str, told: bool, mixed: bool, weak: bool, unfit: tuple[str, ...]
) -> Question | None:
    """What to ask about the unit of a group: mixed in the header, contradicted by the numbers, or not given."""
    choices = scales.GROUPS[group]
    word = WORDS[group]
    if mixed:
        return Question(f"units.{group}", f"The columns of {word} name different units. Which is right?", choices)
    if told and size != unit and (unit in unfit or not weak):
        text = f"The header says {unit} for {word}, but the numbers look like {size}. Which is right?"
        return Question(f"units.{group}", text, choices)
    if not told and weak:
        text = f"The file does not name the unit of {word}, and the numbers leave it open. Which is it?"
        return Question(f"units.{group}", text, choices)
    return None


def doubts(source: str | Path | Table, mapping: Mapping[str, Any]) -> tuple[Question, ...]:
    """What the numbers contradict in a confirmed mapping.

    Parameters
    ----------
    source : the file, or its table as read with this mapping.
    mapping : as confirmed.

    Raises
    ------
    Unreadable : see there.
    """
    wanted = scales.wanted_of(mapping)
    if isinstance(source, Table):
        raw = {}
        for one in wanted:
            scale, offset = source.factors.get(one.name, (1.0, 0.0))
            raw[one.column] = (source.columns[one.name] - offset) / scale
    else:
        reader = Reader(Path(source), mapping)
        lines = some_lines(Path(source), reader.plan)
        numbers = numbers_of(lines, reader.plan, reader.numbers)
        raw = {one.column: values for one, values in zip(wanted, numbers, strict=True)}
    judged = magnitudes.judged(raw, wanted, t=source.t if isinstance(source, Table) else None)
    found = []
    for group in dict.fromkeys(one.group for one in wanted):
        units = {one.unit for one in wanted if one.group == group} - {"auto"}
        size = judged.units.get(group, "auto")
        for unit in sorted(units):
            if unit != size and (unit in judged.unfit.get(group, ()) or group not in judged.weak):
                text = (
                    f"{WORDS[group].capitalize()} is read as {unit}, but the numbers look like {size}. Which is right?"
                )
                found.append(Question(f"units.{group}", text, scales.GROUPS[group]))
        if len(units) > 1:
            text = f"The columns of {WORDS[group]} are read in different units. Which is right?"
            found.append(Question(f"units.{group}", text, scales.GROUPS[group]))
    return tuple(found)
