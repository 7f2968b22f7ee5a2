"""The colours of the printed card as Python values, for mail, PDF and still plots; pages take them from ground.css.

A live plot may use the names directly: a colour written as ``var(--accent)`` in a figure is looked up by plot.js in
the reader's own light or dark set. ``resolve`` does the same for a still picture.
"""

from __future__ import annotations

import re
from typing import Any

LIGHT: dict[str, str] = {
    "paper": "#f1f0e8",
    "sheet": "#fdfcf8",
    "shade": "#e7e5d9",
    "ink": "#1a1c1b",
    "soft": "#52564f",
    "rule": "#d3d1c4",
    "edge": "#82847a",
    "accent": "#0b5460",
    "on-accent": "#ffffff",
    "stop": "#9c1616",
    "on-stop": "#ffffff",
    "call": "#834300",
}
DARK: dict[str, str] = {
    "paper": "#1e2221",
    "sheet": "#282d2b",
    "shade": "#353b39",
    "ink": "#edeae0",
    "soft": "#bcbdb2",
    "rule": "#464d4a",
    "edge": "#8f958f",
    "accent": "#8accd4",
    "on-accent": "#0c2a2f",
    "stop": "#ffa095",
    "on-stop": "#33090a",
    "call": "#f2b86f",
}

_NAMED = re.compile(r"var\(--([a-z-]+)\)(?:/(\d{1,3}))?")


def resolve(value: Any, colours: dict[str, str] | None = None) -> Any:
    """The same figure (nested dicts, lists, texts) with every ``var(--name)`` replaced by its colour.

    ``var(--accent)/20`` is the colour at 20 percent opacity, as ``rgba(...)``. Raises KeyError for an unknown name.
    """
    colours = LIGHT if colours is None else colours
    if isinstance(value, dict):
        return {key: resolve(part, colours) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [resolve(part, colours) for part in value]
    if isinstance(value, str) and (found := _NAMED.fullmatch(value)):
        colour, percent = colours[found[1]], found[2]
        return colour if percent is None else _with_opacity(colour, int(percent) / 100)
    return value


def _with_opacity(colour: str, opacity: float) -> str:
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red}, {green}, {blue}, {opacity:g})"
