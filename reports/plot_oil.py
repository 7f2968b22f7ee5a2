"""The oil picture: level steps with what was poured in, spans that don't count, and the loss below."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import plotly.graph_objects as go

from reports.plot_base import ACCENT, CALL, CLEAR, EDGE, INK, SOFT, Detail, Key, empty_figure, plain
from reports.quantities import in_units, unit


def oil_picture(oil: Detail, hours: float, units: str) -> dict[str, Any] | None:
    """Level over run hours with additions, drains, spans and lines; below it the loss with its uncertainty.

    oil : the "oil" part of an assessment's detail. hours : run hours now [h]. None when no level was ever read.
    """
    entries = [each for each in oil.get("entries", []) if each.get("hours") is not None]
    readings = [each for each in entries if each.get("level_qt") is not None]
    if not readings:
        return None
    figure = empty_figure()
    end = max([hours, *(each["hours"] for each in entries)]) * 1.04 + 0.2
    levels = [in_units(each["level_qt"], "volume", units) for each in readings]
    low, high = _room(levels, [_line(oil, name, units) for name in ("full", "hold", "add", "no_go")])
    _spans(figure, oil.get("over_fill", []), (low, high), "over-fill, not ring consumption", "/")
    _spans(figure, oil.get("leak", []), (low, high), "leak open", "x")
    _oil_lines(figure, oil, end, units)
    _level_steps(figure, entries, units)
    _readings(figure, readings, units)
    rates = _rates(figure, oil, end, units)
    name = unit("volume", units)
    figure.update_layout(
        xaxis={
            "range": [-0.2, end],
            "anchor": "y2" if rates else "y",
            "title": {"text": "run hours on the basis clock"},
        },
        yaxis={"range": [low, high], "domain": [0.42, 1] if rates else [0, 1], "title": {"text": f"level, {name}"}},
    )
    if rates:
        figure.update_layout(yaxis2={"domain": [0, 0.3], "title": {"text": f"loss, {name}/h"}, "rangemode": "tozero"})
    return plain(figure)


def oil_key(oil: Detail) -> Key:
    """What the marks of this oil picture stand for: only those that are in it."""
    entries, windows = oil.get("entries") or [], oil.get("windows") or []
    readings = [each for each in entries if each.get("level_qt") is not None]
    lines = oil.get("lines") or {}
    marks = (
        ("●", "reading to judge by", any(each.get("anchor") for each in readings)),
        ("×", "reading not judged by", not all(each.get("anchor") for each in readings)),
        ("▲", "oil poured in", any(each.get("kind") == "addition" for each in entries)),
        ("///", "over-fill: leaves by the breather, not past the rings", bool(oil.get("over_fill"))),
        ("▒", "leak open: counts neither way", bool(oil.get("leak"))),
        ("– –", "hold line: never pour above; add line: add one below", lines.get("hold") is not None),
        ("——", "no-go: minimum for flight by the POH/AFM", lines.get("no_go") is not None),
        ("·····", "where it settles", oil.get("settle_level_qt") is not None),
        ("■", "loss between two readings", any(each.get("assessable") for each in windows)),
        ("□", "loss, too short to judge", not all(each.get("assessable") for each in windows)),
    )
    return tuple((mark, words) for mark, words, there in marks if there)


def _room(levels: Sequence[float], lines: Iterable[float | None]) -> tuple[float, float]:
    values = [*levels, *(line for line in lines if line is not None)]
    margin = max(0.4, 0.08 * (max(values) - min(values)))
    return min(values) - margin, max(values) + margin


def _line(oil: Detail, name: str, units: str) -> float | None:
    value = (oil.get("lines") or {}).get(name)
    return None if value is None else in_units(value, "volume", units)


def _spans(
    figure: go.Figure, spans: Sequence[Sequence[float]], room: tuple[float, float], name: str, pattern: str
) -> None:
    x: list[float | None] = []
    y: list[float | None] = []
    for start, end in spans:
        x += [start, end, end, start, start, None]
        y += [room[0], room[0], room[1], room[1], room[0], None]
    if x:
        figure.add_scatter(
            x=x,
            y=y,
            fill="toself",
            mode="lines",
            line={"width": 0, "color": SOFT},
            name=name,
            hoverinfo="skip",
            fillcolor=SOFT,
            fillpattern={"shape": pattern, "fgcolor": EDGE, "bgcolor": CLEAR, "size": 7, "solidity": 0.25},
        )


def _oil_lines(figure: go.Figure, oil: Detail, end: float, units: str) -> None:
    words = (
        ("full", "full mark", "solid"),
        ("hold", "hold line", "dash"),
        ("add", "add line", "dashdot"),
        ("no_go", "no-go", "solid"),
    )
    for name, text, dash in words:
        value = _line(oil, name, units)
        if value is None:
            continue
        strong = name == "no_go"
        figure.add_hline(y=value, line={"color": CALL if strong else SOFT, "width": 2 if strong else 1, "dash": dash})
        figure.add_annotation(
            x=1,
            xref="paper",
            xanchor="right",
            y=value,
            yanchor="bottom",
            showarrow=False,
            text=text,
            font={"size": 12, "color": CALL if strong else SOFT},
        )
    settle = oil.get("settle_level_qt")
    if settle is not None:
        figure.add_scatter(
            x=[end * 0.7, end],
            y=[in_units(settle, "volume", units)] * 2,
            mode="lines",
            name="settles about here",
            line={"color": ACCENT, "width": 2, "dash": "dot"},
            hoverinfo="skip",
        )


def _level_steps(figure: go.Figure, entries: Sequence[Detail], units: str) -> None:
    """The line through the readings; oil poured in lifts it at once, with an arrow, and a change of oil breaks it."""
    x: list[float | None] = []
    y: list[float | None] = []
    level: float | None = None
    for each in entries:
        hours, kind = each["hours"], each.get("kind")
        amount = each.get("amount_qt")
        if kind == "addition" and level is not None and amount:
            lifted = level + in_units(amount, "volume", units)
            x += [hours, hours]
            y += [level, lifted]
            figure.add_annotation(
                x=hours,
                y=lifted,
                ax=hours,
                ay=level,
                axref="x",
                ayref="y",
                xref="x",
                yref="y",
                text="",
                showarrow=True,
                arrowhead=2,
                arrowwidth=2.5,
                arrowcolor=ACCENT,
            )
            level = lifted
        elif kind == "drain_fill":
            x.append(None)
            y.append(None)
            figure.add_vline(x=hours, line={"color": SOFT, "width": 1, "dash": "dot"})
            figure.add_annotation(
                x=hours,
                yref="y domain",
                y=0.99,
                yanchor="top",
                xanchor="left",
                textangle=-90,
                showarrow=False,
                text="oil changed",
                font={"size": 12, "color": SOFT},
            )
            level = None
        elif each.get("level_qt") is not None:
            level = in_units(each["level_qt"], "volume", units)
            x.append(hours)
            y.append(level)
    figure.add_scatter(x=x, y=y, mode="lines", name="level", line={"color": INK, "width": 1.5}, hoverinfo="skip")


def _readings(figure: go.Figure, readings: Sequence[Detail], units: str) -> None:
    good = [each for each in readings if each.get("anchor")]
    other = [each for each in readings if not each.get("anchor")]
    name = unit("volume", units)
    for chosen, words, symbol in (
        (good, "reading to judge by", "circle"),
        (other, "reading not judged by", "x-thin-open"),
    ):
        if not chosen:
            continue
        figure.add_scatter(
            x=[each["hours"] for each in chosen],
            y=[in_units(each["level_qt"], "volume", units) for each in chosen],
            error_y={
                "type": "data",
                "array": [in_units(each.get("u_qt") or 0, "volume", units) for each in chosen],
                "color": SOFT,
                "thickness": 1,
                "width": 3,
            },
            mode="markers",
            name=words,
            marker={"symbol": symbol, "size": 8, "color": INK if chosen is good else SOFT, "line": {"width": 2}},
            text=[each.get("why_not") or "" for each in chosen],
            hovertemplate=f"%{{x:.1f}} h: %{{y:.2f}} {name}<br>%{{text}}<extra></extra>",
        )


def _rates(figure: go.Figure, oil: Detail, end: float, units: str) -> bool:
    """Loss of each window with its uncertainty, the modelled loss with its band, and the accept line."""
    windows = [each for each in oil.get("windows", []) if each.get("rate_qt_h") is not None]
    fit = oil.get("fit") or {}
    if not windows and not fit.get("hours") and oil.get("rate_qt_h") is None:
        return False
    _rate_band(figure, oil, fit, end, units)
    accept = oil.get("accept_qt_h")
    if accept is not None:
        value = in_units(accept, "volume", units)
        figure.add_shape(
            type="line",
            x0=0,
            x1=1,
            xref="paper",
            y0=value,
            y1=value,
            yref="y2",
            line={"color": SOFT, "width": 1.5, "dash": "dash"},
        )
        figure.add_annotation(
            x=1,
            xref="paper",
            xanchor="right",
            y=value,
            yref="y2",
            yanchor="bottom",
            showarrow=False,
            text="accept at or below",
            font={"size": 12, "color": SOFT},
        )
    for judged, words, colour in ((True, "loss between two readings", INK), (False, "loss, too short to judge", EDGE)):
        chosen = [each for each in windows if bool(each.get("assessable")) is judged]
        if chosen:
            figure.add_scatter(
                x=[(each["from_h"] + each["to_h"]) / 2 for each in chosen],
                y=[in_units(each["rate_qt_h"], "volume", units) for each in chosen],
                error_y={
                    "type": "data",
                    "array": [in_units(each.get("u_qt_h") or 0, "volume", units) for each in chosen],
                    "color": colour,
                    "thickness": 1,
                    "width": 3,
                },
                error_x={
                    "type": "data",
                    "array": [(each["to_h"] - each["from_h"]) / 2 for each in chosen],
                    "color": colour,
                    "thickness": 1,
                    "width": 0,
                },
                mode="markers",
                name=words,
                yaxis="y2",
                marker={"symbol": "square" if judged else "square-open", "size": 7, "color": colour},
                hovertemplate="%{y:.2f}<extra></extra>",
            )
    return True


def _rate_band(figure: go.Figure, oil: Detail, fit: Detail, end: float, units: str) -> None:
    def shown(values: Iterable[float]) -> list[float]:
        return [in_units(value, "volume", units) for value in values]

    hours, middle = list(fit.get("hours", [])), list(fit.get("rate", []))
    low, high = list(fit.get("rate_lo", [])), list(fit.get("rate_hi", []))
    if not hours and None not in (oil.get("rate_lo_qt_h"), oil.get("rate_hi_qt_h"), oil.get("rate_qt_h")):
        start = max(0.0, end - 4.0)
        hours, middle = [start, end], [oil["rate_qt_h"]] * 2
        low, high = [oil["rate_lo_qt_h"]] * 2, [oil["rate_hi_qt_h"]] * 2
    if not hours:
        return
    if low and high:
        figure.add_scatter(
            x=[*hours, *reversed(hours)],
            y=shown([*high, *reversed(low)]),
            fill="toself",
            mode="lines",
            yaxis="y2",
            line={"width": 0, "color": ACCENT},
            fillcolor=ACCENT,
            meta={"tint": 18},
            name="nine times out of ten",
            hoverinfo="skip",
        )
    figure.add_scatter(
        x=hours,
        y=shown(middle),
        mode="lines",
        yaxis="y2",
        line={"color": ACCENT, "width": 2},
        name="estimated loss",
        hoverinfo="skip",
    )
