"""What the pictures share: the colours of the card, an empty figure, and the figure as a plain dict."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import plotly.graph_objects as go

INK, SOFT, ACCENT, EDGE, RULE, CALL = (f"var(--{name})" for name in ("ink", "soft", "accent", "edge", "rule", "call"))
CLEAR = "rgba(0,0,0,0)"
Detail = Mapping[str, Any]
# What a mark of a picture stands for: (mark, words), printed under it.
Key = tuple[tuple[str, str], ...]


def empty_figure() -> go.Figure:
    # The key stands in words under the picture: a legend would take a phone's whole width.
    return go.Figure(layout={"template": None, "showlegend": False})


def plain(figure: go.Figure) -> dict[str, Any]:
    """The figure as a dict. A trace's `meta.tint` becomes the percent opacity of its filling, as the card writes it."""
    whole = figure.to_plotly_json()
    for trace in whole["data"]:
        tint = (trace.pop("meta", None) or {}).get("tint")
        if tint is not None:
            trace["fillcolor"] = f"{trace['fillcolor']}/{tint}"
    return {"data": whole["data"], "layout": {k: v for k, v in whole["layout"].items() if k != "template"}}
