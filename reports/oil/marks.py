"""What is to be seen in an oil picture, worked out once in the reader's units, for the live and for the printed one.

Nothing is judged here: lines, windows, spans, the fitted level and the loss come from the assessment's detail.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_noop as _

from reports.quantities import in_units, unit

Detail = Mapping[str, Any]
Number = float | None
DECLARED_AT = 0.85  # of the probability, as the rule on settling says
# How much of the picture may lie ahead of now: a share of the hours run, but at least a few hours.
AHEAD_SHARE, AHEAD_LEAST_H = 0.5, 3.0
BETWEEN = "loss between two readings"
LINES = (("full", _("full mark")), ("hold", _("hold line")), ("add", _("add line")), ("no_go", _("no-go")))


@dataclass(frozen=True)
class Band:
    """A curve over hours with its 90 % band, in the reader's units."""

    hours: tuple[float, ...]
    mid: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]

    def part(self, from_h: float, to_h: float) -> Band:
        keep = [place for place, hour in enumerate(self.hours) if from_h - 1e-9 <= hour <= to_h + 1e-9]
        rows = (self.hours, self.mid, self.low, self.high)
        return Band(*(tuple(row[place] for place in keep) for row in rows))


@dataclass(frozen=True)
class ReadingMark:
    hours: float
    level: float
    u: float
    words: str


@dataclass(frozen=True)
class Loss:
    """The loss of a window."""

    from_h: float
    to_h: float
    rate: float
    u: float
    judged: bool


@dataclass(frozen=True)
class OilMarks:
    """All marks: run hours, levels and losses in the reader's unit. `steps` holds None where the line breaks."""

    unit: str
    now_h: float
    end_h: float
    room: tuple[float, float]
    steps: tuple[tuple[Number, Number], ...]
    poured: tuple[tuple[float, float, float], ...]  # hour, level before and after
    changed: tuple[float, ...]
    good: tuple[ReadingMark, ...]
    rough: tuple[ReadingMark, ...]
    bad: tuple[ReadingMark, ...]
    over_fill: tuple[tuple[float, float], ...]
    leak: tuple[tuple[float, float], ...]
    lines: tuple[tuple[str, str, float], ...]  # name, words, level
    level: Band | None
    settles: tuple[float, float, float] | None  # low, middle, high
    loss: Band | None
    windows: tuple[Loss, ...]
    accept: float | None
    settled: tuple[tuple[float, float], ...]  # hour, probability
    forecast: tuple[float, float] | None

    @property
    def has_loss(self) -> bool:
        return bool(self.windows) or self.loss is not None

    @property
    def has_settled(self) -> bool:
        return bool(self.settled)


def readings_in(oil: Detail) -> list[Detail]:
    """The levels that the "oil" part of an assessment's detail knows of; without one there is nothing to draw."""
    return [each for each in _entries(oil) if each.get("level_qt") is not None]


def _entries(oil: Detail) -> list[Detail]:
    return [each for each in oil.get("entries") or [] if each.get("hours") is not None]


def oil_marks(oil: Detail, hours: float, units: str) -> OilMarks | None:
    """The marks of one oil log.

    oil : the "oil" part of an assessment's detail. hours : run hours now [h]. None when no level was ever read.
    """
    entries = _entries(oil)
    readings = readings_in(oil)
    if not readings:
        return None
    trace: Detail = oil.get("trace") or {}
    forecast = oil.get("forecast_h")
    now_h = max([hours, *(each["hours"] for each in entries)])
    ahead = min(forecast[1], now_h + max(AHEAD_SHARE * now_h, AHEAD_LEAST_H)) if forecast else now_h
    lines = tuple(
        (name, words, in_units(oil["lines"][name], "volume", units))
        for name, words in LINES
        if (oil.get("lines") or {}).get(name) is not None
    )
    bad = [each for each in readings if each.get("bad")]
    good = [each for each in readings if each.get("anchor") and not each.get("bad")]
    rough = [each for each in readings if not each.get("anchor") and not each.get("bad")]
    levels = [in_units(each["level_qt"], "volume", units) for each in readings]
    steps, poured, changed = _steps(entries, units)
    return OilMarks(
        unit=unit("volume", units),
        now_h=now_h,
        end_h=max(now_h, ahead) * 1.04 + 0.2,
        room=_room(levels, [line[2] for line in lines]),
        steps=steps,
        poured=poured,
        changed=changed,
        good=_marks(good, units),
        rough=_marks(rough, units),
        bad=_marks(bad, units),
        over_fill=_spans(oil.get("over_fill")),
        leak=_spans(oil.get("leak")),
        lines=lines,
        level=_band(trace.get("level"), units),
        settles=_settles(oil, units),
        loss=_band(trace.get("rate"), units) or _loss_now(oil, now_h, units),
        windows=_windows(oil, units),
        accept=None if oil.get("accept_qt_h") is None else in_units(oil["accept_qt_h"], "volume", units),
        settled=_pairs(trace.get("settled")),
        forecast=None if forecast is None else (forecast[0], forecast[1]),
    )


def _room(levels: Sequence[float], lines: Iterable[float]) -> tuple[float, float]:
    values = [*levels, *lines]
    margin = max(0.4, 0.08 * (max(values) - min(values)))
    return min(values) - margin, max(values) + margin


def _steps(
    entries: Sequence[Detail], units: str
) -> tuple[tuple[tuple[Number, Number], ...], tuple[tuple[float, float, float], ...], tuple[float, ...]]:
    """The line through the readings: oil poured in lifts it at once, a change of oil breaks it."""
    steps: list[tuple[Number, Number]] = []
    poured, changed = [], []
    level: float | None = None
    for each in entries:
        hours, kind, amount = each["hours"], each.get("kind"), each.get("amount_qt")
        if kind == "addition" and level is not None and amount:
            lifted = level + in_units(amount, "volume", units)
            steps += [(hours, level), (hours, lifted)]
            poured.append((hours, level, lifted))
            level = lifted
        elif kind == "drain_fill":
            steps.append((None, None))
            changed.append(hours)
            level = None
        elif each.get("level_qt") is not None:
            level = in_units(each["level_qt"], "volume", units)
            if not each.get("bad"):
                steps.append((hours, level))
    return tuple(steps), tuple(poured), tuple(changed)


def _marks(readings: Sequence[Detail], units: str) -> tuple[ReadingMark, ...]:
    return tuple(
        ReadingMark(
            each["hours"],
            in_units(each["level_qt"], "volume", units),
            in_units(each.get("u_qt") or 0.0, "volume", units),
            str(each.get("bad") or each.get("why_not") or ""),
        )
        for each in readings
    )


def _spans(spans: Any) -> tuple[tuple[float, float], ...]:
    """Spans that touch are one."""
    joined: list[tuple[float, float]] = []
    for start, end in spans or ():
        if joined and start <= joined[-1][1] + 1e-9:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return tuple(joined)


def _band(curve: Any, units: str) -> Band | None:
    if not curve or not curve.get("hours"):
        return None

    def shown(name: str) -> tuple[float, ...]:
        return tuple(in_units(value, "volume", units) for value in curve[name])

    return Band(tuple(curve["hours"]), shown("mid"), shown("lo"), shown("hi"))


def _loss_now(oil: Detail, now_h: float, units: str) -> Band | None:
    """Where an assessment of an older version knows the present loss alone."""
    values = [oil.get(name) for name in ("rate_qt_h", "rate_lo_qt_h", "rate_hi_qt_h")]
    if None in values:
        return None
    hours = (max(0.0, now_h - 4.0), now_h)
    mid, low, high = (in_units(value, "volume", units) for value in values if value is not None)
    return Band(hours, (mid, mid), (low, low), (high, high))


def _settles(oil: Detail, units: str) -> tuple[float, float, float] | None:
    middle = oil.get("settle_level_qt")
    if middle is None:
        return None
    low, _, high = oil.get("settle_level") or (None, None, None)
    ends = (middle, middle) if low is None or high is None else (low, high)
    return (
        in_units(ends[0], "volume", units),
        in_units(middle, "volume", units),
        in_units(ends[1], "volume", units),
    )


def _windows(oil: Detail, units: str) -> tuple[Loss, ...]:
    return tuple(
        Loss(
            each["from_h"],
            each["to_h"],
            in_units(each["rate_qt_h"], "volume", units),
            in_units(each.get("u_qt_h") or 0.0, "volume", units),
            bool(each.get("assessable")),
        )
        for each in oil.get("windows") or ()
        if each.get("rate_qt_h") is not None
    )


def _pairs(curve: Any) -> tuple[tuple[float, float], ...]:
    return tuple(zip(curve["hours"], curve["p"], strict=True)) if curve and curve.get("hours") else ()
