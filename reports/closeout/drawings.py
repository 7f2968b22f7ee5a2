"""The figures of a close-out file as vectors: the oil chart and the time at each power."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure as Drawing

from reports.closeout.parts import UNITS, Figure
from reports.oil.still import ACCENT, RULE, SOFT, WIDE_IN, oil_svg, plain_svg


def oil_chart(document: dict[str, Any]) -> Figure | None:
    """Levels, additions, drains, over-fill and leak spans, the fitted loss: None when no level was ever read."""
    oil, hours = document["assessment"]["oil"], document["clocks"]["hours"]
    title = f"Oil of engine {document['engine']['serial']} over run hours"
    svg = oil_svg(oil, hours, UNITS, title)
    if svg is None:
        return None
    readings = sum(row["level_qt"] is not None for row in oil["entries"])
    poured = sum(row["kind"] == "addition" for row in oil["entries"])
    drained = sum(row["kind"] == "drain_fill" for row in oil["entries"])
    alt = (
        f"Chart of the oil over {hours:.1f} run hours: {readings} levels with their doubt, {poured} additions, "
        f"{drained} oil changes, {len(oil['over_fill'])} windows with over-fill and {len(oil['leak'])} with an open "
        f"leak; below it the loss with its band. {oil['sentence']} The tables hold the same numbers."
    )
    caption = "Level, loss and the probability that the loss has settled, over run hours on the basis clock."
    return Figure(svg, alt, caption)


def power_histogram(bins: list[tuple[str, float]], plan: Mapping[str, Any] | None) -> Figure | None:
    """Minutes in each step of power; the bands of the plan are shaded. None where nothing is known."""
    known = [(int(name.split(" ")[0]), value) for name, value in bins if name[0].isdigit()]
    if not known:
        return None
    drawing = Drawing(figsize=(WIDE_IN, 2.3), layout="constrained")
    FigureCanvasSVG(drawing)
    axes = drawing.subplots()
    bands = sorted((plan or {}).get("credit", {}).items())
    for name, (low, high) in bands:
        axes.axvspan(low, high, facecolor=RULE, alpha=0.45, linewidth=0)
        axes.annotate(
            f"counts as {name} %", ((low + high) / 2, 1.0), xycoords=("data", "axes fraction"), ha="center",
            va="bottom", fontsize=8, color=SOFT,
        )  # fmt: skip
    axes.bar([low + 2.5 for low, _ in known], [value for _, value in known], width=4.4, color=ACCENT)
    for low, value in known:
        if value:
            axes.annotate(f"{value:.0f}", (low + 2.5, value), ha="center", va="bottom", fontsize=8)
    axes.set_xlabel("percent of rated power")
    axes.set_ylabel("minutes")
    axes.margins(y=0.18)
    out = io.StringIO()
    drawing.savefig(out, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    told = ", ".join(f"{value:.0f} min from {low} to {low + 5} percent" for low, value in known if value)
    beside = sum(value for name, value in bins if not name[0].isdigit())
    caption = "Time at each power, in steps of five percent."
    if beside:
        caption += f" {beside:.0f}\u202fmin without settings are not in it; they stand in the table."
    svg = plain_svg(out.getvalue(), "Minutes at each power")
    return Figure(svg, f"Bar chart of minutes at each power: {told}.", caption)
