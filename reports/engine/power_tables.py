"""Power and heat of an engine's page as tables and sentences, worded from the assessment's detail."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from reports.engine.tables import Detail, Table
from reports.quantities import NOT_KNOWN, minutes_text, quantity

H = "\u202fh"
PERCENT = "\u202f%"
NOT_OBSERVED = "not observed"


@dataclass(frozen=True)
class RecordingLine:
    """How power was found on one recorded flight, in sentences; `href` where this reader may open the recording."""

    hours: str
    sentences: tuple[str, ...]
    href: str


def stages(credit: Detail) -> Table | None:
    """Credit of each stage in minutes: how it was known, and the least and most that it can be."""
    rows = tuple(
        (
            str(each.get("label") or each.get("stage", "")),
            _needed(each.get("needed")),
            _minutes(each, "75"),
            _minutes(each, "65"),
            _changes(each),
            str(each.get("met") or NOT_KNOWN),
        )
        for each in credit.get("stages") or []
    )
    heads = ("Stage", "Needed", "At 75 %", "At 65 %", "Changes", "Criterion")
    caption = (
        "Minutes credited in each stage. Stated: as on the card, or by settings that were typed. Measured: by a "
        "recording. From … to: what it is at least and at most under the doubt of the power."
    )
    return Table(caption, heads, rows) if rows else None


def _needed(needed: Any) -> str:
    if isinstance(needed, dict):
        return ", ".join(f"{minutes_text(value)} at {band}{PERCENT}" for band, value in needed.items() if value)
    if isinstance(needed, int | float):
        return minutes_text(needed)
    return str(needed or "")


def _minutes(stage: Detail, band: str) -> str:
    held = (stage.get("minutes") or {}).get(band) or {}
    central = held.get("central")
    if central is None:
        return ""
    text = minutes_text(central)
    least, most = held.get("least"), held.get("most")
    if least is not None and most is not None and round(least) != round(most):
        text += f" (from {minutes_text(least)} to {minutes_text(most)})"
    parts = [(held.get(name) or 0, name) for name in ("stated", "measured")]
    known = [(minutes, name) for minutes, name in parts if round(minutes)]
    if len(known) == 1:
        text += f", {known[0][1]}"
    elif known:
        text += ": " + ", ".join(f"{minutes_text(minutes)} {name}" for minutes, name in known)
    high = stage.get("too_high_min") or 0
    return text + (f"; {minutes_text(high)} too high for credit" if band == "75" and round(high) else "")


def _changes(stage: Detail) -> str:
    if stage.get("changes") is None:
        return NOT_KNOWN
    held = stage.get("alternation_held")
    word = "" if held is None else ", alternation held" if held else ", alternation not held"
    return f"{stage['changes']}{word}"


def blocks(credit: Detail) -> Table | None:
    """The power picture as a table."""
    rows = tuple(
        (
            f"{each['from_h']:.1f}{H}" if each.get("from_h") is not None else NOT_KNOWN,
            minutes_text(each.get("duration_min")),
            _percent(each),
            _counts_as(each),
            _known_from(each),
        )
        for each in credit.get("blocks") or []
    )
    heads = ("From", "For", "Power", "Counts as", "Known from")
    return Table("Blocks of power, in order of flying", heads, rows) if rows else None


def _percent(each: Detail) -> str:
    if each.get("pct") is None and each.get("source") == "stated":
        return "as on the card"
    if each.get("pct") is None:
        return f"not known: {each.get('why_unknown') or 'no settings given'}"
    places = 1 if each.get("source") == "recording" else 0
    sigma = f"\u202f±\u202f{each['sigma']:.{places}f}" if each.get("sigma") else ""
    return f"{each['pct']:.{places}f}{sigma}{PERCENT}"


def _counts_as(each: Detail) -> str:
    if each.get("counted") is False:
        return "nothing: the recording counts"
    band = each.get("band")
    if band and each.get("too_high") and band == "75":
        return f"nothing: {band}{PERCENT} above the plan's altitude for cooling"
    if band and each.get("steady") is False:
        return f"nothing: {band}{PERCENT}, not held steady for ten minutes"
    label = str(each.get("label") or NOT_KNOWN)
    return f"{band}{PERCENT}" if band else "on the way to a setting" if label == "cruise" else label


def _known_from(each: Detail) -> str:
    method = str(each.get("method") or "")
    if each.get("source") != "recording":
        return method or str(each.get("source") or "")
    said = f"recorded: {method}" if method else "recorded"
    both = each.get("chart_pct"), each.get("fuel_pct")
    if both[0] is not None and both[1] is not None:
        said += f" (chart {both[0]:.0f}{PERCENT}, fuel flow {both[1]:.0f}{PERCENT})"
    return said


def recordings_in(credit: Detail) -> frozenset[int]:
    """The recordings that this judgement rests on."""
    return frozenset(int(each["recording"]) for each in credit.get("recordings") or [] if each.get("recording"))


def recordings(credit: Detail, open_to: Iterable[int]) -> tuple[RecordingLine, ...]:
    """What is to be said of each recorded flight, newest first. open_to : recordings that the reader may open."""
    allowed = frozenset(open_to)
    return tuple(
        RecordingLine(
            hours=f"{each['hours']:.1f}{H}" if each.get("hours") is not None else "",
            sentences=_recording_sentences(each),
            href=reverse("recording", args=[each["recording"]]) if each.get("recording") in allowed else "",
        )
        for each in reversed(credit.get("recordings") or [])
    )


def _recording_sentences(each: Detail) -> tuple[str, ...]:
    method = str(each.get("method") or "no power could be told").rstrip(".")
    said = [f"{method[0].upper()}{method[1:]}."]
    apart = each.get("chart_minus_fuel_pct")
    if apart is not None:
        way = "more" if apart > 0 else "less"
        said.append(f"The chart gives {abs(apart):.0f}{PERCENT} {way} than fuel flow.")
    if each.get("suspect"):
        said.append(f"In doubt: {str(each['suspect']).rstrip('.')}.")
    left_out = [f"{one.get('sensor')} ({one.get('why')})" for one in each.get("left_out") or []]
    if left_out:
        said.append(f"Left out: {', '.join(left_out)}.")
    if not each.get("confirmed"):
        said.append("Put to this flight by its time; nobody has confirmed it.")
    return tuple(said)


def heat(detail: Detail, units: str) -> Table | None:
    """Take-off fuel flow and heads, flight by flight; band and lines stand in the caption."""
    flights = list(detail.get("flights") or [])
    rows = tuple(
        (
            f"{each['hours']:.1f}{H}" if each.get("hours") is not None else NOT_KNOWN,
            _fuel_flow(each, units),
            str(each.get("ff_word") or NOT_OBSERVED),
            _hottest(each, units),
            _climb(each, units),
            {True: "yes", False: "no"}.get(each.get("falling"), str(each.get("falling") or NOT_OBSERVED)),
        )
        for each in reversed(flights)
    )
    climb = ("Highest in the climb", "Falling by 3,000\u202fft")
    heads = ("At", "Full-throttle fuel flow", "Against its band", "Hottest CHT", *climb)
    return Table(_heat_caption(flights[-1], units), heads, rows) if rows else None


def _heat_caption(newest: Detail, units: str) -> str:
    said = ["Newest flight first."]
    if newest.get("ff_low") is not None and newest.get("ff_high") is not None:
        low, high = (quantity(newest[name], "fuel_flow", units) for name in ("ff_low", "ff_high"))
        said.append(f"Fuel flow band {low} to {high}; corrected means for the density of the air.")
    lines = (("watch_degf", "our watch line"), ("limit_degf", "maker's limit"))
    told = [f"{words} {quantity(newest[name], 'temperature', units)}" for name, words in lines if newest.get(name)]
    if told:
        said.append(f"CHT: {', '.join(told)}.")
    return " ".join(said)


def _fuel_flow(each: Detail, units: str) -> str:
    if each.get("ff_gph") is None:
        return NOT_OBSERVED
    text = _origins(each.get("ff_recorded_gph"), each.get("ff_typed_gph"), "fuel_flow", units)
    text = text or quantity(each["ff_gph"], "fuel_flow", units)
    corrected = each.get("ff_corrected_gph")
    if corrected is not None and abs(corrected - each["ff_gph"]) >= 0.05:
        text += f", corrected {quantity(corrected, 'fuel_flow', units)}"
    return text


def _origins(recorded: float | None, typed: float | None, kind: str, units: str) -> str:
    """A recorded figure with the typed one beside it; "" where nothing was recorded."""
    if recorded is None:
        return ""
    text = f"{quantity(recorded, kind, units)} recorded"
    return text + (f", {quantity(typed, kind, units)} typed" if typed is not None else "")


def _hottest(each: Detail, units: str) -> str:
    if not each.get("cht_max_degf"):
        return NOT_OBSERVED
    text = _origins(each.get("cht_recorded_degf"), each.get("cht_typed_degf"), "temperature", units)
    number = each.get("cht_cylinder")
    return (text or quantity(each["cht_max_degf"], "temperature", units)) + (f", cylinder {number}" if number else "")


def _climb(each: Detail, units: str) -> str:
    """The peak of each head in the climb, cylinder 1 first."""
    peaks = each.get("climb_peak_degf") or []
    if not any(peak is not None for peak in peaks):
        return NOT_OBSERVED
    *first, last = ["left out" if peak is None else quantity(peak, "temperature", units, 0) for peak in peaks]
    numbers = [text.rpartition("\u202f")[0] or text for text in first]
    return ", ".join([*numbers, last])


@dataclass(frozen=True)
class Seating:
    """The early sign of seating: a sentence with its uncertainty, whether it is there, and the trend."""

    sentence: str
    sign: bool
    table: Table | None


def seating(detail: Detail, units: str) -> Seating | None:
    """The heads since the first hour, or None where no recording tells of them."""
    seen: Mapping[str, Any] = detail.get("seating") or {}
    rows = tuple(
        (
            f"{each['hours']:.1f}{H}",
            f"{each['pct']:.0f}{PERCENT}",
            quantity(each["mean_degf"], "temperature", units),
            _change(each, units),
        )
        for each in seen.get("rows") or []
    )
    if not rows:
        return None
    heads = ("From", "Power", "Mean of the new heads", "Against the first hour")
    cylinders = ", ".join(str(number) for number in seen.get("cylinders") or [])
    caption = (
        f"Mean of cylinders {cylinders} in steady upper-band cruise, moved to a standard day and to the power of the "
        "first hour. One standard deviation after ±."
    )
    return Seating(_seating_sentence(seen, units), bool(seen.get("sign")), Table(caption, heads, rows))


def _change(each: Detail, units: str) -> str:
    if each.get("change_degf") is None:
        return "the first hour" if each["hours"] < 1.0 else "power too far away to compare"
    return _difference(each["change_degf"], each["sigma_degf"], units)


def _difference(change: float, sigma: float, units: str) -> str:
    name = quantity(abs(change), "difference", units)
    doubt = quantity(sigma, "difference", units)
    way = "down" if change < 0 else "up"
    return f"{way} {name.rpartition(chr(0x202F))[0] or name}\u202f±\u202f{doubt}"


def _seating_sentence(seen: Mapping[str, Any], units: str) -> str:
    if seen.get("change_degf") is None:
        return f"Early sign of seating: not known. {seen.get('why_not') or ''}".strip()
    change = _difference(seen["change_degf"], seen["sigma_degf"], units)
    shown = f"At equal power on a standard day the heads of the new cylinders are {change} against the first hour."
    if seen.get("sign"):
        return f"{shown} A good sign; it proves nothing by itself and closes nothing."
    return f"{shown} No sign of seating yet; it may come late, and its absence proves nothing."
