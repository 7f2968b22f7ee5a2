"""The oil picture as a vector for print, for mail and for readers without script: the same marks as on screen.

Two sizes of one drawing: as wide as a sheet of paper, and as wide as a phone, where the type keeps the size in which
it is read and what the lines mean stands below. Always the same bytes for the same assessment: no date in it, and names
made with a fixed salt. Black on white with the card's colours in their light set. No style of its own, so that the
strict policy of the pages holds for it too.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from html import escape
from typing import Any

import matplotlib
from django.utils.translation import gettext
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from reports.oil.marks import DECLARED_AT, Band, Detail, OilMarks, ReadingMark, oil_marks
from reports.oil.plot import loss_room
from shop import written
from shop.palette import LIGHT

matplotlib.rcParams.update(
    {
        "svg.hashsalt": "run-in book",
        "svg.fonttype": "none",
        "font.family": "sans-serif",
        "font.size": 9,
        "axes.edgecolor": LIGHT["ink"],
        "axes.labelcolor": LIGHT["ink"],
        "xtick.color": LIGHT["ink"],
        "ytick.color": LIGHT["ink"],
        "hatch.linewidth": 0.6,
        "axes.spines.top": False,
        "axes.spines.right": False,
    }
)
INK, SOFT, ACCENT, EDGE, RULE, CALL = (LIGHT[name] for name in ("ink", "soft", "accent", "edge", "rule", "call"))
WIDE_IN = 7.2
DASHES: dict[str, Any] = {"full": "-", "hold": "--", "add": "-.", "no_go": "-"}
OVER_FILL, LEAK = "////", "xxxx"


@dataclass(frozen=True)
class Size:
    """How wide the drawing is [in], how high its parts are [in], and how large its type is [pt]. A point is a CSS pixel
    where the picture is shown as wide as it was drawn. `key_below` says the words of lines and spans under the picture.
    """

    wide_in: float
    heights_in: tuple[float, float, float]
    ticks_pt: float
    words_pt: float
    key_below: bool


SHEET = Size(WIDE_IN, (3.4, 1.6, 1.1), ticks_pt=9, words_pt=8, key_below=False)
# 252 points: the room inside a framed part of a page on a screen that is 320 wide; on a wider one the type only grows.
PHONE = Size(3.5, (2.7, 1.4, 1.0), ticks_pt=11, words_pt=11, key_below=True)


def oil_svg(oil: Detail, hours: float, units: str, title: str, size: Size = SHEET) -> str | None:
    """The oil picture as SVG text; None when no level was ever read.

    title : whose oil it is, in words; the picture's title for who cannot see it. size : SHEET or PHONE.
    """
    marks = oil_marks(oil, hours, units)
    if marks is None:
        return None
    there = zip(size.heights_in, (True, marks.has_loss, marks.has_settled), strict=True)
    heights = [high for high, is_there in there if is_there]
    key = _key(marks) if size.key_below else []
    room_below = 0.5 + 0.22 * ((len(key) + 1) // 2)
    figure = Figure(figsize=(size.wide_in, sum(heights) + room_below), layout="constrained")
    FigureCanvasSVG(figure)
    below = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    _level(below[0], marks, size)
    if marks.has_loss:
        _loss(below[1], marks, size)
    if marks.has_settled:
        _settled(below[-1], marks, size)
    below[-1].set_xlabel(gettext("run hours on the basis clock"), fontsize=size.ticks_pt)
    below[-1].set_xlim(-0.2, marks.end_h)
    if key:
        below[-1].xaxis.set_major_locator(MaxNLocator(5))
        figure.legend(
            handles=key, loc="outside lower left", ncols=2, frameon=False, fontsize=size.words_pt, labelcolor=INK,
            handlelength=1.5, columnspacing=0.8, borderaxespad=0.1, labelspacing=0.3,
        )  # fmt: skip
    out = io.StringIO()
    figure.savefig(out, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return plain_svg(out.getvalue(), title)


def _key(marks: OilMarks) -> list[Line2D | Patch]:
    """What the lines and spans of the level mean, for below the picture: only those that are in it."""
    key: list[Line2D | Patch] = []
    for name, words, _level in marks.lines:
        key.append(Line2D([], [], label=gettext(words), **_line(name)))
    for spans, hatch, said in (
        (marks.over_fill, OVER_FILL, gettext("over-fill")),
        (marks.leak, LEAK, gettext("leak open")),
    ):
        if spans:
            key.append(Patch(facecolor="none", edgecolor=EDGE, hatch=hatch, linewidth=0, label=said))
    return key


def _line(name: str) -> dict[str, Any]:
    """How a line of the dipstick is drawn."""
    no_go = name == "no_go"
    return {"color": CALL if no_go else SOFT, "linestyle": DASHES[name], "linewidth": 1.6 if no_go else 0.8}


def _scale(axes: Axes, words: str, size: Size) -> None:
    """What the scale at the left shows: along it, and on a phone above it, where it takes no width."""
    axes.tick_params(labelsize=size.ticks_pt)
    if size.key_below:
        axes.set_title(words, loc="left", fontsize=size.ticks_pt, color=INK)
    else:
        axes.set_ylabel(words, fontsize=size.ticks_pt)


def _level(axes: Axes, marks: OilMarks, size: Size) -> None:
    for spans, hatch, words in (
        (marks.over_fill, OVER_FILL, gettext("over-fill")),
        (marks.leak, LEAK, gettext("leak open")),
    ):
        for start, end in spans:
            axes.axvspan(start, end, facecolor="none", edgecolor=EDGE, hatch=hatch, linewidth=0)
            if not size.key_below:
                at = axes.get_xaxis_transform()
                axes.annotate(words, (start, 0.01), xycoords=at, fontsize=size.words_pt, color=SOFT)
    if marks.level is not None:
        _banded(axes, marks.level)
    if marks.settles is not None:
        low, middle, high = marks.settles
        if high > low:
            axes.axhspan(low, high, facecolor=RULE, alpha=0.35, linewidth=0)
        axes.axhline(middle, color=ACCENT, linestyle=":", linewidth=1.5)
    for name, words, level in marks.lines:
        axes.axhline(level, **_line(name))
        if not size.key_below:
            axes.annotate(
                gettext(words), (1, level), xycoords=axes.get_yaxis_transform(), ha="right", va="bottom",
                fontsize=size.words_pt, color=_line(name)["color"],
            )  # fmt: skip
    for hours in marks.changed:
        axes.axvline(hours, color=SOFT, linestyle=":", linewidth=0.8)
        axes.annotate(
            gettext("oil changed"), (hours, 0.98), xycoords=axes.get_xaxis_transform(), rotation=90, va="top",
            fontsize=size.words_pt, color=SOFT,
        )  # fmt: skip
    _steps(axes, marks)
    _points(axes, marks.good, "o", INK)
    _points(axes, marks.rough, "x", SOFT)
    _points(axes, marks.bad, "X", CALL)
    for each in marks.bad:
        inwards = "left" if each.hours < marks.end_h / 2 else "right"
        side, under = (inwards if size.key_below else "center"), (0, -5 - size.words_pt)
        axes.annotate(
            each.words.partition(" than")[0] or "does not fit", (each.hours, each.level), xytext=under,
            textcoords="offset points", ha=side, fontsize=size.words_pt, color=CALL,
        )  # fmt: skip
    axes.set_ylim(*marks.room)
    if size.key_below:
        axes.yaxis.set_major_locator(MaxNLocator(5))
    _scale(axes, gettext("level, %(unit)s") % {"unit": marks.unit}, size)


def _steps(axes: Axes, marks: OilMarks) -> None:
    nothing = float("nan")
    x = [nothing if hours is None else hours for hours, _ in marks.steps]
    y = [nothing if level is None else level for _, level in marks.steps]
    axes.plot(x, y, color=INK, linewidth=1.0)
    for hours, before, after in marks.poured:
        arrow = {"arrowstyle": "-|>", "color": ACCENT, "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (hours, after), xytext=(hours, before), arrowprops=arrow)


def _points(axes: Axes, chosen: tuple[ReadingMark, ...], marker: str, colour: str) -> None:
    if chosen:
        axes.errorbar(
            [each.hours for each in chosen],
            [each.level for each in chosen],
            yerr=[each.u for each in chosen],
            fmt=marker,
            color=colour,
            ecolor=SOFT,
            elinewidth=0.6,
            capsize=1.5,
            markersize=5,
        )


def _banded(axes: Axes, band: Band, style: str = "-", strength: float = 0.18) -> None:
    axes.fill_between(band.hours, band.low, band.high, color=ACCENT, alpha=strength, linewidth=0)
    axes.plot(band.hours, band.mid, color=ACCENT, linewidth=1.4, linestyle=style)


def _loss(axes: Axes, marks: OilMarks, size: Size) -> None:
    if marks.loss is not None:
        _banded(axes, marks.loss.part(-1.0, marks.now_h))
        _banded(axes, marks.loss.part(marks.now_h, marks.end_h), ":", 0.08)
    if marks.accept is not None:
        axes.axhline(marks.accept, color=SOFT, linestyle="--", linewidth=1.0)
        axes.annotate(
            gettext("accept at or below"), (1, marks.accept), xycoords=axes.get_yaxis_transform(), ha="right",
            va="bottom", fontsize=size.words_pt, color=SOFT,
        )  # fmt: skip
    for each in marks.windows:
        colour = INK if each.judged else EDGE
        axes.errorbar(
            [(each.from_h + each.to_h) / 2], [each.rate], yerr=[each.u], xerr=[(each.to_h - each.from_h) / 2],
            fmt="s", color=colour, markerfacecolor=colour if each.judged else "none", elinewidth=0.7, markersize=4,
        )  # fmt: skip
    axes.set_ylim(*loss_room(marks))
    if size.key_below:
        axes.yaxis.set_major_locator(MaxNLocator(3))
    _scale(axes, gettext("loss, %(unit)s") % {"unit": f"{marks.unit}/h"}, size)


def _settled(axes: Axes, marks: OilMarks, size: Size) -> None:
    axes.plot([hours for hours, _ in marks.settled], [p for _, p in marks.settled], "o-", color=INK, lw=1.0, ms=3.5)
    axes.axhline(DECLARED_AT, color=SOFT, linestyle="--", linewidth=1.0)
    axes.annotate(
        gettext("settled from %(p)s") % {"p": written.number(DECLARED_AT, 2)}, (0, DECLARED_AT),
        xycoords=axes.get_yaxis_transform(), va="top", fontsize=size.words_pt, color=SOFT,
    )  # fmt: skip
    if marks.forecast is not None:
        low, high = marks.forecast
        axes.plot([min(low, marks.end_h), min(high, marks.end_h)], [0.5, 0.5], "-", color=ACCENT, lw=3)
        axes.plot([min(low, marks.end_h)], [0.5], "|", color=ACCENT, ms=9, mew=2)
        inside = high <= marks.end_h
        axes.plot([min(high, marks.end_h)], [0.5], "|" if inside else ">", color=ACCENT, ms=9, mew=2, clip_on=False)
    axes.set_ylim(-0.05, 1.08)
    axes.set_yticks([0, 0.5, 1])
    _scale(axes, gettext("P settled"), size)


_STYLE_ELEMENT = re.compile(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>", re.DOTALL)
_STYLE = re.compile(r' style="([^"]*)"')


def plain_svg(text: str, title: str) -> str:
    """Style as attributes of their own, a title for who cannot see, and no word about what drew it."""
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = _STYLE_ELEMENT.sub("", text).replace("matplotlib.", "")
    text = _STYLE.sub(_attributes, text)
    opening, _, rest = text.partition(">")
    return f'{opening} role="img" stroke-linejoin="round"><title>{escape(title)}</title>{rest}'


def _attributes(found: re.Match[str]) -> str:
    given = ""
    for part in found[1].split(";"):
        name, _, value = (piece.strip() for piece in part.partition(":"))
        if name == "font":
            size = re.search(r"([\d.]+)px", value)
            given += f' font-size="{size[1] if size else 9}" font-family="sans-serif"'
        elif name:
            given += f' {name}="{value}"'
    return given
