"""The power picture: blocks as percent of rated power over run hours, against the bands of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import plotly.graph_objects as go

from reports.plot_base import ACCENT, CLEAR, INK, SOFT, Detail, Key, empty_figure, plain


def power_picture(credit: Detail, bands: Mapping[str, Sequence[float]], low: float) -> dict[str, Any] | None:
    """Blocks of power as percent over run hours, against the plan's bands.

    credit : the "credit" part of an assessment's detail. bands : {"75": [72, 85], ...} [% of rated power].
    low : airborne below this is light running [%]. None when no block is known.
    """
    blocks = [each for each in credit.get("blocks", []) if each.get("from_h") is not None]
    if not blocks:
        return None
    figure = empty_figure()
    end = max(each["from_h"] + each["duration_min"] / 60 for each in blocks)
    for name, (bottom, top) in sorted(bands.items()):
        figure.add_shape(
            type="rect",
            x0=0,
            x1=1,
            xref="paper",
            y0=bottom,
            y1=top,
            fillcolor=ACCENT,
            opacity=0.13,
            line_width=0,
            layer="below",
        )
        figure.add_annotation(
            x=1,
            xref="paper",
            y=top,
            xanchor="right",
            yanchor="bottom",
            showarrow=False,
            text=f"{name} % band",
            font_color=ACCENT,
        )
    figure.add_hline(y=low, line={"color": SOFT, "width": 1, "dash": "dot"})
    figure.add_annotation(
        x=1, xref="paper", y=low, xanchor="right", yanchor="top", showarrow=False, text="light below", font_color=SOFT
    )
    known = [each for each in blocks if each.get("pct") is not None]
    _blocks(
        figure,
        [each for each in known if each.get("source") != "stated"],
        "from typed or recorded settings",
        INK,
        "solid",
    )
    _blocks(figure, [each for each in known if each.get("source") == "stated"], "stated: as on the card", ACCENT, "dot")
    unknown = [each for each in blocks if each.get("pct") is None]
    bottom = min([low, *(each["pct"] for each in known)]) - 8
    _unknown(figure, unknown, bottom)
    top = max([90.0, *(each["pct"] for each in known)])
    figure.update_layout(
        xaxis={"range": [-0.05, end * 1.03 + 0.05], "title": {"text": "run hours on the basis clock"}},
        yaxis={"range": [bottom - 2, top + 5], "title": {"text": "power, % of rated"}},
    )
    return plain(figure)


def power_key(credit: Detail) -> Key:
    """What the marks of this power picture stand for: only those that are in it."""
    blocks = credit.get("blocks") or []
    known = [each for each in blocks if each.get("pct") is not None]
    marks = (
        ("——", "from typed or recorded settings", any(each.get("source") != "stated" for each in known)),
        ("·····", "stated: flown as on the card", any(each.get("source") == "stated" for each in known)),
        ("▒", "around a block: one standard deviation", any(each.get("sigma") for each in known)),
        ("///", "power not known", len(known) < len(blocks)),
    )
    return tuple((mark, words) for mark, words, there in marks if there)


def _blocks(figure: go.Figure, blocks: Sequence[Detail], name: str, colour: str, dash: str) -> None:
    if not blocks:
        return
    x: list[float | None] = []
    y: list[float | None] = []
    edge_x: list[float | None] = []
    edge_y: list[float | None] = []
    for each in blocks:
        start, end = each["from_h"], each["from_h"] + each["duration_min"] / 60
        pct, sigma = each["pct"], each.get("sigma") or 0
        x += [start, end, None]
        y += [pct, pct, None]
        if sigma:
            edge_x += [start, end, end, start, start, None]
            edge_y += [pct - sigma, pct - sigma, pct + sigma, pct + sigma, pct - sigma, None]
    if edge_x:
        figure.add_scatter(
            x=edge_x,
            y=edge_y,
            fill="toself",
            mode="lines",
            line={"width": 0, "color": colour},
            fillcolor=colour,
            meta={"tint": 20},
            hoverinfo="skip",
            showlegend=False,
        )
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        name=name,
        line={"color": colour, "width": 4, "dash": dash},
        hovertemplate="%{x:.1f} h: %{y:.0f} %<extra></extra>",
    )


def _unknown(figure: go.Figure, blocks: Sequence[Detail], bottom: float) -> None:
    if not blocks:
        return
    x: list[float | None] = []
    y: list[float | None] = []
    for each in blocks:
        start, end = each["from_h"], each["from_h"] + each["duration_min"] / 60
        x += [start, end, end, start, start, None]
        y += [bottom, bottom, bottom + 4, bottom + 4, bottom, None]
    figure.add_scatter(
        x=x,
        y=y,
        fill="toself",
        mode="lines",
        line={"width": 1, "color": SOFT},
        name="power not known",
        hoverinfo="skip",
        fillcolor=SOFT,
        fillpattern={"shape": "/", "fgcolor": SOFT, "bgcolor": CLEAR, "size": 6, "solidity": 0.3},
    )
