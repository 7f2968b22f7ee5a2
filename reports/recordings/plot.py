"""The living picture of a recorded flight: panels below one another over one clock.

The figure carries everything but the lines: each trace is named by its channel (`uid`), and recording.js fetches what
the window shows. A pin's number stands at its moment, as in the list under the picture.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from reports.plot_base import ACCENT, CALL, CLEAR, EDGE, INK, SOFT, Drawing
from reports.recordings.panels import Line, Panel, Picture

SHARE_PX = 104  # height of a panel of share 1
GAP_PX = 34  # room for a panel's title
HEAD_PX = 92  # room for the names of the events
FOOT_PX = 52
LEFT_OUT = "left out"  # recording.js: the scale takes no notice of it
STYLES: dict[str, dict[str, Any]] = {
    "ink": {"color": INK, "width": 1.8},
    "accent": {"color": ACCENT, "width": 1.8},
    "soft": {"color": EDGE, "width": 1},
    "dotted": {"color": SOFT, "width": 1.2, "dash": "dot"},
    "dotted accent": {"color": ACCENT, "width": 1.2, "dash": "dot"},
}


def recording_picture(picture: Picture) -> dict[str, Any]:
    """The figure as a plain dict for parts/plot.html; its traces are empty until recording.js fills them."""
    figure = Drawing()
    inner = sum(panel.height for panel in picture.panels) * SHARE_PX + GAP_PX * (len(picture.panels) - 1)
    layout: dict[str, Any] = {"height": round(inner + HEAD_PX + FOOT_PX)}
    top = 1.0
    for place, panel in enumerate(picture.panels, 1):
        bottom = max(0.0, top - panel.height * SHARE_PX / inner)
        left, right = _axis_names(place, len(picture.panels))
        layout[f"yaxis{left[1:]}"] = _scale(panel.room, [bottom, top])
        if panel.right_room is not None:
            layout[f"yaxis{right[1:]}"] = _scale(panel.right_room, [bottom, top]) | {
                "overlaying": left, "side": "right", "showgrid": False, "tickmode": "auto",
            }  # fmt: skip
        _panel(figure, picture, panel, left, right, top)
        top = bottom - GAP_PX / inner
    _events(figure, picture)
    layout["xaxis"] = {
        "type": "date",
        "range": [clock_at(picture, 0.0), clock_at(picture, picture.seconds)],
        "minallowed": clock_at(picture, 0.0),
        "maxallowed": clock_at(picture, picture.seconds),
        "anchor": _axis_names(len(picture.panels), len(picture.panels))[0],
        "title": {"text": picture.clock},
        "hoverformat": "%H:%M:%S",
        "tickformatstops": [
            {"dtickrange": [None, 60_000], "value": "%H:%M:%S"}, {"dtickrange": [60_000, None], "value": "%H:%M"},
        ],
    }  # fmt: skip
    margin = {"l": 48, "r": 48 if any(panel.right_room for panel in picture.panels) else 14, "t": HEAD_PX, "b": FOOT_PX}
    figure.update_layout(**layout, margin=margin, hovermode="closest", dragmode="zoom")
    return figure.plain()


def clock_at(picture: Picture, seconds: float) -> str:
    """The local clock at so many seconds, as the picture's axis takes it."""
    at = datetime.fromtimestamp(picture.origin_ms / 1000, UTC) + timedelta(seconds=seconds)
    return at.strftime("%Y-%m-%d %H:%M:%S.%f")


def _axis_names(place: int, count: int) -> tuple[str, str]:
    """The left and the right scale of the panel at this place, as traces name them."""
    return ("y" if place == 1 else f"y{place}"), f"y{count + place}"


def _scale(room: tuple[float, float], domain: list[float]) -> dict[str, Any]:
    return {
        "range": list(room), "domain": domain, "fixedrange": True, "nticks": 5, "zeroline": False, "anchor": "x",
        "tickfont": {"size": 12},
    }  # fmt: skip


def _panel(figure: Drawing, picture: Picture, panel: Panel, left: str, right: str, top: float) -> None:
    across = {"xref": "paper", "x0": 0, "x1": 1, "yref": left, "layer": "below"}
    words = {"xref": "paper", "yref": left, "showarrow": False, "font_size": 11}
    at_right, at_left = {**words, "x": 1, "xanchor": "right"}, {**words, "x": 0, "xanchor": "left"}
    for low, high, name in panel.bands:
        figure.add_shape(type="rect", y0=low, y1=high, fillcolor=ACCENT, opacity=0.14, line_width=0, **across)
        figure.add_annotation(y=high, yanchor="top", text=name, font_color=ACCENT, **at_right)
    for level in panel.levels:
        if panel.room[0] <= level.value <= panel.room[1]:
            stroke = {
                "color": CALL if level.strong else SOFT,
                "width": 1.4,
                "dash": "solid" if level.strong else "dash",
            }
            figure.add_shape(type="line", y0=level.value, y1=level.value, line=stroke, **across)
            anchor = "top" if level.is_high_in(panel.room) else "bottom"
            figure.add_annotation(y=level.value, yanchor=anchor, text=level.words, font_color=SOFT, **at_left)
    _blocks(figure, picture, panel, left)
    if panel.key == "power":
        for line in panel.lines:
            _room(figure, line, left)
    for line in panel.lines:
        figure.add_scatter(
            uid=line.channel,
            name=LEFT_OUT if line.left_out else "",
            x=[],
            y=[],
            yaxis=right if line.right and panel.right_room else left,
            mode="lines",
            line=STYLES[line.look],
            hovertemplate=f"{line.label}: %{{y}}<br>%{{x}}<extra></extra>",
        )
    figure.add_annotation(
        text=panel.title, font_weight=600, xref="paper", x=0, xanchor="left", yref="paper", y=top, yanchor="bottom",
        showarrow=False, font_size=12, align="left", bgcolor="var(--sheet)",
    )  # fmt: skip
    for pin in picture.pins:
        if pin.panel == panel.key:
            figure.add_annotation(
                text=pin.words, font_weight=600, x=clock_at(picture, pin.t), xref="x", y=1, yref=f"{left} domain",
                yanchor="top", showarrow=False, bordercolor=INK, borderwidth=1.5, borderpad=3, bgcolor="var(--sheet)",
                captureevents=True, name=f"pin-{pin.numbers[0]}", font_size=12,
            )  # fmt: skip


def _room(figure: Drawing, line: Line, axis: str) -> None:
    side = line.channel.removeprefix("pct_")
    colour = ACCENT if line.look == "accent" else INK
    figure.add_scatter(
        uid=f"room_{side}", x=[], y=[], yaxis=axis, fill="toself", mode="lines", hoverinfo="skip",
        line={"width": 0, "color": colour}, fillcolor=colour, meta={"tint": 20},
    )  # fmt: skip


def _blocks(figure: Drawing, picture: Picture, panel: Panel, axis: str) -> None:
    """Steady pieces as broad strokes at their mean power."""
    if not panel.blocks:
        return
    x: list[str | None] = []
    y: list[float | None] = []
    words: list[str | None] = []
    for block in panel.blocks:
        x += [clock_at(picture, block.t0), clock_at(picture, block.t1), None]
        y += [block.pct, block.pct, None]
        words += [block.words, block.words, None]
    figure.add_scatter(
        x=x, y=y, text=words, yaxis=axis, mode="lines", line={"color": ACCENT, "width": 7}, opacity=0.45,
        hovertemplate="%{text}<extra></extra>",
    )  # fmt: skip


def _events(figure: Drawing, picture: Picture) -> None:
    for seconds, name in picture.events:
        at = clock_at(picture, seconds)
        line = {"color": SOFT, "width": 1, "dash": "dot"}
        figure.add_shape(type="line", x0=at, x1=at, xref="x", y0=0, y1=1, yref="paper", line=line, layer="below")
        figure.add_annotation(
            text=name, x=at, xref="x", y=1, yref="paper", yshift=20, yanchor="bottom", xanchor="center", textangle=-90,
            showarrow=False, font_size=11, font_color=SOFT, bgcolor=CLEAR,
        )  # fmt: skip
