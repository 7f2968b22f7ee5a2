"""The picture of a recorded flight as a vector, for print and for readers without script: the same panels and lines.

Written by hand rather than by a plotting library: a page asks for it each time, and a few milliseconds will do. Black
on white with the card's colours in their light set; no style of its own, so that the strict policy holds for it too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from html import escape

import numpy as np

from breakin.calc.recording.thin import Floats
from reports.recordings.lines import Drawn
from reports.recordings.panels import Line, Panel, Picture, Pin
from shop.palette import LIGHT

WIDE = 720
LEFT, RIGHT = 54, 54
INNER = WIDE - LEFT - RIGHT
SHARE = 74
GAP = 24
HEAD = 82
FOOT = 40
STROKES = {
    "ink": f'stroke="{LIGHT["ink"]}" stroke-width="1.3"',
    "accent": f'stroke="{LIGHT["accent"]}" stroke-width="1.3"',
    "soft": f'stroke="{LIGHT["edge"]}" stroke-width="0.7"',
    "dotted": f'stroke="{LIGHT["soft"]}" stroke-width="0.9" stroke-dasharray="1.5 2"',
    "dotted accent": f'stroke="{LIGHT["accent"]}" stroke-width="0.9" stroke-dasharray="1.5 2"',
}
_MINUTES = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440)
Rooms = Mapping[str, tuple[Floats, Floats, Floats]]


def height_of(picture: Picture) -> int:
    """How high the picture is, at a width of `WIDE`."""
    shares = sum(panel.height for panel in picture.panels)
    return round(HEAD + FOOT + shares * SHARE + GAP * (len(picture.panels) - 1))


def recording_svg(picture: Picture, lines: Mapping[str, Drawn], rooms: Rooms, title: str) -> str:
    """The picture as SVG text.

    lines, rooms : as from `reports.recordings.lines`, over the whole flight. title : whose flight, in words.
    """
    high = height_of(picture)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {high}" width="{WIDE}" height="{high}" role="img"'
        f' font-family="sans-serif" font-size="9" stroke-linejoin="round"><title>{escape(title)}</title>',
        f'<rect width="{WIDE}" height="{high}" fill="{LIGHT["sheet"]}"/>',
        *_clock(picture, high),
    ]
    top = float(HEAD)
    for panel in picture.panels:
        bottom = top + panel.height * SHARE
        parts += _Strip(picture, panel, top, bottom).drawn(lines, rooms)
        top = bottom + GAP
    return "".join([*parts, "</svg>"])


def ticks(low: float, high: float, about: int = 4) -> list[float]:
    """Round values inside a room, about so many."""
    rough = (high - low) / about
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * each for each in (1, 2, 5, 10) if size * each >= rough)
    return [step * place for place in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _x(picture: Picture, seconds: float) -> float:
    return LEFT + (WIDE - LEFT - RIGHT) * seconds / max(picture.seconds, 1.0)


def _text(x: float, y: float, words: str, more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {more or _FILL}>{escape(words)}</text>'


_FILL = f'fill="{LIGHT["ink"]}"'
_FAINT = f'fill="{LIGHT["soft"]}"'
_EDGE = f'stroke="{LIGHT["ink"]}"'


def _clock(picture: Picture, high: int) -> list[str]:
    """Events with their names above, round times below."""
    foot = high - FOOT
    made = []
    for seconds, name in picture.events:
        x = _x(picture, seconds)
        dots = f'stroke="{LIGHT["soft"]}" stroke-width="0.6" stroke-dasharray="1 2"'
        made.append(f'<path d="M{x:.1f} {HEAD - 14}V{foot}" {dots}/>')
        made.append(f'<text transform="translate({x + 3:.1f} {HEAD - 18}) rotate(-90)" {_FAINT}>{escape(name)}</text>')
    every = next((each for each in _MINUTES if picture.seconds / 60 / each <= 9), _MINUTES[-1]) * 60_000
    first = -(-picture.origin_ms // every) * every
    for at in range(first, round(picture.origin_ms + picture.seconds * 1000) + 1, every):
        x = _x(picture, (at - picture.origin_ms) / 1000)
        made.append(f'<path d="M{x:.1f} {foot}v4" stroke="{LIGHT["ink"]}"/>')
        made.append(
            _text(x, foot + 15, f"{datetime.fromtimestamp(at / 1000, UTC):%H:%M}", f'{_FILL} text-anchor="middle"')
        )
    made.append(_text((WIDE + LEFT - RIGHT) / 2, foot + 31, picture.clock, f'{_FAINT} text-anchor="middle"'))
    return made


@dataclass(frozen=True)
class _Strip:
    """One panel between two heights of the page."""

    picture: Picture
    panel: Panel
    top: float
    bottom: float

    def y(self, value: float, right: bool = False) -> float:
        low, high = self.panel.right_room if right and self.panel.right_room else self.panel.room
        return self.bottom - (self.bottom - self.top) * (value - low) / (high - low)

    def drawn(self, lines: Mapping[str, Drawn], rooms: Rooms) -> list[str]:
        made = [_text(LEFT, self.top - 5, self.panel.title, f'{_FILL} font-weight="bold"')]
        made += [*self._bands(), *self._scales(), *self._levels(), *self._blocks()]
        for line in self.panel.lines:
            side = line.channel.removeprefix("pct_")
            if self.panel.key == "power" and side in rooms:
                made.append(self._room(*rooms[side]))
            if line.channel in lines:
                made.append(self._line(line, *lines[line.channel]))
        made += [self._pin(pin) for pin in self.picture.pins if pin.panel == self.panel.key]
        return [*made, f'<path d="M{LEFT} {self.top:.1f}V{self.bottom:.1f}H{WIDE - RIGHT}" fill="none" {_EDGE}/>']

    def _bands(self) -> list[str]:
        made = []
        for low, high, name in self.panel.bands:
            y, rise = self.y(high), self.y(low) - self.y(high)
            fill = f'fill="{LIGHT["accent"]}" fill-opacity=".14"'
            made.append(f'<rect x="{LEFT}" y="{y:.1f}" width="{INNER}" height="{rise:.1f}" {fill}/>')
            made.append(_text(WIDE - RIGHT - 2, y + 8, name, f'fill="{LIGHT["accent"]}" text-anchor="end"'))
        return made

    def _scales(self) -> list[str]:
        made = []
        for value in ticks(*self.panel.room):
            y = self.y(value)
            made.append(f'<path d="M{LEFT} {y:.1f}h{INNER}" stroke="{LIGHT["rule"]}" stroke-width="0.5"/>')
            made.append(_text(LEFT - 5, y + 3, _number(value), f'{_FILL} text-anchor="end"'))
        for value in ticks(*self.panel.right_room) if self.panel.right_room else ():
            made.append(_text(WIDE - RIGHT + 5, self.y(value, right=True) + 3, _number(value)))
        return made

    def _levels(self) -> list[str]:
        made = []
        for level in self.panel.levels:
            if self.panel.room[0] <= level.value <= self.panel.room[1]:
                y, colour = self.y(level.value), LIGHT["call" if level.strong else "soft"]
                dash = "" if level.strong else ' stroke-dasharray="5 3"'
                made.append(f'<path d="M{LEFT} {y:.1f}h{INNER}" stroke="{colour}"{dash}/>')
                made.append(_text(LEFT + 3, y + (9 if level.is_high_in(self.panel.room) else -2), level.words, _FAINT))
        return made

    def _blocks(self) -> list[str]:
        stroke = f'stroke="{LIGHT["accent"]}" stroke-width="5" stroke-opacity=".45"'
        spans = ((_x(self.picture, each.t0), _x(self.picture, each.t1), self.y(each.pct)) for each in self.panel.blocks)
        return [f'<path d="M{x0:.1f} {y:.1f}H{x1:.1f}" {stroke}/>' for x0, x1, y in spans]

    def _line(self, line: Line, t: Floats, values: Floats) -> str:
        paths = [self._points(t[part], values[part], line.right) for part in _unbroken(values)]
        return f'<path d="{"".join("M" + "L".join(each) for each in paths)}" fill="none" {STROKES[line.look]}/>'

    def _room(self, t: Floats, low: Floats, high: Floats) -> str:
        paths = []
        for part in _unbroken(low):
            there, back = self._points(t[part], high[part]), self._points(t[part], low[part])[::-1]
            paths.append("M" + "L".join([*there, *back]) + "Z")
        return f'<path d="{"".join(paths)}" fill="{LIGHT["ink"]}" fill-opacity=".18"/>'

    def _points(self, t: Floats, values: Floats, right: bool = False) -> list[str]:
        pairs = zip(t.tolist(), values.tolist(), strict=True)
        return [f"{_x(self.picture, at):.1f} {self.y(value, right):.1f}" for at, value in pairs]

    def _pin(self, pin: Pin) -> str:
        x, wide = _x(self.picture, pin.t), 8 + 6 * len(pin.words)
        place = f'x="{x - wide / 2:.1f}" y="{self.top + 1:.1f}" width="{wide}" height="13"'
        box = f'<rect {place} fill="{LIGHT["sheet"]}" {_EDGE}/>'
        return box + _text(x, self.top + 11, pin.words, f'{_FILL} font-weight="bold" text-anchor="middle"')


def _unbroken(values: Floats) -> list[slice]:
    """The stretches between breaks."""
    ends = np.flatnonzero(np.isnan(values)).tolist()
    parts = [
        slice(start, end) for start, end in zip([0, *(end + 1 for end in ends)], [*ends, values.size], strict=True)
    ]
    return [part for part in parts if part.stop > part.start]


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 10 or value == 0 else f"{value:g}"
