"""The power picture: blocks as percent of rated power over run hours, against the bands of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import plotly.graph_objects as go

from reports.plot_base import ACCENT, CLEAR, INK, SOFT, Detail, Key, empty_figure, plain

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
    known, stated, unknown = _sorted(blocks, bands)
    end = max(_end(each) for each in blocks)
    bottom = min([low, *(each["pct"] for each in known)]) - 8
    top = max([90.0, *(each["pct"] for each in known)]) + 5
    figure = empty_figure()
    _bands(figure, bands, low)
    _known(figure, known)
    _hatched(figure, [(each["from_h"], _end(each), *bands[each["band"]]) for each in stated], ACCENT, "as on the card")
    strips = [(each["from_h"], _end(each), bottom, bottom + UNKNOWN_HIGH) for each in unknown]
    _hatched(figure, strips, SOFT, "power not known")
    figure.update_layout(
        xaxis={"range": [-0.05, end * 1.03 + 0.05], "title": {"text": "run hours on the basis clock"}},
        yaxis={"range": [bottom - 2, top], "title": {"text": "power, % of rated"}},
    )
    return plain(figure)


def power_key(credit: Detail, bands: Bands) -> Key:
    """What the marks of this power picture stand for: only those that are in it."""
    known, stated, unknown = _sorted(credit.get("blocks") or [], bands)
    marks = (
        ("——", "from typed or recorded settings, one standard deviation around it", bool(known)),
        ("/// in a band", "stated: flown as on the card", bool(stated)),
        ("/// at the foot", "power not known", bool(unknown)),
    )
    return tuple((mark, words) for mark, words, there in marks if there)


def _sorted(blocks: Sequence[Detail], bands: Bands) -> tuple[list[Detail], list[Detail], list[Detail]]:
    """Blocks whose power is known, those stated to lie in a band, and the rest."""
    known = [each for each in blocks if each.get("pct") is not None]
    stated = [
        each
        for each in blocks
        if each.get("pct") is None and each.get("source") == "stated" and each.get("band") in bands
    ]
    unknown = [each for each in blocks if each.get("pct") is None and each not in stated]
    return known, stated, unknown


def _end(block: Detail) -> float:
    return float(block["from_h"] + block["duration_min"] / 60)


def _bands(figure: go.Figure, bands: Bands, low: float) -> None:
    whole = {"xref": "paper", "x0": 0, "x1": 1, "line_width": 0, "layer": "below"}
    text = {"xref": "paper", "x": 1, "xanchor": "right", "showarrow": False}
    for name, (bottom, top) in sorted(bands.items()):
        figure.add_shape(type="rect", y0=bottom, y1=top, fillcolor=ACCENT, opacity=0.13, **whole)
        figure.add_annotation(y=top, yanchor="bottom", text=f"{name} % band", font_color=ACCENT, **text)
    figure.add_hline(y=low, line={"color": SOFT, "width": 1, "dash": "dot"})
    figure.add_annotation(y=low, yanchor="top", text="light below", font_color=SOFT, **text)


def _known(figure: go.Figure, blocks: Sequence[Detail]) -> None:
    x: list[float | None] = []
    y: list[float | None] = []
    doubt: list[tuple[float, float, float, float]] = []
    for each in blocks:
        start, end, pct, sigma = each["from_h"], _end(each), each["pct"], each.get("sigma") or 0
        x += [start, end, None]
        y += [pct, pct, None]
        if sigma:
            doubt.append((start, end, pct - sigma, pct + sigma))
    if doubt:
        edge_x, edge_y = _outlines(doubt)
        figure.add_scatter(
            x=edge_x,
            y=edge_y,
            fill="toself",
            mode="lines",
            line={"width": 0, "color": INK},
            fillcolor=INK,
            meta={"tint": 20},
            hoverinfo="skip",
        )
    if blocks:
        line = {"color": INK, "width": 4}
        figure.add_scatter(x=x, y=y, mode="lines", line=line, hovertemplate="%{x:.1f} h: %{y:.0f} %<extra></extra>")


def _hatched(figure: go.Figure, boxes: Sequence[tuple[float, float, float, float]], colour: str, name: str) -> None:
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
