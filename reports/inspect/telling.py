"""The values of an inspection as a reader is told them: words of choices, numbers with their units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakin.calc.inspection import AMOUNTS, COUNTS, MATERIALS
from breakin.entries.inspection_engine import LEAK_HEARD, LEAKING, SIGNS
from breakin.entries.inspection_oil import MAGNET, SCREEN
from breakin.entries.inspection_setup import ALTERNATE_AIR, COWL_FLAPS, INDUCTION, SEALS
from reports.quantities import in_units, quantity, unit

THIN = "\u202f"
GRADES_OF_LEAK = ("dry", "film", "drips", "streaming")
GRADES_OF_BREATHER = ("dry", "film", "wet", "heavy")
GRADES_OF_BORE = ("0, as it should be", "1, watch it", "2, worn or marked", "3, to be repaired")
WORDS: dict[str, dict[str, str]] = {
    "material": {
        "none": "nothing",
        "fuzz": "fuzz",
        "non_metal": "not metal",
        "flake": "flakes",
        "sliver": "slivers",
        "chunk": "a chunk",
    },
    "count": {"none": "none", "few": "1 to 5 pieces", "some": "6 to 15 pieces", "many": "more than 15 pieces"},
    "amount": {
        "none": "none",
        "trace": "a trace",
        "quarter": "up to ¼ teaspoon",
        "half": "up to ½ teaspoon",
        "more": "more than ½ teaspoon",
    },
    "magnet": {"not_done": "not done", "nothing": "nothing sticks", "fuzz": "fuzz sticks", "pieces": "pieces stick"},
    "screen": {"not_fitted": "none fitted", "not_opened": "not opened", "clean": "clean", "metal": "metal in it"},
    "leak_heard": {"none": "not heard", "intake": "intake", "exhaust": "exhaust", "breather": "breather"},
    "what": {"oil": "oil", "fuel": "fuel", "exhaust": "exhaust", "coolant": "coolant"},
    "signs": {
        "hatch": "hatch visible",
        "scoring": "scoring",
        "corrosion": "corrosion",
        "glaze": "glaze sheen",
        "valve_colour": "valve colour odd",
        "deposits": "deposits",
        "oil_wet": "oil wet",
    },
    "seals": {"tight": "tight", "gaps": "gaps", "torn": "torn", "missing": "some missing"},
    "cowl_flaps": {"none_fitted": "none fitted", "full": "open fully", "not_full": "do not open fully"},
    "alternate_air": {"none_fitted": "none fitted", "closes": "closes tight", "leaks": "does not close tight"},
    "leak": {"none": "none found", "mended": "found and mended", "not_mended": "found, not mended"},
}
_ORDER = {
    "material": MATERIALS,
    "count": COUNTS,
    "amount": AMOUNTS,
    "magnet": MAGNET,
    "screen": SCREEN,
    "seals": SEALS,
    "leak": INDUCTION,
}
_ALL = {
    **_ORDER,
    "leak_heard": LEAK_HEARD,
    "what": LEAKING,
    "signs": SIGNS,
    "cowl_flaps": COWL_FLAPS,
    "alternate_air": ALTERNATE_AIR,
}


@dataclass(frozen=True)
class Said:
    """One value. `key` is the name of its field on the form; `rank` orders it where more is worse (less, if negative).

    value : bare number in the reader's unit, for a difference in `unit`; None where only the order counts.
    """

    key: str
    label: str
    text: str
    rank: float | None = None
    value: float | None = None
    unit: str = ""


def choices_of(name: str) -> tuple[tuple[str, str], ...]:
    """The choices of a field with their words, from mild to grave."""
    return tuple((each, WORDS[name][each]) for each in _ALL[name])


def word_of(name: str, results: Mapping[str, Any], label: str, key: str = "") -> Said:
    """A choice in words. `key` is its field where the same choice is asked more than once."""
    value = str(results.get(key or name) or "")
    order = _ORDER.get(name)
    rank = float(order.index(value)) if order and value in order and name not in ("magnet", "screen") else None
    return Said(key or name, label, WORDS[name].get(value, value), rank)


def flag_of(name: str, results: Mapping[str, Any], label: str) -> Said:
    value = results.get(name)
    return Said(name, label, "" if value is None else "yes" if value else "no")


def text_of(name: str, results: Mapping[str, Any], label: str) -> Said:
    return Said(name, label, str(results.get(name) or ""))


def number_of(name: str, results: Mapping[str, Any], label: str, of: str, *, worse: int = 0) -> Said:
    value = results.get(name)
    if value is None:
        return Said(name, label, "")
    return Said(name, label, f"{value:g}{THIN}{of}", worse * float(value) if worse else None, float(value), of)


def measured_of(key: str, value: float | None, label: str, kind: str, units: str, *, worse: int = 0) -> Said:
    if value is None:
        return Said(key, label, "")
    shown = in_units(value, kind, units)
    return Said(key, label, quantity(value, kind, units), worse * value if worse else None, shown, unit(kind, units))
