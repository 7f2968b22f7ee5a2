"""The power picture: blocks as percent of rated power over run hours, against the bands of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reports.plot_base import ACCENT, CLEAR, INK, SOFT, Detail, Drawing, Key

Bands = Mapping[str, Sequence[float]]
UNKNOWN_HIGH = 4.0  # how high the strip of unknown power is drawn, in percent


def power_picture(credit: Detail, bands: Bands, low: float) -> dict[str, Any] | None:
    """Blocks of power as percent over run hours, against the plan's bands.

    credit : the "credit" part of an assessment's detail. bands : {"75": [72, 85], ...} [% of rated power].
    low : airborne below this is light running [%]. None when no block is known.
    """
    blocks = [each for each in credit.get("blocks", []) if each.get("from_h") is not None]
    if not blocks:
        return None
    sorts = _sorted(blocks, bands)
    known = [*sorts.recorded, *sorts.typed]
    end = max(_end(each) for each in blocks)
    bottom = min([low, *(each["pct"] for each in known)]) - 8
    top = max([90.0, *(each["pct"] for each in known)]) + 5
    figure = Drawing()
    _bands(figure, bands, low)
    _doubt(figure, known)
    _strokes(figure, [each for each in sorts.recorded if each.get("steady", True)], {"color": INK, "width": 4})
    _strokes(figure, [each for each in sorts.recorded if not each.get("steady", True)], {"color": INK, "width": 1.5})
    _strokes(figure, sorts.typed, {"color": INK, "width": 3, "dash": "dash"})
    card = [(each["from_h"], _end(each), *bands[each["band"]]) for each in sorts.stated]
    _hatched(figure, card, ACCENT, "as on the card")
    strips = [(each["from_h"], _end(each), bottom, bottom + UNKNOWN_HIGH) for each in sorts.unknown]
    _hatched(figure, strips, SOFT, "power not known")
    figure.update_layout(
        xaxis={"range": [-0.05, end * 1.03 + 0.05], "title": {"text": "run hours on the basis clock"}},
        yaxis={"range": [bottom - 2, top], "title": {"text": "power, % of rated"}},
    )
    return figure.plain()


def power_key(credit: Detail, bands: Bands) -> Key:
    """What the marks of this power picture stand for: only those that are in it."""
    sorts = _sorted(credit.get("blocks") or [], bands)
    passing = any(not each.get("steady", True) for each in sorts.recorded)
    marks = (
        ("——", "recorded, one standard deviation around it", bool(sorts.recorded)),
        ("thin line", "recorded, not held steady for ten minutes", passing),
        ("– –", "by settings that were typed, one standard deviation around it", bool(sorts.typed)),
        ("/// in a band", "stated: flown as on the card", bool(sorts.stated)),
        ("/// at the foot", "power not known", bool(sorts.unknown)),
    )
    return tuple((mark, words) for mark, words, there in marks if there)


@dataclass(frozen=True)
class Sorts:
    """Blocks by how their power is known. Typed and stated ones are shown beside the recording that replaces them."""

    recorded: list[Detail]
    typed: list[Detail]
    stated: list[Detail]
    unknown: list[Detail]


def _sorted(blocks: Sequence[Detail], bands: Bands) -> Sorts:
    known = [each for each in blocks if each.get("pct") is not None]
    others = [each for each in blocks if each.get("pct") is None]
    stated = [each for each in others if each.get("source") == "stated" and each.get("band") in bands]
    return Sorts(
        recorded=[each for each in known if each.get("source") == "recording"],
        typed=[each for each in known if each.get("source") != "recording"],
        stated=stated,
        unknown=[each for each in others if each not in stated and each.get("counted", True)],
    )


def _end(block: Detail) -> float:
    return float(block["from_h"] + block["duration_min"] / 60)


def _bands(figure: Drawing, bands: Bands, low: float) -> None:
    whole = {"xref": "paper", "x0": 0, "x1": 1, "line_width": 0, "layer": "below"}
    text = {"xref": "paper", "x": 1, "xanchor": "right", "showarrow": False}
    for name, (bottom, top) in sorted(bands.items()):
        figure.add_shape(type="rect", y0=bottom, y1=top, fillcolor=ACCENT, opacity=0.13, **whole)
        figure.add_annotation(y=top, yanchor="bottom", text=f"{name} % band", font_color=ACCENT, **text)
    figure.add_hline(y=low, line={"color": SOFT, "width": 1, "dash": "dot"})
    figure.add_annotation(y=low, yanchor="top", text="light below", font_color=SOFT, **text)


def _doubt(figure: Drawing, blocks: Sequence[Detail]) -> None:
    """One sigma of the power around each block."""
    boxes = [
        (each["from_h"], _end(each), each["pct"] - each["sigma"], each["pct"] + each["sigma"])
        for each in blocks
        if each.get("sigma")
    ]
    if boxes:
        x, y = _outlines(boxes)
        figure.add_scatter(
            x=x,
            y=y,
            fill="toself",
            mode="lines",
            line={"width": 0, "color": INK},
            fillcolor=INK,
            meta={"tint": 20},
            hoverinfo="skip",
        )


def _strokes(figure: Drawing, blocks: Sequence[Detail], line: dict[str, Any]) -> None:
    if not blocks:
        return
    x: list[float | None] = []
    y: list[float | None] = []
    for each in blocks:
        x += [each["from_h"], _end(each), None]
        y += [each["pct"], each["pct"], None]
    figure.add_scatter(x=x, y=y, mode="lines", line=line, hovertemplate="%{x:.1f} h: %{y:.0f} %<extra></extra>")


def _hatched(figure: Drawing, boxes: Sequence[tuple[float, float, float, float]], colour: str, name: str) -> None:
    if not boxes:
        return
    x, y = _outlines(boxes)
    figure.add_scatter(
        x=x,
        y=y,
        fill="toself",
        mode="lines",
        line={"width": 1, "color": colour},
        name=name,
        hoverinfo="name",
        fillcolor=colour,
        fillpattern={"shape": "/", "fgcolor": colour, "bgcolor": CLEAR, "size": 6, "solidity": 0.3},
    )


def _outlines(
    boxes: Sequence[tuple[float, float, float, float]],
) -> tuple[list[float | None], list[float | None]]:
    """(left, right, bottom, top) of each box as one broken line."""
    x: list[float | None] = []
    y: list[float | None] = []
    for left, right, bottom, top in boxes:
        x += [left, right, right, left, left, None]
        y += [bottom, bottom, top, top, bottom, None]
    return x, y
