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


class Drawing:
    """A figure as it grows: each piece is checked by Plotly once.

    Plotly's own figure checks all its shapes and notes again with each one that is added.
    """

    def __init__(self) -> None:
        # The key stands in words under the picture: a legend would take a phone's whole width.
        self._layout = go.Layout(showlegend=False)
        self._pieces: dict[str, list[dict[str, Any]]] = {"data": [], "shapes": [], "annotations": []}

    def add_scatter(self, **options: Any) -> None:
        self._pieces["data"].append(go.Scatter(**options).to_plotly_json())

    def add_shape(self, **options: Any) -> None:
        self._pieces["shapes"].append(go.layout.Shape(**options).to_plotly_json())

    def add_annotation(self, **options: Any) -> None:
        self._pieces["annotations"].append(go.layout.Annotation(**options).to_plotly_json())

    def add_hline(self, y: float, line: Mapping[str, Any]) -> None:
        """A line across the first panel at y."""
        self.add_shape(type="line", xref="x domain", x0=0, x1=1, yref="y", y0=y, y1=y, line=line)

    def add_vline(self, x: float, line: Mapping[str, Any]) -> None:
        """A line through the height of the first panel at x."""
        self.add_shape(type="line", xref="x", x0=x, x1=x, yref="y domain", y0=0, y1=1, line=line)

    def update_layout(self, **options: Any) -> None:
        self._layout.update(**options)

    def plain(self) -> dict[str, Any]:
        """The figure as a dict. A trace's `meta.tint` becomes the percent opacity of its filling, as the card writes
        it.
        """
        for trace in self._pieces["data"]:
            tint = (trace.pop("meta", None) or {}).get("tint")
            if tint is not None:
                trace["fillcolor"] = f"{trace['fillcolor']}/{tint}"
        beside = {name: self._pieces[name] for name in ("shapes", "annotations") if self._pieces[name]}
        return {"data": self._pieces["data"], "layout": {**self._layout.to_plotly_json(), **beside}}
