"""The oil picture on screen: level steps with what was poured in, spans that don't count, the fit; the loss below it;
and below that, how sure it is that the loss has stabilized."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reports.oil.marks import BETWEEN, DECLARED_AT, Band, Detail, OilMarks, ReadingMark, oil_marks
from reports.plot_base import ACCENT, CALL, CLEAR, EDGE, INK, SOFT, Drawing, Key

DASHES = {"full": "solid", "hold": "dash", "add": "dashdot", "no_go": "solid"}
SMALL = 12


def oil_picture(oil: Detail, hours: float, units: str) -> dict[str, Any] | None:
    """Level over run hours, the loss with its band, and the probability that it has stabilized.

    oil : the "oil" part of an assessment's detail. hours : run hours now [h]. None when no level was ever read.
    """
    marks = oil_marks(oil, hours, units)
    if marks is None:
        return None
    figure = Drawing()
    _hatched(figure, marks.over_fill, marks.room, "over-fill, not ring consumption", "/")
    _hatched(figure, marks.leak, marks.room, "leak open", "x")
    _level_fit(figure, marks)
    _lines(figure, marks)
    _level_steps(figure, marks)
    _readings(figure, marks)
    if marks.has_loss:
        _loss(figure, marks)
    if marks.has_settled:
        _settled(figure, marks)
    _axes(figure, marks)
    return figure.plain()


def oil_key(oil: Detail) -> Key:
    """What the marks of this oil picture stand for: only those that are in it."""
    marks = oil_marks(oil, 0.0, "us")
    if marks is None:
        return ()
    names = {name for name, _, _ in marks.lines}
    rows = (
        ("●", "reading to judge by", bool(marks.good)),
        ("×", "reading not judged by", bool(marks.rough)),
        ("⊗", "reading that does not fit, left out", bool(marks.bad)),
        ("▲", "oil poured in", bool(marks.poured)),
        ("///", "over-fill: leaves by the breather, not past the rings", bool(marks.over_fill)),
        ("▒", "leak open: counts neither way", bool(marks.leak)),
        ("▬", "estimate, with the band that holds nine times out of ten", marks.level is not None),
        ("– –", "hold line: never pour above; add line: add one below", "hold" in names),
        ("——", "no-go: minimum for flight by the POH/AFM", "no_go" in names),
        ("·····", "where it settles", marks.settles is not None),
        ("■", BETWEEN, any(each.judged for each in marks.windows)),
        ("□", "loss, too short to judge", not all(each.judged for each in marks.windows)),
        ("├─┤", "when it will likely settle: no promise", marks.forecast is not None),
    )
    return tuple((mark, words) for mark, words, there in rows if there)


def _axes(figure: Drawing, marks: OilMarks) -> None:
    """Up to three pictures above each other with one axis of hours."""
    foot = "y3" if marks.has_settled else "y2" if marks.has_loss else "y"
    top = 0.5 if marks.has_settled else 0.42 if marks.has_loss else 0.0
    figure.update_layout(
        xaxis={"range": [-0.2, marks.end_h], "anchor": foot, "title": {"text": "run hours on the basis clock"}},
        yaxis={"range": list(marks.room), "domain": [top, 1], "title": {"text": f"level, {marks.unit}"}},
    )
    if marks.has_loss:
        domain = [0.22, 0.43] if marks.has_settled else [0, 0.3]
        title = {"text": f"loss, {marks.unit}/h"}
        figure.update_layout(yaxis2={"domain": domain, "title": title, "range": list(loss_room(marks)), "nticks": 5})
    if marks.has_settled:
        ticks = {"tickvals": [0, 0.5, 1], "range": [-0.05, 1.08]}
        figure.update_layout(yaxis3={"domain": [0, 0.15], "title": {"text": "P settled"}, **ticks})


def loss_room(marks: OilMarks) -> tuple[float, float]:
    """The losses worth showing: the estimate's band and what was judged; a short window's scatter may run out."""
    values = [0.0, *((marks.accept * 1.4,) if marks.accept is not None else ())]
    values += [edge for each in marks.windows if each.judged for edge in (each.rate - each.u, each.rate + each.u)]
    if marks.loss is not None:
        values += [*marks.loss.mid, *sorted(marks.loss.high)[: max(1, int(0.8 * len(marks.loss.high)))]]
    if len(values) <= 2:
        values += [edge for each in marks.windows for edge in (each.rate - each.u, each.rate + each.u)]
    return min(values) - 0.03, max(values) * 1.08 + 0.02


def _hatched(
    figure: Drawing, spans: Sequence[tuple[float, float]], room: tuple[float, float], name: str, pattern: str
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
            fillpattern={"shape": pattern, "fgcolor": EDGE, "bgcolor": CLEAR, "size": 9, "solidity": 0.15},
        )


def _banded(figure: Drawing, band: Band, name: str, axis: str, *, dash: str = "solid", tint: int = 18) -> None:
    """A curve with its band."""
    figure.add_scatter(
        x=[*band.hours, *reversed(band.hours)],
        y=[*band.high, *reversed(band.low)],
        fill="toself",
        mode="lines",
        yaxis=axis,
        line={"width": 0, "color": ACCENT},
        fillcolor=ACCENT,
        meta={"tint": tint},
        name="nine times out of ten",
        hoverinfo="skip",
    )
    figure.add_scatter(
        x=band.hours,
        y=band.mid,
        mode="lines",
        yaxis=axis,
        line={"color": ACCENT, "width": 2, "dash": dash},
        name=name,
        hoverinfo="skip",
    )


def _level_fit(figure: Drawing, marks: OilMarks) -> None:
    if marks.level is not None:
        _banded(figure, marks.level, "fitted level", "y")
    if marks.settles is None:
        return
    low, middle, high = marks.settles
    if high > low:
        figure.add_shape(
            type="rect", x0=0, x1=1, xref="paper", y0=low, y1=high, line={"width": 0}, fillcolor=SOFT, opacity=0.1,
            layer="below",
        )  # fmt: skip
    figure.add_scatter(
        x=[-0.2, marks.end_h],
        y=[middle] * 2,
        mode="lines",
        name="settles about here",
        line={"color": ACCENT, "width": 2, "dash": "dot"},
        hoverinfo="skip",
    )


def _label(figure: Drawing, y: float, text: str, axis: str = "y", colour: str = SOFT) -> None:
    figure.add_annotation(
        x=1, xref="paper", xanchor="right", y=y, yref=axis, yanchor="bottom", showarrow=False, text=text,
        font={"size": SMALL, "color": colour},
    )  # fmt: skip


def _lines(figure: Drawing, marks: OilMarks) -> None:
    for name, words, level in marks.lines:
        colour = CALL if name == "no_go" else SOFT
        width = 2 if name == "no_go" else 1
        figure.add_hline(y=level, line={"color": colour, "width": width, "dash": DASHES[name]})
        _label(figure, level, words, colour=colour)


def _level_steps(figure: Drawing, marks: OilMarks) -> None:
    for hours, before, after in marks.poured:
        figure.add_annotation(
            x=hours, y=after, ax=hours, ay=before, axref="x", ayref="y", xref="x", yref="y", text="", showarrow=True,
            arrowhead=2, arrowwidth=2.5, arrowcolor=ACCENT,
        )  # fmt: skip
    for hours in marks.changed:
        figure.add_vline(x=hours, line={"color": SOFT, "width": 1, "dash": "dot"})
        figure.add_annotation(
            x=hours, yref="y domain", y=0.99, yanchor="top", xanchor="left", textangle=-90, showarrow=False,
            text="oil changed", font={"size": SMALL, "color": SOFT},
        )  # fmt: skip
    x, y = [step[0] for step in marks.steps], [step[1] for step in marks.steps]
    figure.add_scatter(x=x, y=y, mode="lines", name="level", line={"color": INK, "width": 1.5}, hoverinfo="skip")


def _readings(figure: Drawing, marks: OilMarks) -> None:
    _points(figure, marks, marks.good, "reading to judge by", "circle", INK)
    _points(figure, marks, marks.rough, "reading not judged by", "x-thin-open", SOFT)
    _points(figure, marks, marks.bad, "reading that does not fit", "circle-x-open", CALL)
    for each in marks.bad:
        # The whole reason stands in the strip and under the pointer: a phone has no room for it here.
        figure.add_annotation(
            x=each.hours, y=each.level, xref="x", yref="y", yshift=-14, showarrow=False,
            text=each.words.partition(" than")[0] or "does not fit", font={"size": SMALL, "color": CALL},
        )  # fmt: skip


def _points(
    figure: Drawing, marks: OilMarks, chosen: Sequence[ReadingMark], name: str, symbol: str, colour: str
) -> None:
    if not chosen:
        return
    figure.add_scatter(
        x=[each.hours for each in chosen],
        y=[each.level for each in chosen],
        error_y={"type": "data", "array": [each.u for each in chosen], "color": SOFT, "thickness": 1, "width": 3},
        mode="markers",
        name=name,
        marker={"symbol": symbol, "size": 8 if colour != CALL else 11, "color": colour, "line": {"width": 2}},
        text=[each.words for each in chosen],
        hovertemplate=f"%{{x:.1f}} h: %{{y:.2f}} {marks.unit}<br>%{{text}}<extra></extra>",
    )


def _loss(figure: Drawing, marks: OilMarks) -> None:
    """Loss of each window with its uncertainty, the estimated loss with its band, and the accept line."""
    if marks.loss is not None:
        _banded(figure, marks.loss.part(-1.0, marks.now_h), "estimated loss", "y2")
        ahead = marks.loss.part(marks.now_h, marks.end_h)
        if len(ahead.hours) > 1:
            _banded(figure, ahead, "loss to come", "y2", dash="dot", tint=8)
    if marks.accept is not None:
        figure.add_shape(
            type="line", x0=0, x1=1, xref="paper", y0=marks.accept, y1=marks.accept, yref="y2",
            line={"color": SOFT, "width": 1.5, "dash": "dash"},
        )  # fmt: skip
        _label(figure, marks.accept, "accept at or below", "y2")
    for judged, words, colour in ((True, BETWEEN, INK), (False, "loss, too short to judge", EDGE)):
        chosen = [each for each in marks.windows if each.judged is judged]
        if chosen:
            bars = {"type": "data", "color": colour, "thickness": 1}
            figure.add_scatter(
                x=[(each.from_h + each.to_h) / 2 for each in chosen],
                y=[each.rate for each in chosen],
                error_y={**bars, "array": [each.u for each in chosen], "width": 3},
                error_x={**bars, "array": [(each.to_h - each.from_h) / 2 for each in chosen], "width": 0},
                mode="markers",
                name=words,
                yaxis="y2",
                marker={"symbol": "square" if judged else "square-open", "size": 7, "color": colour},
                hovertemplate="%{y:.2f}<extra></extra>",
            )


def _settled(figure: Drawing, marks: OilMarks) -> None:
    """How sure it was after each reading that the loss had stabilized, and when it likely will."""
    figure.add_scatter(
        x=[hours for hours, _ in marks.settled],
        y=[p for _, p in marks.settled],
        mode="lines+markers",
        name="probability of having settled",
        yaxis="y3",
        line={"color": INK, "width": 1.5},
        marker={"symbol": "circle", "size": 6, "color": INK},
        hovertemplate="%{x:.1f} h: %{y:.2f}<extra></extra>",
    )
    figure.add_shape(
        type="line", x0=0, x1=1, xref="paper", y0=DECLARED_AT, y1=DECLARED_AT, yref="y3",
        line={"color": SOFT, "width": 1.5, "dash": "dash"},
    )  # fmt: skip
    figure.add_annotation(
        x=0, xref="paper", xanchor="left", y=DECLARED_AT, yref="y3", yanchor="top", showarrow=False,
        text=f"settled from {DECLARED_AT:.2f}", font={"size": SMALL, "color": SOFT},
    )  # fmt: skip
    if marks.forecast is not None:
        low, high = marks.forecast
        figure.add_scatter(
            x=[min(low, marks.end_h), min(high, marks.end_h)],
            y=[0.5, 0.5],
            mode="lines+markers",
            name="likely to settle",
            cliponaxis=False,
            yaxis="y3",
            line={"color": ACCENT, "width": 4},
            marker={
                # An arrow where the range runs out of the picture.
                "symbol": ["line-ns-open", "line-ns-open" if high <= marks.end_h else "triangle-right"],
                "size": 12,
                "color": ACCENT,
                "line": {"width": 3},
            },
            hovertemplate="%{x:.0f} h<extra></extra>",
        )
